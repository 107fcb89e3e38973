"""The demo's settings file and the demo's probes understand each other, to the last message."""

from pathlib import Path

import pytest

from monitor import simulator
from monitor.intake.payloads import Decoder
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Ability
from monitor.settings import load
from monitor.simulator import story as told
from monitor.simulator.story import START, Story

FILE = Path(simulator.__file__).with_name("demo.yaml")


@pytest.fixture(scope="module")
def rules():
    return load([FILE], environ={"VERMISTAT_DEMO_SCREEN": "json://screen.invalid"}).rules


@pytest.fixture(scope="module")
def decoded(rules):
    decoder = Decoder(rules.sources())
    return [(m, decoder.decode(m.topic, m.payload, m.at)) for m in Story().until(START + 16 * HOUR)]


def test_no_message_of_the_whole_night_is_refused(decoded):
    assert [] == [d.refusals for _, d in decoded if d.refusals]


def test_every_probe_but_the_guests_is_heard_by_its_id(decoded, rules):
    heard = {s.probe for _, d in decoded for s in d.samples}
    assert set(rules.sources()) - heard == {"guest-middle"}


def test_json_and_senml_carry_their_own_time_and_plain_numbers_do_not(decoded):
    for message, found in decoded:
        for sample in found.samples:
            plain = message.topic in ("probes/crate", "probes/trays-upper", "probes/trays-lower")
            stored = sample.probe.startswith("longbox") and message.at == START
            assert plain == (sample.at is None)
            assert plain or stored or sample.at == message.at


def test_counts_become_the_moisture_that_the_bed_really_has(rules):
    probe = rules.probes()["longbox-damp"]
    assert Measures.MOISTURE is probe.measures
    assert [told.DRY_COUNTS, told.WET_COUNTS] == [(p.moisture, p.counts) for p in probe.calibration]


def test_four_bins_of_four_species_and_one_for_guests(rules):
    assert {
        "tub": ("eudrilus-eugeniae", "tub"),
        "trays": ("eisenia-fetida", "trays"),
        "longbox": ("perionyx-excavatus", "trough"),
        "crate": ("dendrobaena-veneta", "crate"),
        "guest": ("eudrilus-eugeniae", "tub"),
    } == {b.id: (b.species[0], b.vessel.kind) for b in rules.bins.values()}


def test_the_keeper_sleeps_and_the_one_at_the_desk_does_not_and_hears_of_nothing_else(rules):
    keeper, guest = rules.people["keeper"], rules.people["guest"]
    assert ("22:00", "06:30") == (f"{keeper.evening:%H:%M}", f"{keeper.up:%H:%M}")
    assert {Ability.MATS, Ability.WATER, Ability.FEED} == keeper.may
    assert (None, None, {"desk"}) == (guest.evening, guest.up, guest.hears)
    assert "desk" not in keeper.hears
    assert ["guest"] == [b.id for b in rules.bins.values() if b.place == "desk"]


def test_the_guests_probe_may_be_silent_all_night(rules):
    assert 24 * HOUR == rules.probes()["guest-middle"].every
    assert {5 * MINUTE} == {p.every for p in rules.probes().values() if p.id != "guest-middle"}


def test_the_story_begins_at_five_by_the_yards_own_clock(rules):
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo

    local = datetime.fromtimestamp(START / 1000, UTC).astimezone(ZoneInfo(rules.site.timezone))
    assert "2026-01-14 17:00" == f"{local:%Y-%m-%d %H:%M}"
