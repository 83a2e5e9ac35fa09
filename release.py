#!/usr/bin/env python3
"""Makes a release: checks the tree, builds the wheel, installs it in a clean environment, runs the demo, sets the tag.

    python3 release.py try       build, install and run the demo; changes nothing
    python3 release.py 0.1.0     the same, after the whole check, and then the tag v0.1.0

The version stands in src/rinsewright/__init__.py, the day in CHANGELOG.md ("## 0.1.0 (2026-11-25)"). Nothing is
published: the wheel lies in dist/, the tag waits to be pushed.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
DEMO = ROOT / "examples" / "tern-quay.toml"


class Stop(Exception):
    """A release that must not be made, and why."""


def run(*command: str | Path, cwd: Path = ROOT) -> str:
    """What a program prints; stops the release where it fails."""
    done = subprocess.run([str(word) for word in command], cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode:
        raise Stop(f"{' '.join(str(word) for word in command)} failed:\n{(done.stdout + done.stderr).strip()[-2000:]}")
    return done.stdout


def version() -> str:
    """The version in the code."""
    text = (ROOT / "src" / "rinsewright" / "__init__.py").read_text(encoding="utf-8")
    found = re.search(r'^__version__ = "([^"]+)"', text, re.M)
    if not found:
        raise Stop("src/rinsewright/__init__.py names no version")
    return found[1]


def ready(wanted: str) -> None:
    """Refuse a release whose version, changelog or tree is not ready for it."""
    if version() != wanted:
        raise Stop(f"the code says {version()}, not {wanted}; change __version__ first")
    log = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    if not re.search(rf"^## {re.escape(wanted)} \(\d{{4}}-\d{{2}}-\d{{2}}\)$", log, re.M):
        raise Stop(f'CHANGELOG.md has no heading "## {wanted} (YYYY-MM-DD)"; give the release its day')
    if run("git", "status", "--porcelain").strip():
        raise Stop("the tree has changes that are not committed")
    if run("git", "tag", "--list", f"v{wanted}").strip():
        raise Stop(f"the tag v{wanted} is there already")


def build(folder: Path) -> Path:
    """The wheel, built in an environment of its own from the pinned tools."""
    python = environment(folder / "build")
    install(python, "--require-hashes", "-r", ROOT / "requirements" / "run.txt")
    shutil.rmtree(ROOT / "dist", ignore_errors=True)
    run(python, "-m", "hatchling", "build", "-t", "wheel")
    return next((ROOT / "dist").glob(f"rinsewright-{version()}-*.whl"))


def environment(place: Path) -> Path:
    """A new virtual environment; returns its Python."""
    venv.create(place, with_pip=True, clear=True)
    return place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def install(python: Path, *words: str | Path) -> None:
    """Install with that Python's pip."""
    run(python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *words)


def try_out(wheel: Path, folder: Path) -> None:
    """Install the wheel where nothing else of ours is, and plan the demo from there."""
    python = environment(folder / "use")
    install(python, "--require-hashes", "-r", ROOT / "requirements" / "run.txt")
    install(python, "--no-deps", wheel)
    said = run(python, "-m", "rinsewright", "--version", cwd=folder).strip()
    if said != f"rinsewright {version()}":
        raise Stop(f"the installed wheel says {said!r}")
    run(python, "-m", "rinsewright", "plan", DEMO, "--out", folder / "plan", cwd=folder)
    missing = [name for name in ("plan.html", "plan.pdf") if not (folder / "plan" / name).is_file()]
    if missing:
        raise Stop(f"the installed wheel wrote no {' and no '.join(missing)}")


def main(words: list[str]) -> int:
    """Make the release that is asked for; returns the exit status."""
    if len(words) != 1:
        print(__doc__)
        return 2
    try:
        if words[0] != "try":
            ready(words[0])
            print("The whole check.", flush=True)
            run(sys.executable, ROOT / "start.py", "test")
        with tempfile.TemporaryDirectory() as name:
            print("Building the wheel.", flush=True)
            wheel = build(Path(name))
            print(f"Installing {wheel.name} in a clean environment and planning the demo with it.", flush=True)
            try_out(wheel, Path(name))
        if words[0] != "try":
            run("git", "tag", "-a", f"v{words[0]}", "-m", f"rinsewright {words[0]}")
            print(f"Tagged v{words[0]}.")
    except Stop as reason:
        print(f"No release: {reason}", file=sys.stderr)
        return 1
    print("It works.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
