"""The build sheet in words, for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rinsewright.building.result import BuildSheet, Cut, Fit, Item, Step


def build_text(sheet: BuildSheet) -> str:
    """What to order, what does not fit, cuts, tools, the steps in full, and what was taken for want of better."""
    return "\n".join(_lines(sheet))


def _lines(sheet: BuildSheet) -> Iterator[str]:
    dry, full = sheet.weights.dry_kg, sheet.weights.full_kg
    yield f"{sheet.site_name}: {len(sheet.items)} rows in the parts list, {len(sheet.steps)} steps."
    yield f"Weight: {dry:.0f} kg dry, {full:.0f} kg full."
    yield from (f"{van.name}: {van.verdict}. {van.why} {van.do}".rstrip() for van in sheet.vans)
    yield from _section("To order", map(_amount, sheet.order))
    extras = (item for item in sheet.items if not item.needed)
    yield from _section("In the kit and not needed", (f"{item.what}: {item.why}" for item in extras))
    yield from _section("Joints that need something between", dict.fromkeys(map(_between, sheet.fits)))
    yield from _section("Cuts", map(_piece, sheet.cuts))
    yield from _section("Tools", (f"{tool.what}: {tool.why}" for tool in sheet.tools))
    yield "\nSteps:"
    for number, step in enumerate(sheet.steps, 1):
        yield from _told(number, step)
    yield from _section("Notes", sheet.notes)


def plain(adapter: str) -> str:
    """An adapter's words without the colon behind its kind: "fitting push-fit 12 mm to G 1/2 male"."""
    return adapter.replace(": ", " ", 1)


def _section(title: str, rows: Iterable[str]) -> Iterator[str]:
    """A title with its rows; neither where there are none."""
    said = [row for row in rows if row]
    if said:
        yield f"\n{title}:"
        yield from (f"  {row}" for row in said)


def _amount(item: Item) -> str:
    unit = "×" if item.unit == "piece" else item.unit
    return " ".join(word for word in (f"{item.missing:g}", unit, item.what, item.size) if word)


def _between(fit: Fit) -> str:
    if fit.joint.fits:
        return ""
    return f"{fit.a} to {fit.b}: {fit.joint.adapter or 'no one part joins them'}"


def _piece(cut: Cut) -> str:
    return f"{cut.count} × {cut.length_m:.2f} m of {cut.size}, {cut.where}{' (measure first)' if cut.assumed else ''}"


def _told(number: int, step: Step) -> Iterator[str]:
    yield f"  {number}. {step.title}"
    yield f"     {step.do}"
    yield f"     Why: {step.why}"
    yield from (f"     With: {count} × {plain(adapter)}" for adapter, count in step.adapters.items())
    yield f"     Check: {step.check}"
    if step.caution:
        yield f"     Caution: {step.caution}"
