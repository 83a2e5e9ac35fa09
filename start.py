#!/usr/bin/env python3
"""Sets rinsewright up on this machine and runs it. Needs Python 3.11 or newer and nothing else.

    python3 start.py           set up, then plan the demo plant
    python3 start.py test      set up, then the whole check: style, types, layers, tests
    python3 start.py longer    set up, then the longer tests; writes a dated result file

    --only-setup               stop when set up
    --without-browser          leave the tests out that need a browser

On Windows: py start.py. All other words go to pytest, as in: python3 start.py test -k resin
"""

from __future__ import annotations

import compileall
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
STAMP = VENV / "set-up.txt"  # there only while the environment is whole: where it is, what it was made from, how far
REQUIREMENTS = {"run": ROOT / "requirements" / "run.txt", "dev": ROOT / "requirements" / "dev.txt"}  # dev holds run
DOWNLOAD = {"run": "about 60 MB", "dev": "about 210 MB"}
OLDEST = (3, 11)

DEMO = Path("examples", "tern-quay.toml")
PLAN = Path("plan")

CHECKS = {
    "Style": ["ruff", "check", "."],
    "Layout": ["ruff", "format", "--check", "."],
    "Types": ["mypy"],  # strict; what it looks at stands in pyproject.toml
    "Layers": ["lint-imports", "--no-logo"],
    "Dependencies": ["deptry", "--no-ansi", "src"],
}

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
)
BROWSER_PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "%ProgramFiles%/Google/Chrome/Application/chrome.exe",
    "%ProgramFiles(x86)%/Google/Chrome/Application/chrome.exe",
    "%LocalAppData%/Google/Chrome/Application/chrome.exe",
    "%ProgramFiles(x86)%/Microsoft/Edge/Application/msedge.exe",
    "%ProgramFiles%/Microsoft/Edge/Application/msedge.exe",
)
NO_BROWSER = (
    "No browser found for the tests that need one. Install Chromium, Chrome or Edge, or name one in the environment "
    "variable CHROMIUM. Or leave those tests out with --without-browser."
)


class Stop(Exception):
    """A step failed. The message says which and what to do; the status goes to the shell."""

    def __init__(self, message: str, status: int = 1) -> None:
        super().__init__(message)
        self.status = status


def say(message: str) -> None:
    """Print a sentence at once, so that it stands before what the next program prints."""
    print(message, flush=True)


def tail(text: str, count: int = 15) -> str:
    """The last lines of a program's output, set in."""
    return "\n".join("  " + line for line in text.strip().splitlines()[-count:])


# --- The machine ---


def may_use_apt() -> bool:
    """Whether this is root on a machine with apt-get."""
    return hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None


def is_debian() -> bool:
    """Whether this is Debian itself (elsewhere the package chromium may only point to another way of installing)."""
    release = Path("/etc/os-release")
    return release.is_file() and "ID=debian" in release.read_text(encoding="utf-8").splitlines()


def apt_install(package: str) -> bool:
    """Install one package of the system, and say whether that worked."""
    say(f"Installing {package} with apt-get.")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-qq"], env=environment, capture_output=True)
    command = ["apt-get", "install", "-qq", "-y", "--no-install-recommends", package]
    done = subprocess.run(command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    if done.returncode:
        say(tail(done.stdout + done.stderr))
    return done.returncode == 0


def find_browser() -> str | None:
    """Path of the browser for the tests: the one that $CHROMIUM names, else the first one installed."""
    if os.environ.get("CHROMIUM"):
        return shutil.which(os.environ["CHROMIUM"])
    commands = (shutil.which(command) for command in BROWSERS)
    places = (place for place in map(os.path.expandvars, BROWSER_PLACES) if Path(place).is_file())
    return next(filter(None, commands), None) or next(places, None)


def ensure_browser() -> str:
    """Path of a browser, which is installed where that is ours to do: as root on Debian."""
    named = os.environ.get("CHROMIUM")
    if named and find_browser() is None:
        raise Stop(f"CHROMIUM names {named}, which is not a program here. Correct it or unset it.", 2)
    if find_browser() is None and is_debian() and may_use_apt():
        apt_install("chromium")
    browser = find_browser()
    if browser is None:
        raise Stop(NO_BROWSER, 2)
    return browser


# --- The environment ---


def place() -> str:
    """What an environment can never change: its folder and its Python. Its scripts hold both."""
    return digest(f"{ROOT} {sys.version_info[:2]}".encode())


def pins() -> str:
    """What it was made from."""
    return digest(*(file.read_bytes() for file in (ROOT / "pyproject.toml", *REQUIREMENTS.values())))


def digest(*parts: bytes) -> str:
    """Short fingerprint of some bytes."""
    return hashlib.sha256(b"\0".join(parts)).hexdigest()[:16]


def stamp() -> list[str]:
    """Place, pins and level of the environment as it stands; three empty words if it is not whole."""
    words = STAMP.read_text(encoding="utf-8").split() if STAMP.is_file() else []
    return words if len(words) == 3 and python_starts() else ["", "", ""]


def python_starts() -> bool:
    """Whether the environment's Python still runs; the one it was made from may be gone."""
    try:
        return subprocess.run([PYTHON, "-I", "-c", "import pip"], capture_output=True).returncode == 0
    except OSError:
        return False


def set_up(level: str) -> None:
    """Make the environment whole for a level, from whatever is there. Does nothing the second time."""
    made_place, made_pins, made_level = stamp()
    if made_place != place():
        make_venv()
    if (made_place, made_pins) != (place(), pins()) or made_level not in (level, "dev"):
        install(max(level, made_level, key=["", "run", "dev"].index))
    # Even where Python may not write byte-code by itself: without it every start is two or three times slower.
    compileall.compile_dir(ROOT / "src", quiet=2)


def make_venv() -> None:
    """Make an empty virtual environment in place of a missing, half-made or foreign one."""
    ensure_venv_module()
    if VENV.is_symlink() or VENV.exists():
        say("Removing .venv: it is half-made, or made elsewhere or by another Python.")
        remove_venv()
    say("Making a virtual environment in .venv.")
    python = getattr(sys, "_base_executable", None) or sys.executable  # not one inside the folder just removed
    run_quietly("Making the virtual environment", [python, "-m", "venv", VENV])


def ensure_venv_module() -> None:
    """Debian keeps a part of Python's own venv in a package of the system."""
    if not importlib.util.find_spec("ensurepip") and may_use_apt():
        apt_install("python3-venv")
        importlib.invalidate_caches()
    if not importlib.util.find_spec("ensurepip"):
        raise Stop("apt-get install -y python3-venv", 2)


def remove_venv() -> None:
    """Remove whatever stands where the environment goes."""
    if VENV.is_symlink() or VENV.is_file():
        VENV.unlink()
    else:
        shutil.rmtree(VENV)


def install(level: str) -> None:
    """Bring packages and rinsewright itself in, and write down that the environment is whole."""
    say(f"Installing the packages, pinned and checked by their hashes ({DOWNLOAD[level]} at most).")
    pip: list[str | Path] = [PYTHON, "-m", "pip", "install", "--compile", "--no-input", "--progress-bar", "off"]
    run_quietly("Installing the packages", [*pip, "--require-hashes", "-r", REQUIREMENTS[level]])
    run_quietly("Installing rinsewright", [*pip, "--no-deps", "--no-build-isolation", "-e", ROOT])
    STAMP.write_text(f"{place()} {pins()} {level}\n", encoding="utf-8")


def run_quietly(what: str, command: list[str | Path]) -> None:
    """Run a program, and show what it printed only if it failed."""
    environment = {**os.environ, "PIP_USER": "0", "PIP_QUIET": "0", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    lines = []
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line)
            if line.startswith("Installing collected packages"):
                # From here on an interruption leaves the environment half-made; before, it is as it was.
                STAMP.unlink(missing_ok=True)
    if process.returncode:
        raise Stop(f"{what} failed:\n{tail(''.join(lines))}")


# --- The jobs ---


def program(name: str) -> str:
    """Path of a command installed in the environment."""
    found = shutil.which(name, path=str(BIN))
    if found is None:
        raise Stop(f"{name} is missing from .venv. Remove the folder .venv and start again.")
    return found


def plan_demo() -> None:
    """Plan the plant that comes with rinsewright, and say where the plan is."""
    say(f"Planning the demo plant: rinsewright plan {DEMO} --out {PLAN}")
    done = subprocess.run([program("rinsewright"), "plan", DEMO, "--out", PLAN], cwd=ROOT)
    if done.returncode:
        raise Stop("The demo plant was not planned; the reason stands above.", done.returncode)
    say(f"The plan is in {PLAN / 'plan.html'}, and on paper in {PLAN / 'plan.pdf'}. Open it in a browser.")


def check_everything(browser: str | None, arguments: list[str]) -> None:
    """Every check, also after one has failed, then the tests."""
    failed = [name for name, command in CHECKS.items() if not passes(name, command)]
    say("Tests:")
    command: list[str | Path] = [PYTHON, "-m", "pytest", "-n", "2", *arguments]
    status = subprocess.run(command, cwd=ROOT, env=test_environment(browser)).returncode
    if status:
        failed.append("Tests (none was found)" if status == 5 else "Tests")
    if failed:
        raise Stop(f"Not right yet: {', '.join(failed)}.")
    say("Everything passed.")


def passes(name: str, command: list[str]) -> bool:
    """Run one check; one line if it passes, its whole output if not."""
    start = time.perf_counter()
    done = subprocess.run(
        [program(command[0]), *command[1:]], cwd=ROOT, capture_output=True, text=True, errors="replace"
    )
    seconds = time.perf_counter() - start
    say(f"{name}: {'FAILED' if done.returncode else 'fine'} ({' '.join(command)}, {seconds:.1f} s)")
    if done.returncode:
        say((done.stdout + done.stderr).rstrip())
    return done.returncode == 0


def run_longer(browser: str | None, arguments: list[str]) -> None:
    """The longer tests, with a dated record of what they measured on this machine."""
    command: list[str | Path] = [PYTHON, Path("benchmarks", "longer.py"), *arguments]
    status = subprocess.run(command, cwd=ROOT, env=test_environment(browser)).returncode
    if status:
        raise Stop("The longer tests did not pass.", status)


def test_environment(browser: str | None) -> dict[str, str]:
    """One thread per worker for linear algebra (the matrices are small), and the browser that was found."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    return {**environment, "CHROMIUM": browser} if browser else environment


def run(words: list[str]) -> None:
    """Do what the command line says."""
    if "-h" in words or "--help" in words:
        say((__doc__ or "").strip())
        return
    if sys.version_info < OLDEST:
        raise Stop(f"rinsewright needs Python 3.11 or newer; this is {sys.version.split()[0]}.", 2)
    job = words.pop(0) if words and not words[0].startswith("-") else "plan"
    arguments = [word for word in words if word != "--only-setup"]
    if job not in ("plan", "test", "longer"):
        raise Stop(f"There is no job '{job}'. Say test or longer, or nothing for the demo.", 2)
    if job == "plan" and arguments:
        raise Stop(f"'{arguments[0]}' is not understood here. See python3 start.py --help.", 2)
    set_up("run" if job == "plan" else "dev")
    browser = None if job == "plan" or "--without-browser" in arguments else ensure_browser()
    if "--only-setup" in words:
        say("Set up.")
    elif job == "plan":
        plan_demo()
    elif job == "test":
        check_everything(browser, arguments)
    else:
        run_longer(browser, arguments)


def main() -> int:
    """Run, and turn whatever stops a step into one message and a status."""
    try:
        run(sys.argv[1:])
    except Stop as stop:
        print(stop, file=sys.stderr)
        return stop.status
    except OSError as error:
        print(f"Stopped: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped. Start again whenever you like.", file=sys.stderr)
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
