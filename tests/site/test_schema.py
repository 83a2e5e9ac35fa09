"""Every key is declared with what a person needs to fill it in."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import pytest
from pydantic import BaseModel, TypeAdapter
from pydantic.fields import FieldInfo

from rinsewright.catalogue.fields import UNIT_WORDS, wanted
from rinsewright.site.schema import IonsMgL, SiteFile

TEXT = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")

ENDINGS = {
    "%": ("_pct",),
    "°C": ("_c",),
    "L": ("litres", "mon", "tue", "wed", "thu", "fri", "sat", "sun"),
    "L/h": ("_l_h",),
    "L/min": ("_l_min",),
    "L/(m² h)": ("_l_m2_h",),
    "L/(m² h bar)": ("_l_m2_h_bar",),
    "W": ("_w",),
    "bar": ("bar",),
    "days": ("_days",),
    "g": ("_g",),
    "h": ("_hours",),
    "K": ("_k",),
    "kg": ("_kg",),
    "m": ("_m",),
    "m²": ("_m2",),
    "m³": ("_m3", "dirt_m3_to_double"),
    "mg/L": ("_mg_l",),
    "mg/L as CaCO3": ("_mg_l_caco3",),
    "minutes": ("minutes",),
    "mm": ("_mm",),
    "months": ("_months",),
    "ppm": ("_ppm",),
    "years": ("years",),
}
"""How a key ends that carries a unit. Shares, counts, prices and capacities name themselves."""


def models(annotation, seen):
    """Every model that a type leads to."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        if annotation not in seen:
            seen.add(annotation)
            for field in annotation.model_fields.values():
                models(field.annotation, seen)
    else:
        for inner in get_args(annotation):
            models(inner, seen)
    return seen


FIELDS = [
    pytest.param(model, field.alias or name, field, id=f"{model.__name__}.{field.alias or name}")
    for model in sorted(models(SiteFile, set()), key=lambda model: model.__name__)
    for name, field in model.model_fields.items()
]


def numeric(annotation):
    return annotation in (int, float) or any(inner in (int, float) for inner in get_args(annotation))


@pytest.mark.parametrize(("model", "key", "field"), FIELDS)
def test_every_key_is_explained(model, key, field):
    assert field.title
    assert field.description.endswith(".")
    if numeric(field.annotation) and get_origin(field.annotation) is not list and key != "schema":
        assert "between" in wanted(field) or "above" in wanted(field)
        unit = field.json_schema_extra["unit"]
        assert unit in UNIT_WORDS
        if unit in ENDINGS and model is not IonsMgL:
            assert key.endswith(ENDINGS[unit]), f"{key} is in {unit}"


def items(annotation):
    for inner in get_args(annotation):
        if get_origin(inner) is Annotated:
            yield from (extra for extra in get_args(inner) if isinstance(extra, FieldInfo))
        yield from items(inner)


@pytest.mark.parametrize(("model", "key", "field"), FIELDS)
def test_numbers_in_lists_have_ranges_too(model, key, field):
    if get_origin(field.annotation) is list and numeric(get_args(field.annotation)[0]):
        assert list(items(field.annotation))
    for item in items(field.annotation):
        if numeric(item.annotation):
            assert "between" in wanted(item)


def test_defaults_are_within_their_ranges():
    """A default that its own key would refuse must not stand in the reference."""
    checked = 0
    for model in models(SiteFile, set()):
        for name, field in model.model_fields.items():
            if isinstance(field.default, float | int | str) and not isinstance(field.default, bool):
                checked += 1
                kind: Any = TypeAdapter(Annotated[field.annotation, "alone", *field.metadata])  # type: ignore[arg-type]
                assert kind.validate_python(field.default, strict=True) == field.default, name
    assert checked >= 50


def test_json_schema():
    schema = SiteFile.model_json_schema(by_alias=True)
    assert schema["additionalProperties"] is False
    tube = schema["$defs"]["Tube"]["properties"]["bore_mm"]
    assert (tube["unit"], tube["needed"]) == ("mm", True)
    assert json.loads(json.dumps(schema)) == schema


def test_the_model_keeps_what_the_demo_says():
    given = SiteFile.model_validate(tomllib.loads(TEXT)).model_dump(exclude_unset=True, by_alias=True)
    assert given == tomllib.loads(TEXT)
