"""The shapes of `--json`, one for every command but `run` and `demo`; those that look back stand in `alarm_shapes`.

Times are RFC 3339 in UTC, to the second. Numbers are canonical, whatever the site reads: °C, per cent of wet
mass, %RH, seconds; `unit` says which, and `as sent` is what an uncalibrated moisture probe says. Whatever is
called `sentence`, `why`, `about` or `words` is for people: in the site's own units and local time. A test holds
every command's output to these, with nothing missing and nothing more.
"""

from __future__ import annotations

from typing import TypedDict


class ValueShape(TypedDict):
    """What one probe says: the newest value that can be believed, and what is wrong with a newer one (`doubt`).

    `at` and `age_seconds` are null when there is no such value. `fresh` is whether it may be judged by; `doubt`
    reads on behind the name of the probe.
    """

    probe: str
    measures: str
    value: float | None
    unit: str
    at: str | None
    age_seconds: int | None
    fresh: bool
    doubt: str | None


class ZoneShape(TypedDict):
    """One zone with what its probes last said."""

    id: str
    role: str
    values: list[ValueShape]


class OutsideShape(TypedDict):
    """One way in which a bin, or a zone judged for itself, is outside now: `apart` from `limit`, on its wrong
    side.

    `level` is the worst range the value lies in. `alarm` is the number of the alarm that says so; without one
    `alarm_at` is when there will be one if it lasts, null when that is not known.
    """

    subject: str
    zone: str
    condition: str
    level: str
    value: float
    limit: float
    apart: float
    unit: str
    alarm: int | None
    alarm_at: str | None


class BinShape(TypedDict):
    """One bin: how it is in a sentence, in what it is outside, its zones and the numbers of its alarms."""

    id: str
    name: str
    place: str
    species: list[str]
    sentence: str
    outside: list[OutsideShape]
    zones: list[ZoneShape]
    alarms: list[int]


class AirShape(TypedDict):
    """The air of one place."""

    place: str
    name: str
    values: list[ValueShape]


class OrderShape(TypedDict):
    """One thing to do. `sentence` is for whom, what and by when; `more` stands behind it: readings, limit, source.

    `seen` is whether every alarm it answers has been acknowledged, `shelved` whether all of them are put aside. It was
    made `at` and may be followed until `valid_until`.
    """

    at: str
    place: str
    act: str
    target: str
    sentence: str
    words: str
    why: str
    cautions: list[str]
    more: list[str]
    by: str | None
    urgent: bool
    alarms: list[int]
    seen: bool
    shelved: bool
    valid_until: str


class MatShape(TypedDict):
    """One mat: whether it is `on`, `at` which moment that was so, and who says it: its `plug` or the `diary`. All of
    these are null when nobody does; `watts` is null where the plug does not tell.
    """

    id: str
    on: bool | None
    watts: float | None
    at: str | None
    told_by: str | None
    sentence: str


class NoteShape(TypedDict):
    """Something else to know: `refused`, `not believed`, `kept by the broker`, `time unknown`, `contradicted`,
    `notice waits`, `notice given up`, `answer waits`, `working` (in a bin), `shelved` or `no advice` (an alarm that no
    order answers), `no page` (that is served), `times put right`, `times unknown`, `elsewhere` (older readings in a database
    no longer named) or `care` (food or water that is due; `vermistat now` alone, of twelve bins at most).

    `about` is a probe, a topic, a channel, a bin or an alarm's number; `count` how often.
    """

    kind: str
    about: str
    sentence: str
    at: str | None
    count: int


class ClockShape(TypedDict):
    """While the time is not known: since when, by the site's own reckoning, and what that means for every time shown."""

    since: str
    sentence: str


class ClockStateShape(TypedDict):
    """`vermistat clock`. `belief` is `proven`, `believed` or `unsure`, null before a daemon has looked; `at` is the site's
    time and `machine` what the machine's clock says. `request` is the number of a word that was left with --right.
    """

    at: str
    machine: str
    belief: str | None
    unsure_since: str | None
    sentence: str
    notes: list[NoteShape]
    request: int | None


class NowShape(TypedDict):
    """`vermistat now`. `watching` is whether the last round is recent, so that what is shown is being judged; `clock` is
    null while the time is known.
    """

    site: str
    units: str
    timezone: str
    at: str
    last_round: str | None
    watching: bool
    clock: ClockShape | None
    to_do: list[OrderShape]
    bins: list[BinShape]
    air: list[AirShape]
    mats: list[MatShape]
    notes: list[NoteShape]


class HeldShape(TypedDict):
    """Who keeps an alarm from being told, since when, until when, and what they said."""

    who: str
    since: str
    until: str
    note: str


class AlarmShape(TypedDict):
    """One standing alarm. `state`, `condition`, `level` and `priority` are the standard's words.

    `sentence` is the reading and the limit; `needs_answer` whether it stays until somebody has seen it.
    `suppressed_by` names the alarm that explains it, so that it is not told; `shelved` and `out_of_service` say
    who keeps it from being told for a while.
    """

    number: int
    about: str
    subject: str
    place: str
    condition: str
    state: str
    level: str | None
    priority: str
    since: str
    raised_at: str
    sentence: str
    arithmetic: str
    source: str
    mark: str
    needs_answer: bool
    seen_by: str | None
    seen_at: str | None
    suppressed_by: str | None
    shelved: HeldShape | None
    out_of_service: HeldShape | None


class ShelfShape(HeldShape):
    """What is shelved, whether or not it is there now (`stands`). `number` is the alarm it was put there for."""

    number: int
    about: str
    stands: bool


class WorkShape(HeldShape):
    """A bin in which somebody works."""

    bin: str
    about: str


class AlarmsShape(TypedDict):
    """`vermistat alarms`: what stands, everything that is shelved, and every bin that is worked in."""

    at: str
    clock: ClockShape | None
    alarms: list[AlarmShape]
    shelves: list[ShelfShape]
    works: list[WorkShape]


class EvidenceShape(TypedDict):
    """Why one step was taken. `arithmetic` is the line that can be followed by hand, in canonical units; what is told ahead
    and of mats is in the site's own.

    `value`, `limit` and `unit` are null and empty for conditions without a limit. `outdoors_age_h` is how old the outdoor
    forecast was that something ahead was told by; null where none was.
    """

    at: str
    event: str
    sentence: str
    arithmetic: str
    value: float | None
    limit: float | None
    unit: str
    source: str
    mark: str
    outdoors_age_h: float | None


class ReadingShape(TypedDict):
    """One of the stored readings by which the alarm was raised."""

    probe: str
    at: str
    value: float
    unit: str
    believed: bool


class StepShape(TypedDict):
    """One step of one alarm. `who` did it, and `note` is what they said; null and empty when nobody did. `until` is
    when a shelf or a work ends that begins with it.
    """

    at: str
    event: str
    before: str
    after: str
    level: str | None
    cause: str
    who: str | None
    note: str
    until: str | None


class SentShape(TypedDict):
    """What became of a notice on one channel: `state` is `waiting`, `sent` or `given up`."""

    channel: str
    state: str
    tries: int
    sent_at: str | None
    error: str


class ToldShape(TypedDict):
    """Why one person was, or was not, told of one step. `sent` is empty without a notice."""

    at: str
    person: str
    event: str
    verdict: str
    reason: str
    until: str | None
    notice: int | None
    sent: list[SentShape]


class DiaryShape(TypedDict):
    """One entry of the diary."""

    at: str
    who: str
    deed: str
    text: str


class WhyShape(TypedDict):
    """`vermistat why NUMBER`: one alarm from the reading to the telling.

    `state` is `normal` once it is over.
    """

    number: int
    about: str
    subject: str
    place: str
    condition: str
    state: str
    sentence: str
    readings: list[ReadingShape]
    evidence: list[EvidenceShape]
    steps: list[StepShape]
    advice: list[OrderShape]
    told: list[ToldShape]
    diary: list[DiaryShape]


class LimitShape(TypedDict):
    """One limit of a species; `lasting_minutes` 0 is at once."""

    level: str
    below: bool
    value: float
    unit: str
    lasting_minutes: float
    source: str
    mark: str


class SpeciesShape(TypedDict):
    """One species with its limits. `at_the_mat` is the hot harm of a zone right above a mat, where it differs.

    `cold_means` says what being below comfort asks for: `act` or `feed less`.
    """

    key: str
    latin: str
    common: str
    temperature: list[LimitShape]
    moisture: list[LimitShape]
    at_the_mat: list[LimitShape]
    cold_means: str
    notes: list[str]
    warning: str | None


class SpeciesListShape(TypedDict):
    """`vermistat species` and `vermistat species KEY`."""

    species: list[SpeciesShape]


class CheckShape(TypedDict):
    """`vermistat check`, also when the settings are refused: then `explained` is empty and `store` null.

    Each mistake is `file:line:column: sentence hint`. `understood` are the channels whose address was shown to the
    sender; the others' secrets are not there for whoever asks.
    """

    accepted: bool
    files: list[str]
    mistakes: list[str]
    explained: list[str]
    store: str | None
    understood: list[str]


class AmendmentShape(TypedDict):
    """One limit that became another. `zone` is null for the bin as a whole; `old` or `new` is null where there was, or is,
    none. `unit` is °C, %, points, K (of a deadband) or s (of a delay). `written` is `file:line` of the keeper's own limit.
    """

    bin: str
    zone: str | None
    quantity: str
    limit: str
    old: float | None
    new: float | None
    unit: str
    source: str
    mark: str
    written: str | None
    sentence: str


class TakenUpShape(TypedDict):
    """One taking up of a version: at whose wish and why, what it changed, what came, went, and goes on under another id."""

    number: int
    at: str
    who: str
    why: str
    changes: list[AmendmentShape]
    came: list[str]
    went: list[str]
    renamed: list[str]


class SettingsShape(TypedDict):
    """`vermistat settings`: newest last. `files_agree` is whether the files say what is in force."""

    in_force: int | None
    files_agree: bool
    files: list[str]
    taken_up: list[TakenUpShape]


class TextShape(TypedDict):
    """One file of a version as it was, without any secret."""

    name: str
    text: str


class VersionShape(TypedDict):
    """`vermistat settings NUMBER`. `rules` is the print of what was judged by, which a round names."""

    number: int
    at: str
    rules: str
    files: list[TextShape]


class AskedShape(TypedDict):
    """What somebody has asked for: `seen`, `done`, `shelve`, `later`, `unshelve`, `working`. `alarm` is 0 when it is about
    the bin of `bin`. It ends by itself at `until`. `waits` is whether no round seems to run that would apply it.
    """

    request: int
    at: str
    alarm: int
    bin: str | None
    about: str
    what: str
    who: str
    note: str
    until: str | None
    sentence: str
    last_round: str | None
    waits: bool


class SqueezeShape(TypedDict):
    """A squeezed handful, left for the next round: `zone` null is the whole bin, `low` to `high` per cent of wet mass.

    It was done at `squeezed_at` and told at `at`. `waits` is whether no round seems to run that would take it up.
    """

    request: int
    at: str
    squeezed_at: str
    bin: str
    zone: str | None
    feel: str
    bedding: str
    low: float
    high: float
    source: str
    mark: str
    who: str
    note: str
    sentence: str
    last_round: str | None
    waits: bool


class RefusedShape(TypedDict):
    """What came for a probe and could not be read, of one kind: how often ever on its topic, and the newest reason."""

    kind: str
    count: int
    last: str | None
    at: str | None


class WiredShape(TypedDict):
    """A probe at its publisher: how many readings were `good`, how many were none by what was wrong, and what is wrong now.
    `heard` is when the publisher was, to a quarter of an hour; null where it never was.
    """

    publisher: str
    alive: bool
    heard: str | None
    good: int
    faults: dict[str, int]
    says: str


class ProbeRowShape(TypedDict):
    """One probe. `placed` is `bin.zone` or a place. `every_seconds` is told by the settings or learned, null when neither.

    `quality` is that of the newest reading; `good_share` of the last day's, null when there are none, and, like
    `readings_of_a_day`, when more than a hundred probes are listed. `trouble` names the conditions of `alarms`. `doubt`,
    `trend` and `hand` read on behind its name. `battery` and `signal` are what its topic's messages told last, null when never,
    in units that are empty where none is told. `suggested` are lines of settings that would calibrate it. `wired` is null where
    no publisher named in the settings speaks of it.
    """

    probe: str
    measures: str
    placed: str
    topic: str
    heard: str | None
    every_seconds: int | None
    every_is_told: bool
    value: float | None
    unit: str
    age_seconds: int | None
    fresh: bool
    quality: str | None
    readings_of_a_day: int | None
    good_share: float | None
    alarms: list[int]
    trouble: list[str]
    doubt: str | None
    refused: list[RefusedShape]
    contradicted: int
    undated: int
    calibration: str
    battery: float | None
    battery_unit: str
    signal: float | None
    signal_unit: str
    trend: str | None
    hand: str | None
    suggested: list[str]
    wired: WiredShape | None


class ProbesShape(TypedDict):
    """`vermistat probes`: those of the site, or of `bin`, the worst first."""

    at: str
    bin: str | None
    probes: list[ProbeRowShape]


class HeardTopicShape(TypedDict):
    """One topic that was heard: which probes read it, and the lines that would add what of it nobody reads."""

    topic: str
    messages: int
    retained: bool
    last: str
    known: list[str]
    lines: list[str]


class ListenShape(TypedDict):
    """`vermistat probes --listen`: what was heard for `seconds` on topics that match `filter`, what nobody reads first.
    `more` counts messages of further topics, when there were too many to keep.
    """

    at: str
    seconds: float
    filter: str
    topics: list[HeardTopicShape]
    more: int


class JottingShape(TypedDict):
    """One entry of the diary, or one that waits for the next round.

    `number` is what `--corrects` takes, null for entries from before there were numbers. `at` is when it happened,
    `written_at` when it was said. `subject` is `bin:fig`, `zone:fig.west`, `mat:long-mat`, `probe:fig-east`, or empty
    for the site; `about` is what it is called. `amount` is in `unit` (kg, L, W). `corrects` is the entry it stands for instead,
    `corrected_by` the one that stands for it.
    """

    number: int | None
    at: str
    written_at: str
    who: str
    about: str
    subject: str
    deed: str
    amount: float | None
    unit: str
    text: str
    sentence: str
    alarm: int | None
    corrects: int | None
    corrected_by: int | None
    waits: bool


class DiaryListShape(TypedDict):
    """`vermistat diary`: the newest entries by the time they tell of, newest last, and how many earlier ones there are.

    `written` is the entry that this call has left, null when it only lists; then `waits` is whether no round seems to run that
    would take it up, and `sentence` says what becomes of it.
    """

    at: str
    entries: list[JottingShape]
    earlier: int
    written: JottingShape | None
    waits: bool
    sentence: str
