"""Payloads by the thousand from one seed: right ones of all three kinds, and what becomes of them on bad days."""

import json
import random

from monitor.readings import Measures
from monitor.rules import Point, Probe, Source, Unit

NOW = 1_795_608_000_000
"""2026-11-25T12:00:00Z."""
_POINTS = (Point(2700, 12), Point(1450, 80))
_ALL = (
    Probe("plain", Measures.TEMPERATURE, Source("probes/plain", Unit.CELSIUS)),
    Probe("plain-f", Measures.TEMPERATURE, Source("probes/plain-f", Unit.FAHRENHEIT)),
    Probe("counts", Measures.MOISTURE, Source("probes/counts", Unit.COUNTS), calibration=_POINTS),
    Probe("json", Measures.TEMPERATURE, Source("probes/json", Unit.CELSIUS, field="/bed/0/celsius", time="/at")),
    Probe("json-now", Measures.HUMIDITY, Source("probes/json-now", Unit.HUMIDITY, field="/air/rh")),
    Probe("switch", Measures.POWER, Source("plugs/switch", Unit.SWITCH)),
    Probe("plug-json", Measures.POWER, Source("plugs/json", Unit.SWITCH, field="/state")),
    Probe("senml", Measures.TEMPERATURE, Source("probes/senml", Unit.CELSIUS, name="bed:west")),
    Probe("senml-rh", Measures.HUMIDITY, Source("probes/senml-rh", Unit.HUMIDITY, name="air:rh")),
)
PROBES = {probe.id: probe for probe in _ALL}
KINDS = {
    "plain": ("plain", "plain-f", "counts", "switch"),
    "json": ("json", "json-now", "plug-json"),
    "senml": ("senml", "senml-rh"),
}
NASTY = [
    b"NaN", b"nan", b"-Infinity", b"inf", b"1e999", b"-1e308", b"1e-400", b"9" * 400, b"9" * 5000, b"-0", b"0x1f", b"1_0",
    b"-127", b"85", b"null", b"true", b"{}", b"[]", b'""', b"[" * 2000, b'{"a":' * 2000, b"\x00", b"\xff\xfe", b"\xef\xbb\xbf",
    b"\xed\xa0\x80", b"\\ud800", b"\\u0000", b"1e13", b"1000000000000", b"-1", b"253402300800", b"1e20", b"-9e99",
    "٢١".encode(), "−3".encode(), b",", b'"', b"\\", b"\r\n", b"\x1b[2J", b"2026-02-30T25:61:61Z", b"0001-01-01T00:00:00+23:59",
    b"9999-12-31T23:59:60-23:59", b"1970-01-01T00:00:00Z", b'"v":', b'"bt":', b'"t":', b'"u":"%RH",',
    b'"n":"",', b'"bver":11,', b'"x_":1,',
]  # fmt: skip


def right(chance, probe, at):
    """A payload that the probe could send at `at` (Millis)."""
    value = round(chance.uniform(-5, 45), chance.choice((0, 1, 2, 4)))
    if probe == "json":
        when = at if chance.random() < 0.5 else round(at / 1000, 3)
        return json.dumps({"bed": [{"celsius": value}], "at": when}).encode()
    if probe == "json-now":
        return json.dumps({"air": {"rh": 50 + value}, "battery": 3.1}).encode()
    if probe == "switch":
        return chance.choice((b"on", b"OFF", b"true", b"0"))
    if probe == "plug-json":
        return json.dumps({"state": chance.choice((True, False, "ON", "off", 1, 0)), "watts": 40}).encode()
    if probe.startswith("senml"):
        record = (
            {"n": "west", "u": "Cel", "v": value} if probe == "senml" else {"n": "rh", "u": "%RH", "v": 50 + value}
        )
        base = {"bn": "bed:" if probe == "senml" else "air:"} | (
            {"bt": at / 1000} if chance.random() < 0.7 else {}
        )
        return json.dumps([base | record]).encode()
    return str(1500 + round(10 * value) if probe == "counts" else value).encode()


def mangled(chance, payload, other):
    """The payload after one to four accidents; `other` is a right one of another probe."""
    raw = bytearray(payload)
    for _ in range(chance.randint(1, 4)):
        at = chance.randint(0, len(raw))
        end = min(at + chance.randint(1, 6), len(raw))
        accident = chance.randrange(9)
        if accident == 0 and at < len(raw):
            raw[at] ^= 1 << chance.randrange(8)
        elif accident == 1:
            del raw[at:end]
        elif accident == 2:
            raw[at:at] = chance.randbytes(chance.randint(1, 4))
        elif accident == 3:
            raw[at:at] = raw[at:end] * chance.randint(1, 30)
        elif accident == 4:
            del raw[at:]
        elif accident == 5:
            raw[at:end] = chance.choice(NASTY)
        elif accident == 6:
            raw[at:] = other[chance.randint(0, len(other)) :]
        elif accident == 7:
            raw[at:at] = chance.choice(
                (b" ", b"\n", b"\t", b",", b"-", b".", b"e", b"[", b"]", b"{", b"}", b'"', b":", b"0")
            )
        else:
            raw = bytearray(_number_changed(chance, bytes(raw)))
    return bytes(raw)


def _number_changed(chance, raw):
    """One of the digits' runs becomes something nasty."""
    runs, at = [], 0
    while at < len(raw):
        if 48 <= raw[at] < 58:
            end = at
            while end < len(raw) and 48 <= raw[end] < 58:
                end += 1
            runs.append((at, end))
            at = end
        at += 1
    if not runs:
        return raw + chance.choice(NASTY)
    start, end = chance.choice(runs)
    return raw[:start] + chance.choice(NASTY) + raw[end:]


def payloads(seed, count, probes, *, spoilt=0.7, noise=0.05):
    """`count` pairs of a probe's id and a payload, times rising a second each. Of them `spoilt` have had accidents
    and `noise` are random bytes.
    """
    chance = random.Random(seed)
    for number in range(count):
        at = NOW + number * 1000
        probe = chance.choice(probes)
        lot = chance.random()
        if lot < noise:
            yield probe, chance.randbytes(chance.randint(0, 40))
        elif lot < noise + spoilt:
            yield probe, mangled(chance, right(chance, probe, at), right(chance, chance.choice(list(PROBES)), at))
        else:
            yield probe, right(chance, probe, at)
