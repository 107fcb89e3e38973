"""(topic, bytes, when they came) → samples in canonical units, or a refusal that says what to do.

Three kinds of payload, chosen by the probe's `Source`: a plain number; JSON with pointers (RFC 6901);
SenML JSON (RFC 8428) when it has a `name`. Nothing here raises on any bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import NamedTuple

from monitor.errors import BadValue
from monitor.intake.payloads.parts import (
    Refused,
    Steps,
    bounded,
    document,
    number,
    own_time,
    plausible,
    pointer,
    quantity,
    shown,
    switched,
    walk,
    what_is_there,
)
from monitor.intake.payloads.senml import Record, resolve
from monitor.readings import Measures, Millis, Refusal, RefusalKind
from monitor.rules import Probe, Source, Unit
from monitor.science.units import POUND

LONGEST = 65_536
"""Bytes of a payload that are looked at; a probe's message has a hundred (ours, no source)."""
EXCERPT = 200

Convert = Callable[[float], float]


class Sample(NamedTuple):
    """One value of one probe, canonical. `at` is its own time, None when the payload tells none;
    `shift` is the milliseconds from its arrival that a payload without a clock may tell instead (SenML).
    """

    probe: str
    value: float
    at: Millis | None = None
    shift: Millis = 0


class Decoded(NamedTuple):
    """What became of one payload: never both empty."""

    samples: tuple[Sample, ...]
    refusals: tuple[Refusal, ...] = ()


class Decoder:
    """Knows every probe's place on the wire. Raises BadValue when built of a topic with a wildcard, an empty
    or overlong topic, or a pointer that is none.
    """

    def __init__(self, probes: Mapping[str, Probe]) -> None:
        self.probes = dict(probes)
        """Every probe by id."""
        self._topics: dict[str, _Topic] = {}
        for probe in probes.values():
            topic = exact_topic(probe.source.topic)
            self._topics.setdefault(topic, _Topic(topic)).add(probe)

    def topics(self) -> tuple[str, ...]:
        """Every topic once, in the order of the settings."""
        return tuple(self._topics)

    def names(self, topic: str) -> Collection[str]:
        """The SenML names that are read on a topic."""
        known = self._topics.get(topic)
        return () if known is None else known.names

    def decode(self, topic: str, payload: bytes, received_at: Millis) -> Decoded:
        """Samples and refusals of one payload, samples of one probe in order of their time."""
        known = self._topics.get(topic)
        if known is None:
            reason = "No probe in the settings has this topic: add one, or stop sending here."
            return _refused(RefusalKind.UNKNOWN_TOPIC, reason, topic, payload, received_at)
        if not payload:
            reason = "An empty message: somebody cleared this topic at the broker. Nothing is needed."
            return _refused(RefusalKind.EMPTY, reason, topic, payload, received_at)
        if len(payload) > LONGEST:
            reason = (
                f"A message of {len(payload):,} bytes: send fewer values at a time, {LONGEST:,} bytes at most."
            )
            return _refused(RefusalKind.TOO_LONG, reason, topic, payload, received_at)
        return known.read(payload, received_at)


def exact_topic(topic: str) -> str:
    """The topic itself if it names exactly one (MQTT 5 §4.7). Raises BadValue, with what to do."""
    if not topic:
        raise BadValue("a topic needs at least one character")
    if "+" in topic or "#" in topic:
        raise BadValue(f"{topic!r} has a wildcard: name each probe's own topic")
    if "\0" in topic or len(topic.encode("utf-8", "replace")) > 65_535:
        raise BadValue(f"{topic[:40]!r} cannot be a topic: it has a null character or is too long")
    return topic


# One topic


class _Place(NamedTuple):
    """Where one probe's value stands in JSON."""

    probe: str
    field: Steps
    time: Steps | None
    source: Source
    convert: Convert | None


class _Topic:
    """All probes of one topic, by the kind of payload they read."""

    def __init__(self, topic: str) -> None:
        self._topic = topic
        self._plain: list[tuple[str, Convert | None]] = []
        self._switches: list[str] = []
        self._json: list[_Place] = []
        self._senml: dict[str, list[Probe]] = {}

    def add(self, probe: Probe) -> None:
        source = probe.source
        if source.name is not None:
            self._senml.setdefault(source.name, []).append(probe)
        elif source.field is None and source.time is None and source.sends is Unit.SWITCH:
            self._switches.append(probe.id)
        elif source.field is None and source.time is None:
            self._plain.append((probe.id, _FROM.get(source.sends)))
        else:
            field = pointer(source.field or "")
            time = None if source.time is None else pointer(source.time)
            self._json.append(_Place(probe.id, field, time, source, _FROM.get(source.sends)))

    @property
    def names(self) -> Collection[str]:
        """The SenML names among them."""
        return self._senml.keys()

    def read(self, payload: bytes, received_at: Millis) -> Decoded:
        samples: list[Sample] = []
        failed: list[tuple[str, Refused]] = []
        if self._plain:
            self._read_plain(payload, samples, failed)
        if self._switches:
            self._read_switch(payload, samples, failed)
        if self._json:
            self._read_json(payload, samples, failed)
        if self._senml:
            self._read_senml(payload, received_at, samples, failed)
        if not failed:
            return Decoded(tuple(samples))
        excerpt = payload[:EXCERPT]
        refusals = (Refusal(self._topic, p, why.kind, why.reason, excerpt, received_at) for p, why in failed)
        return Decoded(tuple(samples), tuple(refusals))

    def _read_plain(self, payload: bytes, samples: list[Sample], failed: list[tuple[str, Refused]]) -> None:
        try:
            value = number(payload)
        except Refused as why:
            failed.extend((probe, why) for probe, _ in self._plain)
            return
        samples.extend(Sample(probe, convert(value) if convert else value) for probe, convert in self._plain)

    def _read_switch(self, payload: bytes, samples: list[Sample], failed: list[tuple[str, Refused]]) -> None:
        try:
            value = switched(payload)
        except Refused as why:
            failed.extend((plug, why) for plug in self._switches)
            return
        samples.extend(Sample(plug, value) for plug in self._switches)

    def _read_json(self, payload: bytes, samples: list[Sample], failed: list[tuple[str, Refused]]) -> None:
        try:
            read = document(payload)
        except Refused as why:
            failed.extend((place.probe, why) for place in self._json)
            return
        for place in self._json:
            try:
                samples.append(_at_place(read, place))
            except Refused as why:
                failed.append((place.probe, why))

    def _read_senml(
        self, payload: bytes, received_at: Millis, samples: list[Sample], failed: list[tuple[str, Refused]]
    ) -> None:
        try:
            records = resolve(document(payload), received_at)
        except Refused as why:
            failed.extend((p.id, why) for probes in self._senml.values() for p in probes)
            return
        for name, probes in self._senml.items():
            mine = [r for r in records if r.name == name]
            for probe in probes:
                if not mine:
                    failed.append((probe.id, _no_record(name, records)))
                for record in mine:
                    try:
                        samples.append(_of_record(record, probe, received_at))
                    except Refused as why:
                        failed.append((probe.id, why))


def _at_place(read: object, place: _Place) -> Sample:
    try:
        raw = walk(read, place.field)
    except LookupError:
        reason = (
            f"There is nothing at {place.source.field}; {what_is_there(read, place.field)}. Check the `field`."
        )
        raise Refused(RefusalKind.NOT_THERE, reason) from None
    value = switched(raw) if place.source.sends is Unit.SWITCH else quantity(raw)
    if place.convert:
        value = place.convert(value)
    if place.time is None:
        return Sample(place.probe, value)
    try:
        told = walk(read, place.time)
    except LookupError:
        reason = f"There is no time at {place.source.time}; {what_is_there(read, place.time)}. Check the `time`."
        raise Refused(RefusalKind.BAD_TIME, reason) from None
    return Sample(place.probe, value, own_time(told))


def _of_record(record: Record, probe: Probe, received_at: Millis) -> Sample:
    if not isinstance(record.value, float) and probe.source.sends is not Unit.SWITCH:
        reason = f"The record {record.name} has no number as its value: name a record that has."
        raise Refused(RefusalKind.NOT_A_NUMBER, reason)
    value = _value_of(record, probe)
    convert = None if probe.source.sends is Unit.SWITCH else _of_unit(record.unit, probe)
    if convert:
        value = convert(value)
    if record.at is not None:
        return Sample(probe.id, value, plausible(record.at, f"{record.at / 1000:.15g}"))
    if record.shift:
        plausible(received_at + record.shift, f"{record.shift / 1000:.15g}")
    return Sample(probe.id, value, None, record.shift)


def _value_of(record: Record, probe: Probe) -> float:
    if probe.source.sends is Unit.SWITCH or not isinstance(record.value, float):
        return switched(record.value)
    return bounded(record.value, f"{record.value:.15g}")


def _no_record(name: str, records: Iterable[Record]) -> Refused:
    there = ", ".join(dict.fromkeys(shown(r.name) for r in list(records)[:5])) or "nothing"
    reason = f"No record is named {name}; there is {there}. Check the probe's `name`."
    return Refused(RefusalKind.NOT_THERE, reason)


# Units


def _celsius_of_fahrenheit(value: float) -> float:
    return round((value - 32) / 1.8, 4)


def _celsius_of_kelvin(value: float) -> float:
    # 0 °C is 273.15 K (SI brochure); RFC 8428 §12.1 prints 275.15 by mistake.
    return round(value - 273.15, 4)


def _kilograms_of_grams(value: float) -> float:
    return round(value / 1000, 4)


def _kilograms_of_pounds(value: float) -> float:
    return round(value * POUND, 4)


def _percent_of_ratio(value: float) -> float:
    return round(value * 100, 4)


_FROM: dict[Unit, Convert] = {
    Unit.FAHRENHEIT: _celsius_of_fahrenheit,
    Unit.KELVIN: _celsius_of_kelvin,
    Unit.RATIO: _percent_of_ratio,
    Unit.GRAM: _kilograms_of_grams,
    Unit.POUND: _kilograms_of_pounds,
}
"""How a unit becomes canonical; those that are not in here are canonical."""

_SENML: dict[Measures, dict[str, Convert | None]] = {
    Measures.TEMPERATURE: {"Cel": None, "K": _celsius_of_kelvin, "degF": _celsius_of_fahrenheit},
    Measures.HUMIDITY: {"%RH": None},
    Measures.MOISTURE: {"/": _percent_of_ratio, "%": _percent_of_ratio},
    Measures.MASS: {"kg": None, "g": _kilograms_of_grams},
    Measures.POWER: {"W": None},
}
"""SenML units (RFC 8428 §12.1). Its `%` is the ratio 0..1, exactly like `/` (note 2)."""
_COUNTED: dict[str, Convert | None] = {"count": None}


def _of_unit(unit: str | None, probe: Probe) -> Convert | None:
    """How a record's value becomes the probe's canonical one. Raises Refused (WRONG_UNIT)."""
    if unit is None:
        return _FROM.get(probe.source.sends)
    # Calibration points are in counts or in per cent: a record in the other one would be read wrongly by them.
    table = _COUNTED if probe.source.sends is Unit.COUNTS else _SENML[probe.measures]
    if unit in table:
        return table[unit]
    wanted = " or ".join(table)
    reason = f"It is in {shown(unit)}, but a {probe.measures} in {wanted} is needed: check `name` and `sends`."
    raise Refused(RefusalKind.WRONG_UNIT, reason)


def _refused(kind: RefusalKind, reason: str, topic: str, payload: bytes, received_at: Millis) -> Decoded:
    return Decoded((), (Refusal(topic, None, kind, reason, payload[:EXCERPT], received_at),))
