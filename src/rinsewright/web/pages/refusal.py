"""What is shown where something is refused."""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.errors import InputError, Problem, RinsewrightError
from rinsewright.web.engine import NAME


@dataclass(frozen=True)
class Refusal:
    """What is wrong, where, and what would be right: one sentence each."""

    sentences: tuple[str, ...]


def sentences(refusal: RinsewrightError) -> tuple[str, ...]:
    """What was refused, for one who sees pages and no site file: its name and lines say nothing here."""
    if isinstance(refusal, InputError):
        return tuple(_of(problem) for problem in refusal.problems)
    where, _, rest = str(refusal).partition(": ")
    return (rest if where.startswith(NAME) else str(refusal),)


def _of(problem: Problem) -> str:
    return str(Problem(problem.message, None if problem.file == NAME else problem.file, problem.key))
