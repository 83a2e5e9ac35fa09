"""A verdict: one of three words, the reason, and the next thing to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Word = Literal["fine", "look", "stop"]


@dataclass(frozen=True)
class Verdict:
    """``key``: place in the site file of the part concerned, for the drawing; empty for none in particular."""

    what: str
    verdict: Word
    why: str
    do: str
    key: str = ""

    def answer(self) -> dict[str, str]:
        """The contract's four keys."""
        return {"what": self.what, "verdict": self.verdict, "why": self.why, "do": self.do}


def graded(value: float, look: float, stop: float) -> Word:
    """*stop* above ``stop``, *look* above ``look``, else *fine*."""
    return "stop" if value > stop else "look" if value > look else "fine"
