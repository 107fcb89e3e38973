"""A payload that is just a number, in the unit the settings say."""

import pytest

from intake.probes import by_id, probe
from monitor.errors import BadValue
from monitor.intake.payloads import LONGEST, Decoded, Decoder, Sample
from monitor.readings import Measures, RefusalKind
from monitor.rules import Probe, Source, Unit

NOW = 1_790_000_000_000


def decoded(payload, **of_probe):
    return Decoder(by_id(probe(**of_probe))).decode("probes/p", payload, NOW)


def value(payload, **of_probe):
    (sample,) = decoded(payload, **of_probe).samples
    return sample.value


def refusal(payload, **of_probe):
    found = decoded(payload, **of_probe)
    assert () == found.samples
    (refused,) = found.refusals
    return refused


@pytest.mark.parametrize(
    ("payload", "expected"),
    [(b"21.5", 21.5), (b" 21.5\r\n", 21.5), (b"-3", -3.0), (b"+.5", 0.5), (b"2.15e1", 21.5), (b"0", 0.0)],
)
def test_a_number_is_read(payload, expected):
    assert Decoded((Sample("p", expected),)) == decoded(payload)


@pytest.mark.parametrize(
    "payload",
    [b"nan", b"inf", b"-Infinity", b"1e999", b"1_000", b"0x15", b"21.5 C", b"21,5", b"true", b"null", b" ", b"{}",
     "２１".encode(), b"21.5\x00", b"\xff\xfe", b"1e13", b"--1", b"9" * 400],
)  # fmt: skip
def test_what_is_no_number_is_refused(payload):
    refused = refusal(payload)
    assert RefusalKind.NOT_A_NUMBER == refused.kind
    assert ("p", "probes/p", payload[:200], NOW) == (
        refused.probe, refused.topic, refused.excerpt, refused.received_at
    )  # fmt: skip


@pytest.mark.parametrize(
    ("payload", "advice"),
    [(b"21,5", "send a point"), (b"21.5 C", "under `sends`"), (b'{"t":1}', "`field`"), (b"warm", "digits"),
     (b"nan", "wiring")],
)  # fmt: skip
def test_a_refusal_says_what_to_do(payload, advice):
    reason = refusal(payload).reason
    assert advice in reason
    assert reason.endswith(".")


@pytest.mark.parametrize(
    ("sends", "measures", "payload", "expected"),
    [
        (Unit.FAHRENHEIT, Measures.TEMPERATURE, b"70", 21.1111),  # (70 − 32)/1.8; NIST SP 811 B.8 [memory]
        (Unit.FAHRENHEIT, Measures.TEMPERATURE, b"-40", -40.0),  # the two scales meet there
        (Unit.KELVIN, Measures.TEMPERATURE, b"273.15", 0.0),  # SI brochure [memory]
        (Unit.KELVIN, Measures.TEMPERATURE, b"294.65", 21.5),
        (Unit.RATIO, Measures.MOISTURE, b"0.75", 75.0),
        (Unit.PERCENT, Measures.MOISTURE, b"75", 75.0),
        (Unit.COUNTS, Measures.MOISTURE, b"2700", 2700.0),
        (Unit.HUMIDITY, Measures.HUMIDITY, b"61.5", 61.5),
    ],
)
def test_units_become_canonical(sends, measures, payload, expected):
    assert expected == value(payload, sends=sends, measures=measures)


def test_a_topic_that_was_cleared_is_empty_and_nothing_else():
    # check 105: an empty retained message clears a topic (MQTT 5 §3.3.1.3)
    assert RefusalKind.EMPTY == refusal(b"").kind


def test_a_payload_that_is_too_long_is_not_looked_at():
    refused = refusal(b" " * LONGEST + b"1")
    assert RefusalKind.TOO_LONG == refused.kind
    assert 200 == len(refused.excerpt)
    assert 1.0 == value(b" " * (LONGEST - 1) + b"1")


def test_a_topic_without_a_probe_is_refused():
    found = Decoder(by_id(probe())).decode("probes/q", b"21.5", NOW)
    assert (RefusalKind.UNKNOWN_TOPIC, None) == (found.refusals[0].kind, found.refusals[0].probe)


def test_several_probes_may_share_a_topic():
    decoder = Decoder(by_id(probe("a", topic="t"), probe("b", topic="t"), probe("c", topic="u")))
    assert ("t", "u") == decoder.topics()
    assert (Sample("a", 21.5), Sample("b", 21.5)) == decoder.decode("t", b"21.5", NOW).samples
    assert ["a", "b"] == [r.probe for r in decoder.decode("t", b"x", NOW).refusals]


@pytest.mark.parametrize("topic", ["", "probes/+", "probes/#", "#", "a\0b", "x" * 65_536, "a+b"])
def test_a_topic_that_names_not_exactly_one_is_refused_when_built(topic):
    with pytest.raises(BadValue):
        Decoder({"p": Probe("p", Measures.TEMPERATURE, Source(topic, Unit.CELSIUS))})
