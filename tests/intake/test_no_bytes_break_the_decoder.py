"""Whatever arrives, the decoder does not raise, and each probe of the topic gets samples or a refusal."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from intake.probes import by_id, probe
from monitor.intake.payloads import Decoder
from monitor.readings import RESOLUTION, Measures, Reading
from monitor.rules import Probe, Source, Unit

NOW = 1_790_000_000_000
DECODER = Decoder(
    by_id(
        probe("plain", topic="plain"),
        probe("ratio", Measures.MOISTURE, topic="plain", sends=Unit.RATIO),
        probe("json", topic="json", field="/v", time="/t"),
        probe("deep", topic="json", field="/v/0"),
        Probe("senml", Measures.TEMPERATURE, Source("senml", Unit.CELSIUS, name="a")),
        Probe("senml-rh", Measures.HUMIDITY, Source("senml", Unit.HUMIDITY, name="a:b")),
        probe("plug", Measures.POWER, topic="plain", sends=Unit.SWITCH),
        probe("plug-json", Measures.POWER, topic="json", sends=Unit.SWITCH, field="/v"),
        Probe("plug-senml", Measures.POWER, Source("senml", Unit.SWITCH, name="a")),
    )
)
ON = {
    "plain": {"plain", "ratio", "plug"},
    "json": {"json", "deep", "plug-json"},
    "senml": {"senml", "senml-rh", "plug-senml"},
}

anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.just("2026-03-14T07:30:00Z"),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["v", "t", "0", ""]), inner, max_size=4)
    ),
    max_leaves=12,
)
labels = st.sampled_from(
    ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x", "x_"]
)
value = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from(["a", ":b", "Cel", "%RH", "-", "ü", ""])
)
packs = st.lists(st.dictionaries(labels, value, max_size=6) | value, max_size=4)
believable = st.lists(
    st.fixed_dictionaries(
        {"n": st.sampled_from(["a", "a:b"]), "v": st.floats(-100, 100)},
        optional={"t": st.floats(-1e5, 2e9), "u": st.sampled_from(["Cel", "%RH"]), "bt": st.integers(0, 2**31)},
    ),
    min_size=1, max_size=4,
)  # fmt: skip


def check(topic, payload):
    found = DECODER.decode(topic, payload, NOW)
    assert {s.probe for s in found.samples} | {r.probe for r in found.refusals} in (ON[topic], {None})
    for sample in found.samples:
        at = NOW + sample.shift if sample.at is None else sample.at
        reading = Reading(sample.probe, at, sample.value, NOW)
        assert abs(round(reading.value * RESOLUTION)) < 2**63
        assert 0 <= reading.at < 2**63
    for refusal in found.refusals:
        assert len(refusal.excerpt) <= 200
        assert 0 < len(refusal.reason) <= 300
        refusal.reason.encode()  # it can be stored


@given(st.sampled_from(sorted(ON)), st.binary(max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_bytes(topic, payload):
    check(topic, payload)


@given(st.sampled_from(sorted(ON)), anything)
@settings(max_examples=300, deadline=None)
def test_any_json(topic, document):
    check(topic, json.dumps(document).encode())


@given(packs | believable)
@settings(max_examples=400, deadline=None)
def test_any_pack(pack):
    check("senml", json.dumps(pack).encode())


@given(st.text(alphabet="0123456789+-.eE_ ,\t\nxnaif", min_size=1, max_size=12))
@settings(max_examples=300, deadline=None)
def test_anything_like_a_number(text):
    check("plain", text.encode())


def test_json_as_deep_as_it_goes():
    for depth in (100, 500, 900, 990, 995, 1000, 2000, 20_000):
        nested = b"[" * depth + b"]" * depth
        for document in (nested, b'{"v":1,"t":' + nested + b"}", b'{"v":' + nested + b"}"):
            check("json", document)
            check("senml", b"[" + document + b"]")
