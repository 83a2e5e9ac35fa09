"""Made-up sites by chance: the parts, windows and draws of a year mixed as no person would mix them."""

from __future__ import annotations

from random import Random

from tests.independent.sites import HALF, LARGE, SMALL

WATERS = {
    "hard": "Ca = 104.0\nMg = 4.5\nNa = 14.0\nHCO3 = 285.0\nSO4 = 28.0\nCl = 26.0\nNO3 = 24.0\nSiO2 = 12.0",
    "soft": "Ca = 12.0\nMg = 2.0\nNa = 9.0\nHCO3 = 30.0\nSO4 = 9.0\nCl = 14.0\nNO3 = 2.0\nSiO2 = 4.0",
    "salty": "Ca = 80.0\nMg = 25.0\nNa = 300.0\nHCO3 = 260.0\nSO4 = 180.0\nCl = 390.0\nNO3 = 10.0\nSiO2 = 14.0",
}


def clock(minutes: int) -> str:
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def site_at_random(seed: int) -> str:
    """The text of a site file with a tank, whose parts all work."""
    rng = Random(seed)
    product = _product(rng)
    supply, feed = _supply(rng, switched='"check"' in product)
    flow = rng.choice((0.6, 1.2, 2.0))
    element = rng.choice((LARGE, HALF, SMALL))
    drain = f'[[plant.drain]]\npart = "restrictor"\nflow_l_min = {flow}\nat_bar = 4.0\n'
    if rng.random() < 0.3:
        drain += f'[[plant.drain]]\npart = "flush"\nlitres = {rng.choice((0.5, 4.0))}\n'
    return "\n".join(
        [
            f'schema = 1\n[site]\nname = "Site {seed}"\nfrost_protected = true',
            f"[water]\ntemperature_c = 10.0\nph = 7.3\n[water.ions_mg_l]\n{WATERS[rng.choice(list(WATERS))]}",
            f"[water.season]\ncoldest_c = {rng.uniform(3, 9):.1f}\nwarmest_c = {rng.uniform(11, 22):.1f}",
            supply,
            _demand(rng),
            feed,
            f"[[plant.membranes]]\n{element}",
            drain,
            product,
        ]
    )


def _supply(rng: Random, switched: bool) -> tuple[str, str]:
    """The supply's table, and the feed line that goes with it; a pressure switch needs a check valve not to chatter."""
    kind = rng.choice(("mains", "mains", "by hour", "break tank"))
    if kind == "break tank":
        curve = "[ { flow_l_min = 0.0, bar = 7.0 }, { flow_l_min = 12.0, bar = 2.0 } ]"
        pump = f'[[plant.feed]]\npart = "pump"\ncurve = {curve}'
        if switched and rng.random() < 0.5:
            pump += "\ncut_out_bar = 6.75\ncut_in_bar = 6.55"
        tank = f"tank_litres = {rng.randint(60, 400)}\nrefill_l_min = {rng.uniform(1.0, 5.0):.2f}"
        return f'[supply]\nkind = "break-tank"\nstanding_bar = 0.2\n{tank}', pump
    running = "flowing = [ { flow_l_min = 10.0, pressure_bar = 3.2 } ]"
    if kind == "by hour":
        levels = [round(rng.uniform(3.8, 6.0), 1) for _ in range(4)]
        return f"[supply]\nby_hour_bar = {[levels[(hour + 2) // 6 % 4] for hour in range(24)]}\n{running}", ""
    return f"[supply]\nstanding_bar = {rng.uniform(3.6, 6.5):.2f}\n{running}", ""


def _demand(rng: Random) -> str:
    litres = ", ".join(
        f"{day} = {rng.choice((0, 60, 200, 500, 900, 1500))}"
        for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    )
    start, length = rng.randrange(5 * 60, 12 * 60), rng.randrange(60, 11 * 60)
    lines = [
        f"[demand]\nlitres_per_day = {{ {litres} }}",
        f'draw_from = "{clock(start)}"\ndraw_until = "{clock(start + length)}"',
    ]
    if rng.random() < 0.4:
        opens = rng.randrange(24 * 60)
        lines.append(f'fill_from = "{clock(opens)}"\nfill_until = "{clock(opens + rng.randrange(120, 20 * 60))}"')
    if rng.random() < 0.3:
        for name in ("one", "two")[: rng.randint(1, 2)]:
            home = start + length + rng.randrange(24 * 60 - length)  # not while it is out
            lines.append(
                f'[[demand.vans]]\nname = "{name}"\ntank_litres = {rng.randint(200, 700)}\n'
                f'refill_at = "{clock(home)}"\nrefill_l_min = {rng.uniform(2, 25):.1f}'
            )
    return "\n".join(lines)


def _product(rng: Random) -> str:
    parts = []
    if rng.random() < 0.75:
        parts.append('part = "check"')
    if rng.random() < 0.75:
        closes = rng.uniform(0.55, 0.8)
        parts.append(f'part = "shutoff"\ncloses_at_ratio = {closes:.2f}\nreopens_at_ratio = {closes * 0.7:.2f}')
    parts.append(f'part = "tube"\nbore_mm = {rng.choice((5.0, 8.0, 13.0))}\nlength_m = {rng.uniform(1, 12):.1f}')
    parts.append(f'part = "lift"\nheight_m = {rng.uniform(0.2, 3.0):.1f}')
    tank = f'part = "tank"\nlitres = {rng.choice((300, 500, 1000))}\nstart_full = {rng.choice((0.0, 0.5, 1.0))}'
    tank += rng.choice(("", '\ninlet = "bottom"'))
    floats = rng.random()
    if floats < 0.1 and not any("shutoff" in part for part in parts):
        tank += "\nfloat_valve = false"
    elif floats < 0.7:
        tank += f"\nheight_mm = 1000\nfloat_band_mm = {rng.choice((70, 120, 200))}"
        tank += f"\nfloat_open_l_min = {rng.choice((6, 12, 20))}"
    parts.append(tank)
    return "\n".join(f"[[plant.product]]\n{part}" for part in parts)
