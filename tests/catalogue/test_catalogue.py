from __future__ import annotations

import pytest

from rinsewright.catalogue.loader import load_catalogue, merge
from rinsewright.catalogue.parts import KINDS, Membrane, Tube
from rinsewright.errors import InputError
from rinsewright.quantities import LMH, LMH_PER_BAR
from rinsewright.site.build import build_element

STANDINGS = ("from memory", "common practice, no source", "assumed", "generic size", "read in")


@pytest.fixture(autouse=True)
def nobodys_own_parts(monkeypatch, tmp_path):
    monkeypatch.delenv("RINSEWRIGHT_PARTS", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))


def all_entries():
    return [entry for parts in load_catalogue().entries.values() for entry in parts.values()]


def test_every_kind_has_parts():
    assert {kind for kind, parts in load_catalogue().entries.items() if parts} == set(KINDS)


@pytest.mark.parametrize("entry", all_entries(), ids=lambda entry: f"{entry.kind}: {entry.name}")
def test_every_value_says_where_it_comes_from(entry):
    assert entry.origin.keys() == entry.values.keys()
    for key, origin in entry.origin.items():
        assert origin.startswith(STANDINGS), f"{key}: {origin!r} has no standing"


def test_elements_of_one_type_agree_on_permeances():
    """Rated apart, low-pressure elements of four sizes must come out as one kind of membrane (from memory: 7.6–8.4
    and 0.38–0.40, extracted from typical ratings with another one-dimensional model, ±5 % and ±10 %)."""
    for name in ("4040 low pressure", "4021 low pressure", "2540 low pressure"):
        entry = load_catalogue().entries["elements"][name]
        element = build_element(merge(Membrane(part=name), entry))
        assert element.water_permeance / LMH_PER_BAR == pytest.approx(8.0, rel=0.08)
        assert element.salt_permeance / LMH == pytest.approx(0.39, rel=0.1)


def test_own_parts_come_beside_and_before_the_shipped_ones(tmp_path):
    (tmp_path / "mine.toml").write_text('[tubes."12 mm tube"]\nbore_mm = 8.5\n[tubes."9 mm tube"]\nbore_mm = 6.2\n')
    tubes = load_catalogue(tmp_path).entries["tubes"]
    assert tubes["12 mm tube"].values == {"bore_mm": 8.5}
    assert tubes["12 mm tube"].own
    assert tubes["9 mm tube"].origin == {"bore_mm": "your own parts"}
    assert not tubes["8 mm tube"].own


def test_own_parts_are_found_by_the_environment_and_at_home(tmp_path, monkeypatch):
    usual = tmp_path / ".config" / "rinsewright" / "parts"
    usual.mkdir(parents=True)
    (usual / "a.toml").write_text('[tubes."home"]\nbore_mm = 8.5\n')
    assert load_catalogue().find("tubes", "home")
    named = tmp_path / "named"
    named.mkdir()
    (named / "a.toml").write_text('[tubes."named"]\nbore_mm = 8.5\n')
    monkeypatch.setenv("RINSEWRIGHT_PARTS", str(named))
    assert load_catalogue().find("tubes", "named")
    assert not load_catalogue().find("tubes", "home")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[tubes."x"]\nbore_mm = -3\n', ["line 2, tubes.x.bore_mm", "-3 is not a plausible bore"]),
        ('[tubes."x"]\nbore = 3\n', ["line 2, tubes.x.bore:", "did you mean bore_mm?"]),
        ('[tubs."x"]\nbore_mm = 3\n', ["line 1, tubs:", "did you mean tubes?"]),
        ("tubes = 3\n", ["line 1, tubes:", "not a table of parts"]),
        ("[tubes]\nx = 3\n", ["line 2, tubes.x:", "not a part"]),
        ('[tubes."x"]\nsize = "y"\n', ["line 2, tubes.x.size", "leave it out"]),
        ('[tubes."x"]\norigin = 3\n', ["line 1, tubes.x", "origin is text"]),
        ('[tubes."x"\n', ["line 1", "not TOML"]),
        (
            '[pumps."x"]\ncurve = [{ flow_l_min = 0, baar = 3 }]\n',
            ["line 2, pumps.x.curve[0].baar", "did you mean bar?"],
        ),
    ],
)
def test_mistakes_in_own_parts_name_file_key_and_line(tmp_path, text, words):
    (tmp_path / "mine.toml").write_text(text)
    with pytest.raises(InputError) as refusal:
        load_catalogue(tmp_path)
    for word in ["mine.toml", *words]:
        assert word in str(refusal.value)


def test_a_folder_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such folder"):
        load_catalogue(tmp_path / "nowhere")


def test_keys_given_override_the_catalogue():
    entry = load_catalogue().find("tubes", "12 mm tube")
    assert entry
    tube = merge(Tube(part="tube", size="12 mm tube", length_m=3.0, rated_bar=5.0), entry)
    assert (tube.bore_mm, tube.length_m, tube.rated_bar) == (9.0, 3.0, 5.0)


def test_permeances_given_replace_the_catalogues_rating():
    entry = load_catalogue().find("elements", "4040 low pressure")
    assert entry
    membrane = merge(Membrane(part=entry.name, water_permeance_l_m2_h_bar=6.0, salt_permeance_l_m2_h=0.5), entry)
    assert membrane.rated is None
    assert membrane.area_m2 == 7.5
