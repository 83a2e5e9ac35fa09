"""From a site file to the whole build sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rinsewright.building.bill import make_bill
from rinsewright.building.connections import BUCKET, DRAIN, TAP, Connections, nominal
from rinsewright.building.placing import with_joints
from rinsewright.building.result import BuildSheet, Item
from rinsewright.building.steps import build_steps
from rinsewright.building.weights import van_loads, weigh
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.restrictor import Restrictor
from rinsewright.plant.tube import Tube
from rinsewright.site import build
from rinsewright.site.document import SiteDocument


def make_build(document: SiteDocument, plant: Plant) -> BuildSheet:
    """The build sheet of a plant; needs the tables [supply] and [plant], takes [site], [demand], [prices], [[kit]]."""
    bill = make_bill(document, plant)
    items, way = bill.items, bill.way
    weights = weigh(plant, items)
    steps = with_joints(build_steps(plant, bill.uses, way.cuts, weights, document), way.fits)
    site = document.model.site
    return BuildSheet(
        site_name=site.name,
        planned_on=site.planned_on or "",
        country=site.country or "",
        currency=build.currency(document) or "",
        plant=plant,
        items=items,
        tools=bill.tools,
        fits=way.fits,
        cuts=way.cuts,
        steps=tuple(map(bill.by_article, steps)),
        weights=weights,
        vans=van_loads(document),
        cautions=tuple(dict.fromkeys(step.caution for step in steps if step.caution)),
        notes=tuple(_notes(plant, items, way)),
    )


def _notes(plant: Plant, items: Sequence[Item], way: Connections) -> Iterator[str]:
    """What was taken for want of better, and what the list cannot say."""
    names = {TAP: "the tap", DRAIN: "the drain", BUCKET: "the bucket"}
    parts = (*plant.feed, *plant.elements, *plant.drain, *plant.product, *way.added)
    names |= {part.key: f"the {part.name}" for part in parts}
    for fit in way.no_way:
        one, other = (names.get(key.removesuffix(".housing"), key) for key in fit.at)
        yield f"No one fitting joins {fit.a} to {fit.b} between {one} and {other}. {fit.joint.why}"
    if way.taken:
        yield f"Ends that the site file does not give, taken as usual: {'; '.join(way.taken)}. Look at your own parts."
    if any(cut.assumed for cut in way.cuts):
        yield "Links between parts have no length in the site file: theirs is assumed. Measure before you cut."
    if any(item.origin == "assumed" and item.what.endswith("cartridge") for item in items):
        yield "Where a cartridge says no size, 10 in slim is taken."
    if plant.elements:
        yield "Each element is taken to stand in a housing of its own."
    if not all(nominal(element) for element in plant.elements):
        yield "An element without a nominal size leaves the size of its housing open: look at its label."
    if plant.elements and not any(isinstance(part, Restrictor) for part in plant.drain):
        yield "The site file has no drain restrictor; one is in the list."
    if not plant.tank and not any(isinstance(part, Tube) for part in plant.product[-1:]):
        yield "What leads from the last part to the brush is not in the site file, and so not in the list."
    unpriced = sum(item.price is None for item in items if item.needed)
    if unpriced:
        yield f"{unpriced} of {sum(item.needed for item in items)} rows have no price."
