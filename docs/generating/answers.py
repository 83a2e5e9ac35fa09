"""The reference of the answers, from their models."""

from __future__ import annotations

from collections.abc import Iterator

from docs.generating import fields
from docs.generating.markdown import code, doc, link, page, table
from rinsewright.planning.answers import ANSWERS, Banded, Stamped

INTRO = """
With `--json` a command prints one JSON object and nothing else; in Python `answer()` gives the same. A key's type
never depends on the input. Pressures are gauge pressures, conductivities are at 25 °C, and `meter_ppm` is the
conductivity times the meter factor. `HCO3` is total alkalinity as HCO3, with `ph` and `co2_mg_l` beside it. What is
not known is `null`.

The same as JSON Schema: [answers.schema.json](answers.schema.json).
"""


def answers() -> str:
    """The page."""
    done: set[fields.Model] = {Banded, Stamped}
    sections: list[str] = []
    for command, model in ANSWERS.items():
        sections += [f"## {command}", doc(model)]
        if issubclass(model, Stamped):
            sections.append(f"With {link('what every answer carries', 'In every answer')}, and:")
        sections.append(_keys(model))
        for below in fields.all_models(model)[1:]:
            if below not in done:
                done.add(below)
                sections += [f"### {name(below)}", doc(below), _keys(below)]
    return page(
        "The answers",
        INTRO,
        "## In every answer",
        f"{doc(Stamped)} (`catalogue` needs no chemistry and does not name its version.)",
        _keys(Stamped, whole=True),
        "### Banded",
        doc(Banded),
        _keys(Banded),
        *sections,
    )


def name(model: fields.Model) -> str:
    """The heading of a table that stands within an answer."""
    words = {"ElementState": "Element of a state", "State": "Steady state", "CataloguePart": "Part of the catalogue"}
    return words.get(model.__name__, model.__name__)


def _keys(model: fields.Model, whole: bool = False) -> str:
    return table(("Key", "Meaning", "Unit", "Type", "Range"), _rows(model, whole))


def _rows(model: fields.Model, whole: bool) -> Iterator[tuple[str, str, str, str, str]]:
    stamp = set(Stamped.model_fields) if issubclass(model, Stamped) and not whole else set()
    for key, field in model.model_fields.items():
        if key in stamp:
            continue
        kind = fields.type_words(field.annotation, field.metadata)
        for below in fields.models_in(field.annotation):
            many = "list of " if fields.is_list(field.annotation) else ""
            by_name = "by name: " if "dict" in str(field.annotation) else ""
            kind = f"{many}{by_name}{link(name(below), name(below))}"
        bounds = fields.range_words(field)
        null = " or null" if fields.nullable(field.annotation) else ""
        yield code(fields.key_of(key, field)), fields.meaning(field), fields.unit(field), f"{kind}{null}", bounds
