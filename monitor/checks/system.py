"""Is the daemon itself all right? What its own parts say of themselves, as findings."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from monitor.checks.arithmetic import span
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.readings import HOUR, MINUTE, SECOND, Millis
from monitor.rules import Level, Rules

DAEMON = Subject(Kind.DAEMON, "", "")


@dataclass(frozen=True, slots=True)
class System:
    """What the I/O rooms know of themselves at the start of a round.

    `link_since` is when the link last came up or went down; `link_detail` and `store_error` say why in words.
    `blind`: while the store fails, newer readings wait at the broker unseen.
    `notices_failing` holds since when by channel, `steps_failed` what went wrong by bin. `round_missed` is by
    how many seconds the last round came later than it should have. `settings_refused` says why changed settings are
    not in force. `database_lost` is since when readings do not go on to the database, and why.
    `backup_failing` is since when no backup can be made, and why; `backup_undecided` is whether that is not known yet.
    `clock_unsure_since` is None when the time is known.
    """

    link_up: bool = True
    link_since: Millis = 0
    link_detail: str = ""
    store_error: str | None = None
    blind: bool = False
    notices_failing: Mapping[str, Millis] = field(default_factory=dict)
    clock_unsure_since: Millis | None = None
    round_missed: float = 0.0
    steps_failed: Mapping[str, str] = field(default_factory=dict)
    settings_refused: str | None = None
    database_lost: tuple[Millis, str] | None = None
    backup_failing: tuple[Millis, str] | None = None
    backup_undecided: bool = False

    @property
    def listening_since(self) -> Millis | None:
        """Since when we hear the probes, None while we are deaf."""
        return self.link_since if self.link_up else None


DELAYS: Mapping[Condition, Millis] = {
    # proposals: a broker that restarts is back within minutes, a mail server that is busy as well
    Condition.BROKER_LOST: 5 * MINUTE,
    Condition.NOTICES_FAILING: 15 * MINUTE,
    Condition.STORE_FAILING: 0,
    # on a network the time comes within the first minutes of a boot (proposal)
    Condition.CLOCK_UNSURE: 5 * MINUTE,
    Condition.ROUND_MISSED: 0,
    Condition.STEP_FAILED: 0,
    Condition.SETTINGS_REFUSED: 0,
    # nothing is lost meanwhile, and a server that is brought up to date is away for as long (proposal)
    Condition.DATABASE_LOST: HOUR,
    # tried again every hour: a disk that was away for a moment is back by then (proposal)
    Condition.BACKUP_FAILING: 2 * HOUR,
}
"""How long each must last before it is said, in the daemon's own time."""


@dataclass(frozen=True, slots=True)
class _Trouble:
    key: AlarmKey
    since: Millis
    text: str
    level: Level = Level.COMFORT


def look_at_system(system: System, *, rules: Rules, now: Millis, standing: Collection[AlarmKey]) -> list[Finding]:
    """What is the matter with the daemon, and which standing trouble of it is over."""
    there = {t.key: t for t in _troubles(system, rules, now) if now - t.since >= DELAYS[t.key.condition]}
    over = [key for key in standing if key.condition in DELAYS and key not in there]
    if system.backup_undecided:
        over = [key for key in over if key.condition is not Condition.BACKUP_FAILING]
    return [_finding(t, now) for t in there.values()] + [
        Finding(key, None, now, now, Evidence(_OVER[key.condition])) for key in over
    ]


_OVER: Mapping[Condition, str] = {
    Condition.BROKER_LOST: "the broker answers again",
    Condition.STORE_FAILING: "the store writes again",
    Condition.NOTICES_FAILING: "notices go out again",
    Condition.CLOCK_UNSURE: "the clock is known again",
    Condition.ROUND_MISSED: "the rounds are in time again",
    Condition.STEP_FAILED: "the bin is judged again",
    Condition.DATABASE_LOST: "readings go on to the database again",
    Condition.BACKUP_FAILING: "backups are made again",
    Condition.SETTINGS_REFUSED: "the settings in force are those of the files again",
}


def _finding(trouble: _Trouble, now: Millis) -> Finding:
    delay = DELAYS[trouble.key.condition]
    held = now - trouble.since
    asked = f" for {span(held)}, longer than {span(delay)}" if delay else ""
    evidence = Evidence(trouble.text + asked, lasting=delay, held=held)
    return Finding(trouble.key, trouble.level, trouble.since + delay, trouble.since, evidence)


def _troubles(system: System, rules: Rules, now: Millis) -> Iterator[_Trouble]:
    if not system.link_up:
        why = f" ({system.link_detail})" if system.link_detail else ""
        yield _of_daemon(Condition.BROKER_LOST, system.link_since, f"the broker has not answered{why}")
    if system.store_error is not None:
        yield _of_the_store(system.store_error, now, blind=system.blind)
    if system.notices_failing:
        channels = ", ".join(sorted(system.notices_failing))
        since = min(system.notices_failing.values())
        yield _of_daemon(Condition.NOTICES_FAILING, since, f"no notice has gone out by {channels}")
    if system.clock_unsure_since is not None:
        text = "the true time has not been known"
        yield _of_daemon(Condition.CLOCK_UNSURE, system.clock_unsure_since, text)
    if system.round_missed > 0:
        late = span(round(system.round_missed * SECOND))
        yield _of_daemon(Condition.ROUND_MISSED, now, f"the last round came {late} late")
    if system.settings_refused is not None:
        yield _of_daemon(Condition.SETTINGS_REFUSED, now, system.settings_refused)
    if system.database_lost is not None:
        since, why = system.database_lost
        yield _of_daemon(Condition.DATABASE_LOST, since, f"readings wait here, none is lost: {why}")
    if system.backup_failing is not None:
        since, why = system.backup_failing
        yield _of_daemon(Condition.BACKUP_FAILING, since, f"no backup could be made ({why})")
    for bed, error in system.steps_failed.items():
        place = rules.bins[bed].place if bed in rules.bins else ""
        key = AlarmKey(Subject(Kind.BIN, bed, place), Condition.STEP_FAILED)
        yield _Trouble(key, now, f"the bin could not be judged: {error}")


def _of_the_store(error: str, now: Millis, *, blind: bool) -> _Trouble:
    """Harm when we are blind: nobody watches any bin then."""
    if blind:
        text = f"no bin is watched: newer readings wait at the broker unseen, because {error}"
        return _Trouble(AlarmKey(DAEMON, Condition.STORE_FAILING), now, text, Level.HARM)
    return _of_daemon(Condition.STORE_FAILING, now, f"the store cannot be written: {error}")


def _of_daemon(condition: Condition, since: Millis, text: str) -> _Trouble:
    return _Trouble(AlarmKey(DAEMON, condition), since, text)
