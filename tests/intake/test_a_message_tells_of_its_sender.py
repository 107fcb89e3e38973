"""Battery and signal, where a message tells them beside its readings: by SenML's units, else by the name of a key."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.payloads.beside import LONGEST, beside
from monitor.readings import Beside
from parts.orchard import ms

NOW = ms("12:00")


def told(document):
    payload = document if isinstance(document, bytes) else json.dumps(document).encode()
    found = beside("t", payload, NOW)
    return None if found is None else ((found.battery, found.battery_unit), (found.signal, found.signal_unit))


def test_senml_tells_by_its_units():
    """`%EL` and `dBW`: RFC 8428 §12.1; `dBm`: RFC 8798 [memory]."""
    pack = [
        {"bn": "bed:", "n": "t", "u": "Cel", "v": 21.5},
        {"n": "left", "u": "%EL", "v": 81},
        {"n": "heard", "u": "dBm", "v": -67},
    ]
    assert ((81, "%"), (-67, "dBm")) == told(pack)
    assert ((3.1, "V"), (None, "")) == told([{"n": "bed:battery", "u": "V", "v": 3.1}])
    assert ((None, ""), (-97.0, "dBW")) == told([{"n": "bed:heard", "u": "dBW", "v": -97}])


def test_a_volt_of_anything_else_is_no_battery():
    assert told([{"n": "bed:supply", "u": "V", "v": 3.1}, {"n": "bed:signal-lamp", "u": "W", "v": 1}]) is None


@pytest.mark.parametrize(
    ("document", "battery", "signal"),
    [
        ({"celsius": 21.5, "battery": 81}, 81, None),
        ({"celsius": 21.5, "state": {"Battery_mV": 3100, "rssi": -67}}, 3100, -67),
        ({"battery": {"volts": 3.1}, "radio": [{"signal": 40}]}, 3.1, 40),
        ({"battery": 0}, 0, None),
    ],
)
def test_other_json_tells_by_a_key_and_in_no_known_unit(document, battery, signal):
    assert ((battery, ""), (signal, "")) == told(document)


@pytest.mark.parametrize(
    "document",
    [
        {"celsius": 21.5},
        {"battery": "full", "rssi": None, "signal": True},
        b"21.5",
        b'{"battery": ',
        b'{"battery": 1e400}',
        b"\xff{battery",
        b'{"battery": 1, "x": "' + b"y" * LONGEST + b'"}',
    ],
)
def test_what_tells_nothing_is_nothing(document):
    assert told(document) is None


@given(
    st.binary(max_size=60).map(lambda b: b'{"battery":' + b)
    | st.binary(max_size=60).map(lambda b: b'[{"u":"%EL",' + b)
)
def test_no_bytes_break_it(payload):
    found = beside("t", payload, NOW)
    assert found is None or found.topic == "t"


def test_what_only_an_older_message_told_stays():
    older = Beside("t", battery=81, battery_unit="%", signal=-60, signal_unit="dBm")
    assert Beside("t", 80, "V", -60, "dBm") == Beside("t", battery=80, battery_unit="V").after(older)
    assert Beside("t", 81, "%", -70, "") == Beside("t", signal=-70).after(older)
    assert older == older.after(None)
