"""A backup that was made, and one that is put back, as facts and as sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypedDict

from monitor import words
from monitor.history import iso

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.backups import Back, Made, Manifest
    from monitor.readings import Millis


class HeldShape(TypedDict):
    """What a backup holds. `rows` is how many rows each table of the store has, `settings` are the files' names, `not_in_it`
    names secrets and certificates that the settings fetch from elsewhere, `elsewhere` where older readings lie
    only (or is empty).
    """

    folder: str
    site: str
    made_at: str
    program: str
    schema: int
    bytes: int
    readings: int
    first: str | None
    last: str | None
    rows: dict[str, int]
    settings: list[str]
    not_in_it: list[str]
    elsewhere: str


class BackupShape(TypedDict):
    """`vermistat backup`: what was made; how many backups of the site lie there now, since when, which were removed for it, and
    whether all that is on the disk of the store itself.
    """

    made: HeldShape
    there: int
    oldest: str
    removed: list[str]
    same_disk: bool


class RestoreShape(TypedDict):
    """`vermistat restore`: what was found to be whole; the store it goes to, and whether it was put there; where the store that
    lay there is kept (null: there was none, or nothing was done); and the settings' files that say something else now.
    """

    held: HeldShape
    store: str
    restored: bool
    kept: str | None
    settings_differ: list[str]


def held_facts(folder: Path, manifest: Manifest) -> HeldShape:
    """The facts of one backup."""
    return {
        "folder": str(folder),
        "site": manifest.site,
        "made_at": iso(manifest.made_at),
        "program": manifest.program,
        "schema": manifest.schema,
        "bytes": manifest.bytes,
        "readings": manifest.readings,
        "first": None if manifest.first is None else iso(manifest.first),
        "last": None if manifest.last is None else iso(manifest.last),
        "rows": dict(manifest.rows),
        "settings": list(manifest.settings),
        "not_in_it": list(manifest.secrets),
        "elsewhere": manifest.elsewhere,
    }


def backup_facts(made: Made) -> BackupShape:
    """The facts of one backup that was made."""
    return {
        "made": held_facts(made.folder, made.manifest),
        "there": len(made.there),
        "oldest": iso(made.there[0].at),
        "removed": list(made.removed),
        "same_disk": made.same_disk,
    }


def backup_text(made: Made, zone: str) -> str:
    """It in sentences, with the times of a zone."""
    facts = backup_facts(made)
    held = facts["made"]
    lines = [
        f"Backed up to {held['folder']}, and read back from there: whole.",
        _holds(held, made.manifest, zone),
        f"{words.amount(facts['there'], 'backup')} of {held['site']} in that folder, the oldest of"
        f" {words.day_of(made.there[0].at, zone)}." + _gone(facts["removed"]),
    ]
    if facts["same_disk"]:
        lines.append(
            "It lies on the disk of the store itself: good against a mistake, of no use when that disk dies. Name another with"
            " --to."
        )
    return "\n".join([*lines, *_lacks(held)])


def _gone(removed: Sequence[str]) -> str:
    return f" {words.amount(len(removed), 'older one was', 'older ones were')} removed." if removed else ""


def _holds(held: HeldShape, manifest: Manifest, zone: str) -> str:
    span = ""
    if manifest.first is not None and manifest.last is not None:
        span = f" from {_moment(manifest.first, zone)} to {_moment(manifest.last, zone)}"
    entries = words.amount(held["rows"].get("diary", 0), "diary entry", "diary entries")
    notices = words.amount(held["rows"].get("notice", 0), "notice")
    return (
        f"It holds {words.amount(held['readings'], 'reading')}{span}, {entries}, {notices} and the settings"
        f" ({', '.join(held['settings'])}); {held['bytes'] / 1e6:.1f} MB."
    )


def _moment(at: Millis, zone: str) -> str:
    return f"{words.local(at, zone):%Y-%m-%d %H:%M}"


def _lacks(held: HeldShape) -> list[str]:
    lines = []
    if held["elsewhere"]:
        lines.append(
            f"Not in it: readings that lie in {held['elsewhere']} only. Back that database up by its own means."
        )
    if held["not_in_it"]:
        lines.append(
            f"Not in it, because they are secret or another's: {', '.join(held['not_in_it'])}. Keep those elsewhere."
        )
    return lines


def restore_facts(
    folder: Path, manifest: Manifest, store: Path, back: Back | None, differ: Sequence[str]
) -> RestoreShape:
    """The facts of one restoring, or of looking at what would be restored."""
    return {
        "held": held_facts(folder, manifest),
        "store": str(store),
        "restored": back is not None,
        "kept": str(back.kept) if back is not None and back.kept is not None else None,
        "settings_differ": list(differ),
    }


def restore_text(facts: RestoreShape, manifest: Manifest, zone: str) -> str:
    """It in sentences, with the times of a zone."""
    held = facts["held"]
    made = f"made {_moment(manifest.made_at, zone)} by Vermistat {held['program']}"
    lines = [f"{held['folder']} is whole: {made}.", _holds(held, manifest, zone)]
    if facts["restored"]:
        lines.append(f"It is in place now, as {facts['store']}. Start the daemon.")
        if facts["kept"]:
            lines.append(f"What lay there is kept as {facts['kept']}; delete it when you are sure.")
        lines.append("Links in earlier notices and visits to the page have ended.")
    else:
        lines.append(f"Nothing was changed: you only looked. It would go to {facts['store']}.")
    if facts["settings_differ"]:
        lines.append(
            f"The settings stay as they are. Another than then: {', '.join(facts['settings_differ'])}; what it was lies in"
            f" {held['folder']}/settings."
        )
    return "\n".join([*lines, *_lacks(held)])
