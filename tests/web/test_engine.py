"""What was worked out is kept; two who ask at once wait for one making."""

from __future__ import annotations

import threading
import time

import pytest

from rinsewright.web.engine import Engine, Shelf

from .served import DEMO


def test_two_at_once_make_it_once() -> None:
    shelf, made = Shelf(), []

    def make() -> int:
        time.sleep(0.05)
        made.append(1)
        return 7

    got: list[int] = []
    threads = [threading.Thread(target=lambda: got.append(shelf.get("key", make))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [7] * 8
    assert made == [1]


def test_others_do_not_wait() -> None:
    shelf, go = Shelf(), threading.Event()
    slow = threading.Thread(target=lambda: shelf.get("slow", lambda: go.wait(10)))
    slow.start()
    assert shelf.get("quick", lambda: 1) == 1
    assert shelf.known("slow") is None
    go.set()
    slow.join()


def test_what_failed_is_made_again() -> None:
    shelf = Shelf()

    def fail() -> int:
        return 1 // 0

    with pytest.raises(ZeroDivisionError):
        shelf.get("key", fail)
    assert shelf.get("key", lambda: 3) == 3


def test_the_oldest_goes() -> None:
    shelf = Shelf(most=2)
    for key in "abc":
        shelf.get(key, lambda: 1)
    assert shelf.known("a") is None
    assert shelf.known("c") == 1


def test_a_plan_is_made_once() -> None:
    engine = Engine()
    assert engine.plan_if_known(DEMO) is None
    plan = engine.plan(DEMO)
    assert engine.plan(DEMO) is plan
    assert engine.plan_if_known(DEMO) is plan
    assert engine.site(DEMO) is engine.site(DEMO)
    assert engine.build(DEMO) is engine.build(DEMO)
