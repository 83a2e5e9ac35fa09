"""Plans and looks after small pure-water plants for cleaners who work with water-fed poles."""

from __future__ import annotations

__version__ = "0.1.0"
