"""The first look at a plant, in a fraction of a second: its three operating points and what they alone can judge.

The plan has the rest: resin, year and cost.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from rinsewright.dates import DAYS
from rinsewright.planning.consumables import membrane_outlook
from rinsewright.planning.points import at_its_points
from rinsewright.planning.situation import Situation
from rinsewright.planning.tap import Tap
from rinsewright.planning.verdicts import judge
from rinsewright.planning.verdicts.word import Verdict
from rinsewright.planning.wording import plan_sentences
from rinsewright.plant.layout import Plant
from rinsewright.site.document import SiteDocument


@dataclass(frozen=True)
class FirstLook:
    """The points, what is judged by them alone, and the answer as a person would say it."""

    situation: Situation
    verdicts: tuple[Verdict, ...]
    sentences: tuple[str, ...]


def first_look(document: SiteDocument, plant: Plant, tap: Tap) -> FirstLook:
    """Look at a plant; raises :class:`NoWorkingState` where it does not even work today."""
    start = at_its_points(document, plant, tap)
    assert start.today.solved is not None  # else it was refused
    assert start.demand is not None  # the site file has one, or its defaults
    state = start.today.solved.batch.state
    running = start.demand.week / 7.0 * DAYS / float(state.product_flow[0] + state.blend_flow[0])  # seconds a year
    membranes = membrane_outlook(plant, start.water, float(state.tap_flow[0]), running)
    situation = replace(start, membranes=membranes)
    verdicts = judge(situation)
    answer: dict[str, Any] = {
        **{name: situation.told(point) for name, point in situation.points()},
        "resin": None,
        "year": {"cost": {"value": None}},
        "verdicts": [verdict.answer() for verdict in verdicts],
    }
    limit = start.demand.limit_ppm
    return FirstLook(situation, verdicts, tuple(plan_sentences(answer, situation.currency, limit)))
