"""The drain end: recovery, and what may come out of solution there."""

from __future__ import annotations

from rinsewright.planning.situation import Situation
from rinsewright.planning.verdicts.lines import LEAST_BAR
from rinsewright.planning.verdicts.word import About, Rule, Verdict, Word
from rinsewright.plant.feed.treatment import Inhibitor
from rinsewright.plant.membrane.restrictor import Flush
from rinsewright.quantities import BAR
from rinsewright.solve.result import Solved
from rinsewright.water.scaling import THRESHOLDS, verdict

SPARED = {"calcite", "aragonite", "hydroxyapatite"}  # judged apart, or for information only


def recovery(s: Situation) -> Verdict | None:
    """Product : drain between 1 : 1 and 1 : 3 on an unpumped unit (common practice, no source)."""
    point = s.warm
    state = point.solved
    if state is None or not s.has_membranes:
        return None
    share = float(state.batch.state.product_flow[0] / state.batch.state.tap_flow[0])
    limits = [element.max_recovery for element in s.plant.elements if element.max_recovery is not None]
    elements = [row["recovery"] for row in state.answer()["elements"]]
    word: Word = "stop" if share > 0.85 else "look" if share > 0.65 else "fine"
    why = (
        f"{point.when.capitalize()} {100 * share:.0f} % of the tap water becomes product at full flow, the rest goes "
        "to drain."
    )
    if limits and max(elements) > min(limits):
        word = "stop"
        why += (
            f" One element turns {100 * max(elements):.0f} % of what it gets into product; "
            f"{100 * min(limits):.0f} % is its limit."
        )
    do = "Nothing." if word == "fine" else "Fit the next larger drain restrictor."
    if share < 0.25:
        word, do = ("stop" if share < 0.05 else "look"), "A smaller drain restrictor would save water."
        if float(state.batch.state.membrane_pa[0]) / BAR < LEAST_BAR:
            do = "Mend the pressure first: with more of it the membranes make more of the same water."
        why += " That is much waste."
    return Verdict("share that becomes product", word, why, do, "plant.drain")


def calcite_limit(s: Situation) -> float:
    """Calcite index at the membrane above which scale is sure, the inhibitor's credit counted."""
    return THRESHOLDS["calcite"].stop.value + (inhibitor_credit(s) or 0.0)


def inhibitor_credit(s: Situation) -> float | None:
    """What the plant's scale inhibitor adds to the calcite index that may be borne; None without one."""
    part = s.first(Inhibitor)
    return part.calcite_si_credit if isinstance(part, Inhibitor) else None


def calcite(s: Situation) -> Verdict | None:
    """Chalk at the membrane's surface where the drain leaves, warmest water."""
    point = s.warm
    state = point.solved
    if state is None or not s.has_membranes:
        return None
    index = state.wall_saturation.get("calcite")
    if index is None:
        return Verdict("lime scale at the drain end", "fine", "The water brings no lime.", "Nothing.", "plant.drain")
    credit = inhibitor_credit(s)
    word = verdict("calcite", index - (credit or 0.0))
    limit = THRESHOLDS["calcite"]
    bulk = state.saturation.get("calcite")
    why = (
        f"At {point.temperature_c:.0f} °C the calcite index is {index:.1f} at the membrane and {bulk:.1f} in "
        "the drain "
        f"water. Above {limit.look.value:.1f} it may come out where concentrate stands, above "
        f"{limit.stop.value:.1f} it does."
    )
    if credit is not None:
        why += f" The inhibitor is credited with {credit:.1f}."
    flush = s.first(Flush) is not None
    do = {
        "fine": "Nothing.",
        "look": "Watch product flow and drain flow over the months"
        + ("." if flush else "; a flush at stop keeps concentrate from standing on the membrane."),
        "stop": "Fit the next larger drain restrictor, soften the water or dose a scale inhibitor.",
    }[word]
    return Verdict("lime scale at the drain end", word, why, do, "plant.drain")


def other_scale(s: Situation) -> Verdict | None:
    """Gypsum, barite, fluorite, celestite and silica, at the coldest water (where most dissolve least)."""
    point = s.cold
    state = point.solved
    if state is None or not s.has_membranes:
        return None
    inhibitor = s.first(Inhibitor) is not None
    found = _beyond(state, inhibitor)
    if not found:
        return Verdict(
            "other scale at the drain end",
            "fine",
            f"Gypsum, barite, fluorite and silica stay dissolved at {point.temperature_c:.0f} °C, as far as the "
            "analysis names them.",
            "Nothing.",
            "plant.drain",
        )
    word: Word = "stop" if any(w == "stop" for _, _, w in found) else "look"
    names = ", ".join(f"{name} (index {index:.1f})" for name, index, _ in found)
    return Verdict(
        "other scale at the drain end",
        word,
        f"At {point.temperature_c:.0f} °C these may come out at the membrane: {names}.",
        "Fit the next larger drain restrictor or dose a scale inhibitor made for it.",
        "plant.drain",
    )


def _beyond(state: Solved, inhibitor: bool) -> list[tuple[str, float, Word]]:
    rows: list[tuple[str, float, Word]] = []
    for name, index in state.wall_saturation.items():
        word = verdict(name, index, inhibitor=inhibitor)
        if name not in SPARED and index is not None and word != "fine":
            rows.append((name, index, word))
    return rows


RULES: dict[Rule, About] = {recovery: "state", calcite: "state", other_scale: "state"}
