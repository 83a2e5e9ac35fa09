"""Plans and looks after small pure-water plants for cleaners who work with water-fed poles.

The public names load on first use, so that ``import rinsewright`` costs nothing::

    from rinsewright import Site
    site = Site.load("examples/tern-quay.toml")
    print(site.solve().text())
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rinsewright.api import Element, Site
    from rinsewright.errors import InputError, NoWorkingState

__version__ = "0.1.0"
__all__ = ["Element", "InputError", "NoWorkingState", "Site", "__version__"]

_HOME = {
    "Element": "rinsewright.api",
    "Site": "rinsewright.api",
    "InputError": "rinsewright.errors",
    "NoWorkingState": "rinsewright.errors",
}


def __getattr__(name: str) -> object:
    from importlib import import_module

    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
