"""The pages made from the code say what the code says, and nothing that needs a word is without one."""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import get_args

import pytest

from docs.generate import DOCS, PAGES, main
from docs.generating import catalogue, command_line, fields, nomenclature, site_file, verdicts
from docs.generating.names import COLUMNS, ENDINGS, SYMBOLS
from rinsewright import Site
from rinsewright.catalogue.lines import key_lines
from rinsewright.catalogue.reading import Places
from rinsewright.cli import parser
from rinsewright.errors import InputError
from rinsewright.planning import answers
from rinsewright.planning.verdicts import RULES
from rinsewright.plant.feed import cartridge
from rinsewright.plant.membrane import ageing
from rinsewright.plant.product import resin
from rinsewright.site import checks
from rinsewright.site.reading import read_text
from rinsewright.site.schema import SiteFile
from tests.cases.running import ROOT, SITES, answer_of

DEMO = ROOT / "examples" / "tern-quay.toml"
CODE = nomenclature.sources()
MODEL_PAGES = sorted((DOCS / "models").glob("*.md"))


# ---- the pages ----


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_what_the_code_says(name):
    message = f"docs/{name} is not what the code says; run `python docs/generate.py`"
    assert (DOCS / name).read_text(encoding="utf-8") == PAGES[name](), message


def test_nothing_else_stands_among_the_references():
    assert {file.relative_to(DOCS).as_posix() for file in (DOCS / "reference").iterdir()} == {
        name for name in PAGES if name.startswith("reference/")
    }


def test_a_page_that_differs_is_named_and_mended(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("docs.generate.DOCS", tmp_path)
    monkeypatch.setattr("docs.generate.PAGES", {"a/b.md": lambda: "# B\n"})
    assert main(["--check"]) == 1
    assert "docs/a/b.md" in capsys.readouterr().out
    assert main([]) == 0
    assert (tmp_path / "a" / "b.md").read_text(encoding="utf-8") == "# B\n"
    assert main(["--check"]) == 0


def test_the_pages_hold_no_path_of_this_machine():
    for name in PAGES:
        text = (DOCS / name).read_text(encoding="utf-8")
        assert str(ROOT) not in text
        assert str(Path.home()) + "/" not in text


def test_the_catalogue_page_leaves_your_own_parts_out(tmp_path, monkeypatch):
    (tmp_path / "own.toml").write_text('[tubes."my own tube"]\nbore_mm = 7\n', encoding="utf-8")
    monkeypatch.setenv("RINSEWRIGHT_PARTS", str(tmp_path))
    assert "my own tube" not in catalogue.catalogue()


# ---- the site file ----


def test_every_key_of_the_site_file_has_its_line():
    page = (DOCS / "reference" / "site-file.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1].strip() for line in page.splitlines() if line.startswith("| ")]
    keys = {re.sub(r"\[?`(\w+)`.*", r"\1", row) for row in rows}
    declared = {
        fields.key_of(name, field)
        for model in fields.all_models(SiteFile)
        for name, field in model.model_fields.items()
    }
    assert declared - {"part"} <= keys


RULES_OF = {
    "water": checks.WATER_CHECKS,
    "supply": checks.SUPPLY_CHECKS,
    "demand": checks.DEMAND_CHECKS,
    "plant": checks.PLANT_CHECKS,
}


@pytest.mark.parametrize(
    ("table", "check"),
    [(table, check) for table, found in RULES_OF.items() for check in found],
    ids=lambda each: getattr(each, "__name__", each),
)
def test_every_rule_between_keys_has_its_example(table, check):
    assert any(found(check, table, example) for example in site_file.EXAMPLES)


@pytest.mark.parametrize("kind", checks.PART_CHECKS, ids=lambda kind: kind.__name__)
def test_every_rule_within_a_part_has_its_example(kind):
    tag = site_file.tag(kind)
    assert any(
        f'part = "{tag}"' in example and found(checks._parts_agree_with_themselves, "plant", example)
        for example in site_file.EXAMPLES
    )


def found(check, table, example):
    """Whether a rule refuses an example."""
    text = site_file.full(example)
    site = SiteFile.model_validate(tomllib.loads(text))
    given = getattr(site, table)
    return given is not None and bool(list(check(given, Places("", key_lines(text)))))


def test_an_example_that_is_right_does_not_pass_for_a_refusal():
    read_text("water = { temperature_c = 12, field = { meter_ppm = 200 } }")
    with pytest.raises(AssertionError, match="not refused"):
        site_file.refusal("water = { temperature_c = 12, field = { meter_ppm = 200 } }")


# ---- the schemas ----


@pytest.mark.parametrize("name", ["site-file", "answers"])
def test_the_schema_is_in_order_and_leads_nowhere_else(name):
    schema = json.loads((DOCS / "reference" / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert list(schema["$defs"]) == sorted(schema["$defs"])
    references = re.findall(r'"\$ref": "#/\$defs/(\w+)"', json.dumps(schema))
    assert references
    assert set(references) <= set(schema["$defs"])


# ---- the answers ----


@pytest.mark.parametrize("model", nomenclature.answer_models(), ids=lambda model: model.__name__)
def test_every_key_of_an_answer_is_explained(model):
    assert model.__doc__
    for name, field in model.model_fields.items():
        assert field.title, name
        assert field.description, name
        assert field.description.endswith("."), name


@pytest.mark.parametrize(
    ("form", "causes"),
    [
        (answers.Resin, resin.LIMITED_BY),
        (answers.Cartridge, cartridge.LIMITED_BY),
        (answers.Membranes, ageing.LIMITED_BY),
    ],
)
def test_the_causes_are_those_that_the_code_names(form, causes):
    said = str(form.model_fields["limited_by"].annotation)
    assert re.findall(r"'([^']+)'", said) == list(causes)


def test_no_command_loads_the_forms():
    script = (
        "import sys; from rinsewright.cli import main; main(['plan', sys.argv[1], '--json']); "
        "sys.exit('rinsewright.planning.answers' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script, str(DEMO)], capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["schema"] == 1


def test_the_catalogue_answers_in_its_form():
    from rinsewright.cli.catalogue import Listing

    shipped = catalogue.shipped()
    listing = Listing(shipped, list(shipped.entries))
    answers.CatalogueAnswer.model_validate(json.loads(json.dumps(listing.answer())))


# ---- the command line ----


def test_every_command_and_option_has_its_words():
    for name, command in command_line.commands(parser()).items():
        for action in command._actions:
            assert action.help, f"{name} {action.dest}"
            assert action.help is not argparse.SUPPRESS


def test_every_variable_that_is_read_is_named():
    text = "".join(file.read_text(encoding="utf-8") for file in (ROOT / "src").rglob("*.py"))
    assert set(re.findall(r"RINSEWRIGHT_[A-Z]+", text)) == set(command_line.ENVIRONMENT)


# ---- the verdicts ----


def test_every_rule_is_on_the_page():
    page = (DOCS / "reference" / "verdicts.md").read_text(encoding="utf-8")
    assert sum(len(module.RULES) for module in verdicts.MODULES) == len(RULES)
    for rule in RULES:
        assert rule.__doc__
        assert rule.__doc__.strip() in page


@pytest.mark.parametrize(
    "file",
    [
        pytest.param(file, id=file.stem, marks=() if n < 2 else pytest.mark.longer)
        for n, file in enumerate([DEMO, *sorted(SITES.glob("*.toml"))])
    ],
)
def test_what_a_plan_says_is_on_the_page(file):
    page = (DOCS / "reference" / "verdicts.md").read_text(encoding="utf-8")
    subjects = [part for line in page.splitlines() if line.startswith("| ") for part in line.split("|")[1].split("; ")]
    patterns = [re.escape(subject.strip()).replace("…", ".+") for subject in subjects]
    for verdict in answer_of("plan", file)["verdicts"]:
        assert any(re.fullmatch(pattern, verdict["what"]) for pattern in patterns), verdict["what"]


# ---- the nomenclature ----


def test_every_key_has_its_unit_on_the_page():
    assert nomenclature.unexplained_keys(nomenclature.declared_keys()) == []


@pytest.mark.parametrize("file", CODE, ids=lambda file: file.relative_to(nomenclature.SOURCE).as_posix())
def test_every_name_and_symbol_of_the_code_is_on_the_page(file):
    source = file.read_text(encoding="utf-8")
    assert nomenclature.unexplained_names(nomenclature.names_in(source)) == []
    assert nomenclature.unexplained_symbols("\n".join(nomenclature.words_in(source))) == []


def test_every_symbol_of_the_model_pages_is_on_the_page():
    for file in MODEL_PAGES:
        assert nomenclature.unexplained_symbols(file.read_text(encoding="utf-8")) == [], file.name


@pytest.mark.parametrize("name", ["flow_gpm", "head_psi", "at_kpa", "product_ml_min", "area_ft2", "water_l_s"])
def test_an_unknown_unit_is_found(name):
    assert nomenclature.unexplained_names(["flow_l_min", name]) == [name]
    assert nomenclature.unexplained_names(nomenclature.names_in(f"def f({name}: float) -> float: ...")) == [name]


@pytest.mark.parametrize(
    "key",
    [
        ("flow_l_min", "flow", "gpm", "site file"),  # a unit that is not on the page
        ("flow_l_min", "flow", "L/h", "site file"),  # not what its ending says
        ("pressure", "pressure", "bar", "site file"),  # no ending
        ("pressure_bar", "", "bar", "answers"),  # no words
    ],
)
def test_a_key_without_its_unit_is_found(key):
    assert nomenclature.unexplained_keys([key]) == [f"{key[0]} [{key[2]}]"]


@pytest.mark.parametrize("symbol", ["ξ", "Ω", "Nu", "w_q", "Z"])
def test_an_unknown_symbol_is_found(symbol):
    assert symbol in nomenclature.unexplained_symbols(f"    J = A (P − P_p) {symbol}     a law")


def test_prose_is_no_equation():
    assert nomenclature.unexplained_symbols("An ox at Bo's, 20 °C and µS/cm; 5 µm.") == []


def test_the_page_holds_the_whole_registry():
    page = (DOCS / "nomenclature.md").read_text(encoding="utf-8")
    for ending in ENDINGS:
        assert f"| `_{ending}` |" in page
    for symbol in SYMBOLS:
        assert f"| {symbol} |" in page
    for column in COLUMNS:
        assert f"| `{column}` |" in page


def test_every_ending_is_used():
    """What nothing ends in is not kept."""
    names = {name for file in CODE for name in nomenclature.names_in(file.read_text(encoding="utf-8"))}
    names |= {key for key, *_ in nomenclature.declared_keys()}
    used = {nomenclature.carried(name) for name in names} | {
        ending for ending in ENDINGS if any(name.lower().strip("_").endswith(f"_{ending}") for name in names)
    }
    assert set(ENDINGS) <= used


def test_the_columns_are_those_of_a_batch():
    assert set(Site.load(DEMO).solve_many().columns()) == set(COLUMNS)


def test_the_site_file_example_is_refused_in_one_sentence_each():
    for example in site_file.EXAMPLES:
        with pytest.raises(InputError):
            read_text(site_file.full(example))
    assert get_args(answers.Word) == verdicts.ORDER
