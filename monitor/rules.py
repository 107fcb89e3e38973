"""The keeper's settings as frozen values in canonical units: what every pure room is handed.

`settings` makes a `Rules` out of YAML; nothing else does, except tests. Every limit carries where it
comes from, so that an alarm can say so. One `Rules` is one numbered version; a round uses exactly one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time
from enum import StrEnum

from monitor.errors import BadValue
from monitor.readings import HOUR, MINUTE, Measures, Millis


class Units(StrEnum):
    """What the keeper reads and writes."""

    METRIC = "metric"
    US = "us"


class HourClock(StrEnum):
    """How the keeper reads the hours."""

    DAY = "24-hour"
    HALF = "12-hour"


class TimeZone(str):
    """An IANA name as it is handed from room to room, and by which clock whoever lives there reads the hours."""

    __slots__ = ("clock",)
    clock: HourClock

    def __new__(cls, name: str, clock: HourClock = HourClock.DAY) -> TimeZone:
        """`name` as it is, with the clock beside it."""
        one = super().__new__(cls, name)
        one.clock = clock
        return one

    def __reduce__(self) -> tuple[type[TimeZone], tuple[str, HourClock]]:
        return TimeZone, (str(self), self.clock)


class Unit(StrEnum):
    """What a probe sends."""

    CELSIUS = "Cel"
    FAHRENHEIT = "degF"
    KELVIN = "K"
    HUMIDITY = "%RH"
    PERCENT = "%"
    RATIO = "/"
    COUNTS = "counts"
    KILOGRAM = "kg"
    GRAM = "g"
    POUND = "lb"
    WATT = "W"
    SWITCH = "on/off"


class Role(StrEnum):
    """What a zone is for."""

    LIVING = "living"
    AT_THE_MAT = "at-the-mat"
    FINISHED = "finished"
    EDGE = "edge"


class JudgeBy(StrEnum):
    """`refuge`: a bin is in alarm when no living zone is inside; `every-zone`: each zone for itself."""

    REFUGE = "refuge"
    EVERY_ZONE = "every-zone"


class Level(StrEnum):
    """How far out of its climate a subject is."""

    COMFORT = "comfort"
    HARM = "harm"


class Control(StrEnum):
    """What switches a mat."""

    THERMOSTAT = "thermostat"
    TIMER = "timer"
    HAND = "hand"
    ALWAYS = "always"
    UNKNOWN = "unknown"


class Ability(StrEnum):
    """What a person may do; a notice that asks for anything else is not theirs to wake for."""

    WATER = "water"
    FEED = "feed"
    MATS = "mats"


class Remedy(StrEnum):
    """What a bin's `can` allows besides its mats and water. Never advise what is not possible."""

    INSULATE = "insulate"
    MOVE = "move"
    SHADE = "shade"
    AIR = "air"
    COVER = "cover"


class Bedding(StrEnum):
    """What a bed is made of, as far as a squeeze of the hand needs to know."""

    MIXED = "mixed"
    """Or not known."""
    PAPER = "paper"
    """Shredded paper or cardboard."""
    COIR = "coir"
    PEAT = "peat"
    MANURE = "manure"
    COMPOST = "compost"
    """Finished, or nearly."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a probe's value stands on the wire.

    `field` and `time` are JSON Pointers (RFC 6901), `name` a resolved SenML name (RFC 8428);
    with none of them the payload is a plain number.
    """

    topic: str
    sends: Unit
    field: str | None = None
    time: str | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Point:
    """One calibration point of a moisture probe: what it sent in bedding of known wet-basis moisture (%)."""

    counts: float
    moisture: float
    taken: date | None = None


@dataclass(frozen=True, slots=True)
class Probe:
    """One quantity at one place. `every` is its interval, None until it is learned from its gaps."""

    id: str
    measures: Measures
    source: Source
    every: Millis | None = None
    calibration: tuple[Point, ...] = ()
    offset: float = 0.0
    """Added to a temperature (K), a humidity (points) or a mass (kg) when it is judged or shown; never to what is stored."""
    scale: float = 1.0
    """What it sends is multiplied by this before `offset` is added."""
    since: Millis | None = None
    """From when it stands here, None: from ever. A probe that is moved stands in several zones, one after the other."""
    until: Millis | None = None
    """Up to when, not included; None: for ever."""

    @property
    def moved(self) -> bool:
        """Whether it has not always stood here, or will not for ever."""
        return self.since is not None or self.until is not None

    def stands(self, at: Millis) -> bool:
        """Whether it stood here then: what it said at any other time is of another place."""
        return (self.since is None or self.since <= at) and (self.until is None or at < self.until)

    @property
    def judged(self) -> bool:
        """Whether its value can be compared with a limit: a moisture probe needs two points."""
        return self.measures is not Measures.MOISTURE or len(self.calibration) >= 2


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit with where it comes from. `mark` says how well it is founded: seen, seen-2nd, memory, derived,
    common practice, proposal, or settings when the keeper wrote it.
    """

    value: float
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class Harm:
    """Harm is entered at or beyond `bound` for `lasting`. `below` says on which side; the number counts."""

    below: bool
    bound: Bound
    lasting: Millis


@dataclass(frozen=True, slots=True)
class Limits:
    """Comfort and harm of one quantity (°C or % wet basis) for one subject, with delays and deadband."""

    low: Bound | None
    high: Bound | None
    harm: tuple[Harm, ...] = ()
    deadband: float = 0.5
    comfort_delay: Millis = HOUR
    off_delay: Millis = HOUR

    def __post_init__(self) -> None:
        if self.low and self.high and self.low.value >= self.high.value:
            raise BadValue(f"comfort runs from {self.low.value} to {self.high.value}: low must be below high")
        if self.deadband < 0:
            raise BadValue(f"a deadband cannot be {self.deadband}")


HARM_DELAY: Millis = 30 * MINUTE
"""On-delay of a harm limit that names none (proposal)."""

Climate = Mapping[Measures, Limits]


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of a bin with its own probes and, when it is judged for itself, its own limits."""

    id: str
    role: Role
    probes: tuple[Probe, ...]
    limits: Climate
    """What holds here: the bin's, narrowed by the zone's own."""


@dataclass(frozen=True, slots=True)
class Vessel:
    """What the bed lies in. Floor in m², depth in m."""

    kind: str = "tub"
    floor: float | None = None
    depth: float | None = None
    drains: bool | None = None
    cover: str | None = None
    walls: str | None = None
    """What its walls are made of: `plastic`, `felt`, `plywood`, `wood`, `foam`; None: what its kind is mostly made of."""


@dataclass(frozen=True, slots=True)
class Bin:
    """One bin. Masses in kg. `limits` is what holds for the bin as a whole (judged by refuge)."""

    id: str
    name: str
    species: tuple[str, ...]
    place: str
    zones: tuple[Zone, ...]
    limits: Climate
    vessel: Vessel = Vessel()
    worms: float | None = None
    bedding: float | None = None
    started: date | None = None
    can: frozenset[Remedy] = frozenset()
    judge: JudgeBy = JudgeBy.REFUGE
    wake_for: Level = Level.HARM
    made_of: Bedding = Bedding.MIXED


@dataclass(frozen=True, slots=True)
class Mat:
    """One plug. Watts; `warms` names (bin, zone) pairs; `set_to` in °C when a thermostat holds it."""

    id: str
    warms: tuple[tuple[str, str], ...]
    control: Control = Control.UNKNOWN
    power: float | None = None
    set_to: float | None = None
    state: Source | None = None
    """Where its plug says what it draws, or whether it is on."""
    hours: tuple[time, Millis] | None = None
    """When a timer switches it on (local), and for how long."""
    follow: bool = False
    """Whether a switch may follow what we say of it (`advice.follow`)."""


def plug_id(mat: str) -> str:
    """Under which id a mat's plug is kept among the probes: no probe can have it."""
    return f"mat:{mat}"


@dataclass(frozen=True, slots=True)
class Place:
    """The air the bins stand in. All advice for one place is one decision."""

    id: str
    name: str
    probes: tuple[Probe, ...] = ()


PATIENCE: Millis = 30 * MINUTE
"""How long an answer to harm is waited for before the next is told (proposal)."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who is told. Sleeping hours run from `evening` to `up`, local; without both there are none.

    `hears` holds ids of places or bins; None is everything. `then` is who is told next of harm that is not seen
    within `after`. `away` are days, first and last, both counted. `sign_of_life`: when a line comes each day.
    """

    id: str
    channels: tuple[str, ...]
    evening: time | None = None
    up: time | None = None
    may: frozenset[Ability] = frozenset(Ability)
    hears: frozenset[str] | None = None
    then: str | None = None
    after: Millis = PATIENCE
    away: tuple[tuple[date, date], ...] = ()
    sign_of_life: time | None = None


@dataclass(frozen=True, slots=True)
class Site:
    """The site as a whole; `timezone` is an IANA name."""

    id: str
    name: str
    timezone: str = "UTC"
    units: Units = Units.METRIC


@dataclass(frozen=True, slots=True)
class Weekly:
    """When the week is told over a channel: on this day (0 is Monday), at this time, else when whoever it is for gets up."""

    weekday: int = 0
    clock: time | None = None


@dataclass(frozen=True, slots=True)
class Energy:
    """What a kilowatt-hour costs, in `currency` (ISO 4217)."""

    price: float
    currency: str


@dataclass(frozen=True, slots=True)
class Rules:
    """One version of everything that is judged by. Channel addresses are secrets and not in here."""

    site: Site
    places: Mapping[str, Place]
    bins: Mapping[str, Bin]
    mats: Mapping[str, Mat] = field(default_factory=dict)
    people: Mapping[str, Person] = field(default_factory=dict)
    weekly: Mapping[str, Weekly] = field(default_factory=dict)
    """Which channels tell the week, and when."""
    energy: Energy | None = None
    version: str = "1"

    def probes(self) -> dict[str, Probe]:
        """Every probe by id: of places and of zones; one that was moved as it stands last."""
        found = [p for place in self.places.values() for p in place.probes]
        found += [p for bed in self.bins.values() for zone in bed.zones for p in zone.probes]
        return {p.id: p for p in sorted(found, key=lambda p: p.since or 0)}

    def plugs(self) -> dict[str, Probe]:
        """What speaks for the mats whose plugs do: a probe of power each, by its own id (`mat:long-mat`)."""
        speaking = {plug_id(mat.id): mat.state for mat in self.mats.values() if mat.state is not None}
        return {id_: Probe(id_, Measures.POWER, state) for id_, state in speaking.items()}

    def sources(self) -> dict[str, Probe]:
        """Everything that is listened to, by id: probes and plugs."""
        return {**self.probes(), **self.plugs()}

    def mats_of(self, bed: str) -> tuple[Mat, ...]:
        """The mats that warm any zone of a bin."""
        return tuple(m for m in self.mats.values() if any(b == bed for b, _ in m.warms))
