"""What a clone installs and what a wheel holds."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from importlib.metadata import files
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "rinsewright"


def pinned(level: str) -> dict[str, str]:
    """Name and marker -> version and hashes of a requirements file."""
    text = (ROOT / "requirements" / f"{level}.txt").read_text(encoding="utf-8")
    entries = re.findall(
        r"^([a-z0-9.-]+)==([^ ;]+)( ; [^\\]+)? \\\n((?: +--hash=sha256:[0-9a-f]{64}.*\n)+)", text, re.M
    )
    assert len(entries) == len(re.findall(r"^[^ #\n]", text, re.M)), "a line that is neither pinned nor a comment"
    return {name + marker.rstrip(): version + sums.replace("\\", "") for name, version, marker, sums in entries}


@pytest.mark.parametrize("level", ["run", "dev"])
def test_requirements_name_no_host_and_no_folder(level: str) -> None:
    text = (ROOT / "requirements" / f"{level}.txt").read_text(encoding="utf-8")
    assert not re.search(r"://|^--|^ *-[fier] | @ |file:", text, re.M)
    assert "rinsewright" not in pinned(level)


def test_the_check_runs_on_the_versions_that_users_get() -> None:
    assert {**pinned("dev"), **pinned("run")} == pinned("dev")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    return zipfile.ZipFile(next(folder.glob("*.whl")))


def test_the_wheel_holds_every_file_of_the_package(wheel: zipfile.ZipFile) -> None:
    ours = {file.relative_to(PACKAGE.parent).as_posix() for file in PACKAGE.rglob("*") if file.is_file()}
    ours = {name for name in ours if "__pycache__" not in name}
    held = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert held == ours


def test_the_wheel_carries_licence_and_notice(wheel: zipfile.ZipFile) -> None:
    held = {Path(name).name for name in wheel.namelist() if "/licenses/" in name}
    assert held == {"LICENSE", "NOTICE"}


def test_the_notices_of_phreeqc_travel_in_full() -> None:
    notice = " ".join((ROOT / "NOTICE").read_text(encoding="utf-8").split())
    theirs = [file for file in files("phreeqc") or [] if "licenses" in file.parts]
    assert {file.name for file in theirs} == {"LICENSE", "NOTICE"}
    for file in theirs:
        assert " ".join(file.read_text(encoding="utf-8").split()) in notice
