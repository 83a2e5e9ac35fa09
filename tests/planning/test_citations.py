"""Sources of equations: each stands where its formula stands, and a plan names those that it used."""

from __future__ import annotations

import re
from importlib import import_module
from inspect import getsource
from typing import Any

import pytest

from rinsewright import Site
from rinsewright.planning.citations import EQUATIONS, Equation
from tests.cases.running import ROOT, SITES

DEMO = ROOT / "examples" / "tern-quay.toml"


@pytest.mark.parametrize("equation", EQUATIONS, ids=lambda equation: equation.what)
def test_a_source_is_named_where_its_formula_stands(equation: Equation) -> None:
    path, _, name = equation.formula.partition(":")
    module = import_module(f"rinsewright.{path}")
    assert hasattr(module, name), equation.formula
    author = re.match(r"[\w–]+", equation.citation)
    assert author is not None
    assert author.group().casefold() in getsource(module).casefold(), equation.citation
    for year in re.findall(r"\b(?:19|20)\d\d\b", equation.citation):
        assert year in getsource(module), equation.citation


def named(file: Any) -> set[str]:
    return {row["what"] for row in Site.load(file).plan().answer()["sources"]}


def test_a_plant_names_only_what_it_used() -> None:
    membranes, alone = named(DEMO), named(SITES / "soft-resin-alone.toml")
    assert membranes == {equation.what for equation in EQUATIONS}
    for what in ("osmotic pressure", "how ions share what passes", "mass transfer and friction in the feed channel"):
        assert what not in alone
    for what in ("order in which the resin lets go", "friction in tubes", "saturation of minerals"):
        assert what in alone
