"""``python -m shrinksim``: the same as the command ``shrinksim``."""

from __future__ import annotations

import sys

from shrinksim.commands.cli import main

if __name__ == "__main__":
    sys.exit(main())
