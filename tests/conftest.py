"""What holds in every test: chance is not timed, since a busy machine is no mistake; and no test leaves signals blocked,
which every process started later would inherit: a broker that is told to end would not. What commands keep ready is kept apart.
After a run: how many values printed elsewhere the product was held against, by mark and source.
"""

import re
import signal
from collections import Counter

import pytest
from hypothesis import settings

MARKS = ("seen", "seen-2nd", "memory", "derived", "common practice", "proposal")
SAID = re.compile(r"[:;] | §|, (?:abstract|computed|worked|frame|fed|reversed)")
"""Where a source line stops naming the work and begins to say what stands in it."""

settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(autouse=True, scope="session")
def _nothing_is_kept_at_home(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(autouse=True)
def _signals_are_heard():
    yield
    blocked = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    signal.pthread_sigmask(signal.SIG_UNBLOCK, blocked)
    assert set() == blocked


def pytest_terminal_summary(terminalreporter):
    reports = [r for outcome in ("passed", "failed") for r in terminalreporter.stats.get(outcome, [])]
    agreed = Counter(
        (told[1], SAID.split(told[0])[0])
        for report in reports
        for name, told in report.user_properties
        if name == "source value"
    )
    if not agreed:
        return
    totals = {mark: sum(count for (m, _), count in agreed.items() if m == mark) for mark in MARKS}
    by_mark = ", ".join(f"{count} {mark}" for mark, count in totals.items() if count)
    terminalreporter.section("source values")
    terminalreporter.write_line(f"checked from outside: {agreed.total()} values: {by_mark}")
    for (mark, source), count in sorted(agreed.items(), key=lambda item: (MARKS.index(item[0][0]), item[0][1])):
        terminalreporter.write_line(f"{count:5}  [{mark}] {source}")
