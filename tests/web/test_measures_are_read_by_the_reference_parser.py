"""`/metrics` is read by the reference parsers of both formats (prometheus-client), and what they read is what is kept."""

import json
import math

import httpx2 as httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client.openmetrics.parser import text_string_to_metric_families as read_open
from prometheus_client.parser import text_string_to_metric_families as read_plain

from monitor.readings import MINUTE, Reading, Refusal, RefusalKind
from monitor.rules import Bin
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from monitor.web import measures
from monitor.web.exposition import OPENMETRICS, PLAIN, Family, Sample, Type, openmetrics, plain, wanted
from parts.orchard import FIG, ms, probe, rules
from web.test_the_api_is_what_it_says_it_is import client_of


@pytest.fixture(scope="module")
def here(tmp_path_factory):
    client, store = client_of(tmp_path_factory.mktemp("metrics"))
    yield client, store
    store.close()


def samples(text, read):
    """(name, labels) → value."""
    return {(s.name, tuple(sorted(s.labels.items()))): s.value for family in read(text) for s in family.samples}


def asked(client, accept):
    answer = client.get("/metrics", headers={"accept": accept})
    assert 200 == answer.status_code
    return answer


def test_it_is_openmetrics_by_the_reference_parser(here):
    answer = asked(here[0], "application/openmetrics-text; version=1.0.0")
    assert OPENMETRICS == answer.headers["content-type"]
    assert answer.text.endswith("# EOF\n")
    assert len(list(read_open(answer.text))) > 15


def test_both_formats_hold_the_same_numbers(here):
    client, _ = here
    one = samples(asked(client, OPENMETRICS).text, read_open)
    other = samples(asked(client, "text/plain").text, read_plain)
    moving = {"process_cpu_seconds_total", "process_resident_memory_bytes"}
    still = [{key: v for key, v in found.items() if key[0] not in moving} for found in (one, other)]
    assert still[0] == still[1]
    assert moving == {key[0] for key in one} & moving


def test_what_is_told_is_what_is_kept(here):
    client, store = here
    found = samples(asked(client, OPENMETRICS).text, read_open)
    now, alarms = client.get("/api/now").json(), client.get("/api/alarms").json()["alarms"]
    values = {v["probe"]: v for bed in now["bins"] for zone in bed["zones"] for v in zone["values"]}
    values |= {v["probe"]: v for air in now["air"] for v in air["values"]}
    told = {
        dict(labels)["probe"]: value
        for (name, labels), value in found.items()
        if name == "vermistat_probe_temperature_celsius"
    }
    assert told == {p: v["value"] for p, v in values.items() if v["fresh"] and v["unit"] == "°C"}
    ages = {
        dict(labels)["probe"]: value
        for (name, labels), value in found.items()
        if name == "vermistat_probe_age_seconds"
    }
    assert ages == {p: v["age_seconds"] for p, v in values.items() if v["at"]}
    standing = [a for a in alarms if a["state"] in ("unacknowledged", "acknowledged")]
    counted = {labels: value for (name, labels), value in found.items() if name == "vermistat_alarms"}
    assert len(standing) == sum(counted.values()) > 0
    assert 6 == len(counted)
    assert store.load().last_round.number == found["vermistat_rounds_total", ()]
    assert store.last_arrival() == found["vermistat_readings_total", ()]
    assert store.waiting() == found["vermistat_notices_waiting", ()]
    assert sum(store.refusal_counts().values()) == sum(
        value for (name, _), value in found.items() if name == "vermistat_refused_total"
    )
    assert 1 == found["vermistat_refused_total", (("kind", "not JSON"),)]


def test_the_process_tells_of_itself(here):
    found = samples(asked(here[0], OPENMETRICS).text, read_open)
    assert 20e6 < found["process_resident_memory_bytes", ()] < 2e9
    assert 0 < found["process_cpu_seconds_total", ()]
    assert 1.7e9 < found["process_start_time_seconds", ()]
    assert 1 == found["vermistat_build_info", (("version", "0.1.0"),)]


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("", OPENMETRICS),
        ("*/*", OPENMETRICS),
        ("application/openmetrics-text", OPENMETRICS),
        ("application/openmetrics-text;version=1.0.0;q=0.5,text/plain;version=0.0.4;q=0.3", OPENMETRICS),
        ("application/openmetrics-text;version=0.0.1,text/plain;version=0.0.4;q=0.5,*/*;q=0.1", PLAIN),
        ("text/plain", PLAIN),
        ("text/*", PLAIN),
        ("text/plain;q=0.9, application/openmetrics-text;q=0.1", PLAIN),
        ("application/openmetrics-text;q=0, */*", PLAIN),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", OPENMETRICS),
        ("application/json", None),
        ("text/plain;q=0", None),
        ("text/plain;q=much", None),
    ],
)
def test_who_asks_is_given_the_format_they_take(accept, kind):
    """Weights and the most particular range: RFC 9110, 12.5.1; the scrapers' own headers as they send them [memory]."""
    assert kind == wanted(accept)


def test_who_takes_neither_is_told_so(here):
    assert 406 == here[0].get("/metrics", headers={"accept": "application/json"}).status_code


ANY = st.text(st.characters(blacklist_categories=("Cs",)), max_size=20)


@given(ANY, ANY, st.floats(allow_nan=True, allow_infinity=True))
def test_whatever_stands_in_a_label_is_read_back(value, told, number):
    family = Family("vermistat_x", Type.GAUGE, "", told or "x", (Sample(number, {"a": value, "b": "2"}),))
    for text, read in ((openmetrics([family]), read_open), (plain([family]), read_plain)):
        (found,) = [s for one in read(text) for s in one.samples]
        assert {"a": value, "b": "2"} == found.labels
        assert found.value == number or (math.isnan(number) and math.isnan(found.value))


def test_a_family_of_which_nothing_is_known_is_left_out():
    assert "# EOF\n" == openmetrics([Family("vermistat_x", Type.GAUGE, "", "x", ())])


def test_what_the_parser_would_not_take_is_found_out():
    """The control: a unit that the name does not end in, and a text without its end."""
    for text in (
        "# TYPE x gauge\n# UNIT x seconds\nx 1\n# EOF\n",
        "# TYPE x gauge\nx 1\n",
        "# TYPE x counter\nx 1\n# EOF\n",
    ):
        with pytest.raises(ValueError, match=r"(?i)unit|EOF|sample|name"):
            list(read_open(text))


# ── what is told, and how much of it ──────────────────────────────────────────────────────────────────────────

AT = ms("12:00")


def told_of(store, of, at=AT):
    return samples(openmetrics(measures.families(store, of, at)), read_open)


def test_a_silent_probe_has_an_age_and_no_value():
    store, of = MemoryStore(), rules(mats=())
    store.keep(
        Batch([Reading("fig-west", AT - MINUTE, 22.5, AT), Reading("fig-east", AT - 300 * MINUTE, 21.0, AT)])
    )
    found = told_of(store, of)
    west = (("bin", "fig"), ("place", "shed"), ("probe", "fig-west"), ("zone", "west"))
    east = (("bin", "fig"), ("place", "shed"), ("probe", "fig-east"), ("zone", "east"))
    assert (22.5, 60.0, 1.0) == tuple(
        found[f"vermistat_probe_{what}", west] for what in ("temperature_celsius", "age_seconds", "fresh")
    )
    assert ("vermistat_probe_temperature_celsius", east) not in found
    assert (18_000.0, 0.0) == tuple(found[f"vermistat_probe_{what}", east] for what in ("age_seconds", "fresh"))


def test_moisture_is_a_ratio_where_it_is_calibrated_and_as_sent_where_not():
    store, of = MemoryStore(), rules(mats=())
    store.keep(
        Batch([Reading("fig-east-damp", AT - MINUTE, 1450.0, AT), Reading("shed-damp", AT - MINUTE, 71.5, AT)])
    )
    values = {name: value for (name, _), value in told_of(store, of).items() if "_ratio" in name}
    assert {"vermistat_probe_moisture_ratio": 0.8, "vermistat_probe_humidity_ratio": 0.715} == values


def test_nothing_that_comes_by_the_wire_becomes_a_label():
    store, of = MemoryStore(), rules()
    before = told_of(store, of).keys()
    refused = [Refusal(f"probes/{n}", None, RefusalKind.UNKNOWN_TOPIC, f"reason {n}", b"x", AT) for n in range(50)]
    store.keep(Batch(readings=[Reading(f"stranger-{n}", AT, 20.0, AT) for n in range(50)], refusals=refused))
    after = told_of(store, of)
    assert before == after.keys()
    assert 50 == after["vermistat_refused_total", (("kind", "no probe has this topic"),)]


def test_a_site_without_end_makes_no_series_without_end():
    """3,000 probes: 2,000 are told of, and that 1,000 are not."""
    many = [
        Bin(
            f"b{n}",
            f"B{n}",
            FIG.species,
            "shed",
            (type(FIG.zones[0])("z", FIG.zones[0].role, (probe(f"p{n}"),), {}),),
            {},
        )
        for n in range(3000 - 2)
    ]
    store = MemoryStore()
    store.keep(Batch([Reading(f"p{n}", AT - MINUTE, 20.0, AT) for n in range(3000 - 2)]))
    found = told_of(store, rules(bins=many, mats=()))
    assert 1000 == found["vermistat_probes_left_out", ()]
    assert 2000 == len([name for name, _ in found if name == "vermistat_probe_fresh"])


# ── over the wire, with a passphrase or without ───────────────────────────────────────────────────────────────


def test_a_running_daemon_is_measured(house):
    house.say("probes/fig-near", "22.25")

    def near():
        found = samples(httpx.get(house.address + "/metrics").text, read_open)
        return [
            v
            for (name, labels), v in found.items()
            if name.endswith("celsius") and ("probe", "fig-near") in labels
        ]

    house.until(lambda _store: [22.25] == near(), "the value is told")
    facts = httpx.get(house.address + "/api/now").json()
    assert ["fig", "plum"] == [bed["id"] for bed in facts["bins"]]
    assert json.loads(httpx.get(house.address + "/api/nothing").text)["status"] == 404
