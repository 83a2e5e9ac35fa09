"""A plant and its working state as the water path that is drawn: parts in order, numbers at the joints."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from rinsewright.papers import PathPart, Tag, WaterPath
from rinsewright.papers.content import Kind, Verdict
from rinsewright.plant.check import Check
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Inhibitor, Softener, Solenoid
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import BAR, L_MIN, LITRE, MM, US_CM
from rinsewright.solve.result import Solved

KINDS: dict[type[Part], Kind] = {
    Tube: "tube",
    Pump: "pump",
    Softener: "softener",
    Inhibitor: "inhibitor",
    Check: "check",
    Solenoid: "solenoid",
    Restrictor: "restrictor",
    Flush: "flush",
    ShutOff: "shutoff",
    Lift: "lift",
    ResinVessel: "resin",
    Tank: "tank",
    DeliveryPump: "delivery-pump",
    Blend: "blend",
}
SOURCES: dict[str, tuple[Kind, str]] = {
    "mains": ("tap", "tap"),
    "break-tank": ("break-tank", "break tank"),
    "well": ("well", "well"),
}

TagOf = Callable[..., Tag]  # with the arguments of Tag.of


def water_path(plant: Plant, solved: Solved, verdicts: Mapping[str, Verdict], tag_of: TagOf = Tag.of) -> WaterPath:
    """The drawing's content.

    ``verdicts``: by the key of a part, a word other than *fine*. ``tag_of`` rounds the numbers, in units of its own.
    """
    state, waters, factor = solved.batch.state, solved.batch.waters, solved.meter_factor
    tap_flow = float(state.tap_flow[0]) / L_MIN
    kind, name = SOURCES[plant.supply.kind]
    running = float(plant.supply.pressure(state.tap_flow, solved.batch.conditions.standing_pa)[0])
    tap_reading = float(waters.tap.conductivity[0] / US_CM * factor)
    source = PathPart(
        kind,
        name,
        tag=tag_of(
            pressure_bar=running / BAR,
            flow_l_min=tap_flow,
            meter_ppm=tap_reading,
            verdict=verdicts.get("supply.flowing"),
        ),
        key="supply",
    )
    return WaterPath(
        feed=(source, *_feed(plant, solved, running, verdicts, tag_of)),
        membranes=_membranes(plant, solved, verdicts, tag_of),
        drain=_drain(plant, solved, verdicts, tag_of),
        product=_product(plant, solved, verdicts, tag_of),
    )


def _part(part: Part, tag: Tag | None = None, verdict: Verdict | None = None) -> PathPart:
    if isinstance(part, Cartridge):
        kind: Kind = "cartridge-carbon" if part.media == "carbon" else "cartridge-sediment"
    else:
        kind = KINDS[type(part)]
    if verdict is not None:
        tag = Tag(tag.readings if tag else (), verdict)
    return PathPart(kind, part.name, size_text(part), tag, part.key)


def size_text(part: Part) -> str:
    """The size of a part in a few words; empty where it has none."""
    match part:
        case Tube():
            return f"{part.bore / MM:g} mm bore, {part.length:g} m"
        case Restrictor():
            return f"{part.flow / L_MIN:g} L/min at {part.at_pa / BAR:g} bar"
        case Lift():
            return f"{part.height:g} m up" if part.height >= 0 else f"{-part.height:g} m down"
        case ResinVessel():
            many = f"{part.vessels} × " if part.vessels > 1 else ""
            return f"{many}{part.volume / LITRE:g} L"
        case Tank():
            return f"{part.volume / LITRE:,.0f} L"
        case Flush():
            return f"{part.volume / LITRE:g} L at stop"
        case Blend():
            return f"{100 * part.share:g} % feed water"
        case Pump():
            return f"{part.dead_head_pa / BAR:.1f} bar at no flow"
    return ""


def _feed(
    plant: Plant, solved: Solved, pressure: float, verdicts: Mapping[str, Verdict], tag_of: TagOf
) -> list[PathPart]:
    state = solved.batch.state
    flow = np.array(state.tap_flow)
    rows = []
    for n, part in enumerate(plant.feed):
        if part is plant.pump:
            flow = flow - state.blend_flow + plant.recirculation
        pressure -= float(part.drop(flow, state.fluid)[0])
        last = n == len(plant.feed) - 1
        rows.append(_part(part, tag_of(pressure_bar=pressure / BAR) if last else None, verdicts.get(part.key)))
    return rows


def _membranes(
    plant: Plant, solved: Solved, verdicts: Mapping[str, Verdict], tag_of: TagOf
) -> tuple[tuple[PathPart, ...], ...]:
    rows = iter(solved.answer()["elements"])
    stages = []
    for stage in plant.stages:
        drawn = []
        for element in stage:
            made = next(rows)["product_l_min"]
            tag = tag_of(flow_l_min=made, verdict=verdicts.get(element.key))
            drawn.append(PathPart("membrane", element.name, element.nominal, tag, element.key))
        stages.append(tuple(drawn))
    return tuple(stages)


def _drain(plant: Plant, solved: Solved, verdicts: Mapping[str, Verdict], tag_of: TagOf) -> tuple[PathPart, ...]:
    if not plant.stages:
        return ()
    state, waters = solved.batch.state, solved.batch.waters
    reading = None if waters.drain is None else float(waters.drain.conductivity[0] / US_CM * solved.meter_factor)
    rows = [_part(part, None, verdicts.get(part.key)) for part in plant.drain]
    if rows:
        end = rows[-1]
        word = verdicts.get("plant.drain") or (end.tag.verdict if end.tag else None)
        tag = tag_of(flow_l_min=float(state.drain_flow[0]) / L_MIN, meter_ppm=reading, verdict=word)
        rows[-1] = PathPart(end.kind, end.name, end.size_text, tag, end.key)
    return tuple(rows)


def _product(plant: Plant, solved: Solved, verdicts: Mapping[str, Verdict], tag_of: TagOf) -> tuple[PathPart, ...]:
    state, waters, factor = solved.batch.state, solved.batch.waters, solved.meter_factor
    flow = float(state.product_flow[0]) / L_MIN
    before = float(waters.product.conductivity[0] / US_CM * factor)
    after = float(waters.delivered.conductivity[0] / US_CM * factor)
    back = float(state.product_pa[0]) / BAR
    rows: list[PathPart] = []
    for n, part in enumerate(plant.product):
        tag = None
        if n == 0:
            tag = tag_of(pressure_bar=back, flow_l_min=flow, meter_ppm=before)
        if isinstance(part, ResinVessel):
            first = tag.readings[:2] if tag is not None else ()
            tag = Tag((*first, *tag_of(meter_ppm=after).readings))
        rows.append(_part(part, tag, verdicts.get(part.key)))
    brush_tag = None if plant.tank is not None else tag_of(flow_l_min=flow, meter_ppm=after)
    return (*rows, PathPart("brush", "brush", "", brush_tag, "brush"))


def still_path(plant: Plant, verdicts: Mapping[str, Verdict]) -> WaterPath:
    """The drawing's content where there is no working state: the parts, and the words on them."""
    kind, name = SOURCES[plant.supply.kind]
    word = verdicts.get("supply")

    def drawn(parts: Sequence[Part]) -> tuple[PathPart, ...]:
        return tuple(_part(part, None, verdicts.get(part.key)) for part in parts)

    def element(one: Element) -> PathPart:
        word = verdicts.get(one.key)
        return PathPart("membrane", one.name, one.nominal, Tag((), word) if word else None, one.key)

    return WaterPath(
        feed=(PathPart(kind, name, tag=Tag((), word) if word else None, key="supply"), *drawn(plant.feed)),
        membranes=tuple(tuple(map(element, stage)) for stage in plant.stages),
        drain=drawn(plant.drain) if plant.stages else (),
        product=(*drawn(plant.product), PathPart("brush", "brush", key="brush")),
    )


def verdict_words(keys: Sequence[tuple[str, Verdict]]) -> dict[str, Verdict]:
    """The worst word by key, *fine* left out."""
    found: dict[str, Verdict] = {}
    for key, word in keys:
        if key and word != "fine" and found.get(key) != "stop":
            found[key] = word
    return found
