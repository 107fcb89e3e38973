"""What a mat's plug sends: watts, or on and off, in every kind of payload; kept under the mat's own id."""

import pytest

from monitor.intake.payloads import Decoder
from monitor.intake.quality import Trust
from monitor.readings import DAY, HOUR, Measures, Quality
from monitor.rules import Probe, Source, Unit
from parts.orchard import LONG_MAT, ms, rules

AT = ms("12:00")


def plug(sends=Unit.WATT, **source):
    from dataclasses import replace

    shed = rules(mats=(replace(LONG_MAT, state=Source("plugs/long", sends, **source)),))
    return shed.plugs()["mat:long-mat"]


def said(payload, sends=Unit.WATT, **source):
    found = Decoder({"mat:long-mat": plug(sends, **source)}).decode("plugs/long", payload, AT)
    return found.samples[0].value if found.samples else str(found.refusals[0].kind)


@pytest.mark.parametrize(
    ("payload", "source", "watts"),
    [
        (b"38.5", {}, 38.5),
        (b"0", {}, 0.0),
        (b'{"watts": 38.5}', {"field": "/watts"}, 38.5),
        (b'[{"n": "plug", "u": "W", "v": 38.5}]', {"name": "plug"}, 38.5),
        (b'[{"n": "plug", "u": "V", "v": 230}]', {"name": "plug"}, "wrong unit"),
        (b"on", {}, "not a number"),
    ],
)
def test_watts(payload, source, watts):
    assert watts == said(payload, **source)


@pytest.mark.parametrize(
    ("payload", "source", "value"),
    [
        (b"on", {}, 1.0),
        (b"OFF\n", {}, 0.0),
        (b"true", {}, 1.0),
        (b"0", {}, 0.0),
        (b'{"relay": true}', {"field": "/relay"}, 1.0),
        (b'{"relay": "off"}', {"field": "/relay"}, 0.0),
        (b'{"relay": 1}', {"field": "/relay"}, 1.0),
        (b'{"relay": 1.0}', {"field": "/relay"}, 1.0),
        (b'{"relay": null}', {"field": "/relay"}, "not a number"),
        (b'{"relay": 2}', {"field": "/relay"}, "not a number"),
        (b'[{"n": "plug", "vb": false}]', {"name": "plug"}, 0.0),
        (b'[{"n": "plug", "v": 1}]', {"name": "plug"}, 1.0),
        (b"perhaps", {}, "not a number"),
        (b"\xff", {}, "not a number"),
    ],
)
def test_on_and_off(payload, source, value):
    assert value == said(payload, Unit.SWITCH, **source)


def test_a_plug_that_is_off_all_summer_is_not_stuck_and_none_draws_what_no_plug_can():
    probe, trust = Probe("mat:long-mat", Measures.POWER, Source("plugs/long", Unit.WATT)), Trust()
    for day in range(0, 120, 2):
        assert Quality.GOOD is trust.judge(probe, 0.0, at=AT + day * DAY, received_at=AT + day * DAY)
    later = AT + 200 * DAY
    assert Quality.GOOD is trust.judge(probe, 2000.0, at=later, received_at=later)
    assert Quality.OUT_OF_RANGE is trust.judge(probe, 20_000.0, at=later + HOUR, received_at=later + HOUR)


def test_probes_and_plugs_are_listened_to_and_a_plug_is_no_probe():
    from dataclasses import replace

    shed = rules(mats=(replace(LONG_MAT, state=Source("plugs/long", Unit.WATT)),))
    assert "mat:long-mat" not in shed.probes()
    assert {"mat:long-mat"} == set(shed.sources()) - set(shed.probes())
    assert {} == rules().plugs()
