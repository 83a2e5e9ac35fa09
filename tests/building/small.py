"""Small plants written for one question each."""

from __future__ import annotations

from rinsewright.building.bill import make_bill
from rinsewright.building.connections import Connections, connect
from rinsewright.building.result import Item
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.plant.layout import Plant
from rinsewright.site.build import build_plant
from rinsewright.site.document import SiteDocument
from rinsewright.site.reading import read_text

MAINS = "[supply]\nstanding_bar = 4\n"
ELEMENT = (
    '{ nominal = "4040", area_m2 = 7.2, length_m = 0.92, water_permeance_l_m2_h_bar = 6, salt_permeance_l_m2_h = 0.4 }'
)
RESTRICTOR = '{ part = "restrictor", flow_l_min = 3, at_bar = 4 }'
TUBE = '{ part = "tube", bore_mm = 9, length_m = 6, outside = "12 mm" }'
RESIN = '{ part = "resin", litres = 7 }'
TANK = '{ part = "tank", litres = 650 }'
SEDIMENT = '{ part = "cartridge", media = "sediment" }'


def site(*, elements: int = 0, rest: str = "", kit: str = "", supply: str = MAINS, **lines: list[str]) -> str:
    """A site file with these parts on its lines; ``rest`` are further keys of [plant]."""
    drain = lines.get("drain", [RESTRICTOR] if elements else [])
    rows = [
        supply,
        "[plant]",
        rest,
        f"feed = [{', '.join(lines.get('feed', [TUBE]))}]",
        f"membranes = [{', '.join(lines.get('membranes', [ELEMENT] * elements))}]",
        f"drain = [{', '.join(drain)}]",
        f"product = [{', '.join(lines.get('product', [RESIN, TANK]))}]",
        kit,
    ]
    return "\n".join(rows)


def read(text: str) -> tuple[SiteDocument, Plant]:
    document = read_text(text)
    return document, build_plant(document, load_catalogue())


def way(text: str) -> Connections:
    return connect(*read(text))


class Listed(dict[str, Item]):
    """The rows of a list by key; a row is found under the keys of its uses too."""

    def __init__(self, rows: list[Item], article: dict[str, str]) -> None:
        super().__init__({row.key: row for row in rows})
        assert len(self) == len(rows)
        self.article = article

    def __missing__(self, use: str) -> Item:
        return self[self.article[use]]


def listed(text: str) -> Listed:
    """The parts list and the tools."""
    bill = make_bill(*read(text))
    return Listed([*bill.items, *bill.tools], {use: key for use, key in bill.article.items() if use != key})
