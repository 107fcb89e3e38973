"""A real publisher counts what was no reading; through a real Mosquitto whoever looks at a silent probe is told why."""

from contextlib import ExitStack
from dataclasses import replace

import pytest

from monitor.intake.publishers import KIND, Publisher, Wired, publishers_in
from monitor.publisher.faults import Fault, Faulty
from monitor.readings import MINUTE
from monitor.reports.publishers import FAULTS
from monitor.reports.roster import probes_facts, probes_text
from monitor.reports.saying import Saying
from monitor.settings import load
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from parts.lived import lived
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.sending import Sending

NOW = 1_795_608_000_000
"""2026-11-25T12:00:00Z."""
SETTINGS = """
site: {id: orchard}
bins:
  fig:
    species: eisenia-fetida
    zones: {west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west, name: fig-west}}}}
  plum:
    species: eisenia-fetida
    zones: {near: {probes: {plum-near: {measures: temperature, topic: probes/plum, field: /t}}}}
publishers: shed
"""
OTHER = ("probes/plum", '{"t": 20}')


@pytest.fixture
def settings(tmp_path):
    (tmp_path / "s.yaml").write_text(SETTINGS)
    return load([tmp_path / "s.yaml"], environ={})


def there(settings, broker, store):
    mine = replace(settings, broker=replace(settings.broker, port=broker.port, host="127.0.0.1"))
    return lived(mine, port=broker.port, store=store, start=NOW)


def row(store, settings, at):
    facts = probes_facts(store, settings.rules, at)
    return next(r for r in facts["probes"] if r["probe"] == "fig-west"), probes_text(
        facts, Saying(settings.rules, at)
    )


def known(store):
    return publishers_in(store.standing(KIND)).get("shed")


def in_a_round(life, store):
    """What is known after one more second and its round."""
    life.say(life.clock.now() + 1000, OTHER, stored=1)
    return known(store) or Publisher(True, None)


def test_the_faults_a_real_publisher_counts_stand_with_the_probe_and_its_good_bye_too(settings):
    """Its word is there before the daemon is: the broker has kept it."""
    store, said = MemoryStore(), "fig-west: a wrong check sum; look at the cable."
    with Mosquitto("set_tcp_nodelay true") as broker, ExitStack() as ends:
        sending = Sending(broker.port, "fig-west", site="orchard")
        sending.sources["fig-west"].fault = Faulty(Fault.CRC, said)
        with sending:
            faults = sending.publisher._probes["fig-west"].sampling.faults
            until(lambda: faults.get(Fault.CRC, 0) >= 2, "two wrong check sums")
            life = ends.enter_context(there(settings, broker, store))
            until(lambda: "crc" in in_a_round(life, store).probes.get("fig-west", Wired()).faults, "its count")
            told, text = row(store, settings, NOW + 5 * MINUTE)
        until(lambda: in_a_round(life, store).alive is False, "its good-bye")
        after, gone = row(store, settings, NOW + 5 * MINUTE)
    wired = told["wired"]
    assert ("shed", True, said) == (wired["publisher"], wired["alive"], wired["says"])
    assert wired["faults"]["crc"] >= 1
    assert wired["heard"].startswith("2026-11-25T12:0")
    assert "never heard." in text
    assert f" {FAULTS['crc']}." in text
    assert f"Now its publisher says: {said}" in text
    assert after["wired"]["faults"]["crc"] >= 1
    assert "Its publisher shed is gone; heard " in gone


def status(alive=True, crc=0, good=1, says=""):
    faults = f'{{"crc": {crc}}}' if crc else "{}"
    return "publishers/shed", (
        f'{{"alive": {str(alive).lower()}, "probes": {{"fig-west": {{"good": {good}, "faults": {faults}, "says": "{says}"}}}}}}'
    )


def test_what_only_counts_on_is_kept_once_in_a_quarter_of_an_hour_and_what_is_new_at_once(settings):
    store = MemoryStore()
    with Mosquitto("set_tcp_nodelay true") as broker, there(settings, broker, store) as life:
        life.say(NOW + 1000, status(), OTHER, stored=1)
        life.say(NOW + MINUTE, status(good=60), OTHER, stored=1)
        assert (1, NOW + 1000) == (known(store).probes["fig-west"].good, known(store).heard)
        life.say(NOW + 2 * MINUTE, status(crc=1), OTHER, stored=1)
        assert {"crc": 1} == known(store).probes["fig-west"].faults
        life.say(NOW + 3 * MINUTE, status(crc=9), OTHER, stored=1)
        assert {"crc": 1} == known(store).probes["fig-west"].faults
        life.say(NOW + 18 * MINUTE, status(crc=15), OTHER, stored=1)
        assert ({"crc": 15}, NOW + 18 * MINUTE) == (known(store).probes["fig-west"].faults, known(store).heard)
        life.say(NOW + 19 * MINUTE, ("publishers/shed", '{"alive": false}'), OTHER, stored=1)
        assert (False, {"crc": 15}) == (known(store).alive, known(store).probes["fig-west"].faults)
        life.say(NOW + 20 * MINUTE, ("publishers/shed", "what"), OTHER, stored=1)
        (refused,) = store.refusals()
    assert ("publishers/shed", "Not JSON: “what”. Look at what the publisher sends.") == (
        refused.topic,
        refused.reason,
    )


def test_of_a_publisher_that_nobody_listens_to_any_more_nothing_is_kept(settings, tmp_path):
    file = tmp_path / "kept.db"
    with Mosquitto("set_tcp_nodelay true") as broker:
        store = SqliteStore(file)
        with there(settings, broker, store) as life:
            life.say(NOW + 1000, status(crc=2), OTHER, stored=1)
            assert known(store) is not None
        store = SqliteStore(file)
        with there(replace(settings, publishers=()), broker, store) as life:
            life.say(NOW + 2000, status(crc=3), OTHER, stored=1)
            assert known(store) is None
            assert row(store, settings, NOW + MINUTE)[0]["wired"] is None


def test_every_fault_a_publisher_counts_has_its_words():
    assert {str(one) for one in Fault} == set(FAULTS)
