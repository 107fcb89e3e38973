"""A value in a JSON document, found by a pointer (RFC 6901), with its time if it tells one.

The standard's own table is in fixtures/sources; here is what a probe's payload makes of it.
"""

import json

import pytest

from intake.probes import by_id, probe
from monitor.errors import BadValue
from monitor.intake.payloads import Decoder, Sample
from monitor.readings import RefusalKind
from monitor.rules import Unit

NOW = 1_790_000_000_000
AT = 1_789_999_940


def decoded(payload, field="/bed/0", **place):
    raw = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return Decoder(by_id(probe(field=field, **place))).decode("probes/p", raw, NOW)


def refused(payload, **place):
    found = decoded(payload, **place)
    assert () == found.samples
    (refusal,) = found.refusals
    return refusal.kind


def test_a_pointer_finds_its_value():
    assert (Sample("p", 21.5),) == decoded({"bed": [21.5, 3]}).samples
    assert (Sample("p", 21.5),) == decoded({"a/b": {"m~n": 21.5}}, field="/a~1b/m~0n").samples
    assert (Sample("p", 21.5),) == decoded(b"21.5", field="").samples


def test_a_string_that_is_a_number_is_a_number():
    assert (Sample("p", 21.5),) == decoded({"bed": [" 21.5 "]}).samples
    assert RefusalKind.NOT_A_NUMBER == refused({"bed": ["21,5"]})
    assert RefusalKind.NOT_A_NUMBER == refused({"bed": ["warm"]})
    assert RefusalKind.NOT_A_NUMBER == refused({"bed": ["nan"]})


@pytest.mark.parametrize("raw", [True, False, None, {}, [], "", 10**400, 1e300, -(10**13)])
def test_what_no_probe_sends_is_no_number(raw):
    assert RefusalKind.NOT_A_NUMBER == refused({"bed": [raw]})


@pytest.mark.parametrize("payload", [{}, {"bed": []}, {"bed": 21.5}, {"bed": {"1": 2}}, [], 21.5, {"Bed": [1]}])
def test_nothing_at_that_place(payload):
    assert RefusalKind.NOT_THERE == refused(payload)


@pytest.mark.parametrize(
    "payload",
    [b"{", b"21,5", b"\xff", b'{"bed":[NaN]}', b'{"bed":[Infinity]}', b"[" * 50_000, b'{"bed":[1e999', b"'", b"x",
     b"[" + b"1" * 5000 + b"]"],
)  # fmt: skip
def test_what_is_not_json_is_refused(payload):
    assert RefusalKind.NOT_JSON == refused(payload)


def test_a_number_beyond_the_machine_is_no_value():
    assert RefusalKind.NOT_A_NUMBER == refused(b'{"bed":[1e999]}')


def test_a_byte_order_mark_is_overlooked():
    assert (Sample("p", 21.5),) == decoded(b'\xef\xbb\xbf{"bed":[21.5]}').samples


def test_one_bad_place_does_not_spoil_the_others():
    decoder = Decoder(
        by_id(probe("a", topic="t", field="/a"), probe("b", topic="t", field="/b", sends=Unit.KELVIN))
    )
    found = decoder.decode("t", b'{"b": 300.15}', NOW)
    assert (Sample("b", 27.0),) == found.samples
    assert [("a", RefusalKind.NOT_THERE)] == [(r.probe, r.kind) for r in found.refusals]


@pytest.mark.parametrize("field", ["temperature", "/a~2", "/a~"])
def test_what_is_no_pointer_is_refused_when_built(field):
    with pytest.raises(BadValue):
        Decoder(by_id(probe(field=field)))


# Its own time


@pytest.mark.parametrize(
    "told",
    [AT, float(AT), str(AT), AT * 10**3, AT * 10**6, AT * 10**9, str(AT * 10**3), "2026-09-21T14:12:20Z",
     "2026-09-21t16:12:20.000+02:00", " 2026-09-21 14:12:20Z "],
)  # fmt: skip
def test_its_own_time_is_read_in_every_usual_form(told):
    found = decoded({"v": 1, "at": told}, field="/v", time="/at")
    assert (Sample("p", 1.0, AT * 1000),) == found.samples


@pytest.mark.parametrize(
    "told",
    [None, True, "", "soon", "2026-09-21", "2026-09-21T14:12:20", "2026-13-01T00:00:00Z", "2026-09-21T25:00:00Z",
     "2026-09-21T14:12:20+24:00", -1, 1e999, 10**30, [], {}, "1e999", [[[[]]]]],
)  # fmt: skip
def test_a_time_that_cannot_be_read_is_refused(told):
    raw = json.dumps({"v": 1, "at": told}).replace("Infinity", "1e999").encode()
    assert RefusalKind.BAD_TIME == refused(raw, field="/v", time="/at")


@pytest.mark.parametrize(
    "told", [0, 12, 315_532_800, 946_684_800 + 3600, "1970-01-01T00:00:12Z", "2000-01-01T00:09:00Z"]
)
def test_a_clock_that_was_never_set_is_refused(told):
    # clock chips begin in 1970, 1980 or 2000 (common practice)
    found = decoded({"v": 1, "at": told}, field="/v", time="/at").refusals[0]
    assert RefusalKind.BAD_TIME == found.kind
    assert "never set" in found.reason


def test_a_missing_time_is_refused():
    assert RefusalKind.BAD_TIME == refused({"v": 1}, field="/v", time="/at")


def test_a_leap_second_is_the_second_after_it():
    # 2016-12-31T23:59:60Z was one (IERS Bulletin C 52 [memory]); by the POSIX formula 1483228800
    found = decoded({"v": 1, "at": "2016-12-31T23:59:60Z"}, field="/v", time="/at")
    assert 1_483_228_800_000 == found.samples[0].at


def test_a_fraction_of_a_second_is_kept_to_the_millisecond():
    found = decoded({"v": 1, "at": "2026-09-21T14:12:20.98765432Z"}, field="/v", time="/at")
    assert AT * 1000 + 987 == found.samples[0].at
    assert AT * 1000 + 250 == decoded({"v": 1, "at": AT + 0.25}, field="/v", time="/at").samples[0].at
