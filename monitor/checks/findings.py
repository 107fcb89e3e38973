"""What a check says: the shape that every check returns and every alarm steps on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from monitor.readings import Millis
from monitor.rules import Level


class Kind(StrEnum):
    """What a finding or an alarm is about."""

    BIN = "bin"
    ZONE = "zone"
    PROBE = "probe"
    MAT = "mat"
    DAEMON = "daemon"


class Subject(NamedTuple):
    """Who or what: `id` is `fig`, `fig.west`, `fig-east`, `long-mat`, or empty for the daemon.

    `place` is where advice about it belongs, empty for the daemon.
    """

    kind: Kind
    id: str
    place: str

    @property
    def bed(self) -> str:
        """The bin that a bin's or a zone's subject names."""
        return self.id.partition(".")[0]

    def __str__(self) -> str:
        return f"{self.kind}:{self.id}" if self.id else str(self.kind)


class Condition(StrEnum):
    """What can be the matter."""

    COLD = "cold"
    HOT = "hot"
    DRY = "dry"
    WET = "wet"
    FLOODED = "flooded"
    COLD_AHEAD = "cold night ahead"
    HEAT_AHEAD = "heat ahead"
    MAT_DEAD = "mat not heating"
    MAT_STRONG = "mat too strong"
    MAT_UNNEEDED = "mat not needed"
    MAT_UNTRIED = "mat to be tried"
    SILENT = "silent"
    FAULTY = "faulty"
    STUCK = "stuck"
    DRIFTING = "drifting"
    """A probe leaves its neighbours."""
    UNWATCHED = "unwatched"
    """A zone without a good probe."""
    BROKER_LOST = "broker lost"
    STORE_FAILING = "store failing"
    NOTICES_FAILING = "notices failing"
    CLOCK_UNSURE = "clock unsure"
    STEP_FAILED = "step failed"
    ROUND_MISSED = "round missed"
    POWER_BACK = "power came back"
    SETTINGS_REFUSED = "settings refused"
    DATABASE_LOST = "database lost"
    BACKUP_FAILING = "backup failing"


class AlarmKey(NamedTuple):
    """One alarm per subject and condition (the condition carries quantity and direction)."""

    subject: Subject
    condition: Condition


@dataclass(frozen=True, slots=True)
class Evidence:
    """Why: the value that decided, the limit it met, where the limit comes from, and the arithmetic.

    `value` and `bound` are in the quantity's canonical unit, None for conditions without a limit.
    `arithmetic` is one line that can be followed by hand, in canonical units and spans, without clock times:
    whoever writes for a keeper has everything that stands in it as fields as well. Only what is told ahead and
    of mats, which has no fields for its numbers, is in the site's own units.
    """

    arithmetic: str
    value: float | None = None
    bound: float | None = None
    unit: str = ""
    lasting: Millis = 0
    source: str = ""
    mark: str = ""
    probe: str | None = None
    zone: str | None = None
    below: bool | None = None
    """On which side of `bound` the trouble lies; None for conditions without a limit."""
    clear_at: float | None = None
    """Where the condition ends: the bound moved in by the deadband."""
    held: Millis = 0
    """How long it has held (or, when it is over, how long the value has been past `clear_at`)."""
    statistic: str = ""
    """What was made of the readings before they were compared (`value`, `median of a day`, `rise in an hour`)."""
    newest: float | None = None
    """The newest value itself, where `value` is a statistic of many."""
    side: int = 0
    """1: the value is at least so much, −1: at most so much (beyond a probe's outermost point, or a squeeze's band)."""
    outdoors_age: Millis | None = None
    """How old the outdoor forecast was that it is told ahead by; None where it was not told by one."""
    others: tuple[tuple[str, float], ...] = ()
    """The other zones of the subject with their values: none of them is better than `zone`."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check found about one subject and condition.

    `level` None: the condition is not there (any more). `since` is the reading's time at which the condition
    began to hold, `at` the reading's time (or deadline) at which its delay was full and which decided.
    """

    key: AlarmKey
    level: Level | None
    at: Millis
    since: Millis
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class PastEpisode:
    """An episode seen only in late readings: told once, touches no alarm."""

    key: AlarmKey
    level: Level
    began: Millis
    ended: Millis
    evidence: Evidence
