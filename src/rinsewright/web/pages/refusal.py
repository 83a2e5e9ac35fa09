"""What is shown where something is refused."""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.errors import InputError, Problem, RinsewrightError
from rinsewright.site.reading import MISSING_TABLE
from rinsewright.web.engine import NAME


@dataclass(frozen=True)
class Refusal:
    """What is wrong, where, and what would be right: one sentence each."""

    sentences: tuple[str, ...]
    incomplete: bool = False  # the site lacks a whole table, which no page can put in


def refusal_of(refusal: RinsewrightError) -> Refusal:
    """What was refused, and whether the site is too small for it."""
    problems = refusal.problems if isinstance(refusal, InputError) else []
    return Refusal(sentences(refusal), any(problem.message.startswith(MISSING_TABLE) for problem in problems))


def sentences(refusal: RinsewrightError) -> tuple[str, ...]:
    """What was refused, for one who sees pages and no site file: its name and lines say nothing here."""
    if isinstance(refusal, InputError):
        return tuple(_of(problem) for problem in refusal.problems)
    where, _, rest = str(refusal).partition(": ")
    return (rest if where.startswith(NAME) else str(refusal),)


def _of(problem: Problem) -> str:
    return str(Problem(problem.message, None if problem.file == NAME else problem.file, problem.key))
