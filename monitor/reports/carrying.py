"""What an import came to, as facts and as sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypedDict

from monitor.bringing import Brought
from monitor.history import iso
from monitor.readings import Reading
from monitor.words import amount

SHOWN = 20
"""Problems that are told one by one in sentences."""


class ImportShape(TypedDict):
    """`vermistat import`: what the file holds, line by line what is wrong with it, and what was kept (null: nothing was)."""

    file: str
    readings: int
    untrusted: int
    first: str | None
    last: str | None
    problems: list[str]
    only_looked: bool
    new: int | None
    same: int | None
    other: int | None


def import_facts(
    file: str, readings: Sequence[Reading], problems: list[str], *, brought: Brought | None, looked: bool
) -> ImportShape:
    """The facts of one import."""
    times = [r.at for r in readings]
    return {
        "file": file,
        "readings": len(readings),
        "untrusted": sum(not r.quality.trusted for r in readings),
        "first": iso(min(times)) if times else None,
        "last": iso(max(times)) if times else None,
        "problems": problems,
        "only_looked": looked,
        "new": brought.new if brought else None,
        "same": brought.same if brought else None,
        "other": brought.other if brought else None,
    }


def import_text(facts: ImportShape) -> str:
    """An import in sentences."""
    span = f" from {facts['first']} to {facts['last']}" if facts["first"] else ""
    lines = [f"{facts['file']} holds {amount(facts['readings'], 'reading')}{span}."]
    if facts["untrusted"]:
        lines.append(
            f"{amount(facts['untrusted'], 'of them says', 'of them say')} what no bed can be: kept, and not trusted."
        )
    problems = facts["problems"]
    if problems:
        lines.append(f"{amount(len(problems), 'line is', 'lines are')} no reading:")
        lines += [f"  {problem}" for problem in problems[:SHOWN]]
        lines += [f"  … and {len(problems) - SHOWN} more"] if len(problems) > SHOWN else []
    if facts["new"] is None:
        lines.append("Nothing was kept: you only looked." if facts["only_looked"]
                     else "Nothing was kept. Mend these lines, or pass over them with --skip-problems.")  # fmt: skip
        return "\n".join(lines)
    lines.append(
        f"{amount(facts['new'], 'reading is', 'readings are')} new here, {facts['same']} were here already."
    )
    if facts["other"]:
        lines.append(f"For {amount(facts['other'], 'time', 'times')} another value stands here, and stays.")
    lines.append("Nobody is told of what the past holds; it is in charts, learning and replay.")
    return "\n".join(lines)
