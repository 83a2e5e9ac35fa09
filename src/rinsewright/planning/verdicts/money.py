"""Is it the right kind of plant for its money?"""

from __future__ import annotations

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts.word import About, Rule, Verdict


def against_resin_alone(s: Situation) -> Verdict | None:
    """The same work with resin and no membranes, at the same prices."""
    if s.resin_alone is None:
        return None
    plant, alone = s.resin_alone.plant_cost_per_year, s.resin_alone.cost_per_year
    if plant is None or alone is None:
        return None
    if alone < 0.9 * plant:
        return Verdict(
            "membranes or resin alone",
            "look",
            f"Resin alone would cost about {alone:,.0f} {s.currency} a year, this plant {plant:,.0f} (of what has "
            "a price).",
            "Think of resin without membranes, or of a smaller drain flow.",
        )
    return Verdict(
        "membranes or resin alone",
        "fine",
        f"Resin alone would cost about {alone:,.0f} {s.currency} a year, this plant {plant:,.0f} (of what has a "
        "price).",
        "Nothing.",
    )


RULES: dict[Rule, About] = {against_resin_alone: "year"}
