"""Payloads of unknown topics: their numbers, and the lines of settings that read them. The payloads are invented."""

import json

import pytest
import yaml

from monitor.intake.found import line, numbers, probe_id
from monitor.intake.payloads import Decoder
from monitor.readings import Measures
from monitor.settings import load

NOW = 1_795_600_000_000


def found(topic, payload):
    raw = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return numbers(topic, raw, NOW)


def places(topic, payload):
    return [(f.field or f.name, f.measures and str(f.measures), f.value) for f in found(topic, payload)]


def test_a_plain_number_is_one_and_its_topic_may_say_of_what():
    assert [(None, None, 21.5)] == places("probes/fig", b"21.5")
    assert [(None, "temperature", 21.5)] == places("probes/fig-temp", b" 21.5 ")
    assert [(None, "moisture", 1600.0)] == places("Soil/7", b"1600")


def test_every_number_of_a_document_has_its_pointer():
    payload = {
        "at": 1795600000,
        "bed": [{"celsius": 21.5, "battery": 3.1}, {"celsius": 20}],
        "a/b~": 7,
        "ok": True,
    }
    assert [
        ("/bed/0/celsius", "temperature", 21.5),
        ("/bed/0/battery", None, 3.1),
        ("/bed/1/celsius", "temperature", 20.0),
        ("/a~1b~0", None, 7.0),
    ] == places("x", payload)
    assert {"/at"} == {f.time for f in found("x", payload)}


def test_with_two_times_none_is_taken_for_the_probes():
    assert {None} == {f.time for f in found("x", {"time": 1, "at": 2, "t": 3.5})}


def test_senml_is_read_by_name_and_unit():
    pack = [{"bn": "urn:dev:ow:10e2073a01080063:", "u": "Cel", "v": 23.1}, {"n": "damp", "u": "%RH", "v": 67.3}]
    assert [
        ("urn:dev:ow:10e2073a01080063:", "temperature", 23.1),
        ("urn:dev:ow:10e2073a01080063:damp", "humidity", 67.3),
    ] == places("x", pack)


@pytest.mark.parametrize(
    "payload",
    [b"", b"online", b"\xff\xfe", b"{", b"[]", b"{}", b"true", b'"21"', b"[" * 5000, b'{"a": null, "b": "x", "c": true}',
     b'{"a":{"b":{"c":{"d":{"e":1}}}}}', b"NaN", b"1e999"],
    ids=lambda p: p[:12].decode("latin-1"),
)  # fmt: skip
def test_what_holds_no_number_has_none(payload):
    assert [] == numbers("x", payload, NOW)


def test_a_document_of_thousands_of_numbers_is_cut_short():
    assert 12 == len(found("x", list(range(5000))))


@pytest.mark.parametrize(
    ("topic", "payload"),
    [
        ("probes/fig-temp", b"21.5"),
        ("a b/c: #d{", b"21.5"),
        ("probes/x", {"bed": {"celsius": 21.5}, "at": "2026-11-25T10:00:00Z"}),
        ("probes/x", {'a/b ~ "c"': 21.5}),
        ("probes/x", [{"n": "bed:west", "u": "Cel", "v": 21.5}]),
        ("7/8", b"21.5"),
    ],
    ids=str,
)
def test_the_line_is_accepted_and_reads_that_number(topic, payload, tmp_path):
    if "#" in topic:
        topic = topic.replace("#", "")
    raw = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    (one,) = numbers(topic, raw, NOW)
    text = line(probe_id(topic, one, set()), topic, one)
    whole = {
        "site": {"id": "orchard", "timezone": "Europe/Lisbon"},
        "bins": {"fig": {"species": "eisenia-fetida", "zones": {"west": {"probes": yaml.safe_load(text)}}}},
    }
    file = tmp_path / "s.yaml"
    file.write_text(yaml.safe_dump(whole, allow_unicode=True))
    rules = load([file], environ={}).rules
    (sample,) = Decoder(rules.probes()).decode(topic, raw, NOW).samples
    assert 21.5 == sample.value


def test_ids_are_ours_and_never_taken_twice():
    one, taken = found("x", b"1")[0], set()
    assert ["fig-west", "fig-west-2", "probe-7", "probe"] == [
        probe_id(topic, one, taken) for topic in ("probes/Fig West", "other/fig_west", "a/7", "a/é")
    ]


def test_what_is_not_known_is_said_to_be_guessed():
    assert line("p", "t", found("t", b"1")[0]).endswith("}   # or humidity, or moisture?")
    assert Measures.TEMPERATURE is found("temp", b"1")[0].measures
