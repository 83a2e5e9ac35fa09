"""Which ends go together: a table of known answers, what holds for all ends, and the sizes behind the near misses."""

from __future__ import annotations

import tomllib
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rinsewright.errors import InputError
from rinsewright.plant.joints import (
    INCHES,
    KINDS,
    NPT,
    PUSH_FIT_TOLERANCE,
    THREADS,
    WHITWORTH,
    End,
    apart,
    counterpart,
    diameter,
    joint,
)
from rinsewright.quantities import MM

TABLE = tomllib.loads((Path(__file__).parent / "table.toml").read_text(encoding="utf-8"))
ROWS = TABLE["joint"]
REFUSED = [row for row in ROWS if row["fits"] != "yes"]
SIZES = {
    "tube": ("4 mm", "6 mm", "1/4 in", "8 mm", "5/16 in", "3/8 in", "10 mm", "12 mm", "1/2 in", "15 mm", "22 mm"),
    "hose": ("6 mm", "8 mm", "12.5 mm", "1/2 in", "13 mm", "16 mm", "19 mm", "3/4 in", "25 mm"),
    "snap": ("",),
    "cartridge": ("5 in slim", "10 in slim", "10 in wide", "20 in slim", "20 in wide"),
    "membrane": ("1812", "2521", "2540", "4021", "4040"),
}
LIKE = {"stem": "tube", "push-fit": "tube", "compression": "tube", "tail": "hose"}
ENDS = [
    End(name, size, gender)
    for name, kind in KINDS.items()
    for size in kind.threads or SIZES[LIKE.get(name, name.removesuffix(" housing"))]
    for gender in kind.genders
]


def called(row):
    return " + ".join(row["ends"])


def parts(adapter):
    """The ends of the part that goes between, as the table has them."""
    kind, _, rest = adapter.partition(" ")
    return sorted(rest.split(" to ")) if kind == "fitting:" else [adapter.removeprefix("piece of ")]


def test_the_table_is_large_enough_and_says_where_every_answer_comes_from():
    assert len(ROWS) >= 60
    assert len(REFUSED) >= 25
    assert len({frozenset(row["ends"]) for row in ROWS}) == len(ROWS)
    for row in ROWS:
        source = TABLE["sources"][row["source"]]
        assert row["standing"] == source["standing"]
        assert source["standing"] in {"read", "reproduced", "from memory", "common practice"}


@pytest.mark.parametrize("row", ROWS, ids=called)
def test_every_known_answer(row):
    answer = joint(*map(End.parse, row["ends"]))
    assert ("yes" if answer.fits else "adapter" if answer.adapter else "no") == row["fits"], answer
    if answer.adapter:
        assert parts(answer.adapter) == sorted(row["adapter"])
    for words in row.get("says", []):
        assert words.lower() in answer.why.lower()


# to the last digit that the table's own sources print, 0.001 mm
@pytest.mark.parametrize("row", [row for row in ROWS if "apart_mm" in row], ids=called)
def test_the_sizes_behind_the_answer(row):
    a, b = map(End.parse, row["ends"])
    gap = apart(a, b)
    assert gap is not None
    print(f"{a} + {b}: {diameter(a) / MM:.3f} and {diameter(b) / MM:.3f} mm, {gap / MM:+.3f} mm apart")
    assert gap / MM == pytest.approx(row["apart_mm"], abs=1e-3)


def test_the_order_in_which_two_ends_are_named_does_not_matter():
    for a, b in product(ENDS, ENDS):
        assert joint(a, b) == joint(b, a)


def test_every_answer_says_why_and_only_a_refusal_names_an_adapter():
    for a, b in product(ENDS, ENDS):
        answer = joint(a, b)
        assert len(answer.why.split()) >= 5
        assert answer.why.endswith((".", ")"))
        assert not (answer.fits and answer.adapter)


def test_every_end_fits_what_is_made_for_it():
    for end in ENDS:
        assert joint(end, counterpart(end)).fits, end
        assert counterpart(end).gender != end.gender


def test_two_of_one_gender_never_fit():
    for a, b in product(ENDS, ENDS):
        if a.gender == b.gender:
            assert not joint(a, b).fits


def test_an_adapter_fits_at_both_of_its_ends():
    for a, b in product(ENDS, ENDS):
        adapter = joint(a, b).adapter
        if adapter is None:
            continue
        if adapter.startswith("piece of"):
            piece = End.parse(adapter.removeprefix("piece of "))
            assert joint(a, piece).fits
            assert joint(b, piece).fits
        else:
            x, y = map(End.parse, adapter.removeprefix("fitting: ").split(" to "))
            assert (joint(a, x).fits and joint(b, y).fits) or (joint(a, y).fits and joint(b, x).fits)


def test_threads_of_two_standards_never_fit():
    whitworth, npt, hose = {"G", "R", "Rp", "Rc"}, {"NPT"}, {"NH"}
    families = {name: family for family in map(frozenset, (whitworth, npt, hose)) for name in family}
    threads = [end for end in ENDS if end.kind in THREADS]
    for a, b in product(threads, threads):
        if families[a.kind] != families[b.kind] or a.size != b.size:
            assert not joint(a, b).fits, (a, b)


def test_whitworth_threads_fit_only_as_the_standards_pair_them():
    fitting = {
        (male.kind, female.kind)
        for male, female in product(ENDS, ENDS)
        if {male.kind, female.kind} <= {"G", "R", "Rp", "Rc"} and (male.gender, female.gender) == ("male", "female")
        if joint(male, female).fits
    }
    assert fitting == {("G", "G"), ("R", "Rp"), ("R", "Rc")}


def test_what_screws_together_and_must_not_is_said_to_leak():
    """Same name, different standard: they start by hand, so the sentence has to warn."""
    for size in WHITWORTH:
        for male, female in (("R", "NPT"), ("G", "NPT"), ("NPT", "G"), ("NPT", "Rc"), ("NPT", "Rp"), ("G", "Rc")):
            assert "leak" in joint(End(male, size, "male"), End(female, size, "female")).why


tube_mm = st.integers(20, 600).map(lambda twentieths: twentieths / 20.0)  # 1 to 30 mm, steps of 0.05 mm
thirty_seconds = st.integers(2, 40)


@given(tube_mm, tube_mm)
def test_no_tube_fits_a_push_fit_of_another_diameter(tube, port):
    fits = joint(End("tube", f"{tube} mm", "male"), End("push-fit", f"{port} mm", "female")).fits
    if abs(tube - port) > 0.11:
        assert not fits
    if abs(tube - port) < 0.09:
        assert fits


@given(tube_mm, thirty_seconds)
def test_inch_and_metric_meet_only_where_the_millimetres_do(millimetres, inches):
    tube, port = End("tube", f"{millimetres} mm", "male"), End("push-fit", f"{inches}/32 in", "female")
    gap = millimetres - inches / 32.0 * 25.4
    assert apart(tube, port) == pytest.approx(gap * MM, abs=1e-12)
    assert joint(tube, port).fits == (abs(gap) <= PUSH_FIT_TOLERANCE.value / MM)


@pytest.mark.parametrize("end", ENDS, ids=str)
def test_an_end_written_and_read_again_is_the_same(end):
    assert End.parse(str(end)) == end


@given(st.sampled_from(["tube", "push-fit", "compression", "stem", "hose", "tail"]), st.integers(4, 370), st.booleans())
def test_any_size_written_and_read_again_is_the_same(kind, number, inches):
    size = f"{number}/64 in" if inches else f"{number / 4} mm"
    end = End(kind, size, KINDS[kind].genders[0])
    assert End.parse(str(end)) == end
    assert diameter(end) == pytest.approx(number / 64 * INCHES if inches else number / 4 * MM)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ('tube 1/4"', "tube 1/4 in"),
        ("tube 0.25 inch", "tube 1/4 in"),
        ("Push fit 6mm", "push-fit 6 mm"),
        ("hose tail 12.5 mm", "tail 12.5 mm"),
        ("G1/2 male", "G 1/2 male"),
        ("BSPP 1/2 in Female", "G 1/2 female"),
        ("R 3/8", "R 3/8 male"),
        ("npt 1-1/4 female", "NPT 1 1/4 female"),
        ("GHT 3/4 male", "NH 3/4 male"),
        ("compression 1-1/8 in", "compression 1 1/8 in"),
        ("membrane housing 4040", "membrane housing 4040"),
    ],
)
def test_other_spellings(text, meant):
    assert str(End.parse(text)) == meant


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("BSP 1/2 male", "G \\(parallel\\), R \\(taper, male\\)"),
        ("1/2 BSP", "for BSP say G \\(parallel\\), R \\(taper, male\\)"),
        ("BSPT 1/2", "for BSPT say R \\(male\\), Rc \\(female, taper\\) or Rp \\(female, parallel\\)"),
        ("1/2 BSPP male", "for BSPP say G, as G 1/2 male"),
        ("R 5/8", "no R thread is called '5/8'"),
        ("G 1/2", "male or female"),
        ("R 1/2 female", "R is male"),
        ("Rc 1/2 male", "Rc is female"),
        ("G 7/16 male", "known are 1/16, 1/8, 1/4"),
        ("NH 1/2 male", "known are 3/4"),
        ("tube 6", "such as 1/4 in or 6 mm"),
        ("tube 1/0 in", "such as 1/4 in or 6 mm"),
        ("tube 0 mm", "from 1 mm to 150 mm"),
        ("tube 12 in", "from 1 mm to 150 mm"),
        ("tube -6 mm", "such as 1/4 in or 6 mm"),
        ("membrane 404", "four digits"),
        ("membrane 0040", "four digits"),
        ("cartridge 10 in", "10 in slim"),
        ("snap 1/2 in male", "one size"),
        ("flange 40 mm", "does not begin with a kind of end"),
        ("", "does not begin with a kind of end"),
    ],
)
def test_what_is_no_end_is_refused_in_one_sentence(text, says):
    with pytest.raises(InputError, match=says) as refusal:
        End.parse(text)
    assert len(refusal.value.problems) == 1


# ISO 228-1, pitch and pitch diameter [mm] as two suppliers and a handbook print them (read): the last digit
@pytest.mark.parametrize(
    ("size", "pitch", "pitch_diameter"),
    [("1/8", 0.907, 9.147), ("1/4", 1.337, 12.301), ("3/8", 1.337, 15.806), ("1", 2.309, 31.770)],
)
def test_whitworth_sizes_against_print(size, pitch, pitch_diameter):
    assert WHITWORTH[size].pitch / MM == pytest.approx(pitch, abs=6e-4)
    assert WHITWORTH[size].pitch_diameter.value / MM == pytest.approx(pitch_diameter, abs=1.1e-3)


# ASME B1.20.1: E1 = E0 + L1/16 with E0 = D − (0.05 D + 1.1)/n (from memory) from the pipe's outside diameter D [in] and
# the hand-tight length L1 [in] of the printed tables (read); it must give the printed E1: the last digit of L1 / 16
@pytest.mark.parametrize(
    ("size", "outside", "hand_tight"),
    [
        ("1/4", 0.540, 0.228), ("3/8", 0.675, 0.240), ("1/2", 0.840, 0.320), ("3/4", 1.050, 0.339),
        ("1", 1.315, 0.400), ("1 1/4", 1.660, 0.420), ("2", 2.375, 0.436),
    ],
)  # fmt: skip
def test_npt_pitch_diameters_against_their_formula(size, outside, hand_tight):
    count = NPT[size].count
    small_end = outside - (0.05 * outside + 1.1) / count
    assert NPT[size].pitch_diameter.value / INCHES == pytest.approx(small_end + hand_tight / 16.0, abs=1e-4)
