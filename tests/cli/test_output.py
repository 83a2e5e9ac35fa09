from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from rinsewright.cli import output
from rinsewright.errors import InputError


def test_json_has_full_precision_and_no_nan():
    text = output.to_json(
        {"a": 0.1 + 0.2, "b": [math.nan, math.inf, None], "c": np.float64(1 / 3), "d": (1, True, "µ")}
    )
    assert json.loads(text) == {"a": 0.1 + 0.2, "b": [None, None, None], "c": 1 / 3, "d": [1, True, "µ"]}
    assert text.isascii()


def test_json_takes_arrays():
    assert json.loads(output.to_json({"a": np.array([1.5, np.nan]), "b": np.int64(3), "c": np.bool_(True)})) == {
        "a": [1.5, None],
        "b": 3,
        "c": True,
    }


class Papers:
    """A result of two files, one in a folder; fails after the first if told to."""

    def __init__(self, *, fail: bool = False) -> None:
        self.fail = fail

    def write(self, folder: Path) -> list[Path]:
        first, second = folder / "plan.html", folder / "drawings" / "plant.svg"
        first.write_text("new")
        if self.fail:
            raise RuntimeError("half way")
        second.parent.mkdir()
        second.write_text("new")
        return [first, second]


def test_files_appear_in_the_folder(tmp_path):
    written = output.write_papers(Papers(), str(tmp_path / "a" / "b"))
    assert written == [tmp_path / "a" / "b" / "plan.html", tmp_path / "a" / "b" / "drawings" / "plant.svg"]
    assert all(file.read_text() == "new" for file in written)
    assert sorted(item.name for item in (tmp_path / "a" / "b").iterdir()) == ["drawings", "plan.html"]
    assert output.write_papers(Papers(), str(tmp_path / "a" / "b")) == written  # once more, over the old ones


def test_a_run_cut_short_leaves_the_old_files(tmp_path):
    (tmp_path / "plan.html").write_text("old")
    with pytest.raises(RuntimeError):
        output.write_papers(Papers(fail=True), str(tmp_path))
    assert [(item.name, item.read_text()) for item in tmp_path.iterdir()] == [("plan.html", "old")]


def test_a_file_in_the_folders_place(tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(InputError, match="this is a file, not a folder"):
        output.write_papers(Papers(), str(tmp_path / "taken"))
    with pytest.raises(InputError, match="this is a file, not a folder"):
        output.write_papers(Papers(), str(tmp_path / "taken" / "below"))


def test_progress_waits_a_second_and_then_speaks_once_a_second(capsys, monkeypatch):
    clock = [100.0]
    monkeypatch.setattr("rinsewright.cli.output.time.monotonic", lambda: clock[0])
    progress = output.Progress()
    for now, what in ((100.5, "a"), (101.2, "b"), (101.9, "c"), (102.3, "d")):
        clock[0] = now
        progress(what, 0.5)
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "rinsewright: b 50 %\nrinsewright: d 50 %\n"
