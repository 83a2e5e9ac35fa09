"""NaCl plants as site-file text, from one element on a tap to stages behind a pump. Round, made-up values."""

from __future__ import annotations

SODIUM_SHARE = 22.98977 / 58.44277

TAP = """
[supply]
kind = "mains"
standing_bar = 4.2
flowing = [ { flow_l_min = 12.0, pressure_bar = 3.4 }, { flow_l_min = 6.0, pressure_bar = 3.95 } ]
"""
STRONG_TAP = """
[supply]
kind = "mains"
standing_bar = 6.5
flowing = [ { flow_l_min = 20.0, pressure_bar = 5.5 } ]
"""

HOSE = 'part = "tube"\nbore_mm = 9.0\nlength_m = 6.0\nfittings_k = 3.0'
WIDE_HOSE = 'part = "tube"\nbore_mm = 15.0\nlength_m = 20.0\nfittings_k = 4.0\nroughness_mm = 0.0015'
LONG_THIN_HOSE = 'part = "tube"\nbore_mm = 6.0\nlength_m = 30.0\nfittings_k = 2.0'
SEDIMENT = 'part = "cartridge"\nmedia = "sediment"\nclean_drop_bar = 0.12\nat_l_min = 8.0'
CARBON = 'part = "cartridge"\nmedia = "carbon"\nclean_drop_bar = 0.2\nat_l_min = 8.0'
PUMP = """part = "pump"
curve = [ { flow_l_min = 0.0, bar = 5.0 }, { flow_l_min = 8.0, bar = 4.0 }, { flow_l_min = 16.0, bar = 2.0 } ]
power_w = 250"""
CHECK = 'part = "check"'
SHUTOFF = 'part = "shutoff"\ncloses_at_ratio = 0.66\nreopens_at_ratio = 0.45'
LIFT = 'part = "lift"\nheight_m = 1.5'
HIGH_LIFT = 'part = "lift"\nheight_m = 5.0'
PRODUCT_TUBE = 'part = "tube"\nbore_mm = 4.5\nlength_m = 1.5\nfittings_k = 2.0'
RESIN = 'part = "resin"\nlitres = 7.0\ndrop_bar = 0.3\nat_l_min = 4.0'
TANK = 'part = "tank"\nlitres = 650\nheight_mm = 1100\nfloat_band_mm = 60\nfloat_open_l_min = 12.0\nvented = true'
SMALL_FLOAT_TANK = TANK.replace("12.0", "5.0")

RATING = (
    "rated = {{ product_l_h = {}, rejection_pct = {}, recovery_pct = {}, "
    "pressure_bar = 6.9, nacl_mg_l = 500, temperature_c = 25 }}"
)
LARGE = """nominal = "4040"
area_m2 = 7.2
length_m = 0.92
channel_mm = 0.71
porosity = 0.89
""" + RATING.format(300, 98.5, 15)
HALF = """nominal = "4021"
area_m2 = 3.2
length_m = 0.46
channel_mm = 0.71
porosity = 0.89
""" + RATING.format(130, 98.0, 8)
SMALL = """nominal = "2540"
area_m2 = 2.6
length_m = 0.92
channel_mm = 0.79
porosity = 0.88
water_permeance_l_m2_h_bar = 5.5
salt_permeance_l_m2_h = 0.6
water_activation_k = 2900.0
salt_activation_k = 3200.0"""


def restrictor(flow_l_min: float, at_bar: float = 4.0, exponent: float = 0.5) -> str:
    return f'part = "restrictor"\nflow_l_min = {flow_l_min}\nat_bar = {at_bar}\nexponent = {exponent}'


def staged(element: str, stage: int) -> str:
    return f"{element}\nstage = {stage}"


def site(
    nacl_mg_l: float = 500.0,
    temperature_c: float = 12.0,
    supply: str = TAP,
    feed: tuple[str, ...] = (HOSE, SEDIMENT),
    elements: tuple[str, ...] = (LARGE,),
    drain: tuple[str, ...] = (restrictor(1.5),),
    product: tuple[str, ...] = (CHECK, SHUTOFF, LIFT, TANK),
    plant: str = "",
) -> str:
    """One site file; `plant` holds keys of the [plant] table itself."""
    sodium = nacl_mg_l * SODIUM_SHARE
    lines = [
        "schema = 1",
        '[site]\nname = "Reference yard"',
        f"[water]\ntemperature_c = {temperature_c}\nph = 7.0",
        f"[water.ions_mg_l]\nNa = {sodium:.9f}\nCl = {nacl_mg_l - sodium:.9f}",
        supply,
        f"[plant]\n{plant}",
    ]
    groups = {"feed": feed, "membranes": elements, "drain": drain, "product": product}
    lines += [f"[[plant.{group}]]\n{part}" for group, parts in groups.items() for part in parts]
    return "\n".join(lines) + "\n"


SERIES = 'arrangement = "series"'
FOUR_DRAIN = (restrictor(3.0),)

PLANTS: dict[str, dict[str, object]] = {
    "one element": {},
    "one element, exponent 0": {"drain": (restrictor(1.5, exponent=0.0),)},
    "one element, exponent 1": {"drain": (restrictor(1.5, exponent=1.0),)},
    "one small element": {"elements": (SMALL,), "drain": (restrictor(0.8),)},
    "one half-length element": {"elements": (HALF,), "drain": (restrictor(0.8, exponent=0.57),)},
    "bare tap": {"feed": (CHECK,), "product": (TANK,)},
    "two in parallel": {"elements": (LARGE, LARGE), "drain": (restrictor(2.5),), "feed": (WIDE_HOSE, SEDIMENT)},
    "unlike in parallel": {"elements": (LARGE, SMALL), "drain": (restrictor(2.5),), "feed": (WIDE_HOSE,)},
    "three unlike in parallel": {
        "elements": (SMALL, LARGE, HALF),
        "drain": (restrictor(3.0),),
        "feed": (WIDE_HOSE,),
        "supply": STRONG_TAP,
    },
    "two in series": {"elements": (SMALL, SMALL), "plant": SERIES, "drain": (restrictor(1.2),)},
    "two large in series": {
        "elements": (LARGE, LARGE),
        "plant": SERIES,
        "drain": (restrictor(2.5),),
        "supply": STRONG_TAP,
    },
    "four in parallel": {"elements": (SMALL,) * 4, "drain": FOUR_DRAIN, "feed": (WIDE_HOSE, SEDIMENT)},
    "four in series": {"elements": (SMALL,) * 4, "plant": SERIES, "drain": FOUR_DRAIN, "supply": STRONG_TAP},
    "two and one": {
        "elements": (staged(SMALL, 1), staged(SMALL, 1), staged(SMALL, 2)),
        "drain": (restrictor(2.0),),
        "supply": STRONG_TAP,
    },
    "two and one, unlike stages": {
        "elements": (staged(LARGE, 1), staged(LARGE, 1), staged(SMALL, 2)),
        "drain": (restrictor(3.0),),
        "feed": (WIDE_HOSE, SEDIMENT),
        "supply": STRONG_TAP,
    },
    "pumped": {"feed": (WIDE_HOSE, SEDIMENT, PUMP), "drain": (restrictor(3.0, 6.0),)},
    "pumped, recirculating": {
        "feed": (WIDE_HOSE, SEDIMENT, PUMP),
        "drain": (restrictor(1.5, 6.0),),
        "plant": "recirculation_l_min = 2.0",
    },
    "pumped, recirculating, stages": {
        "feed": (WIDE_HOSE, PUMP),
        "elements": (staged(SMALL, 1), staged(SMALL, 1), staged(SMALL, 2)),
        "drain": (restrictor(1.0, 6.0),),
        "plant": "recirculation_l_min = 1.5",
    },
    "long thin hose": {"feed": (LONG_THIN_HOSE, SEDIMENT), "supply": STRONG_TAP, "drain": (restrictor(2.5),)},
    "lifted tank": {"product": (CHECK, HIGH_LIFT, SMALL_FLOAT_TANK), "supply": STRONG_TAP},
    "long product line": {
        "product": (CHECK, PRODUCT_TUBE, LIFT, RESIN, SMALL_FLOAT_TANK),
        "feed": (HOSE, SEDIMENT, CARBON),
    },
}


def named(name: str, nacl_mg_l: float, temperature_c: float) -> str:
    """One of the plants above on water of a given strength and temperature."""
    return site(nacl_mg_l=nacl_mg_l, temperature_c=temperature_c, **PLANTS[name])  # type: ignore[arg-type]
