"""The build sheet, to build by, and the unpacking check, to tick off."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from rinsewright.building.result import BuildSheet, Item, Step
from rinsewright.building.wording import plain
from rinsewright.papers.places import place_drawing
from rinsewright.papers.sheets import language, template
from rinsewright.papers.units import AS_FILED, LITRE_IN_GALLONS, Telling
from rinsewright.papers.words import fixed, money, opening


@dataclass(frozen=True)
class Shown:
    """A step with its number, its drawing, what is wanted at hand, and the fittings that go here."""

    number: int
    step: Step
    drawing: str
    hand: tuple[str, ...]
    fittings: tuple[str, ...]


@dataclass(frozen=True)
class TickRow:
    """A row to tick off: its key, what it is, how many, and what is said of it."""

    key: str
    what: str
    amount: str
    note: str


def build_page(sheet: BuildSheet, telling: Telling = AS_FILED) -> str:
    """The build sheet as HTML: no script, no request to elsewhere, light and dark, screen and A4."""
    sheet = telling.retold(sheet)
    return template("build.html.j2").render(
        sheet=sheet,
        answer=sheet.answer(),
        steps=steps_shown(sheet, telling),
        needed=[item for item in sheet.items if item.needed],
        cuts=_cuts(sheet),
        joints=_joints(sheet),
        lang=language(sheet.country),
    )


def unpacking_page(sheet: BuildSheet, telling: Telling = AS_FILED) -> str:
    """What should be in the boxes, what is to be bought, what is not needed: to be ticked off on screen or paper."""
    sheet = telling.retold(sheet)
    return template("unpacking.html.j2").render(
        sheet=sheet,
        answer=sheet.answer(),
        supplied=supplied(sheet, telling),
        order=to_order(sheet, telling),
        extras=[item for item in sheet.items if not item.needed],
        tools=sheet.tools,
        described=kit_is_described(sheet),
        cost=order_cost(sheet),
        lang=language(sheet.country),
    )


def steps_shown(sheet: BuildSheet, telling: Telling = AS_FILED) -> list[Shown]:
    """The steps as they are shown."""
    from markupsafe import Markup

    rows = {item.key: item for item in (*sheet.items, *sheet.tools)}
    shown = []
    for place, step in enumerate(sheet.steps, 1):
        # Our own drawing: every text in it is escaped where it is written.
        drawing = Markup(place_drawing(step, sheet.plant, place))
        fittings = tuple(f"{count} × {plain(adapter)}" for adapter, count in step.adapters.items())
        shown.append(Shown(place, step, drawing, _at_hand(step, rows, telling), fittings))
    return shown


def _at_hand(step: Step, rows: dict[str, Item], telling: Telling) -> tuple[str, ...]:
    """What is wanted at hand for a step, and how much of it; fittings stand at the step where they go."""
    return tuple(
        _wanted(rows[want.key], want.quantity, telling) for want in step.wants if not want.key.startswith("fitting:")
    )


def _wanted(item: Item, quantity: float, telling: Telling) -> str:
    if item.unit != "piece":
        return f"{amount(item, quantity, telling)} {_named(item)}"
    return _named(item) if quantity == 1.0 else f"{quantity:g} × {_named(item)}"


def kit_is_described(sheet: BuildSheet) -> bool:
    """Whether the site file says what the supplied boxes hold."""
    return any(item.kit_quantity is not None for item in sheet.items)


def supplied(sheet: BuildSheet, telling: Telling = AS_FILED) -> list[TickRow]:
    """What the boxes should hold of what is needed."""
    return [
        TickRow(
            _tick(item), _named(item), amount(item, min(item.quantity, item.kit_quantity), telling), opening(item.why)
        )
        for item in sheet.items
        if item.needed and item.kit_quantity
    ]


def to_order(sheet: BuildSheet, telling: Telling = AS_FILED) -> list[TickRow]:
    """What is to be bought and what for, with price and lead time where they are known."""
    return [
        TickRow(
            _tick(item),
            _named(item),
            amount(item, item.missing, telling),
            " ".join(_bought(item, sheet.currency, telling)),
        )
        for item in sheet.order
    ]


def amount(item: Item, quantity: float, telling: Telling = AS_FILED) -> str:
    """A quantity with its unit in words: "2", "7 m", "4 sets"."""
    if item.unit == "piece":
        return f"{quantity:g}"
    return telling.retell(f"{quantity:g} {item.unit}{'s' * (item.unit == 'set' and quantity != 1)}")


def _tick(item: Item) -> str:
    """The key under which a row is ticked off. A gauge of another size is another article."""
    return item.key if item.size in item.key else f"{item.key}: {item.size}"


def _named(item: Item) -> str:
    return f"{item.what} {item.size}".strip()


def _bought(item: Item, currency: str, telling: Telling) -> Iterator[str]:
    if item.why:
        yield opening(item.why)
    if item.price is not None:
        each = {"m": " per metre", "L": " per litre"}.get(item.unit, " each" if item.missing > 1 else "")
        gallons = item.unit == "L" and telling.word("L") != "L"
        price = item.price / LITRE_IN_GALLONS if gallons else item.price
        yield telling.retell(f"{money(fixed(price, 2), currency)}{each}.")
    if item.lead_days is not None:
        yield f"{item.lead_days:g} days from order."


def order_cost(sheet: BuildSheet) -> str | None:
    """The known prices of what is to be bought, together; None where none is known."""
    known = [item.missing * item.price for item in sheet.order if item.price is not None]
    return money(fixed(sum(known), 2), sheet.currency) if known else None


def _cuts(sheet: BuildSheet) -> list[tuple[str, str, str]]:
    """Pieces of tube: how many and how long, of what, and where."""
    return [
        (f"{cut.count} × {cut.length_m:.2f} m{' (measure first)' if cut.assumed else ''}", cut.size, opening(cut.where))
        for cut in sheet.cuts
    ]


def _joints(sheet: BuildSheet) -> list[tuple[str, str, int]]:
    """Every pair of ends that meets, what goes between, and how many times; what needs something comes first."""
    alike = Counter((f"{fit.a} to {fit.b}", _between(fit.joint.fits, fit.joint.adapter)) for fit in sheet.fits)
    rows = [(ends, between, count) for (ends, between), count in alike.items()]
    return sorted(rows, key=lambda row: row[1] == FITS)


FITS = "nothing: they fit"


def _between(fits: bool, adapter: str | None) -> str:
    if fits:
        return FITS
    return plain(adapter) if adapter else "no one part joins them"
