"""`vermistat learned`: in sentences, with how sure it is; written out, and forgotten on request."""

import json
import math
import random
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from cli.keeping import NOW
from monitor.bed import kept, living, unsure
from monitor.bed.keeping import learned_of
from monitor.bed.living import Drive
from monitor.bed.plan import as_now
from monitor.bed.room import Room, heard
from monitor.bed.zone import Hour
from monitor.hourly import beds_in, documents_of
from monitor.readings import HOUR
from monitor.reports.foreseen import forecast_facts
from monitor.reports.learned import learned_facts
from monitor.store.promises import Standing
from parts.kept import round_
from parts.orchard import FIG

ROOT = Path(__file__).parents[2]
A, B = 0.045, 0.36
"""What the bed really is: half its warmth in 15 h, 8 °C by its mat."""


def lived(hours, *, watts=20.0, until=NOW, loses=A):
    """A zone that was lived through hour by hour up to NOW, its mat on every other half day, and its room."""
    chance, warmth, room = random.Random(5), 16.0, Room()
    at = until // HOUR * HOUR - hours * HOUR
    bed = living.begin(FIG, at, watts=watts)
    told = None
    for n in range(hours):
        at += HOUR
        air = 8 + 4 * math.sin(n / 24 * 2 * math.pi) + 2 * math.sin(n / 57)
        duty = float(n // 12 % 2)
        before, goes_to = warmth, air + B / loses * duty
        warmth = goes_to + (warmth - goes_to) * math.exp(-loses) + chance.gauss(0, 0.03)
        room = heard(room, at, air)
        hour = Hour(at, before, warmth, air, duty, before, before)
        drive = Drive(duty, living.Known.DIARY, as_now(duty))
        told = living.tell(living.took_up(bed, hour), room, hour, limits=(10.0, 30.0), drive=drive)
        bed = told.bed
    return bed, room, told


def keep(store, bed, room, told, zones=("fig.west",)):
    documents = [
        *(d for zone in zones for d in kept.bed_documents(zone, bed, living.noted(told), whole=True)),
        *kept.room_documents("shed", room, kept.Heard(told.at, None, None), whole=True),
    ]
    store.commit(round_(1, standing=[Standing(*one) for one in documents]))


@pytest.fixture
def wise(site):
    """Fig's west side has learned for three weeks."""
    bed, room, told = lived(21 * 24)
    with site.lived() as house:
        keep(house.store, bed, room, told, ("fig.west", "fig.mat"))
    return site


def said(out, name):
    """The sentences under a zone's name."""
    lines = out.splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith(name))
    found = []
    for line in lines[first + 1 :]:
        if not line.startswith("  "):
            break
        found.append(line.strip())
    return found


def test_a_side_says_how_it_loses_its_warmth_and_what_its_mat_adds(wise, noon, capsys):
    facts = {zone["id"]: zone for zone in wise.tells(capsys, "learned")["zones"]}
    west = facts["fig.west"]
    assert pytest.approx(math.log(2) / A, rel=0.1) == west["half_life_h"]["likely"]
    assert west["half_life_h"]["low"] < west["half_life_h"]["likely"] < west["half_life_h"]["high"]
    assert pytest.approx(B / A, rel=0.1) == west["lift_c"]["likely"]
    assert west["known"]
    assert west["mat_watched"]
    first, second, *_, night = west["sentences"]
    assert first.startswith("It loses half its warmth over the room in about 15 h (")
    assert second.startswith("Its mat lifts it by about 8 °C (")
    assert "days of its room's own past that began alike" in night
    assert night.endswith(f"as surely as its last {west['errors']} errors at this time of day allow.")
    assert west["errors"] > 60


def test_away_from_the_mat_no_lift_is_said_and_why(wise, noon, capsys):
    other = next(z for z in wise.tells(capsys, "learned")["zones"] if z["id"] == "fig.mat")
    assert other["lift_c"] is None
    assert any(s.startswith("How far the mat lifts this side is not said") for s in other["sentences"])


def test_a_bed_that_never_heard_its_room_or_itself_says_so(site, noon, capsys):
    with site.lived():
        pass
    assert 0 == site.call("learned")
    out, _ = capsys.readouterr()
    assert ["It has learned nothing yet: that begins with its first whole hour."] == said(out, "Fig west")
    site.file.write_text(
        site.file.read_text().replace(
            "shed: {probes: {shed-air: {measures: temperature, topic: probes/shed-air, every: 5 min}}}", "shed: {}"
        )
    )
    assert 0 == site.call("learned")
    out, _ = capsys.readouterr()
    assert ["It cannot learn: no thermometer measures the air it stands in."] == said(out, "Fig west")


def test_in_its_first_days_it_says_that_it_still_learns_and_tells_widely(site, noon, capsys):
    bed, room, told = lived(40)
    with site.lived() as house:
        keep(house.store, bed, room, told)
    assert 0 == site.call("learned")
    out, _ = capsys.readouterr()
    first, *_, night = said(out, "Fig west")
    assert (
        "It still learns (38 of 336 hours); until then it is taken to be as its vessel and bedding are." == first
    )
    assert night.endswith("and roughly: too few of its own errors are known.")
    assert "its room taken to stay as it is now" in night


def test_all_of_it_is_written_out_to_the_last_bit(wise, noon, tmp_path, capsys):
    file = tmp_path / "learned.json"
    assert 0 == wise.call("learned", "--export", str(file))
    assert f"What was learned is written to {file}." in capsys.readouterr()[0]
    whole = json.loads(file.read_text())
    assert {"fig.west", "fig.mat"} == set(whole["zones"])
    with wise.lived() as house:
        before = beds_in(documents_of(house.store))["fig.west"][0]
    assert before.learned == learned_of(json.dumps(whole["zones"]["fig.west"]["learned"]))


def test_where_nothing_can_be_written_it_says_so_and_has_asked_for_nothing(wise, noon, tmp_path, capsys):
    assert 0 != wise.call(
        "learned", "--reset", "fig.west", "--as", "ana", "--export", str(tmp_path / "no" / "where")
    )
    assert "cannot be written: No such file or directory" in capsys.readouterr()[1]
    with wise.lived() as house:
        assert [] == house.store.asked()


def test_a_zone_that_is_reset_is_asked_for_once_and_its_round_writes_it_down(wise, noon, capsys):
    assert 0 == wise.call("learned", "--reset", "fig.west", "--as", "ana")
    out, _ = capsys.readouterr()
    assert out.startswith(
        "fig.west forgets what it has learned of its heat at the end of this hour, and learns anew."
    )
    with wise.lived() as house:
        house.at = NOW
        house.rounds.run()
        (entry,) = house.store.diary()
    assert ("ana", "learns anew", "zone:fig.west") == (entry.who, entry.deed, entry.subject)


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("fig", "fig has several zones: say one of fig.west, fig.mat, fig.east"),
        ("fig.wst", "did you mean fig.west?"),
        ("quince.bed", "known are fig.west, fig.mat, fig.east, plum.near"),
    ],
)
def test_a_zone_that_is_none_is_refused_with_what_would_be_one(wise, noon, capsys, name, why):
    assert 0 != wise.call("learned", "--reset", name, "--as", "ana")
    assert why in capsys.readouterr()[1]


def test_a_bin_with_a_single_zone_is_named_by_the_bin(wise, noon, capsys):
    assert 0 == wise.call("learned", "--reset", "plum", "--as", "ana")
    assert capsys.readouterr()[0].startswith("plum.near forgets")


def test_warmth_is_said_in_the_sites_own_units(wise, noon, capsys):
    wise.file.write_text(wise.file.read_text().replace("units: metric", "units: us"))
    west = next(z for z in wise.tells(capsys, "learned")["zones"] if z["id"] == "fig.west")
    assert any("°F" in sentence for sentence in west["sentences"])
    assert not any("°C" in sentence for sentence in west["sentences"])


def test_a_zone_whose_learning_began_again_says_since_when_and_why(site, noon, capsys):
    bed, room, told = lived(60)
    zone = replace(bed.learned.zone, why="the insulation was changed", since=NOW - 5 * HOUR)
    with site.lived() as house:
        keep(house.store, replace(bed, learned=replace(bed.learned, zone=zone)), room, told)
    assert 0 == site.call("learned")
    assert "Fig west (learns since 07:00, because the insulation was changed)" in capsys.readouterr()[0]


def test_the_hours_ahead_are_told_with_chances_bands_and_what_they_are_told_by(wise, noon, capsys):
    west = next(z for z in wise.tells(capsys, "forecast", "--bin", "fig")["zones"] if z["id"] == "fig.west")
    twelve, day = west["horizons"]
    assert (12, 24) == (twelve["hours"], day["hours"])
    assert twelve["least_c"]["low"] <= twelve["least_c"]["likely"] <= twelve["least_c"]["high"]
    assert day["least_c"]["likely"] <= twelve["least_c"]["likely"]
    assert (15.0, 32.0) == (west["low_c"], west["high_c"])
    assert 0 <= twelve["chance_below"] <= 1
    assert 24 == len(west["fan"])
    assert all(low <= middle <= high for low, middle, high in west["fan"])
    assert west["may_alarm"]
    assert west["sentences"][0].endswith(".")
    assert any("days of the room's own past that began alike" in s for s in west["sentences"])


def test_what_is_told_by_the_command_is_what_the_science_says_of_the_same_bed(wise, noon, capsys):
    bed, room, told = lived(21 * 24)
    off = Drive(None, living.Known.NOTHING, as_now(None))
    once_more = living.tell(bed, room, told.hour, limits=(15.0, 32.0), drive=off)
    west = next(z for z in wise.tells(capsys, "forecast")["zones"] if z["id"] == "fig.west")
    assert round(once_more.forecast.least[0].point, 2) == west["horizons"][0]["least_c"]["likely"]
    assert once_more.forecast.least[0].chance == west["horizons"][0]["chance_below"]
    assert told.at // 1000 == int(datetime.fromisoformat(west["told_at"]).timestamp())


def test_a_zone_that_was_never_heard_is_told_nothing_of(wise, noon, capsys):
    east = next(z for z in wise.tells(capsys, "forecast")["zones"] if z["id"] == "fig.east")
    assert ([], None) == (east["horizons"], east["told_at"])
    assert ["Nothing can be told now: it, or its room, has not been heard for a whole hour."] == east["sentences"]


def test_what_was_told_long_ago_is_told_no_more(site, noon, capsys):
    bed, room, told = lived(60, until=NOW - 9 * HOUR)
    with site.lived() as house:
        keep(house.store, bed, room, told)
    west = next(z for z in site.tells(capsys, "forecast")["zones"] if z["id"] == "fig.west")
    assert ["Nothing can be told now; the last hour that was, ended at 03:00."] == west["sentences"]


def test_a_bed_in_its_first_days_says_that_its_band_is_wide(site, noon, capsys):
    bed, room, told = lived(40)
    with site.lived() as house:
        keep(house.store, bed, room, told)
    west = next(z for z in site.tells(capsys, "forecast")["zones"] if z["id"] == "fig.west")
    assert not west["may_alarm"]
    assert "It still learns: no alarm is made of this, and the band is wide." in west["sentences"]


def test_what_it_is_weak_at_is_said_once_and_everywhere_in_the_same_words(site, noon, capsys):
    bed, room, told = lived(21 * 24, loses=0.30)
    with site.lived() as house:
        keep(house.store, bed, room, told, ("fig.west", "fig.mat"))
    for command in ("learned", "forecast"):
        zones = {zone["id"]: zone["sentences"] for zone in site.tells(capsys, command)["zones"]}
        assert 1 == zones["fig.west"].count(unsure.QUICK)
        assert (command == "learned") == (
            unsure.FAR in zones["fig.mat"]
        )  # no answer of its mat, no word of its lift
        assert unsure.FAR not in zones["fig.west"]
        assert unsure.LEARNS not in zones["fig.west"]
    paper = " ".join((ROOT / "config/how-to/alarms.md").read_text(encoding="utf-8").split())
    for words in (unsure.FAR, unsure.QUICK, unsure.LEARNS):
        assert 1 == paper.count(f"*{words}*")


def test_a_bed_that_holds_its_warmth_is_not_called_quick(wise, noon, capsys):
    for command in ("learned", "forecast"):
        assert all(unsure.QUICK not in zone["sentences"] for zone in wise.tells(capsys, command)["zones"])


def test_of_one_bin_only_its_own_documents_are_read_and_it_is_told_the_same(wise, caplog):
    every = wise.rules
    alone = replace(every, bins={"fig": every.bins["fig"]})
    with wise.lived() as house:
        store = house.store
        told = [z for z in forecast_facts(store, every, NOW)["zones"] if z["id"].startswith("fig.")]
        known = [z for z in learned_facts(store, every, NOW)["zones"] if z["id"].startswith("fig.")]
        store.commit(round_(2, standing=[Standing(kept.BED, "zone:plum.near", "unreadable")]))
        assert "zone:plum.near" not in documents_of(store, ["fig.west"])[kept.BED]
        assert told == forecast_facts(store, alone, NOW)["zones"]
        assert known == learned_facts(store, alone, NOW)["zones"]
        assert "" == caplog.text
        forecast_facts(store, every, NOW)
    assert "what zone:plum.near has learned cannot be read" in caplog.text
