"""What was found and made at the database of the settings, as facts and as sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from monitor import words
from monitor.history import iso
from monitor.readings import DAY

if TYPE_CHECKING:
    from monitor.addresses import Database
    from monitor.store.influx_move import Moved
    from monitor.store.influx_setup import Found, Proof


class StepShape(TypedDict):
    """One thing that has to be at the server. `there` is whether it was before, `made` whether it was made now."""

    what: str
    there: bool
    made: bool


class SetUpShape(TypedDict):
    """`vermistat database set-up`. `version` is empty when the server does not say; `keeps_seconds` is how long it keeps
    what is written, 0 for ever, null when that is not known. `proven` is whether a test reading was read back as it was
    written, and `trial_removed` whether it could be removed; both are null while nothing was done.
    """

    url: str
    bucket: str
    version: str
    steps: list[StepShape]
    keeps_seconds: int | None
    done: bool
    proven: bool | None
    trial_removed: bool | None


def set_up_facts(
    database: Database, before: Found, *, after: Found | None = None, proof: Proof | None = None
) -> SetUpShape:
    """The facts of a set-up, or of what it would do."""
    newest = after or before
    there = {step.what: step.there for step in newest.steps}
    return {
        "url": database.url,
        "bucket": database.bucket,
        "version": newest.version,
        "steps": [
            {"what": step.what, "there": step.there, "made": not step.there and there.get(step.what, False)}
            for step in before.steps
        ],
        "keeps_seconds": newest.keeps,
        "done": proof is not None,
        "proven": True if proof else None,
        "trial_removed": proof.removed if proof else None,
    }


def plan_text(facts: SetUpShape) -> str:
    """What will be done, before it is."""
    return "\n".join(
        [
            _server(facts),
            *(
                f"  {step['what']}: {'there already' if step['there'] else 'will be made'}"
                for step in facts["steps"]
            ),
            _kept(facts),
            "  Then one test reading is written, read back and removed.",
        ]
    )


def set_up_text(facts: SetUpShape) -> str:
    """What was done."""
    if not facts["done"]:
        return f"{plan_text(facts)}\nNothing was done. `vermistat database set-up --yes` does it without asking."
    left = (
        "and removed again"
        if facts["trial_removed"]
        else "it could not be removed, and stays under the site `vermistat set-up`, which nothing reads"
    )
    return "\n".join(
        [
            _server(facts),
            *(f"  {step['what']}: {'made' if step['made'] else 'was there'}" for step in facts["steps"]),
            _kept(facts),
            f"  A test reading was written, read back as it was written, {left}.",
            "Readings go on to it as soon as `vermistat run` is started with these settings.",
        ]
    )


def _server(facts: SetUpShape) -> str:
    version = f", version {facts['version']}" if facts["version"] else ", which does not say its version"
    return f"The database at {facts['url']}{version}:"


def _kept(facts: SetUpShape) -> str:
    seconds = facts["keeps_seconds"]
    if seconds is None:
        return f"  {facts['bucket']} is made by the server itself, which alone knows how long it keeps what is written."
    if seconds == 0:
        return "  What is written stays for ever."
    return (
        f"  Attention: it removes what is older than {words.duration(seconds * 1000)}, and so the history of your bins."
        " Have it keep everything, or name another bucket."
    )


class ApartShape(TypedDict):
    """One probe's day (UTC) on which the two sides differ: how many readings each has of those that both should have."""

    probe: str
    day: str
    readings: int
    other_side: int


class MoveShape(TypedDict):
    """`vermistat database move`: readings carried now, days that had to be carried a second time, what was compared by count
    and checksum, the days that differ all the same, and how many readings of a probe lie there of which the file knows nothing.
    """

    url: str
    bucket: str
    back: bool
    carried: int
    mended_days: int
    probes: int
    days: int
    readings: int
    apart: list[ApartShape]
    more: dict[str, int]


def move_facts(database: Database, moved: Moved, *, back: bool) -> MoveShape:
    """The facts of a move."""
    compared = moved.compared
    return {
        "url": database.url,
        "bucket": database.bucket,
        "back": back,
        "carried": moved.carried,
        "mended_days": moved.mended,
        "probes": compared.probes,
        "days": compared.days,
        "readings": compared.readings,
        "apart": [
            {"probe": probe, "day": iso(day * DAY)[:10], "readings": tally.count, "other_side": tally.other_count}
            for probe, day, tally in compared.apart
        ],
        "more": dict(moved.more),
    }


def move_text(facts: MoveShape) -> str:
    """A move in sentences."""
    where = "back into the file" if facts["back"] else f"to {facts['bucket']} at {facts['url']}"
    lines = [f"{words.amount(facts['carried'], 'reading', 'readings')} moved {where}."]
    if facts["mended_days"]:
        lines.append(f"{words.amount(facts['mended_days'], 'day', 'days')} differed there, and went once more.")
    for probe, count in facts["more"].items():
        lines.append(
            f"The database holds {words.amount(count, 'reading', 'readings')} of {probe} that this file knows nothing of (it was"
            " perhaps restored from an older copy): they stay there, and nothing here looks at them."
        )
    of = f"{words.amount(facts['readings'], 'reading', 'readings')} of {words.amount(facts['probes'], 'probe', 'probes')}"
    if not facts["apart"]:
        lines.append(f"Compared by count and checksum, {of}, {facts['days']} days of probes: alike on both sides.")
        if facts["back"]:
            lines.append("Take `database:` out of the settings before you start `vermistat run` again.")
        return "\n".join(lines)
    lines.append(
        f"Compared by count and checksum, {of}: {len(facts['apart'])} days differ, and nothing was removed:"
    )
    lines += [
        f"  {one['probe']} on {one['day']}: {one['readings']} here against {one['other_side']}"
        if not facts["back"]
        else f"  {one['probe']} on {one['day']}: {one['readings']} at the server against {one['other_side']} here"
        for one in facts["apart"][:20]
    ]
    return "\n".join(lines)
