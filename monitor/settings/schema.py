"""The shape of the file: every key, what it may hold, and an example of each that must be there.

This is the file as the keeper writes it; `assemble` turns it into `Rules`.
"""

from __future__ import annotations

from datetime import time
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo

from monitor.readings import DAY, Measures
from monitor.rules import HARM_DELAY, Bedding, Control, HourClock, JudgeBy, Level, Role, Unit, Units
from monitor.settings import fields as f
from monitor.settings.mistakes import Misread
from monitor.settings.readers import Reader, web_address


def _needed(example: Any) -> Any:
    """A field that must be written; `example` is what a hint shows."""
    return Field(examples=[example])


class Shape(BaseModel):
    """Strict: no key that is not ours, nothing repeated in errors, nothing changed once read."""

    # built with the whole file when that is first read: each by itself too would cost every command its time
    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, hide_input_in_errors=True, defer_build=True
    )


class SecretShape(Shape):
    """Where a secret is kept: exactly one of the two."""

    from_file: f.SecretFile | None = None
    from_env: f.Environment | None = None


SecretAt = Annotated[SecretShape, f.NoBareSecret]


class WrittenAddress(SecretShape):
    """An address that stands in the file itself: no shape that anybody writes."""

    written: str


def _address(value: object, info: ValidationInfo) -> object:
    if isinstance(value, dict):
        return value
    several = "Write the address as text, or {from_file: name} or {from_env: NAME}."
    return WrittenAddress(written=f.read(value, info, web_address, several))


AddressAt = Annotated[SecretShape, BeforeValidator(_address)]
"""A web address that may hold a key: written as it is, or where it is kept."""


class SiteLimits(Shape):
    """What differs from the species: comfort, harm, deadband, delays, by quantity."""

    temperature: TemperatureLimits | None = None
    moisture: MoistureLimits | None = None


class HarmAt(Shape):
    """One harm limit of temperature: one side, and how long."""

    below: f.BedTemperature | None = None
    above: f.BedTemperature | None = None
    lasting: f.Lasting = 0
    """Without it: at once, as the one number after which nobody waits."""


class MoistureHarmAt(Shape):
    """One harm limit of moisture: one side, and how long."""

    below: f.Percent | None = None
    above: f.Percent | None = None
    lasting: f.Lasting = 0
    """Without it: at once, as the one number after which nobody waits."""


def _both_ends(kind: type[Shape], read: Reader[tuple[float, float]]) -> BeforeValidator:
    """`15..32 °C` under harm: both ends with the default delay."""

    def split(value: object, info: ValidationInfo) -> object:
        if not isinstance(value, str):
            return value
        try:
            if ".." not in value:
                raise Misread("Harm has a side.", "Write [{below: 5}], [{above: 30}] or both ends as 5..30.")
            low, high = read(value, f.site_units(info))
        except Misread as misread:
            raise f.foreign(misread) from None
        return [
            kind.model_construct(below=low, above=None, lasting=HARM_DELAY),
            kind.model_construct(below=None, above=high, lasting=HARM_DELAY),
        ]

    return BeforeValidator(split)


class TemperatureLimits(Shape):
    """Limits of temperature, in °C."""

    comfort: f.BedBand | None = None
    harm: Annotated[list[HarmAt], _both_ends(HarmAt, f.BED_ENDS)] | None = None
    deadband: f.Degrees | None = None
    comfort_delay: f.Delay | None = None
    off_delay: f.Delay | None = None


class MoistureLimits(Shape):
    """Limits of moisture, in % wet basis."""

    comfort: f.DampBand | None = None
    harm: Annotated[list[MoistureHarmAt], _both_ends(MoistureHarmAt, f.DAMP_ENDS)] | None = None
    deadband: f.Points | None = None
    comfort_delay: f.Delay | None = None
    off_delay: f.Delay | None = None


class SiteShape(Shape):
    """The site as a whole."""

    id: f.Word = _needed("orchard")
    name: f.Name | None = None
    timezone: f.Word | None = None
    units: f.UnitsOf = Units.METRIC
    clock: f.ClockOf = HourClock.DAY
    limits: SiteLimits = SiteLimits()


class BrokerShape(Shape):
    """Where the probes' messages come from."""

    url: f.BrokerUrl = ("localhost", 1883, False)
    user: f.Word | None = None
    password: SecretAt | None = None
    ca_file: f.FileName | None = None
    protocol: f.ProtocolOf = f.Protocol.AUTO
    client_id: f.Word | None = None


class StoreShape(Shape):
    """Where what is kept is kept."""

    path: f.FileName = _needed("/var/lib/vermistat/vermistat.db")


class DatabaseShape(Shape):
    """Where readings go on to: a database with an InfluxDB API."""

    url: f.WebAddress = _needed("http://localhost:8086")
    bucket: f.Word = _needed("worms")
    org: f.Word | None = None
    token: SecretAt | None = None
    ca_file: f.FileName | None = None
    here: f.Kept = 8 * DAY


class KeepShape(Shape):
    """How many backups are kept."""

    days: f.KeptDays = 7
    weeks: f.KeptWeeks = 5


class BackupShape(Shape):
    """Backups made every night."""

    to: f.FileName = _needed("/mnt/stick")
    at: f.Clock = time(3, 30)
    keep: KeepShape = KeepShape()
    same_disk: f.Truth = False


class PointShape(Shape):
    """One calibration point."""

    counts: f.Number = _needed("2700")
    moisture: f.Percent = _needed("12 %")
    taken: f.Day | None = None


class ProbeShape(Shape):
    """One quantity at one place."""

    measures: f.Quantities = _needed("temperature")
    topic: f.Topic = _needed("probes/fig-west")
    field: f.Pointer | None = None
    time: f.Pointer | None = None
    name: f.SenMLName | None = None
    sends: f.Sends | None = None
    every: f.Interval | None = None
    calibration: list[PointShape] | None = None
    offset: f.Offset | None = None
    scale: f.ScaleOf | None = None
    since: f.Hour | None = None
    until: f.Hour | None = None
    was: f.OldId | None = None


class PlaceShape(Shape):
    """The air that bins stand in."""

    name: f.Name | None = None
    probes: dict[str, ProbeShape] = {}
    was: f.OldId | None = None


class ZoneShape(Shape):
    """A part of a bin."""

    role: f.RoleOf = Role.LIVING
    probes: dict[str, ProbeShape] = _needed({})
    limits: SiteLimits = SiteLimits()
    was: f.OldId | None = None


class VesselShape(Shape):
    """What a bed lies in. Of floor, depth and what it holds, two give the third."""

    kind: f.VesselOf = f.VesselKind.TUB
    floor: f.Area | None = None
    depth: f.Depth | None = None
    holds: f.Volume | None = None
    drains: f.Truth | None = None
    cover: f.CoverOf | None = None
    walls: f.WallsOf | None = None


class BinShape(Shape):
    """One bin."""

    name: f.Name | None = None
    species: Annotated[list[f.Word], f.OneOrMore] = _needed("eisenia-fetida")
    stands_in: f.Word | None = None
    started: f.Day | None = None
    worms: f.Mass | None = None
    bedding: f.Mass | None = None
    made_of: f.MadeOf = Bedding.MIXED
    vessel: VesselShape = VesselShape()
    can: list[f.Can] = []
    judge: f.Judging = JudgeBy.REFUGE
    wake_for: f.WakeFor = Level.HARM
    zones: dict[str, ZoneShape] = _needed({})
    limits: SiteLimits = SiteLimits()
    like: f.Word | None = None
    was: f.OldId | None = None


class ProfileShape(Shape):
    """How bins are kept that are kept alike: what a bin may write, in which `<bin>` and `<number>` are filled in."""

    bins: Annotated[list[f.BinIds], f.OneOrMore] = []
    name: f.Name | None = None
    species: Annotated[list[f.Word], f.OneOrMore] | None = None
    stands_in: f.Word | None = None
    started: f.Day | None = None
    worms: f.Mass | None = None
    bedding: f.Mass | None = None
    vessel: VesselShape | None = None
    can: list[f.Can] | None = None
    judge: f.Judging | None = None
    wake_for: f.WakeFor | None = None
    zones: dict[str, ZoneShape] = {}
    limits: SiteLimits | None = None


class StateShape(Shape):
    """Where a mat's plug says what it draws, or whether it is on."""

    topic: f.Topic = _needed("plugs/long")
    field: f.Pointer | None = None
    time: f.Pointer | None = None
    name: f.SenMLName | None = None
    sends: f.PlugSends = Unit.WATT


class MatShape(Shape):
    """One plug with a mat on it."""

    warms: Annotated[list[f.ZoneName], f.OneOrMore] = _needed("fig.west")
    power: f.Power | None = None
    control: f.ControlOf = Control.UNKNOWN
    set_to: f.BedTemperature | None = None
    on_from: f.Clock | None = None
    on_for: f.Patience | None = None
    state: StateShape | None = None
    follow: f.Truth = False
    was: f.OldId | None = None


class PersonShape(Shape):
    """Who is told."""

    channels: Annotated[list[f.Word], f.OneOrMore] = _needed("phone")
    evening: f.Clock | None = None
    up: f.Clock | None = None
    may: list[f.May] | None = None
    hears: Annotated[list[f.Word], f.OneOrMore] | None = None
    then: f.Word | None = None
    after: f.Patience | None = None
    was: f.OldId | None = None
    away: Annotated[list[f.Days], f.OneOrMore] = []
    sign_of_life: f.Clock | None = None


class ChannelShape(Shape):
    """One address that notices go to."""

    send_to: SecretAt = _needed({"from_file": "phone-url"})
    weekly_report: f.WeekTime | None = None
    was: f.OldId | None = None


class PageShape(Shape):
    """The page."""

    listen: f.Listen = ("127.0.0.1", 8420)
    address: f.WebAddress | None = None
    passphrase: SecretAt | None = None
    asks_for: f.AsksFor | None = None


class EnergyShape(Shape):
    """What a kilowatt-hour costs."""

    price: f.Number = _needed("0.28")
    currency: f.Currency = _needed("EUR")


class OutdoorsShape(Shape):
    """The outdoor forecast, from a topic or from a web address."""

    topic: f.Topic | None = None
    url: AddressAt | None = None
    every: f.Interval | None = None
    times: f.Pointer = _needed("/hours/time")
    temperatures: f.Pointer = _needed("/hours/celsius")
    sends: f.AirSends = Unit.CELSIUS


class FileShape(Shape):
    """The whole file."""

    include: Annotated[list[f.FileName], f.OneOrMore] = []
    site: SiteShape = _needed({"id": "orchard"})
    broker: BrokerShape = BrokerShape()
    store: StoreShape | None = None
    database: DatabaseShape | None = None
    backup: BackupShape | None = None
    places: dict[str, PlaceShape] = {}
    bins: dict[str, BinShape] = _needed({})
    profiles: dict[str, ProfileShape] = {}
    mats: dict[str, MatShape] = {}
    people: dict[str, PersonShape] = {}
    channels: dict[str, ChannelShape] = {}
    page: PageShape | None = None
    energy: EnergyShape | None = None
    outdoors: OutdoorsShape | None = None
    publishers: Annotated[list[f.Publisher], f.OneOrMore] = []


SENDS: dict[Measures, tuple[str, ...]] = {
    Measures.TEMPERATURE: ("Cel", "degF", "K"),
    Measures.HUMIDITY: ("%RH", "%", "/"),
    Measures.MOISTURE: ("counts", "%", "/"),
    Measures.MASS: ("kg", "g", "lb"),
}
"""What a probe of each quantity may send; the first is the default (a moisture probe without calibration: `%`)."""
