"""``python -m rinsewright`` is the command ``rinsewright``."""

from __future__ import annotations

import sys

from rinsewright.cli import main

if __name__ == "__main__":
    sys.exit(main())
