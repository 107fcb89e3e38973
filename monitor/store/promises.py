"""What every store promises, in words. One contract suite holds `memory` and `sqlite` to it.

Times are `Millis` (UTC), handed in: a store reads no clock. Every write is durable when its call returns
(fsynced, unless the class says that it keeps nothing) and happens as a whole or not at all. Errors: StoreBusy
and StoreFull are temporary and have written nothing; StoreBroken is final. All methods may be called from any
thread. Lists are the caller's own. A value that could not be read back as it was is refused with BadValue when
it is written: NaN in a document, a time beyond 64 bits, text that is not Unicode. Whole numbers given for
a `float` come back as floats. After `close` every call raises StoreError.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Protocol

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.amendments import Amendment, Outline
from monitor.checks.findings import PastEpisode
from monitor.diary import Entry
from monitor.names import Names
from monitor.notify.notices import Decision, Notice, Post, Untold
from monitor.readings import Beside, Millis, Quality, Reading, Refusal, Undated


@dataclass(frozen=True, slots=True)
class Delivered:
    """What was handed over by the broker for a payload without a time of its own: its packet id (16 bits) and
    an unsigned 64-bit hash of topic and payload, so that the same delivery is known again after a reconnect.
    """

    packet: int
    digest: int


@dataclass(frozen=True, slots=True)
class Batch:
    """What one commit of the pump keeps, in the order of arrival."""

    readings: Sequence[Reading] = ()
    undated: Sequence[Undated] = ()
    refusals: Sequence[Refusal] = ()
    delivered: Sequence[Delivered] = ()
    beside: Sequence[Beside] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of a batch: how many readings are new, equal to one already kept, or refused because
    another value stands at the same probe and time (the first wins). `last_arrival` is the newest arrival number.
    """

    new: int
    same: int
    other: int
    last_arrival: int


@dataclass(frozen=True, slots=True)
class Bucket:
    """The trusted readings of one probe with start <= at < start + width, summed up."""

    start: Millis
    count: int
    low: float
    mean: float
    high: float


class Readings(Protocol):
    """Readings, what could not be dated, and what was refused. Values are kept in steps of 1/RESOLUTION; one
    that is too large for that in 64 bits (no sensor says it) is kept as the largest there is.
    """

    def keep(self, batch: Batch) -> Kept:
        """Keep a batch, durably. Readings are keyed by probe and time: the first value wins. New readings and
        undated values get rising arrival numbers from 1 (readings first), shared between both, never used again,
        not even after deletion; the `arrival` handed in counts for nothing. Equal means the same kept value,
        whatever else differs. The newest 65,536 `delivered` are kept. An empty batch writes nothing.
        """

    def after(self, arrival: int, limit: int = 1_000_000) -> list[Reading]:
        """Readings with an arrival number above `arrival`, in order of arrival."""

    def last_arrival(self) -> int:
        """The newest arrival number, 0 when nothing was ever kept."""

    def window(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """One probe's readings with start <= at < end, in order of time, of every quality."""

    def latest(self, probe: str, count: int = 1, upto_arrival: int | None = None) -> list[Reading]:
        """The newest `count` readings by time, newest last; only arrivals up to `upto_arrival` if given."""

    def latest_of(self, probes: Collection[str], count: int = 1) -> dict[str, list[Reading]]:
        """The newest `count` readings of each of these probes as `latest` has them, seen in one look: for whoever wants
        hundreds of probes at once.
        """

    def unchanged_since(self, probe: str, upto_arrival: int | None = None) -> Millis | None:
        """The time of the oldest reading in the unbroken newest run of equal values, None without readings;
        only arrivals up to `upto_arrival` if given.
        """

    def buckets(self, probe: str, start: Millis, end: Millis, width: Millis) -> list[Bucket]:
        """One probe's trusted readings with start <= at < end in buckets of `width` counted from `start`, in
        order of time; a bucket without readings is left out. For charts: no reading is built.
        """

    def undated(self, limit: int = 100) -> list[Undated]:
        """The newest values of unknown time, newest last."""

    def refusals(self, limit: int = 100) -> list[Refusal]:
        """The newest refusals, newest last. At least the newest 1,000 are kept."""

    def refusal_counts(self) -> dict[tuple[str, str], int]:
        """How often each (topic, kind) was ever refused."""

    def contradictions(self) -> dict[str, int]:
        """How often each probe ever said another value for a time at which one was already kept."""

    def beside(self) -> dict[str, Beside]:
        """By topic: the newest battery and signal that its messages told, each kept until another is told."""

    def delivered(self, limit: int = 65_536) -> list[Delivered]:
        """The newest deliveries without a time of their own, newest last."""

    def counted(self) -> int:
        """How many readings are kept."""

    def elsewhere(self) -> int:
        """Of how many probes the older readings lie where this store does not reach: in a database that it is not told of."""


@dataclass(frozen=True, slots=True)
class Request:
    """What a person asked for from outside the daemon; applied at the start of the next round, once."""

    id: int
    at: Millis
    who: str
    what: str
    """`seen`, `done`, … (`asked.HANDLERS`)."""
    alarm: int
    """0 when it is about no alarm."""
    note: str = ""
    body: str = "{}"
    """What else belongs to it: a JSON object."""


@dataclass(frozen=True, slots=True)
class RoundRow:
    """One round for ever: when, under which settings, and up to which arrival it had seen."""

    number: int
    at: Millis
    settings: str
    upto_arrival: int


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands between rounds and cannot be derived from readings: small documents by kind and key.

    `kind` is `condition`, `probe`, `clock` and whatever a pure room needs; `body` is its JSON.
    """

    kind: str
    key: str
    body: str | None
    """None removes it."""


APART = frozenset({"bed", "mat watch", "bed hour", "room", "room hour"})
"""Kinds of standing documents that `load` leaves out, because they are long and most commands do not ask for them: what
beds have learned (`monitor.bed.kept`)."""


@dataclass(frozen=True, slots=True)
class Round:
    """Everything one round decided: one transaction."""

    row: RoundRow
    standing: Sequence[Standing] = ()
    alarms: Sequence[Alarm] = ()
    """Alarms that changed and still stand."""
    ended: Sequence[int] = ()
    """Numbers of alarms that are over (state normal)."""
    transitions: Sequence[Transition] = ()
    past: Sequence[PastEpisode] = ()
    advice: Sequence[Advice] = ()
    notices: Sequence[Notice] = ()
    decisions: Sequence[Decision] = ()
    untold: Sequence[Untold] = ()
    """Newly waiting to be told."""
    told: Sequence[tuple[str, str]] = ()
    """(person, place) whose whole queue of untold steps is cleared (before `untold` is added)."""
    diary: Sequence[Entry] = ()
    requests: Sequence[int] = ()
    """Ids of requests that are dealt with; unknown ones are passed over."""

    @property
    def is_quiet(self) -> bool:
        """Whether it decided nothing: its row says only what it saw."""
        return not any(getattr(self, one.name) for one in fields(self) if one.name != "row")


@dataclass(frozen=True, slots=True)
class Past:
    """What a daemon finds when it starts."""

    last_round: RoundRow | None
    standing: Mapping[tuple[str, str], str]
    alarms: Sequence[Alarm]
    """By number."""
    advice: Sequence[Advice]
    """The newest for each place, by place."""
    untold: Sequence[Untold]
    """In the order they began to wait."""
    next_alarm: int
    """One above every number ever committed, ended alarms included; 1 at first."""
    next_notice: int


@dataclass(frozen=True, slots=True)
class Story:
    """Everything that was ever decided about one alarm, in the order of the rounds."""

    transitions: Sequence[Transition]
    decisions: Sequence[Decision]


class Journal(Protocol):
    """What was decided, by rounds."""

    def load(self) -> Past:
        """Everything that stands, but for the documents of the kinds APART."""

    def standing(self, kind: str, under: Collection[str] | None = None) -> dict[str, str]:
        """The bodies of all standing documents of one kind, by key; also of the kinds APART. `under` takes only those whose key
        is one of these, or one of these with more behind a `/`.
        """

    def commit(self, round_: Round) -> None:
        """Keep a whole round, durably; a quiet one may become durable only with what is kept next, because the same
        readings would be seen again and decide nothing again. Its notices become posts, one per channel, waiting and
        due at once.
        A standing document replaces the one of its kind and key; an alarm the one of its number; `ended` is
        applied after `alarms`. A round number that is not above the last one, or a notice number that is not
        above those of earlier rounds, raises StoreError and keeps nothing.
        """

    def transitions(self, start: Millis = 0, end: Millis | None = None, limit: int = 1000) -> list[Transition]:
        """Transitions with start <= at < end, in order of their rounds; the newest `limit` by that order."""

    def story(self, alarm: int) -> Story:
        """Every transition and every decision of one alarm's number, oldest first, however long ago; both empty
        for a number that no alarm ever had. Costs what there is of that alarm, not what there is in the store.
        """

    def past_episodes(self, limit: int = 100) -> list[PastEpisode]:
        """The newest past episodes, newest last."""

    def advice(self, place: str, limit: int = 1) -> list[Advice]:
        """The newest advice for a place, newest last."""

    def notices(self, limit: int = 100) -> list[Post]:
        """The newest `limit` posts, newest notice last, those of one notice in the order of its channels."""

    def decisions(self, alarm: int | None = None, limit: int = 100) -> list[Decision]:
        """Why told and why not told, newest last; of one alarm if given."""

    def rounds(self, limit: int = 100) -> list[RoundRow]:
        """The newest rounds, newest last."""

    def diary(self, limit: int = 100) -> list[Entry]:
        """The newest entries by the time they tell of, newest last; of one time in the order they were kept."""

    def heard_of(self, alarm: int) -> Alarm | None:
        """A standing alarm by number."""


class Requests(Protocol):
    """What people ask for, from any process."""

    def ask(self, at: Millis, who: str, what: str, alarm: int = 0, note: str = "", *, body: str = "{}") -> int:
        """Leave a request, durably; its id, never used again. Needs no lock on the store."""

    def asked(self) -> list[Request]:
        """Requests no round has dealt with, in the order of asking."""


class Outbox(Protocol):
    """What is still to be sent. Each of `sent`, `failed` and `give_up` tells of one try and counts it. A post that
    is sent stays sent; one that is given up can still turn out to be sent. Telling of a post that was never
    committed raises StoreError.
    """

    def due(self, now: Millis, limit: int = 100) -> list[Post]:
        """Waiting posts with next_try <= now, oldest notice first, those of one in the order of its channels."""

    def sent(self, notice: int, channel: str, at: Millis) -> None:
        """Mark a post sent, durably. Marking twice is no error and changes nothing."""

    def failed(self, notice: int, channel: str, next_try: Millis, error: str) -> None:
        """Note a failed try and when to try again; nothing if the post no longer waits."""

    def give_up(self, notice: int, channel: str, error: str) -> None:
        """Mark a post given up after a failed try, with its error; nothing if the post no longer waits."""

    def waiting(self) -> int:
        """How many posts wait."""


@dataclass(frozen=True, slots=True)
class Taking:
    """The settings that are to be in force from `at` on: their texts by file name (no secret stands in them), a hash
    of those, the number of the rules they make (`Rules.version`), and what they change. `names` are ids that go on
    under another.
    """

    at: Millis
    who: str
    digest: str
    rules: str
    files: Sequence[tuple[str, str]]
    outline: Outline
    amendments: Sequence[Amendment] = ()
    came: Sequence[str] = ()
    went: Sequence[str] = ()
    names: Names = field(default_factory=Names)
    why: str = ""


@dataclass(frozen=True, slots=True)
class Version:
    """One version of the settings as it was accepted, for ever; `at` is when for the first time."""

    number: int
    at: Millis
    digest: str
    rules: str
    files: tuple[tuple[str, str], ...]
    outline: Outline


@dataclass(frozen=True, slots=True)
class TakenUp:
    """One taking up, a row for ever: which version, at whose wish, and what that changed. `renamed` are ids that go
    on under another, each as a clause.
    """

    at: Millis
    number: int
    who: str
    amendments: tuple[Amendment, ...] = ()
    came: tuple[str, ...] = ()
    went: tuple[str, ...] = ()
    renamed: tuple[str, ...] = ()
    why: str = ""


class Versions(Protocol):
    """Which settings were in force when."""

    def take_up(self, taking: Taking) -> TakenUp:
        """Put settings in force, durably, as a whole with everything that follows from it. Each pair of texts and
        rules has one number, from 1, however often it is taken up; taking up what is in force already writes
        nothing and answers with the row that is there.

        What bears an old id of `names` goes on under the new one: its readings, phases, standing alarms (each with a
        step RENAMED), what waits to be told, and all history; what people were told in words stays as it was said.
        Where both ids have something the new one's stays: of readings of one time the one that arrived first, and an
        alarm of the old id ends (REMOVED, `settings changed`). An old id that nothing is known of changes nothing.
        """

    def in_force(self) -> Version | None:
        """The version last taken up, None at first."""

    def version(self, number: int) -> Version | None:
        """One version, None when there is none of that number."""

    def taken_up(self, limit: int = 100) -> list[TakenUp]:
        """The newest takings up, newest last."""


Mark = Mapping[str, int]
"""How much of each thing was kept at a moment; opaque, and JSON."""


@dataclass(frozen=True, slots=True)
class Shift:
    """A clock was off by `by`: in all that was kept above `above` and stamped by it from `begin` to `end`.

    `now` is what it is truly. `anew` says how far a reading is to be trusted whose own time was ahead of that clock
    (AHEAD or EARLY), with `received_at` put right. `standing` is kept with it. `overtaken`: also what lies later than
    now by our own stamps and was kept before is false. `alive` is called every now and then while it lasts.
    """

    by: Millis
    begin: Millis
    end: Millis
    now: Millis
    above: Mark
    anew: Callable[[Reading], Quality]
    standing: Sequence[Standing] = ()
    overtaken: bool = False
    alive: Callable[[], None] = lambda: None


class Timekeeping(Protocol):
    """What is kept when the true time becomes known only afterwards."""

    def mark(self) -> Mark:
        """How much of everything is kept now."""

    def settle(self, standing: Sequence[Standing]) -> None:
        """Keep standing documents by themselves, durably."""

    def shift(self, shift: Shift) -> None:
        """Move times as one whole, durably.

        Readings above the mark without a time of their own, and received by `end`: `at` and `received_at` by `by`;
        one that would meet another of its probe goes a millisecond later, so none is lost. Readings with a time of
        their own keep it, `received_at` is moved; those that were AHEAD or EARLY get the quality that `anew` says,
        and one that is trusted only now arrives once more, under the next arrival number. Undated values, refusals,
        rounds, transitions, past episodes, advice, decisions, notices, diary, requests and settings above the mark are moved;
        alarms that stand, what waits to be told and when a post was sent from `begin` on, whenever they were kept.
        `overtaken`: every reading without a time of its own that is still more than a minute later than `now` becomes
        undated under its arrival number, received `now`. Nothing of this counts as another reading, and no number is used again.
        """


class Summaries(Protocol):
    """Readings summed up over long times."""

    def summarise(self, upto: Millis) -> bool:
        """Sum up some of the hours that were over by `upto` and are not yet summed up; true when there was something to
        do, so that it is asked again. Changes nothing that is read.
        """

    def spans(self, probe: str, edges: Sequence[Millis]) -> list[Bucket]:
        """One probe's trusted readings between each two edges, edges[n] <= at < edges[n + 1], in order of time; a span
        without readings is left out. Edges rise, and may lie anywhere: a keeper's days are not all of one length.
        """


class Store(Readings, Journal, Requests, Outbox, Versions, Timekeeping, Summaries, Protocol):
    """Everything a site keeps. Opening a store for writing takes its lock (StoreTaken when it is held). One
    opened for reading only takes no lock, answers every question, and writes nothing but `ask`; anything else
    raises StoreError.
    """

    def close(self) -> None:
        """Finish what was begun and let go of the lock; closing twice is no error."""
