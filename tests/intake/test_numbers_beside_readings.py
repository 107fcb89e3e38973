"""The records of our own behind a publisher's readings: RFC 8428 all through, and exact to the millisecond."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.found import numbers
from monitor.intake.payloads import Decoder
from monitor.intake.payloads.numbered import Mark, Numbered, mark_of, mark_payload, numbered, pack
from monitor.intake.payloads.senml import resolve
from monitor.readings import Measures
from monitor.rules import Probe, Source, Unit

NOW = 1_795_694_405_136
LIFE = "514b5a92f576a381"


def one(readings=((NOW, 21.0),), **other):
    facts = {"life": LIFE, "number": 12, "oldest": 3} | other
    return pack("fig-west", "Cel", readings, **facts)


def test_it_is_senml_that_others_can_read():
    """Checked against RFC 8428 §4: names, a unit of the registry, one value in each record, times that add up."""
    records = resolve(json.loads(one([(NOW, 21.0), (NOW + 60_001, 21.125)])), NOW)
    assert {
        ("fig-west", "Cel", 21.0, NOW),
        ("fig-west", "Cel", 21.125, NOW + 60_001),
        ("fig-west/life", None, LIFE, NOW),
        ("fig-west/number", "count", 12.0, NOW),
        ("fig-west/oldest", "count", 3.0, NOW),
    } == {(r.name, r.unit, r.value, r.at) for r in records}


def test_what_is_said_of_numbers_is_read_back():
    assert Numbered("fig-west", LIFE, 12, 13, 3) == numbered(one([(NOW, 21.0), (NOW + 1, 21.0)]))


@given(
    st.lists(st.tuples(st.integers(1_600_000_000_000, 2_500_000_000_000), st.integers(-400_000, 1_200_000)),
             min_size=1, max_size=100, unique_by=lambda one: one[0])
)  # fmt: skip
def test_times_and_values_are_exact_however_readings_are_packed(drawn):
    readings = [(at, value / 10_000) for at, value in drawn]
    probe = Probe("fig", Measures.TEMPERATURE, Source("probes/fig", Unit.CELSIUS, name="fig-west"))
    decoded = Decoder({"fig": probe}).decode("probes/fig", one(readings), NOW)
    assert () == decoded.refusals
    assert sorted(readings) == [(s.at, s.value) for s in decoded.samples]


def test_a_switch_is_true_or_false():
    payload = pack("long-mat", "", [(NOW, 1.0), (NOW + 1000, 0.0)], life=LIFE, number=1, oldest=1)
    assert [True, False] == [r.value for r in resolve(json.loads(payload), NOW) if r.name == "long-mat"]
    assert Numbered("long-mat", LIFE, 1, 2, 1) == numbered(payload)


def altered(**changes):
    records = json.loads(one())
    for record in records:
        for label, value in changes.items():
            if record.get("n") == f"/{label}":
                record["vs" if "vs" in record else "v"] = value
    return json.dumps(records).encode()


@pytest.mark.parametrize(
    "payload",
    [
        b"21.5",
        b'{"temperature": 21.5, "life": "/life"}',
        b'[{"n": "/life"}]',
        b'["/life"]',
        b'[{"bn": 5, "v": 1}, {"n": "/life", "vs": "aa55aa55"}]',
        b'"/life"',
        b'[{"n":"/life"',
        b"[" * 50_000 + b'"/life"',
        altered(life="DROP"),
        altered(life=5),
        altered(number=0),
        altered(number=1.5),
        altered(number=True),
        altered(number="12"),
        altered(number=1e300),
        altered(oldest=13),
        altered(oldest=0),
        one().replace(b'"fig-west"', b'"fig/#"'),
    ],
)
def test_what_says_nothing_of_numbers_or_nothing_that_can_be_is_left_alone(payload):
    assert numbered(payload) is None


def test_whoever_looks_for_probes_is_not_shown_our_own_records():
    assert ["fig-west"] == [found.name for found in numbers("probes/fig-west", one(), NOW)]


def test_a_mark_is_read_back_with_the_probe_of_its_topic():
    mark = Mark("fig-west", LIFE, 118, 120)
    assert b'{"life":"514b5a92f576a381","through":118,"heard":120}' == mark_payload(mark)
    assert mark == mark_of("vermistat/orchard/durable/fig-west", mark_payload(mark))


@pytest.mark.parametrize(
    "payload",
    [b"", b"5", b"[]", b"{}", b'{"life": 5, "through": 1, "heard": 1}', b'{"life": "aa", "through": 2, "heard": 1}',
     b'{"life": "aa", "through": -1, "heard": 1}', b'{"life": "aa", "through": NaN, "heard": 1}', b"\xff", b"[" * 99_999],
)  # fmt: skip
def test_what_is_no_mark_is_none(payload):
    assert mark_of("t/fig", payload) is None
