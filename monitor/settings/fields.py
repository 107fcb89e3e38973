"""What one value of the file may be, as types for pydantic. The reading itself is in `readers`."""

from __future__ import annotations

from datetime import date, time
from enum import Enum
from typing import Annotated

from pydantic import BeforeValidator, PlainValidator, ValidationInfo
from pydantic_core import PydanticCustomError

from monitor.addresses import Asking
from monitor.readings import DAY, MINUTE, SECOND, Measures
from monitor.rules import Ability, Bedding, Control, HourClock, JudgeBy, Level, Remedy, Role, Unit, Units, Weekly
from monitor.settings import corrections as c
from monitor.settings import quantities as q
from monitor.settings import readers as r
from monitor.settings.mistakes import Misread

OURS = "ours"
"""The type of every error raised here; its context carries `sentence` and `hint`."""


def foreign(misread: Misread) -> PydanticCustomError:
    """A Misread as pydantic wants it. Neither sentence nor hint is used as a template."""
    return PydanticCustomError(OURS, "misread", {"sentence": misread.sentence, "hint": misread.hint})


def reads(reader: r.Reader[r.T], several: str = "") -> PlainValidator:
    """A validator that takes exactly one written value; `several` is the hint when more than one stands there."""

    def validate(value: object, info: ValidationInfo) -> r.T:
        return read(value, info, reader, several)

    return PlainValidator(validate)


def read(value: object, info: ValidationInfo, reader: r.Reader[r.T], several: str = "") -> r.T:
    """Exactly one written value, read. Raises what pydantic takes."""
    try:
        return reader(one(value, several), site_units(info))
    except Misread as misread:
        raise foreign(_plainly_quoted(value, misread)) from None


def _plainly_quoted(value: object, misread: Misread) -> Misread:
    """A word processor's quotes are letters to YAML: that is then what is wrong."""
    if isinstance(value, str) and value[:1] in ("“", "”", "„", "‘", "’", "«"):
        return Misread(misread.sentence, "“ and ” are letters here: use \" or ' instead.")
    return misread


def site_units(info: ValidationInfo) -> Units:
    """In which units a bare number is read."""
    units: Units = (info.context or {})["units"]
    return units


def one(value: object, several: str = "") -> str:
    """The text of a single value. Raises Misread for a list or a mapping."""
    if not isinstance(value, str):
        away = "Take the brackets or the lines below it away."
        raise Misread("One value is expected here, not several.", several or away)
    return value


def _listing(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _no_bare_secret(value: object) -> object:
    if isinstance(value, str):
        hint = "Write {from_file: name} or {from_env: NAME} instead."
        raise foreign(Misread("A secret does not stand in this file.", hint))
    return value


OneOrMore = BeforeValidator(_listing)
"""A single word where a list may stand is a list of one."""
NoBareSecret = BeforeValidator(_no_bare_secret)


class VesselKind(Enum):
    """What a bed lies in."""

    TUB = "tub"
    CRATE = "crate"
    TRAYS = "trays"
    BARREL = "barrel"
    BAG = "bag"
    TROUGH = "trough"
    FLOW_THROUGH = "flow-through"
    WINDROW = "windrow"
    PIT = "pit"


class Walls(Enum):
    """What a vessel's walls are made of."""

    PLASTIC = "plastic"
    FELT = "felt"
    PLYWOOD = "plywood"
    WOOD = "wood"
    FOAM = "foam"


class CoverKind(Enum):
    """What lies on top of a bed."""

    NONE = "none"
    LOOSE = "loose"
    TIGHT = "tight"


class Protocol(Enum):
    """Which MQTT is spoken."""

    AUTO = "auto"
    FIVE = "5"
    THREE = "3.1.1"


_SENDS_SLIPS = dict.fromkeys(["c", "°c", "celsius", "degc", "℃", "cel"], "Cel")
_SENDS_SLIPS |= dict.fromkeys(["f", "°f", "fahrenheit", "degf", "℉"], "degF")
_SENDS_SLIPS |= {"kelvin": "K", "k": "K", "percent": '"%"', "rh": '"%RH"', "%rh": '"%RH"', "raw": "counts"}

BedTemperature = Annotated[float, reads(r.amount(q.TEMPERATURE, r.BED_COLDEST, r.BED_HOTTEST))]
Degrees = Annotated[float, reads(r.amount(q.DEGREES, 0, 10))]
Percent = Annotated[float, reads(r.amount(q.PERCENT, 0, 100))]
Points = Annotated[float, reads(r.amount(q.PERCENT, 0, 30))]
Mass = Annotated[float, reads(r.amount(q.MASS, 0.001, 100_000))]
Volume = Annotated[float, reads(r.amount(q.VOLUME, 0.1, 100_000))]
Power = Annotated[float, reads(r.amount(q.POWER, 0.1, 10_000))]
Area = Annotated[float, reads(r.amount(q.AREA, 0.001, 10_000))]
Depth = Annotated[float, reads(r.amount(q.LENGTH, 0.01, 5))]
Kept = Annotated[int, reads(r.span(2 * DAY, 366 * DAY))]
Interval = Annotated[int, reads(r.span(SECOND, 7 * DAY))]
Delay = Annotated[int, reads(r.span(0, 14 * DAY))]
Lasting = Annotated[int, reads(r.lasting)]
Patience = Annotated[int, reads(r.span(MINUTE, DAY))]

BED_ENDS = r.spread(q.TEMPERATURE, r.BED_COLDEST, r.BED_HOTTEST)
DAMP_ENDS = r.spread(q.PERCENT, 0, 100)
_BOTH_ENDS = "Write both ends with two points between them: 15..25."
BedBand = Annotated[tuple[float, float], reads(BED_ENDS, _BOTH_ENDS)]
DampBand = Annotated[tuple[float, float], reads(DAMP_ENDS, _BOTH_ENDS)]

Offset = Annotated[c.Shift, reads(c.shift)]
ScaleOf = Annotated[float, reads(c.scale)]
Hour = Annotated[tuple[date, time], reads(r.hour)]
Number = Annotated[float, reads(r.number)]
KeptDays = Annotated[int, reads(r.whole(1, 366))]
KeptWeeks = Annotated[int, reads(r.whole(0, 520))]
Truth = Annotated[bool, reads(r.truth)]
_OF_AIR = (Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN)
_OF_PLUGS = (Unit.WATT, Unit.SWITCH)
Quantities = Annotated[
    Measures,
    reads(
        r.choice(Measures, {"temp": "temperature", "rh": "humidity", "weight": "mass"}, without=(Measures.POWER,))
    ),
]
Sends = Annotated[Unit, reads(r.choice(Unit, _SENDS_SLIPS, without=_OF_PLUGS))]
AirSends = Annotated[Unit, reads(r.choice(Unit, _SENDS_SLIPS, without=[u for u in Unit if u not in _OF_AIR]))]
PlugSends = Annotated[Unit, reads(r.choice(Unit, without=[u for u in Unit if u not in _OF_PLUGS]))]
RoleOf = Annotated[Role, reads(r.choice(Role))]
ControlOf = Annotated[Control, reads(r.choice(Control))]
Judging = Annotated[JudgeBy, reads(r.choice(JudgeBy))]
WakeFor = Annotated[Level, reads(r.choice(Level))]
May = Annotated[Ability, reads(r.choice(Ability))]
Can = Annotated[Remedy, reads(r.choice(Remedy))]
UnitsOf = Annotated[Units, reads(r.choice(Units, {"imperial": "us", "si": "metric"}))]
ClockOf = Annotated[HourClock, reads(r.choice(HourClock))]
MadeOf = Annotated[
    Bedding, reads(r.choice(Bedding, {"cardboard": "paper", "coco": "coir", "castings": "compost"}))
]
VesselOf = Annotated[VesselKind, reads(r.choice(VesselKind))]
WallsOf = Annotated[Walls, reads(r.choice(Walls, {"hdpe": "plastic", "planks": "wood", "polystyrene": "foam"}))]
CoverOf = Annotated[CoverKind, reads(r.choice(CoverKind, {"open": "none"}))]
AsksFor = Annotated[Asking, reads(r.choice(Asking))]
ProtocolOf = Annotated[Protocol, reads(r.choice(Protocol, {"3": "3.1.1", "4": "3.1.1", "5.0": '"5"'}))]

Name = Annotated[str, reads(r.words(60, "A name"))]
Word = Annotated[str, reads(r.words(80, "This"))]
FileName = Annotated[str, reads(r.path)]
Clock = Annotated[time, reads(r.clock)]
Day = Annotated[date, reads(r.day)]
Days = Annotated[tuple[date, date], reads(r.days)]
WeekTime = Annotated[Weekly | None, reads(r.week_time)]
Topic = Annotated[str, reads(r.topic)]
Pointer = Annotated[str, reads(r.pointer)]
SenMLName = Annotated[str, reads(r.senml_name)]
OldId = Annotated[str, reads(r.old_id)]
BinIds = Annotated[str, reads(r.words(80, "This"))]
ZoneName = Annotated[tuple[str, str], reads(r.zone_name)]
Currency = Annotated[str, reads(r.currency)]
Listen = Annotated[tuple[str, int], reads(r.listen)]
Publisher = Annotated[str, reads(r.publisher)]
WebAddress = Annotated[str, reads(r.web_address)]
BrokerUrl = Annotated[tuple[str, int, bool], reads(r.broker_url)]
Environment = Annotated[str, reads(r.environment)]
SecretFile = Annotated[str, reads(r.secret_file)]
