"""The reference of the site file, from the declared keys and the checks."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from docs.generating import fields
from docs.generating.markdown import code, doc, link, page, table
from rinsewright.catalogue import parts
from rinsewright.catalogue.fields import needed, sentence
from rinsewright.cli import COMMANDS
from rinsewright.errors import InputError
from rinsewright.site.reading import TABLES_OF, read_text
from rinsewright.site.schema import SiteFile

HEAD = ("Key", "Meaning", "Unit", "Type", "Default", "Range")
PART_FIELD = "part"
COMMON = tuple(parts.Stocked.model_fields)

INTRO = """
A site is one TOML file. Keys carry their units; pressures are gauge pressures. A key that is not listed here is refused
with the nearest known one, and so are text for a number and a number outside its range: the sentence names the file,
the line and the key. Ranges are plausible limits, not advice.

Where the default is a dash, the key may be left out and nothing is assumed in its place. *Needed* keys must be given,
in the file or by a part of the catalogue. The same as JSON Schema, for editors that complete keys:
[site-file.schema.json](site-file.schema.json).
"""

EXAMPLES = (
    "site = { frost_days = [31, 30, 10, 5, 0, 0, 0, 0, 0, 2, 12, 25] }",
    "water = { temperature_c = 12 }",
    "water = { temperature_c = 12, ions_mg_l = { Ca = 0 } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, free_chlorine_mg_l = 0.5, total_chlorine_mg_l = 0.3 }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = { coldest_c = 5 } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = { coldest_c = 19, warmest_c = 5 } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = "
    "{ coldest_c = 5, monthly_c = [5, 5, 7, 9, 12, 15, 17, 18, 16, 12, 9, 6] } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = "
    '{ table = "GB mains", air_mean_c = 10.5, air_monthly_spread_c = 13 } }',
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = { air_mean_c = 10.5 } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, season = "
    "{ air_mean_c = -4, air_monthly_spread_c = 45 } }",
    "water = { temperature_c = 12, field = { meter_ppm = 200 }, changes = "
    '[{ from = "11-01", ions_mg_l = { Ca = 90 } }, { from = "11-01", ions_mg_l = { Ca = 60 } }] }',
    'supply = { kind = "mains" }',
    "supply = { standing_bar = 3, flowing = [{ flow_l_min = 10, pressure_bar = 3.5 }] }",
    "supply = { flowing = [{ flow_l_min = 5, pressure_bar = 3 }, { flow_l_min = 10, pressure_bar = 3.5 }] }",
    "supply = { standing_bar = 1, tank_litres = 200, refill_l_min = 6 }",
    'supply = { kind = "break-tank", standing_bar = 1, tank_litres = 200 }',
    'demand = { litres_per_day = { mon = 300 }, rounds = [{ day = "mon", jobs = [{ litres = 40, minutes = 25 }] }] }',
    "demand = { litres_per_day = { mon = 0 } }",
    'demand = { draw_from = "08:00", draw_until = "08:00" }',
    'demand = { fill_from = "20:00" }',
    'demand = { fill_from = "20:00", fill_until = "20:00" }',
    'demand = { vans = [{ name = "A", tank_litres = 400 }, { name = "A", tank_litres = 650 }] }',
    'demand = { vans = [{ name = "A", tank_litres = 400, payload_kg = 500, kit_kg = 600 }] }',
    'plant = { feed = [{ part = "check" }] }',
    "plant = { membranes = [MEMBRANE] }",
    'plant = { drain = [RESTRICTOR], product = [{ part = "resin", litres = 7 }] }',
    "plant = { membranes = [{ area_m2 = 7, length_m = 0.9 }], drain = [RESTRICTOR] }",
    "plant = { membranes = [{ area_m2 = 7, length_m = 0.9, water_permeance_l_m2_h_bar = 5, rated = "
    "{ product_l_h = 300, rejection_pct = 99, pressure_bar = 7, nacl_mg_l = 500 } }], drain = [RESTRICTOR] }",
    "plant = { membranes = [{ area_m2 = 7, length_m = 0.9, rated = "
    "{ product_l_h = 300, rejection_pct = 99, pressure_bar = 7, nacl_mg_l = 32000 } }], drain = [RESTRICTOR] }",
    'plant = { arrangement = "series", membranes = [MEMBRANE, STAGED], drain = [RESTRICTOR] }',
    "plant = { membranes = [STAGED], drain = [RESTRICTOR] }",
    "plant = { recirculation_l_min = 2, membranes = [MEMBRANE], drain = [RESTRICTOR] }",
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], product = "
    '[{ part = "tank", litres = 400 }, { part = "tank", litres = 400 }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], product = "
    '[{ part = "tank", litres = 400 }, { part = "shutoff" }] }',
    'plant = { product = [{ part = "resin", litres = 7 }, { part = "shutoff" }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], product = "
    '[{ part = "shutoff", closes_at_ratio = 0.6, reopens_at_ratio = 0.7 }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = "
    '[{ part = "pump", curve = [{ flow_l_min = 5, bar = 4 }, { flow_l_min = 0, bar = 5 }] }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = "
    '[{ part = "pump", curve = [{ flow_l_min = 0, bar = 5 }], cut_in_bar = 6, cut_out_bar = 5 }] }',
    'plant = { product = [{ part = "resin", litres = 7 }, { part = "tank", litres = 400, usable_litres = 500 }] }',
    'plant = { product = [{ part = "resin", litres = 7 }, '
    '{ part = "tube", bore_mm = 9, length_m = 2, outside = "8 mm" }] }',
    'plant = { product = [{ part = "resin", litres = 7, ends = ["G 3/4 male"] }] }',
    'plant = { product = [{ part = "resin", litres = 7 }, { part = "tank", litres = 400, float_band_mm = 60 }] }',
    'plant = { product = [{ part = "resin", litres = 7 }, { part = "tank", litres = 400, float_valve = false, '
    "float_open_l_min = 12 }] }",
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = "
    '[{ part = "cartridge", media = "carbon", clean_drop_bar = 0.2 }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = "
    '[{ part = "softener", clean_drop_bar = 0.2 }] }',
    "plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = "
    '[{ part = "solenoid", drop_bar = 0.2 }] }',
    'plant = { product = [{ part = "resin", litres = 7, drop_bar = 0.2 }] }',
    'plant = { membranes = [MEMBRANE], drain = [RESTRICTOR], feed = [{ part = "tube", length_m = 6 }] }',
)  # fmt: skip
"""Tables whose keys are each right by themselves and wrong together; the program says why."""
STANDING_FOR = {
    "MEMBRANE": '{ part = "4040 low pressure" }',
    "STAGED": '{ part = "4040 low pressure", stage = 2 }',
    "RESTRICTOR": '{ part = "restrictor", size = "1.5 L/min at 4 bar" }',
}


def site_file() -> str:
    """The page."""
    sections = list(_sections("", SiteFile))
    return page(
        "The site file",
        INTRO,
        _needed_tables(),
        "## The whole file",
        _keys(SiteFile, ""),
        *sections,
        "## Parts",
        "Parts of the three lines, by their `part`. Those that the catalogue knows in sizes have a key `size`: a name "
        "from [the catalogue](catalogue.md), whose values hold unless given here. Any part and any membrane element "
        f"may have {link('the keys of every part', 'Keys of every part')} too.",
        *_parts(),
        "## Keys that go together",
        "Each of these is right key by key, and refused as a whole. The examples are run when this page is made; the "
        "sentences are what the program says.",
        _together(),
    )


def _needed_tables() -> str:
    rows = [
        (code(command), ", ".join(link(code(f"[{name}]"), f"[{name}]") for name in TABLES_OF[command]))
        for command in COMMANDS
        if command in TABLES_OF
    ]
    return "A command needs only the tables that it uses:\n\n" + table(("Command", "Tables"), rows)


def _sections(path: str, model: fields.Model, level: int = 2) -> Iterator[str]:
    """The tables below a table, in the order of the file."""
    for name, field in model.model_fields.items():
        below = fields.models_in(field.annotation)
        if not below:
            continue
        key = fields.key_of(name, field)
        at = f"{path}.{key}" if path else key
        title = heading(at, field)
        yield f"{'#' * level} {title}"
        if len(below) > 1:
            kinds = ", ".join(link(code(f'part = "{tag(kind)}"'), f'part = "{tag(kind)}"') for kind in below)
            yield f"{field.description} A list of parts in flow order, each one of: {kinds}."
        elif at == "water.changes.ions_mg_l":
            yield f"As {link('[water.ions_mg_l]', '[water.ions_mg_l]')}."
        else:
            yield f"{doc(below[0])}"
            yield _keys(below[0], at, COMMON if below[0] is parts.Membrane else ())
            yield from _sections(at, below[0], min(level + 1, 4))


def heading(at: str, field: FieldInfo) -> str:
    """A table's heading as TOML writes it."""
    return f"[[{at}]]" if fields.is_list(field.annotation) else f"[{at}]"


def tag(kind: fields.Model) -> str:
    """The word that marks a kind of part."""
    return str(kind.model_fields[PART_FIELD].annotation.__args__[0])  # type: ignore[union-attr]


def _keys(model: fields.Model, at: str, leave_out: tuple[str, ...] = ()) -> str:
    rows = []
    for name, field in model.model_fields.items():
        key = fields.key_of(name, field)
        if key in leave_out:
            continue
        below = fields.models_in(field.annotation)
        path = f"{at}.{key}" if at else key
        shown = link(code(key), heading(path, field)) if below else code(key)
        kind = fields.type_words(field.annotation, field.metadata)
        if len(below) == 1 and not model.model_fields.get(PART_FIELD):
            kind = f"list of tables `[[{path}]]`" if fields.is_list(field.annotation) else f"table `[{path}]`"
        words = fields.meaning(field)
        if len(below) == 1 and field.description == sentence(field.title or ""):
            words = doc(below[0])
        rows.append((shown, words, fields.unit(field), kind, default(field), fields.range_words(field)))
    return table(HEAD, rows)


def default(field: FieldInfo) -> str:
    """The default in words."""
    if needed(field):
        return "needed"
    if field.is_required():
        return "required"
    value: Any = field.default
    if value is None or fields.models_in(field.annotation):
        return ""
    if isinstance(value, bool):
        return code(str(value).lower())
    if isinstance(value, list):
        return "none"
    return code(f'"{value}"') if isinstance(value, str) else code(f"{value:g}")


def _parts() -> Iterator[str]:
    lines = {"feed": parts.FeedPart, "drain": parts.DrainPart, "product": parts.ProductPart}
    places: dict[fields.Model, list[str]] = {}
    for line, union in lines.items():
        for kind in fields.models_in(union):
            places.setdefault(kind, []).append(line)
    for kind, on in places.items():
        yield f'### part = "{tag(kind)}"'
        where = " or ".join(code(f"[[plant.{line}]]") for line in on)
        yield f"{doc(kind)} On {where}."
        if set(kind.model_fields) - {PART_FIELD, *COMMON}:
            yield _keys(kind, _place(kind), (PART_FIELD, *COMMON))
        for name, field in kind.model_fields.items():
            for below in fields.models_in(field.annotation):
                yield f"#### {heading(f'{_place(kind)}.{name}', field)}"
                yield f"{doc(below)}"
                yield _keys(below, f"{_place(kind)}.{name}")
    yield "### Keys of every part"
    yield _keys(parts.Stocked, "")


def _place(kind: fields.Model) -> str:
    return f"plant.{'product' if kind is parts.Resin else 'feed'}"


def full(example: str) -> str:
    """An example as a whole TOML text."""
    for word, toml in STANDING_FOR.items():
        example = example.replace(word, toml)
    return example


def refusal(example: str) -> list[str]:
    """What the program says to an example; without the name of a file."""
    text = full(example)
    tomllib.loads(text)
    try:
        read_text(text, "")
    except InputError as error:
        return [f"{problem.key}: {problem.message}" for problem in error.problems]
    raise AssertionError(f"this example is not refused: {example}")


def _together() -> str:
    rows = [(code(example), "; ".join(dict.fromkeys(refusal(example)))) for example in EXAMPLES]
    legend = ", ".join(f"`{word}` stands for `{toml}`" for word, toml in STANDING_FOR.items())
    return f"{table(('Written', 'Said'), rows)}\n\nIn these examples {legend}."
