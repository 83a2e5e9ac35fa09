"""One rule a function: each looks at one thing, says a word, the reason and what to do. Worst first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import get_args

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts import demand, drain, keeping, lines, money, tap
from rinsewright.planning.verdicts.word import About, Rule, Verdict

RULES: dict[Rule, About] = {
    **demand.RULES,
    **lines.RULES,
    **drain.RULES,
    **tap.RULES,
    **keeping.RULES,
    **money.RULES,
}
ORDER = ("stop", "look", "fine")


def judge(situation: Situation, about: Collection[About] = get_args(About)) -> tuple[Verdict, ...]:
    """Every verdict on a site, or those of some kinds of rule; *stop* before *look* before *fine*."""
    found = [
        replace(verdict, about=kind)
        for rule, kind in RULES.items()
        if kind in about and (verdict := rule(situation)) is not None
    ]
    return tuple(sorted(found, key=lambda verdict: ORDER.index(verdict.verdict)))
