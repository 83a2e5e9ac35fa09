"""Why a plant has no working state: which part forbids it, in one sentence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rinsewright.errors import NoWorkingState
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import BAR, L_MIN, Array, celsius
from rinsewright.solve.steady import Conditions, Steady


def refusal(plant: Plant, conditions: Conditions, state: Steady, lane: int = 0) -> NoWorkingState | None:
    """The reason why a condition has no working state, or ``None`` where it has one."""
    at = conditions.take(slice(lane, lane + 1))
    warm = float(celsius(at.temperature_k[0]))
    for element in plant.elements:
        if element.max_k is not None and at.temperature_k[0] > element.max_k:
            limit = float(celsius(element.max_k))
            return NoWorkingState(
                f"{_name(element)} stands {limit:.0f} °C at most, and the water has {warm:.0f} °C", element.key
            )
    if not state.solved[lane]:
        return _no_flow(plant, at, state, lane)
    return _pump_starved(plant, at, state, lane) or _over_pressure(plant, state, lane) or _shut(plant, state, lane)


def beyond_recovery(plant: Plant, state: Steady, lane: int = 0) -> Iterator[str]:
    """A sentence for every recovery above an element's ``max_recovery``: the plant runs so, and not for long."""
    beyond: dict[tuple[float, float], list[Element]] = {}
    for branch in state.branches:
        recovery = float(branch.outlet.product[lane] / branch.inlet_flow[lane])
        for place in branch.group.members:
            element = plant.stages[branch.stage - 1][place]
            if element.max_recovery is not None and recovery > element.max_recovery:
                beyond.setdefault((recovery, element.max_recovery), []).append(element)
    for (recovery, most), elements in beyond.items():
        names = ", ".join(element.name or "an element" for element in elements)
        keys = ", ".join(f"{element.key}.max_recovery" for element in elements)
        turns, it = ("turns", "it") if len(elements) == 1 else ("turn", "each")
        yield (
            f"{names[:1].upper()}{names[1:]} {turns} {100.0 * recovery:.0f} % of the water that reaches {it} into "
            f"product, above the {100.0 * most:.4g} % allowed ({keys}): give more flow with a larger drain restrictor."
        )


def _name(part: Part) -> str:
    return (
        f"{part.name} ({part.key})" if part.name and part.key else part.name or part.key or type(part).__name__.lower()
    )


def _drops(parts: Sequence[Part], flow: Array, fluid: Fluid) -> list[tuple[float, Part]]:
    return [(float(part.drop(flow, fluid)[0]), part) for part in parts]


def _no_flow(plant: Plant, at: Conditions, state: Steady, lane: int) -> NoWorkingState:
    fluid = Fluid.at(at.temperature_k)
    still = np.full(1, 1e-6 * L_MIN)
    back = _drops(plant.to_tank, still, fluid)
    lift = sum(drop for drop, _ in back)
    standing = float(at.standing_pa[0])
    head = plant.pump.dead_head_pa if plant.pump else 0.0
    osmotic = float(at.salt.osmotic[0]) if plant.stages else 0.0
    needed = osmotic + max(lift, 0.0)
    if standing + head <= needed:
        worst = max(back, key=lambda item: item[0], default=(0.0, None))
        if lift > osmotic and worst[1] is not None:
            return NoWorkingState(
                f"{_name(worst[1])} asks for {worst[0] / BAR:.1f} bar, the supply stands at {standing / BAR:.1f} bar"
                + (f" plus {head / BAR:.1f} bar of the pump" if head else "")
                + ": no water gets there",
                worst[1].key,
            )
        return NoWorkingState(
            f"the supply (supply.standing_bar) stands at {standing / BAR:.1f} bar, and this water needs more than "
            f"{needed / BAR:.1f} bar to pass the membranes: they make no water",
            "supply.standing_bar",
        )
    for branch in state.branches:
        if branch.outlet.runs_dry[lane] or branch.outlet.product[lane] >= branch.inlet_flow[lane]:
            element = branch.group.element
            return NoWorkingState(
                f"{_name(element)} runs dry: it could turn more water into product than reaches it; give it more "
                "flow with "
                "a larger drain restrictor, or put alike elements side by side",
                element.key,
            )
    through = max(float(state.tap_flow[lane]), 1e-3 * L_MIN)
    lost = _drops(plant.feed, np.full(1, through), fluid)
    greatest = max(lost, key=lambda item: item[0], default=(0.0, None))
    if plant.stages and state.membrane_pa[lane] <= needed and np.isfinite(state.membrane_pa[lane]):
        culprit = _name(greatest[1]) if greatest[1] is not None and greatest[0] > 0.3 * standing else "the supply"
        return NoWorkingState(
            f"{culprit} leaves {max(float(state.membrane_pa[lane]), 0.0) / BAR:.2f} bar at the membranes, and "
            "they need "
            f"more than {needed / BAR:.2f} bar: they make no water",
            greatest[1].key if greatest[1] is not None else "supply",
        )
    return NoWorkingState(
        "no steady state was found: drain line, membranes and supply do not agree on any flow; look first at the drain "
        "restrictor (plant.drain) and at the supply's running tests (supply.flowing)",
        "plant.drain",
    )


def _pump_starved(plant: Plant, at: Conditions, state: Steady, lane: int) -> NoWorkingState | None:
    pump = plant.pump
    if pump is None or pump.min_inlet_pa is None:
        return None
    fluid = Fluid.at(at.temperature_k)
    flow = state.tap_flow[lane : lane + 1]
    before = plant.feed[: plant.feed.index(pump)]
    inlet = float(plant.supply.pressure(flow, at.standing_pa)[0]) - sum(drop for drop, _ in _drops(before, flow, fluid))
    if inlet >= pump.min_inlet_pa:
        return None
    return NoWorkingState(
        f"{_name(pump)} gets {inlet / BAR:.2f} bar at its inlet and stops itself below "
        f"{pump.min_inlet_pa / BAR:.2f} bar",
        pump.key,
    )


def _over_pressure(plant: Plant, state: Steady, lane: int) -> NoWorkingState | None:
    pressure = float(state.membrane_pa[lane])
    for element in plant.elements:
        limits = [limit for limit in (element.max_pa, element.rated_pa) if limit is not None]
        if limits and pressure > min(limits):
            return NoWorkingState(
                f"{_name(element)} stands {min(limits) / BAR:.1f} bar at most and would see {pressure / BAR:.1f} bar",
                element.key,
            )
    return None


def _shut(plant: Plant, state: Steady, lane: int) -> NoWorkingState | None:
    valve = plant.shutoff
    if valve is None or not plant.stages:
        return None
    ratio = float(state.product_pa[lane] / state.membrane_pa[lane])
    if ratio < valve.closes_at_ratio:
        return None
    return NoWorkingState(
        f"{_name(valve)} stays closed: the product line stands at {ratio:.2f} of the feed pressure even when running, "
        f"and the valve closes at {valve.closes_at_ratio:.2f}",
        valve.key,
    )
