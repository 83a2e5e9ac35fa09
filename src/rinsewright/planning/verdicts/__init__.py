"""One rule a function: each looks at one thing, says a word, the reason and what to do. Worst first."""

from __future__ import annotations

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts import demand, drain, keeping, lines, money, tap
from rinsewright.planning.verdicts.word import Verdict

RULES = (*demand.RULES, *lines.RULES, *drain.RULES, *tap.RULES, *keeping.RULES, *money.RULES)
ORDER = ("stop", "look", "fine")


def judge(situation: Situation) -> tuple[Verdict, ...]:
    """Every verdict on a site, *stop* before *look* before *fine*."""
    found = [verdict for rule in RULES if (verdict := rule(situation)) is not None]
    return tuple(sorted(found, key=lambda verdict: ORDER.index(verdict.verdict)))
