"""What all tests share: the browser, the rule about skipping, and repeatable random cases."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

from start import NO_BROWSER, find_browser

# The same cases every time, so that a red check means a change of ours. The longer tier draws new ones (see there).
settings.register_profile("every-time", derandomize=True, deadline=None)
settings.register_profile("longer", max_examples=1000, deadline=None, print_blob=True)
settings.load_profile("every-time")

# A page may wait for what the server computes, and a busy machine takes its time over it. Who is served at once waits
# no longer; playwright's own 5 s are for a machine that has nothing else to do.
expect.set_options(timeout=30_000)

BROWSER_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
BROWSER_FIXTURES = {"playwright", "browser_type", "launch_browser", "browser", "context", "page", "phone"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--without-browser", action="store_true", help="leave the tests out that need a browser")
    parser.addoption("--nothing-skipped", action="store_true", help="fail if any test was skipped")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        if BROWSER_FIXTURES.intersection(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.browser)
    if config.getoption("--without-browser"):
        left_out = [item for item in items if item.get_closest_marker("browser")]
        items[:] = [item for item in items if item not in left_out]
        config.hook.pytest_deselected(items=left_out)


def forbid_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turn a skip into a failure that says so."""
    if report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{report.nodeid} was skipped, which is not allowed here: {report.longrepr}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI no test may be skipped; anywhere else none that needs a browser (``--without-browser`` is the way)."""
    report = yield
    if item.config.getoption("--nothing-skipped") or item.get_closest_marker("browser"):
        forbid_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a whole file that asks to be skipped."""
    report = yield
    if collector.config.getoption("--nothing-skipped"):
        forbid_skip(report)
    return report


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start the browser that is installed here; the tests fetch none."""
    path = find_browser()
    if path is None:
        pytest.fail(NO_BROWSER, pytrace=False)
    return {**browser_type_launch_args, "executable_path": path, "args": BROWSER_FLAGS}


@pytest.fixture
def phone(browser: Browser, playwright: Playwright) -> Generator[Page, None, None]:
    """A page as a phone shows it: small, by touch."""
    context: BrowserContext = browser.new_context(**playwright.devices["Pixel 7"])
    yield context.new_page()
    context.close()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print what tests measured (``record_property``), also where they ran in another process."""
    for report in terminalreporter.getreports("passed"):
        for name, value in report.user_properties:
            terminalreporter.write_line(f"{name}: {value}")
