"""What is shown where something is refused."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Refusal:
    """What is wrong, where, and what would be right: one sentence each."""

    sentences: tuple[str, ...]
