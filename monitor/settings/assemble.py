"""The checked file → `Rules` and addresses, and the number of that version."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from datetime import date, time
from enum import Enum
from functools import cache
from pathlib import Path as FilePath
from typing import Any

from monitor.addresses import Broker, Channel, Outdoors, Secret
from monitor.advice.daytime import moment
from monitor.readings import Measures
from monitor.rules import (
    PATIENCE,
    Ability,
    Bin,
    Energy,
    Limits,
    Mat,
    Person,
    Place,
    Point,
    Probe,
    Rules,
    Site,
    Source,
    TimeZone,
    Unit,
    Vessel,
    Weekly,
    Zone,
)
from monitor.settings.limits import BinClimate
from monitor.settings.schema import (
    SENDS,
    BinShape,
    BrokerShape,
    FileShape,
    MatShape,
    OutdoorsShape,
    PersonShape,
    ProbeShape,
    StateShape,
    VesselShape,
)

LITRES = 1000.0
"""In a cubic metre."""


def rules(
    model: FileShape, climates: Mapping[str, BinClimate], channels: Mapping[str, Channel] | None = None
) -> Rules:
    """Everything that is judged by, numbered by its own content; `channels` are those whose addresses are known."""
    zone = TimeZone(model.site.timezone or "UTC", model.site.clock)
    site = Site(model.site.id, model.site.name or model.site.id, zone, model.site.units)
    places = {
        key: Place(key, place.name or key, _probes(place.probes, site.timezone))
        for key, place in model.places.items()
    } or {site.id: Place(site.id, site.name)}
    only = next(iter(places))
    made = Rules(
        site,
        places,
        {key: _bin(key, bed, climates[key], only, site.timezone) for key, bed in model.bins.items()},
        {key: _mat(key, mat) for key, mat in model.mats.items()},
        {key: _person(key, person) for key, person in model.people.items()},
        weekly=_weekly(model, channels or {}),
        energy=Energy(model.energy.price, model.energy.currency) if model.energy else None,
        version="",
    )
    return replace(made, version=version_of(made))


def broker(shape: BrokerShape, password: Secret | None, ca_file: FilePath | None) -> Broker:
    """Where the probes' messages come from."""
    host, port, tls = shape.url
    return Broker(
        host,
        port,
        tls,
        str(ca_file) if ca_file is not None else None,
        shape.user,
        password,
        shape.protocol.value,
        shape.client_id or "vermistat",
    )


def outdoors(shape: OutdoorsShape | None, url: Secret | None) -> Outdoors | None:
    """Where an outdoor forecast comes from."""
    if shape is None:
        return None
    return Outdoors(shape.times, shape.temperatures, shape.topic, url, shape.every, str(shape.sends))


def version_of(made: Rules) -> str:
    """Ten hexadecimal digits that change when, and only when, something changes that is judged by."""
    return _digest(_Plain().of(replace(made, weekly={}, energy=None, version="")))[:10]


def _digest(plain: object) -> str:
    return hashlib.sha256(json.dumps(plain, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


_AS_IT_IS = (str, TimeZone, float, int, bool, type(None))


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


class _Plain:
    """Any frozen value as JSON, the same on every machine and in every run. Limits, of which a zone has the same as its
    bin and a bin the same as its neighbours, stand as a digest that is made once.
    """

    def __init__(self) -> None:
        self._known: dict[Limits, str] = {}

    def of(self, value: object) -> object:
        if type(value) in _AS_IT_IS:
            return value
        if isinstance(value, Limits):
            return self._known.get(value) or self._known.setdefault(value, _digest(self._fields(value)))
        if isinstance(value, Enum | date | time):
            return value.value if isinstance(value, Enum) else value.isoformat()
        if isinstance(value, tuple | frozenset):
            inner = [self.of(each) for each in value]
            return inner if isinstance(value, tuple) else sorted(inner, key=str)
        if isinstance(value, Mapping):
            return {str(self.of(key)): self.of(each) for key, each in value.items()}
        return self._fields(value)

    def _fields(self, value: object) -> dict[str, object]:
        kind: Any = type(value)
        return {name: self.of(getattr(value, name)) for name in _names(kind)}


def _bin(key: str, bed: BinShape, climate: BinClimate, only_place: str, tz: str) -> Bin:
    zones = [
        Zone(name, zone.role, _probes(zone.probes, tz), climate.zones[name]) for name, zone in bed.zones.items()
    ]
    return Bin(
        key,
        bed.name or key,
        tuple(bed.species),
        bed.stands_in or only_place,
        tuple(zones),
        climate.limits,
        vessel=_vessel(bed.vessel),
        worms=bed.worms,
        bedding=bed.bedding,
        started=bed.started,
        can=frozenset(bed.can),
        judge=bed.judge,
        wake_for=bed.wake_for,
        made_of=bed.made_of,
    )


def _vessel(shape: VesselShape) -> Vessel:
    """Of floor, depth and what it holds, two give the third."""
    floor, depth = shape.floor, shape.depth
    if shape.holds is not None and depth is not None:
        floor = shape.holds / LITRES / depth
    elif shape.holds is not None and floor is not None:
        depth = shape.holds / LITRES / floor
    cover = shape.cover.value if shape.cover is not None else None
    walls = shape.walls.value if shape.walls is not None else None
    return Vessel(shape.kind.value, floor, depth, shape.drains, cover, walls)


def _probes(shapes: Mapping[str, ProbeShape], tz: str) -> tuple[Probe, ...]:
    return tuple(_probe(key, shape, tz) for key, shape in shapes.items())


def _probe(key: str, shape: ProbeShape, tz: str) -> Probe:
    points = tuple(Point(p.counts, p.moisture, p.taken) for p in shape.calibration or ())
    source = Source(shape.topic, shape.sends or _default_unit(shape), shape.field, shape.time, shape.name)
    offset = shape.offset.of(shape.measures) if shape.offset is not None else 0.0
    scale = 1.0 if shape.scale is None else shape.scale
    since, until = (moment(*hour, tz) if hour is not None else None for hour in (shape.since, shape.until))
    return Probe(
        key, shape.measures, source, shape.every, points, offset=offset, scale=scale, since=since, until=until
    )


def _default_unit(shape: ProbeShape) -> Unit:
    if shape.measures is Measures.MOISTURE and not shape.calibration:
        return Unit.PERCENT
    return Unit(SENDS[shape.measures][0])


def _mat(key: str, shape: MatShape) -> Mat:
    state = _state(shape.state) if shape.state is not None else None
    hours = (shape.on_from, shape.on_for) if shape.on_from is not None and shape.on_for is not None else None
    return Mat(key, tuple(shape.warms), shape.control, shape.power, shape.set_to, state, hours, shape.follow)


def _state(shape: StateShape) -> Source:
    return Source(shape.topic, shape.sends, shape.field, shape.time, shape.name)


def _person(key: str, shape: PersonShape) -> Person:
    return Person(
        key,
        _once(shape.channels),
        shape.evening,
        shape.up,
        frozenset(Ability) if shape.may is None else frozenset(shape.may),
        None if shape.hears is None else frozenset(shape.hears),
        then=shape.then,
        after=PATIENCE if shape.after is None else shape.after,
        away=tuple(sorted(set(shape.away))),
        sign_of_life=shape.sign_of_life,
    )


_MAIL = ("mailto://", "mailtos://")


def _weekly(model: FileShape, channels: Mapping[str, Channel]) -> dict[str, Weekly]:
    """When the week is told over which channel: by mail on Mondays, elsewhere only where it is wanted."""
    found: dict[str, Weekly | None] = {
        key: Weekly()
        for key, channel in channels.items()
        if channel.send_to.reveal().strip().lower().startswith(_MAIL)
    }
    found |= {
        key: shape.weekly_report
        for key, shape in model.channels.items()
        if "weekly_report" in shape.model_fields_set
    }
    return {key: weekly for key, weekly in found.items() if weekly is not None}


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
