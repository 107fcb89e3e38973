"""After a run: how many values printed elsewhere the product was held against, by mark and source."""

import re
from collections import Counter

MARKS = ("seen", "seen-2nd", "memory", "derived", "common practice", "proposal")
SAID = re.compile(r"[:;] | §|, (?:abstract|computed|worked|frame|fed|reversed)")
"""Where a source line stops naming the work and begins to say what stands in it."""


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
