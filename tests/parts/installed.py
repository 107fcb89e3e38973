"""The program as `deploy/install.sh` leaves it: compiled once, not anew by whoever starts it."""

import compileall
import os
from pathlib import Path

PROGRAM = Path(__file__).parents[2] / "monitor"


def environment(**more: str) -> dict[str, str]:
    """What a process of it is given; its modules are compiled by now, and read as such."""
    assert compileall.compile_dir(PROGRAM, quiet=1)
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | more
