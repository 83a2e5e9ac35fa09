"""What can go wrong, in one small tree.

::

    RinsewrightError
    ├── InputError      the site file (or another input) is wrong; says file, key, line; exit status 2
    └── NoWorkingState  the plant cannot run as described; says which part forbids it; exit status 3
"""

from __future__ import annotations

from dataclasses import dataclass


class RinsewrightError(Exception):
    """Anything this package refuses on purpose."""

    exit_status = 1


@dataclass(frozen=True)
class Problem:
    """One thing wrong with an input: where it stands, what it is, what would be right."""

    message: str
    file: str | None = None
    key: str | None = None
    line: int | None = None

    def __str__(self) -> str:
        place = ", ".join(
            part for part in (self.file, f"line {self.line}" if self.line else None, self.key) if part is not None
        )
        return f"{place}: {self.message}" if place else self.message


class InputError(RinsewrightError):
    """Bad input. Holds every problem found, so that all can be mended at once."""

    exit_status = 2

    def __init__(self, problems: Problem | list[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NoWorkingState(RinsewrightError):
    """The plant has no steady state, or one that passes a part's rating. ``part`` names the part that forbids it."""

    exit_status = 3

    def __init__(self, reason: str, part: str | None = None) -> None:
        self.reason = reason
        self.part = part
        super().__init__(reason)
