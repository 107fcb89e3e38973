"""At each person's `evening` the whole night is decided and told in one notice for a place, once, whatever happens."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from monitor.checks.system import System
from monitor.notify.evening import LATE, last_evening, last_up, next_evening
from monitor.notify.notices import Slot
from monitor.notify.plan import plan
from monitor.readings import HOUR, MINUTE
from monitor.rules import Control, Mat, Person, Remedy
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from parts.asking import ask
from parts.nights import COLD, COOL, FIG, PLUM, SLOE, shed
from parts.orchard import ANA, BEN, advise, alarm, ms, now_at, rules, step


def test_what_comes_late_in_the_day_is_told_in_the_evening_in_one_notice():
    house = shed().until("18:00").until("20:45", **COOL)
    assert [] == house.told()
    assert ("raised", "held", "It can wait until 21:00, when ana is told what has come together.") == house.why(1)[
        0
    ]
    house.until("21:00", **COOL)
    assert [("21:00", "evening", "Fig: see that long-mat is on tonight; west is 19.0 °C")] == house.told()
    assert not house.post()[0].woke
    assert "It is ana's evening, when the night is decided; it waited since 19:15." == house.why(1)[-1][2]


def test_two_bins_of_a_place_are_one_notice_and_another_place_is_another():
    wrapped = replace(SLOE, can=frozenset({Remedy.INSULATE}))
    house = shed(bins=(FIG, PLUM, wrapped)).until("18:00").until("21:00", **COOL, plum_near=8.0, sloe_top=15.0)
    assert [("porch", 1), ("shed", 2)] == [(n.place, len(n.alarms)) for n in house.post()]
    assert ["Sloe: wrap it in blankets tonight; the bed is 15.0 °C"] == [
        n.title for n in house.post() if n.place == "porch"
    ]


def test_nothing_that_matters_tonight_is_no_notice():
    house = shed().until("18:00").until("21:15", plum_near=8.0)  # feed less: not tonight
    assert [] == house.told()
    house.until("07:00", plum_near=8.0)
    assert [("07:00", "morning", "Plum: feed less while it is cold; the bed is 8.0 °C")] == house.told()


def test_nothing_standing_is_no_notice():
    assert [] == shed().until("21:15").until("07:15").until("21:15").told()


def test_what_was_told_by_day_is_not_told_again_in_the_evening():
    house = shed().until("15:00", **COOL)
    assert [("13:15", "at once")] == [(at, slot) for at, slot, _ in house.told()]
    assert 1 == len(house.until("21:00", **COOL).until("07:30", **COOL).told())


def test_harm_that_nobody_has_answered_is_told_again_before_the_night():
    house = shed().until("14:00", **COLD)
    first = len(house.told())
    house.until("21:00", **COLD)
    assert 1 == first
    assert [("12:15", "at once"), ("21:00", "evening")] == [(at, slot) for at, slot, _ in house.told()]
    assert "this stands: it is not answered" in house.why(1)[-1][2]


def test_harm_that_somebody_has_seen_is_not():
    house = shed().until("14:00", **COLD)
    ask(house, "seen", 1)
    assert ["12:15"] == [at for at, _, _ in house.until("21:15", **COLD).told()]


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def test_an_evening_is_decided_once_over_a_restart(store):
    house = shed(store=store).until("20:45", **COLD)
    before = len(house.told())
    house.until("21:00", **COLD).restart()
    house.until("21:15", **COLD).restart()
    house.until("21:30", **COLD)
    assert 1 == len(house.told()) - before
    assert ms("21:00") == int(store.load().standing["evening", "person:ana"])


def test_without_what_is_kept_of_it_the_evening_would_be_decided_twice():
    house = shed().until("21:00", **COLD)
    told = len(house.told())
    house.restart()
    stands = house.rounds._stood
    object.__setattr__(stands, "ledger", type(stands.ledger)(said=stands.ledger.said))
    house.until("21:15", **COLD)
    assert 1 == len(house.told()) - told


def test_an_evening_over_which_nothing_ran_is_left_to_the_wake_rule():
    house = shed().until("18:00").until("20:45", **COOL)
    house.later(hours=5)
    house.restart()
    house.until("02:00", **COOL)
    assert [] == house.told()
    assert [("07:00", "morning")] == [(at, slot) for at, slot, _ in house.until("07:00", **COOL).told()]


def test_one_that_is_only_a_little_late_is_decided():
    house = shed().until("18:00").until("20:45", **COOL)
    house.at = ms("21:20")
    house.restart()
    house.say(**COOL, plum_near=18.0)
    assert [("21:20", "evening")] == [(at, slot) for at, slot, _ in house.told()]
    assert ms("21:20") - ms("21:00") <= LATE


def test_after_the_evening_only_the_wake_rule_tells():
    house = shed().until("21:00").until("23:45", **COOL)
    assert [] == house.told()
    house.until("02:00", **COLD)
    assert [("00:00", "woken")] == [(at, slot) for at, slot, _ in house.told()]
    assert ["raised", "rose"] == [event for event, verdict, _ in house.why(1) if verdict == "told"]


def test_nobody_is_woken_twice_a_night_for_the_same_act():
    """Fig comes to harm, is warm again, and comes to harm again: the same mat, and the night is the same."""
    house = shed().until("21:15").until("23:00", **COLD).until("01:30").until("04:00", **COLD)
    woken = [n for n in house.post() if n.woke]
    assert 1 == len(woken)
    assert any("was told as pressing tonight already" in why for _, _, why in house.why(1))
    assert ["07:00"] == [at for at, slot, _ in house.until("07:00", **COLD).told() if slot == "morning"]


def test_another_bin_on_another_plug_wakes_again():
    mats = [Mat(f"{bed}-mat", ((bed, zone),), Control.HAND) for bed, zone in (("fig", "west"), ("plum", "near"))]
    house = shed(mats=mats).until("21:15").until("23:00", **COLD).until("04:00", **COLD, plum_near=-3.0)
    assert 2 == len([n for n in house.post() if n.woke])


def test_what_there_is_to_do_changes_without_a_step():
    """Plum on the same plug gets hot while fig is in harm: what was `mat on` becomes `mat off`, and that wakes."""
    house = shed().until("21:15").until("23:00", **COLD)
    assert "see that long-mat is on" in house.post()[-1].title
    house.until("02:00", **COLD, plum_near=33.0)
    assert "switch long-mat off" in house.post()[-1].title
    assert 2 == len([n for n in house.post() if n.woke])


def test_broker_lost_wakes_only_if_a_bed_was_out_of_comfort_when_it_was_last_heard():
    lost = System(link_up=False, link_since=ms("23:10"))
    for values, woken in (({}, 0), (COOL, 1)):
        house = shed().until("21:15", **values).until("23:00", **values)
        before = len(house.post())
        house.system = lost
        house.later(15)
        house.rounds.run()
        assert woken == len([n for n in house.post()[before:] if n.woke])
        verdict = house.why(max(a.number for a in house.store.load().alarms if a.key.condition == "broker lost"))[
            0
        ]
        assert ("fig was cold when it was last heard of" if woken else "no bed was near harm") in verdict[2]


def test_what_is_expected_before_morning_wakes_like_harm():
    """The seam for a learned forecast: by bin, when harm is likely."""
    cold = alarm(12, "fig", "cold", since="23:10")
    known = {"shed": advise([cold], now_at(fig_west=19.0), at="02:10")}
    for expected, slots in ((ms("05:00"), [Slot.NIGHT]), (ms("2026-11-25T09:00"), [])):
        planned = plan(
            rules=rules(), untold={}, transitions=[step(cold)], past=[], alarms={12: cold}, advice=known, before={},
            now=ms("02:10"), next_notice=1, outlook={"fig": expected},
        )  # fmt: skip
        assert slots == [n.slot for n in planned.notices]


ZONES = [
    ("Europe/London", date(2027, 3, 28)),
    ("Europe/London", date(2027, 10, 31)),
    ("America/New_York", date(2027, 3, 14)),
    ("America/New_York", date(2027, 11, 7)),
    ("Australia/Lord_Howe", date(2027, 4, 4)),  # half an hour back
    ("Australia/Lord_Howe", date(2027, 10, 3)),  # half an hour forward
    ("Asia/Kathmandu", date(2027, 1, 1)),  # +5:45 all year
    ("Asia/Kathmandu", date(1986, 1, 1)),  # from +5:30 to +5:45
    ("Pacific/Apia", date(2011, 12, 30)),  # a day that never was
    ("America/Caracas", date(2016, 5, 1)),  # from -4:30 to -4
    ("Asia/Pyongyang", date(2018, 5, 5)),  # from +8:30 to +9
    ("Africa/Juba", date(2021, 2, 1)),
    ("Europe/Volgograd", date(2020, 12, 27)),
    ("Africa/Casablanca", date(2025, 2, 23)),  # back for Ramadan; of 2027 editions of tzdata differ
]


def by_zoneinfo(day, clock, zone):
    """The moment by the standard library alone: RFC 5545 section 3.3.5 for what does not exist, or twice."""
    return round(datetime.combine(day, clock, ZoneInfo(zone)).astimezone(UTC).timestamp() * 1000)


@pytest.mark.parametrize(("zone", "change"), ZONES, ids=str)
@pytest.mark.parametrize("evening", ["21:00", "02:30", "01:45", "00:15", "19:45"])
def test_there_is_one_evening_a_day_at_its_time_also_where_clocks_change(zone, change, evening):
    person = Person("ana", ("mail",), time.fromisoformat(evening), time(7))
    days = [change + timedelta(days=n) for n in range(-3, 4)]
    expected = sorted({by_zoneinfo(day, person.evening, zone) for day in days})
    found, at = [], expected[0] - 1
    while at < expected[-1]:
        at = next_evening(person, at, zone)
        found.append(at)
    assert expected == found
    assert [6, 7][zone != "Pacific/Apia"] == len(found)
    for moment, after in pairwise(expected):
        for now in (moment, moment + MINUTE, (moment + after) // 2, after - 1):
            assert moment == last_evening(person, now, zone)
    ups = {by_zoneinfo(day, time(7), zone) for day in days}
    assert last_up(person, expected[-1] + HOUR, zone) in ups | {
        by_zoneinfo(days[-1] + timedelta(days=1), time(7), zone)
    }


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "Asia/Kathmandu", "Australia/Lord_Howe", "America/New_York"])
def test_a_whole_year_has_as_many_evenings_as_days(zone):
    person = Person("ana", ("mail",), time(21, 30), time(6, 45))
    at, count = by_zoneinfo(date(2027, 1, 1), time(0), zone), 0
    end = by_zoneinfo(date(2028, 1, 1), time(0), zone)
    while (at := next_evening(person, at, zone)) < end:
        count += 1
        local = datetime.fromtimestamp(at / 1000, ZoneInfo(zone))
        assert time(21, 30) == local.time()
    assert 365 == count


def test_each_has_their_own_evening():
    house = shed(ANA, BEN).until("18:00").until("23:00", **COOL)
    assert [("ana", "21:00"), ("ben", "22:30")] == [
        (n.person, at) for n, (at, _, _) in zip(house.post(), house.told(), strict=True)
    ]


@pytest.mark.parametrize(("expected", "slots"), [("06:59", [Slot.NIGHT]), ("07:00", [])])
def test_what_is_expected_when_they_are_up_waits_for_them(expected, slots):
    cold = alarm(12, "fig", "cold", since="23:10")
    known = {"shed": advise([cold], now_at(fig_west=19.0), at="02:10")}
    planned = plan(
        rules=rules(), untold={}, transitions=[step(cold)], past=[], alarms={12: cold}, advice=known, before={},
        now=ms("02:10"), next_notice=1, outlook={"fig": ms(expected)},
    )  # fmt: skip
    assert slots == [n.slot for n in planned.notices]
