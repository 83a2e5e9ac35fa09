"""The command that serves the app: on this machine only, one line, a quiet end."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from rinsewright.cli import main

COMMAND = [sys.executable, "-m", "rinsewright", "serve", "--no-browser"]


@pytest.fixture
def port() -> int:
    """One that is free."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        found: int = one.getsockname()[1]
    return found


@pytest.fixture
def server(tmp_path: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """The command, running, with a book of its own."""
    command = [*COMMAND, "--port", str(port), "--book", str(tmp_path / "book.sqlite")]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ)
    yield running
    if running.poll() is None:
        running.kill()
    running.communicate()


def test_it_says_where_it_is_answers_there_and_ends_quietly(server: subprocess.Popen[str], port: int) -> None:
    assert server.stdout is not None
    line = server.stdout.readline()
    address = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
    assert address is not None
    assert int(address[1]) == port
    with urllib.request.urlopen(f"{address[0]}healthz", timeout=30) as answer:
        assert answer.read() == b"ok"
    server.send_signal(signal.SIGINT)
    rest, complaints = server.communicate(timeout=30)
    assert (server.returncode, rest, complaints) == (0, "", "")


def test_only_this_machine_is_listened_to(server: subprocess.Popen[str], port: int) -> None:
    assert server.stdout is not None
    server.stdout.readline()
    with socket.socket() as other:
        assert other.connect_ex(("127.0.0.2", port)) != 0  # also this machine, but not the address that is served


def test_a_port_that_is_taken_is_refused_in_one_sentence(port: int, tmp_path: Path, capsys) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", port))
        taken.listen()
        arguments = ["serve", "--no-browser", "--port", str(port), "--book", str(tmp_path / "book.sqlite")]
        assert main(arguments) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert f"port {port} is not free" in said.err
    assert not (tmp_path / "book.sqlite").exists()


def test_a_port_that_is_none_is_refused(capsys) -> None:
    assert main(["serve", "--port", "0"]) == 2
    assert main(["serve", "--port", "eighty"]) == 2
    assert capsys.readouterr().err.count("\n") == 2
