"""The build sheet in words, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from rinsewright.building.result import BuildSheet, Item


def build_text(sheet: BuildSheet) -> str:
    """What to order, what does not fit, the steps and the weight; the papers hold the rest."""
    return "\n".join(_lines(sheet))


def _lines(sheet: BuildSheet) -> Iterator[str]:
    dry, full = sheet.weights.dry_kg, sheet.weights.full_kg
    yield f"{sheet.site_name}: {len(sheet.items)} rows in the parts list, {len(sheet.steps)} steps."
    yield f"Weight: {dry:.0f} kg dry, {full:.0f} kg full."
    yield from (f"{van.name}: {van.verdict}. {van.why} {van.do}".rstrip() for van in sheet.vans)
    yield "\nTo order:"
    yield from (f"  {_amount(item)}" for item in sheet.order)
    if extras := [item for item in sheet.items if not item.needed]:
        yield "\nIn the kit and not needed:"
        yield from (f"  {item.what}: {item.why}" for item in extras)
    yield "\nSteps:"
    yield from (f"  {n}. {step.title}" for n, step in enumerate(sheet.steps, 1))
    if sheet.notes:
        yield "\nNotes:"
        yield from (f"  {note}" for note in sheet.notes)


def _amount(item: Item) -> str:
    unit = "×" if item.unit == "piece" else item.unit
    return " ".join(word for word in (f"{item.missing:g}", unit, item.what, item.size) if word)
