"""A verdict: one of three words, the reason, and the next thing to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from rinsewright.planning.situation import Situation

Word = Literal["fine", "look", "stop"]
About = Literal["state", "year", "site"]  # one working state; the year as saved; what holds at any time


@dataclass(frozen=True)
class Verdict:
    """``key``: place in the site file of the part concerned, for the drawing; empty for none in particular.

    ``about``: what its rule looks at.
    """

    what: str
    verdict: Word
    why: str
    do: str
    key: str = ""
    about: About = "site"

    def answer(self) -> dict[str, str]:
        """The contract's four keys."""
        return {"what": self.what, "verdict": self.verdict, "why": self.why, "do": self.do}


Rule = Callable[[Situation], Verdict | None]


def graded(value: float, look: float, stop: float) -> Word:
    """*stop* above ``stop``, *look* above ``look``, else *fine*."""
    return "stop" if value > stop else "look" if value > look else "fine"
