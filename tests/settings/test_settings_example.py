"""The example files: read whole, and what becomes of them."""

from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest

from monitor.addresses import Broker, Channel, Secret
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import (
    Ability,
    Control,
    JudgeBy,
    Level,
    Mat,
    Person,
    Point,
    Probe,
    Remedy,
    Role,
    Site,
    Source,
    Unit,
    Units,
    Vessel,
)
from monitor.settings import load

CONFIG = Path(__file__).parents[2] / "config"
TODAY = date(2026, 11, 25)
TEMPERATURE, MOISTURE = Measures.TEMPERATURE, Measures.MOISTURE


@pytest.fixture(scope="module")
def settings(tmp_path_factory):
    folder = tmp_path_factory.mktemp("credentials")
    (folder / "phone-url").write_text("json://localhost/phone\n")
    (folder / "page-passphrase").write_text("leaves under the snow\n")
    environ = {"CREDENTIALS_DIRECTORY": str(folder), "VERMISTAT_MAIL_URL": "mailto://localhost"}
    return load([CONFIG / "vermistat.yaml"], environ=environ, today=TODAY)


@pytest.fixture(scope="module")
def rules(settings):
    return settings.rules


def plain(probe, topic, measures=TEMPERATURE):
    return Probe(probe, measures, Source(topic, Unit.CELSIUS))


def test_the_site_and_its_place(rules):
    assert Site("orchard", "Orchard shed", "Europe/Lisbon", Units.METRIC) == rules.site
    assert ["shed"] == list(rules.places)
    air = Probe("shed-air", TEMPERATURE, Source("probes/shed-air", Unit.CELSIUS, "/temperature"), 5 * MINUTE)
    damp = Probe("shed-damp", Measures.HUMIDITY, Source("probes/shed-air", Unit.HUMIDITY, "/humidity"))
    assert (air, damp) == rules.places["shed"].probes


def test_the_bin_with_everything_written(rules):
    fig = rules.bins["fig"]
    assert ("fig", ("eudrilus-eugeniae",), "shed") == (fig.name, fig.species, fig.place)
    assert (2.0, 35.0, date(2026, 3, 14)) == (fig.worms, fig.bedding, fig.started)
    assert Vessel("tub", 0.3, 0.25, True, "loose") == fig.vessel
    assert {Remedy.INSULATE, Remedy.MOVE, Remedy.SHADE} == fig.can
    assert (JudgeBy.REFUGE, Level.HARM) == (fig.judge, fig.wake_for)


def test_its_zones_and_probes(rules):
    west, mat, east = rules.bins["fig"].zones
    assert [("west", Role.LIVING), ("mat", Role.AT_THE_MAT), ("east", Role.LIVING)] == [
        (zone.id, zone.role) for zone in (west, mat, east)
    ]
    assert (replace(plain("fig-west", "probes/fig-west"), offset=-0.2),) == west.probes
    assert (plain("fig-mat", "probes/fig-mat"),) == mat.probes
    taken = date(2026, 3, 20)
    points = (Point(2700, 12, taken), Point(1450, 80, taken))
    damp = Probe("fig-damp", MOISTURE, Source("probes/fig-damp", Unit.COUNTS), calibration=points)
    assert (plain("fig-east", "probes/fig-east"), damp) == east.probes


def test_its_limits(rules):
    limits = rules.bins["fig"].limits[TEMPERATURE]
    assert (21.0, 29.0, 1.0) == (limits.low.value, limits.high.value, limits.deadband)
    assert (HOUR, HOUR) == (limits.comfort_delay, limits.off_delay)
    expected = [(True, 15, 4 * HOUR), (True, 12, 0), (False, 32, 2 * HOUR), (False, 34, 0)]
    assert expected == [(harm.below, harm.bound.value, harm.lasting) for harm in limits.harm]


def test_the_bin_with_the_least_written(rules):
    plum = rules.bins["plum"]
    assert (("eisenia-fetida",), "shed", Vessel()) == (plum.species, plum.place, plum.vessel)
    assert (None, None, None, frozenset()) == (plum.worms, plum.bedding, plum.started, plum.can)
    (near,) = plum.zones
    assert ("near", Role.LIVING, (plain("plum-near", "probes/plum-near"),)) == (near.id, near.role, near.probes)


def test_the_mat_and_the_people(rules):
    expected = Mat(
        "long-mat",
        (("fig", "west"), ("plum", "near")),
        Control.THERMOSTAT,
        40.0,
        23.0,
        Source("plugs/long", Unit.WATT, "/watts"),
    )
    assert {"long-mat": expected} == rules.mats
    assert (
        Person("ana", ("phone", "mail"), time(21), time(7), frozenset(Ability), then="ben") == rules.people["ana"]
    )
    assert Person("ben", ("mail",), None, None, frozenset({Ability.MATS})) == rules.people["ben"]


def test_the_addresses(settings):
    assert Broker("localhost", 8883, tls=True) == settings.broker
    phone, mail = Channel("phone", Secret("json://localhost/phone")), Channel("mail", Secret("mailto://localhost"))
    assert {"phone": phone, "mail": mail} == settings.channels
    assert (None, ()) == (settings.store, settings.missing)


def test_without_its_secrets_the_example_is_accepted_for_a_check_and_says_what_is_missing():
    settings = load([CONFIG / "vermistat.yaml"], environ={}, today=TODAY, need_secrets=False)
    assert 3 == len(settings.missing)
    assert {} == settings.channels
    assert all("vermistat.yaml:" in line for line in settings.missing)


def test_one_bin_needs_ten_lines_and_has_a_place_of_its_own():
    file = CONFIG / "one-bin.yaml"
    assert 10 >= len(file.read_text().splitlines())
    settings = load([file], environ={"VERMISTAT_PHONE_URL": "json://localhost"}, today=TODAY)
    (fig,) = settings.rules.bins.values()
    assert ("porch", ["porch"]) == (fig.place, list(settings.rules.places))
    assert (10, 28) == (fig.limits[TEMPERATURE].low.value, fig.limits[TEMPERATURE].high.value)
    assert ["fig-middle"] == list(settings.rules.probes())
    assert Broker() == settings.broker
    assert ((), ()) == (settings.ineffective, settings.missing)
