"""What the daemon says of itself, a line at a time."""

from __future__ import annotations

import logging
import os
import sys


class _Journal(logging.Formatter):
    """`<4>words`: PID 1 turns the prefix of each line into its priority (sd-daemon(3))."""

    LEVELS = ((logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))

    def format(self, record: logging.LogRecord) -> str:
        number = next((n for level, n in self.LEVELS if record.levelno >= level), 7)
        return "\n".join(f"<{number}>{line}" for line in super().format(record).splitlines())


def log_to_journal() -> None:
    """With priorities where systemd listens, else with times."""
    handler = logging.StreamHandler(sys.stderr)
    under_systemd = "JOURNAL_STREAM" in os.environ
    handler.setFormatter(
        _Journal("%(message)s") if under_systemd else logging.Formatter("%(asctime)s %(message)s")
    )
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    # urllib3 and Apprise are kept quiet by `notify.send`, which knows why
    logging.getLogger("tzlocal").setLevel(logging.WARNING)
