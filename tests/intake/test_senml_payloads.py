"""SenML as a probe's payload. The standard's own examples are in fixtures/sources."""

import json

import pytest

from monitor.intake.payloads import Decoder, Sample
from monitor.readings import Measures, RefusalKind
from monitor.rules import Probe, Source, Unit

NOW = 1_790_000_000_000
BT = 1_789_999_000


def named(name, measures=Measures.TEMPERATURE, sends=Unit.CELSIUS, id_="p"):
    return Probe(id_, measures, Source("t", sends, name=name))


def decoded(pack, *probes):
    raw = pack if isinstance(pack, bytes) else json.dumps(pack).encode()
    return Decoder({p.id: p for p in probes or [named("bed:t")]}).decode("t", raw, NOW)


def refused(pack, *probes):
    found = decoded(pack, *probes)
    assert () == found.samples
    return {r.kind for r in found.refusals}


def test_each_record_of_the_name_is_a_sample_in_order_of_time():
    pack = [{"bn": "bed:", "bt": BT, "n": "t", "v": 22}, {"n": "u", "v": 1}, {"n": "t", "t": -60, "v": 21}]
    assert (Sample("p", 21.0, (BT - 60) * 1000), Sample("p", 22.0, BT * 1000)) == decoded(pack).samples


def test_without_a_time_there_is_none():
    assert (Sample("p", 21.0),) == decoded([{"n": "bed:t", "v": 21}]).samples


def test_a_time_relative_to_now_is_kept_as_a_shift():
    # RFC 8428 §4.5.3: seconds from roughly now; "now" is when it was sent, which only its arrival tells
    assert (Sample("p", 21.0, None, -30_000),) == decoded([{"n": "bed:t", "t": -30, "v": 21}]).samples


@pytest.mark.parametrize(
    ("measures", "sends", "unit", "sent", "expected"),
    [
        (Measures.TEMPERATURE, Unit.FAHRENHEIT, "Cel", 21, 21.0),  # what the record says, not the settings
        (Measures.TEMPERATURE, Unit.CELSIUS, "K", 294.15, 21.0),
        (Measures.TEMPERATURE, Unit.CELSIUS, "degF", 50, 10.0),
        (Measures.TEMPERATURE, Unit.FAHRENHEIT, None, 50, 10.0),
        (Measures.HUMIDITY, Unit.HUMIDITY, "%RH", 61, 61.0),
        (Measures.MOISTURE, Unit.PERCENT, "/", 0.75, 75.0),
        (Measures.MOISTURE, Unit.PERCENT, "%", 0.75, 75.0),  # RFC 8428 §12.1 note 2: % is a ratio
        (Measures.MOISTURE, Unit.PERCENT, None, 75, 75.0),
        (Measures.MOISTURE, Unit.RATIO, None, 0.75, 75.0),
        (Measures.MOISTURE, Unit.COUNTS, "count", 2700, 2700.0),
        (Measures.MOISTURE, Unit.COUNTS, None, 2700, 2700.0),
        (Measures.MASS, Unit.POUND, "kg", 41.5, 41.5),
        (Measures.MASS, Unit.KILOGRAM, "g", 41_500, 41.5),  # RFC 8428 §12.1 knows kg and g
        (Measures.MASS, Unit.POUND, None, 100, 45.3592),  # 0.45359237 kg by definition
    ],
)
def test_the_records_unit_is_read(measures, sends, unit, sent, expected):
    record = {"n": "bed:x", "v": sent} | ({"u": unit} if unit else {})
    (sample,) = decoded([record], named("bed:x", measures, sends)).samples
    assert expected == sample.value


@pytest.mark.parametrize(
    ("measures", "sends", "unit"),
    [
        (Measures.TEMPERATURE, Unit.CELSIUS, "%RH"),
        (Measures.TEMPERATURE, Unit.CELSIUS, "cel"),
        (Measures.HUMIDITY, Unit.HUMIDITY, "%"),
        (Measures.MOISTURE, Unit.PERCENT, "%RH"),
        (Measures.MOISTURE, Unit.PERCENT, "count"),
        (Measures.MOISTURE, Unit.COUNTS, "/"),  # its calibration points are in counts
    ],
)
def test_another_quantitys_unit_is_refused(measures, sends, unit):
    record = {"n": "bed:x", "u": unit, "v": 1}
    assert {RefusalKind.WRONG_UNIT} == refused([record], named("bed:x", measures, sends))


def test_a_name_that_is_not_there_is_refused_with_those_that_are():
    found = decoded([{"n": "bed:u", "v": 1}]).refusals[0]
    assert RefusalKind.NOT_THERE == found.kind
    assert "bed:u" in found.reason


def test_probes_share_a_pack():
    pack = [{"bn": "bed:", "n": "t", "v": 21}, {"n": "rh", "u": "%RH", "v": 60}]
    two = named("bed:t", id_="a"), named("bed:rh", Measures.HUMIDITY, Unit.HUMIDITY, "b")
    assert (Sample("a", 21.0), Sample("b", 60.0)) == decoded(pack, *two).samples


@pytest.mark.parametrize(
    "record", [{"vs": "warm"}, {"vb": True}, {"vd": "aGkgCg"}, {"s": 5}, {"v": 1e13}], ids=lambda r: next(iter(r))
)
def test_a_record_without_a_number_is_refused(record):
    assert {RefusalKind.NOT_A_NUMBER} == refused([{"n": "bed:t", **record}])


@pytest.mark.parametrize(
    "pack",
    [
        {}, 21.5, "x", [21.5], [None],
        [{"n": "bed:t"}],
        [{"n": "bed:t", "v": "21"}],
        [{"n": "bed:t", "v": True}],
        [{"n": 5, "v": 21}],
        [{"n": "bed:t", "v": 21, "vb": True}],
        [{"n": "bed:t", "v": 21, "need_": 1}],
        [{"n": "bed:t", "v": 21, "bver": 11}],
        [{"n": "bed t", "v": 21}],
        [{"v": 21}],
        [{"n": "bed:t", "v": 10**400}],
        [{"n": "bed:t", "v": 21, "t": 1e300}],
    ],
)  # fmt: skip
def test_what_is_no_senml_is_refused_as_a_whole(pack):
    assert {RefusalKind.NOT_SENML} == refused(pack)


def test_what_is_not_even_json_is_refused_as_that():
    assert {RefusalKind.NOT_JSON} == refused(b"[{")


def test_an_empty_pack_holds_no_such_record():
    assert {RefusalKind.NOT_THERE} == refused([])


@pytest.mark.parametrize("seconds", [268_435_456, 946_684_900, 1e12])
def test_an_absolute_time_no_set_clock_tells_is_refused(seconds):
    assert {RefusalKind.BAD_TIME} == refused([{"n": "bed:t", "t": seconds, "v": 21}])
