"""Plants of many kinds as site-file text, drawn by number: the same number gives the same plant. Round, made-up values.

What decides the kind (elements and how they stand, resin, tank, pump, check) goes round with the number, so that any
twenty in a row hold every kind; the rest is drawn.
"""

from __future__ import annotations

import random
from itertools import count

TUBES = (  # bore [mm], outside: in inches and in millimetres, and not said
    (4.3, "1/4 in"),
    (6.5, "3/8 in"),
    (9.0, "1/2 in"),
    (4.0, "6 mm"),
    (6.0, "8 mm"),
    (8.0, "10 mm"),
    (9.0, "12 mm"),
    (11.0, "15 mm"),
    (9.0, None),
    (4.3, None),
)
HOSES = (12.5, 13.0, 19.0)  # bore [mm]
ENDS = ("push-fit 12 mm", "push-fit 3/8 in", "G 1/2 female", "NPT 1/2 female", "R 1/2 male", "tail 13 mm", "G 3/4 male")
ELEMENTS = {  # area [m2], length of the leaves [m], product of the rating [L/h]
    "4040": (7.2, 0.92, 300),
    "4021": (3.2, 0.46, 130),
    "2540": (2.6, 0.92, 110),
    "2521": (1.1, 0.46, 45),
}
SHAPES = ("none", "one", "parallel 2", "series 2", "parallel 3", "staged 2 1", "parallel 4", "series 3", "staged 1 1")
RESIN = ("before", "behind", "none", "before", "two before")
KIT = (
    ("sediment cartridge", "10 in slim"),
    ("taste filter", None),
    ("mineral cartridge", None),
    ("membrane housing", "4040"),
    ("Tube Cutters", None),
    ("pressure gauge", None),
    ("spare O-rings for the housings", None),
    ("garden gnome", "large"),
)
RATED = "pressure_bar = 6.9, nacl_mg_l = 500, temperature_c = 25, recovery_pct = 15"


def site_text(number: int) -> str:
    """The site file of one plant."""
    return _Draw(number).text()


class _Draw:
    def __init__(self, number: int) -> None:
        self.number, self.chance = number, random.Random(f"plant {number}")
        self.shape = SHAPES[number % len(SHAPES)]
        self.elements = self.shape != "none"
        self.resin = RESIN[number % len(RESIN)] if self.elements else ("before", "two before", "behind")[number % 3]
        self.tank = self.resin == "behind" or number % 4 != 3  # else direct to the pole
        self.pump = self.elements and number % 3 == 1
        self.kind = "break-tank" if number % 7 == 4 else "well" if number % 7 == 6 else "mains"

    def often(self, share: float) -> bool:
        return self.chance.random() < share

    def text(self) -> str:
        country = self.chance.choice(("GB", "US", "DE", "AU"))
        tables = [
            "schema = 1",
            f'[site]\nname = "Plant {self.number}"\ncountry = "{country}"\nplanned_on = "2026-11-25"'
            + ('\npage = "https://yard.example/plant"' if self.often(0.5) else ""),
            "[water]\ntemperature_c = 11.0\nph = 7.4\n[water.ions_mg_l]\nCa = 60.0\nNa = 20.0\nHCO3 = 180.0\nCl = 30.0",
            self.supply(),
            self.demand(),
            self.plant(),
            "[prices]\n" + "\n".join(("sediment_cartridge = 9.0", "resin_per_l = 6.5")[: self.chance.randint(0, 2)]),
            *self.kit(),
        ]
        return "\n\n".join(tables) + "\n"

    def supply(self) -> str:
        keys = [f'kind = "{self.kind}"', f"standing_bar = {1.0 if self.kind == 'break-tank' else 4.5}"]
        if self.kind == "break-tank" and self.often(0.5):
            keys += ["tank_litres = 200", "refill_l_min = 15"]
        if self.often(0.5):
            keys.append(
                f'end = "{self.chance.choice(("G 3/4 male", "NH 3/4 male", "compression 15 mm", "G 1/2 female"))}"'
            )
        return "\n".join(("[supply]", *keys))

    def demand(self) -> str:
        if not self.tank:
            return "[demand]\nlitres_per_day = { mon = 200 }\nbrushes = 1\nbrush_l_min = 1.5"
        vans = []
        for n in range(self.chance.randint(0, 2)):
            payload = self.chance.choice((None, 600, 900, 1300))
            kit = self.chance.choice((None, 150, 250))
            litres = self.chance.choice((250, 400, 650))
            keys = [f'name = "van {n + 1}"', f"tank_litres = {litres}"]
            keys += [f"payload_kg = {payload}"] * (payload is not None) + [f"kit_kg = {kit}"] * (kit is not None)
            vans.append("\n".join(("[[demand.vans]]", *keys)))
        return "\n".join(("[demand]", "litres_per_day = { mon = 200, thu = 200 }", *vans))

    def kit(self) -> list[str]:
        if self.number % 2:
            return []
        rows = []
        for what, size in self.chance.sample(KIT, self.chance.randint(1, len(KIT))):
            keys = [f'what = "{what}"', *([f'size = "{size}"'] if size else [])]
            keys += [f"quantity = {self.chance.randint(1, 4)}"] * self.often(0.6)
            rows.append("\n".join(("[[kit]]", *keys)))
        return rows

    # ---- the plant ----

    def plant(self) -> str:
        keys = ["[plant]"]
        if self.shape.startswith("series"):
            keys.append('arrangement = "series"')
        if self.pump and self.number % 2:
            keys.append("recirculation_l_min = 2.0")
        lines = {
            "feed": self.feed(),
            "membranes": self.membranes(),
            "drain": self.drain() if self.elements else [],
            "product": self.product(),
        }
        return "\n\n".join(
            ("\n".join(keys), *(f"[[plant.{line}]]\n{part}" for line, parts in lines.items() for part in parts))
        )

    def tube(self, lengths: tuple[float, ...]) -> str:
        keys = ['part = "tube"', f"length_m = {self.chance.choice(lengths)}"]
        if self.often(0.2):
            return "\n".join((*keys, f"bore_mm = {self.chance.choice(HOSES)}", "hose = true"))
        bore, outside = self.chance.choice(TUBES)
        return "\n".join((*keys, f"bore_mm = {bore}", *([f'outside = "{outside}"'] if outside else [])))

    def part(self, kind: str, *keys: str, ends: int = 2) -> str:
        """A part with, now and then, ends, a price and a lead time of its own."""
        more = []
        if ends and self.often(0.3):
            words = ", ".join(f'"{self.chance.choice(ENDS)}"' for _ in range(ends))
            more.append(f"ends = [{words}]")
        if self.often(0.3):
            more += ["price = 25.0", "lead_days = 3"]
        return "\n".join((f'part = "{kind}"', *keys, *more))

    def feed(self) -> list[str]:
        chances = {
            "tube": (0.8, lambda: self.tube((2.0, 6.0, 15.0))),
            "check": (0.25, lambda: self.part("check")),
            "sediment": (0.75, lambda: self.part("cartridge", 'media = "sediment"')),
            "carbon": (0.6, lambda: self.part("cartridge", 'media = "carbon"')),
            "softener": (0.25, lambda: self.part("softener")),
            "inhibitor": (0.25, lambda: self.part("inhibitor")),
            "solenoid": (0.3, lambda: self.part("solenoid")),
        }
        found = [made() for share, made in chances.values() if self.often(share)]
        if self.pump:
            curve = "curve = [{ flow_l_min = 0, bar = 6 }, { flow_l_min = 16, bar = 3 }]"
            switches = ["cut_in_bar = 2.0", "cut_out_bar = 7.0"] if self.often(0.5) else []
            found.append(self.part("pump", curve, "power_w = 250", *switches))
            found += [self.tube((1.0, 2.0))] * self.often(0.5)
        return found

    def membranes(self) -> list[str]:
        if not self.elements:
            return []
        nominal = self.chance.choice(tuple(ELEMENTS))
        stages: list[int | None] = [None] * int(self.shape.split()[-1]) if " " in self.shape else [None]
        if self.shape.startswith("staged"):
            stages = [
                stage for stage, many in zip(count(1), self.shape.split()[1:], strict=False) for _ in range(int(many))
            ]
        return [self.element(nominal, stage) for stage in stages]

    def element(self, nominal: str, stage: int | None) -> str:
        area, length, product = ELEMENTS[nominal]
        keys = [
            f'nominal = "{nominal}"',
            f"area_m2 = {area}",
            f"length_m = {length}",
            f"rated = {{ product_l_h = {product}, rejection_pct = 98.5, {RATED} }}",
        ]
        keys += [f"stage = {stage}"] * (stage is not None)
        if self.often(0.3):
            keys.append('ends = ["Rp 1/2", "Rp 1/2", "push-fit 3/8 in"]')
        return "\n".join(keys)

    def drain(self) -> list[str]:
        restrictor = self.part("restrictor", "flow_l_min = 3.0", "at_bar = 4.0")
        flush = [self.part("flush", "litres = 10")] * (self.number % 5 == 1)
        return [restrictor, *flush, *[self.tube((2.0, 4.0))] * self.often(0.5)]

    def product(self) -> list[str]:
        shutoff = self.elements and self.tank and self.number % 4 != 2
        check = (None, "before", "behind")[self.number % 3] if self.elements else None
        resin = "vessels = 2" if self.resin.startswith("two") else "vessels = 1"
        bed = [] if self.resin == "none" else [self.part("resin", "litres = 7.0", resin)]
        found = [self.part("check")] * (check == "before")
        found += [self.part("shutoff", ends=0)] * shutoff
        found += [self.part("check")] * (check == "behind")
        found += [self.tube((1.5, 8.0))] * self.often(0.4)
        found += ['part = "lift"\nheight_m = 1.5'] * self.often(0.4)
        found += [self.part("blend", "share = 0.05", ends=0)] * (self.elements and self.number % 6 == 5)
        found += bed if self.resin != "behind" else []
        if self.tank:
            found.append(self.tank_text())
            found += [self.part("delivery-pump", "flow_l_min = 3.0", "power_w = 80")] * self.often(0.4)
            found += bed if self.resin == "behind" else []
        return found

    def tank_text(self) -> str:
        keys = [f"litres = {self.chance.choice((350, 650, 1000))}", "height_mm = 1100"]
        keys += [
            f'inlet = "{self.chance.choice(("top", "bottom"))}"',
            f"vented = {self.chance.choice(('true', 'false'))}",
        ]
        floats = ["float_band_mm = 60", "float_open_l_min = 12.0"] if self.often(0.7) else ["float_valve = false"]
        return self.part("tank", *keys, *floats)
