"""Away dates, stand-ins, and harm that is not answered: it goes on to the next who is there, at their ability."""

from dataclasses import replace
from datetime import date, time

import pytest

from monitor.notify.duty import away_until, before, chain, first_hand, last_resort
from monitor.readings import DAY, HOUR, MINUTE
from monitor.rules import Ability, Person
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from parts import nights
from parts.asking import ask, shelve
from parts.nights import COLD, COOL, shed
from parts.orchard import TZ, ms, rules, subject

ANA = Person("ana", ("phone",), time(21), time(7), then="ben", after=30 * MINUTE)
BEN = Person("ben", ("mail",), time(22, 30), time(8))
CLEO = Person("cleo", ("sms",), time(22), time(6))
FRIDAY = (date(2026, 11, 27), date(2026, 11, 29))


def away(person, *days):
    return replace(person, away=days or ((date(2026, 11, 20), date(2026, 11, 30)),))


PLUGGED = tuple(replace(bed, can=frozenset()) for bed in (nights.FIG, nights.PLUM))
"""Bins for which nothing can be done but at their plug."""


# who is there


def test_an_absence_runs_from_the_first_mornings_up_to_the_up_after_the_last_day():
    ana = away(ANA, FRIDAY)
    expected = {
        "2026-11-27T06:59": None, "2026-11-27T07:00": ms("2026-11-30T07:00"), "2026-11-29T23:00": ms("2026-11-30T07:00"),
        "2026-11-30T06:59": ms("2026-11-30T07:00"), "2026-11-30T07:00": None,
    }  # fmt: skip
    assert expected == {at: away_until(ana, ms(at), TZ) for at in expected}


def test_somebody_without_hours_is_away_from_midnight_to_midnight():
    owl = Person("owl", ("mail",), away=(FRIDAY,))
    assert ms("2026-11-30T00:00") == away_until(owl, ms("2026-11-27T00:00"), TZ)
    assert away_until(owl, ms("2026-11-26T23:59"), TZ) is None


def test_absences_that_touch_are_one():
    ana = away(ANA, FRIDAY, (date(2026, 11, 30), date(2026, 12, 1)))
    assert ms("2026-12-02T07:00") == away_until(ana, ms("2026-11-28T12:00"), TZ)


def test_a_chain_names_nobody_twice_and_never_ends_where_it_began():
    round_ = rules(people=(ANA, replace(BEN, then="cleo"), replace(CLEO, then="ana")))
    assert ["ben", "cleo"] == [p.id for p in chain(round_.people["ana"], round_)]
    assert [] == [p.id for p in before(round_.people["ben"], round_)]


FIG = subject("fig")


@pytest.mark.parametrize(
    ("people", "told"),
    [
        ([ANA, BEN], ["ana"]),
        ([away(ANA), BEN], ["ben"]),
        ([ANA, replace(BEN, then="ana")], ["ana", "ben"]),  # for each other
        ([ANA, replace(BEN, hears=frozenset({"fig"}))], ["ana", "ben"]),
        ([ANA, replace(BEN, hears=frozenset({"plum"}))], ["ana"]),
        ([away(ANA), replace(BEN, hears=frozenset({"plum"}))], ["ben"]),
        ([replace(ANA, hears=frozenset({"plum"})), BEN], ["ben"]),  # ana does not hear of fig at all
        ([ANA, replace(BEN, then="cleo"), CLEO], ["ana"]),
        ([away(ANA), replace(BEN, then="cleo"), CLEO], ["ben"]),
        ([away(ANA), replace(away(BEN), then="cleo"), CLEO], ["cleo"]),
        ([away(ANA), away(BEN)], []),
        ([replace(ANA, then=None), BEN], ["ana", "ben"]),
    ],
)
def test_who_is_told_first_hand(people, told):
    assert told == [p.id for p in first_hand(FIG, rules(people=people), ms("12:00"))]


def test_when_all_are_away_the_last_of_the_chain_is_left():
    people = [away(ANA), replace(away(BEN), then="cleo"), away(CLEO)]
    assert ["cleo"] == [p.id for p in last_resort(FIG, rules(people=people), ms("12:00"))]
    assert [] == list(last_resort(FIG, rules(people=[away(ANA), BEN]), ms("12:00")))


# what is told


def people_told(house):
    return [(at, n.person, str(n.slot)) for n, (at, _, _) in zip(house.post(), house.told(), strict=True)]


def test_who_stands_in_is_told_nothing_while_the_other_is_there_and_answers():
    house = shed(ANA, BEN).until("14:00", **COOL)
    assert [("13:15", "ana", "at once")] == people_told(house)
    assert ("raised", "not told", "ben stands in for ana, who is there.") == house.why(1, "ben")[0]


def test_who_is_away_is_told_nothing_and_whoever_stands_in_is():
    house = shed(away(ANA), BEN).until("14:00", **COOL)
    assert [("13:15", "ben", "at once")] == people_told(house)
    assert ("raised", "not told", "ana is away until Tue 07:00.") == house.why(1, "ana")[0]


def test_whoever_comes_back_is_told_of_what_stands_on_their_first_morning():
    ana = away(ANA, (date(2026, 11, 24), date(2026, 11, 25)))
    house = shed(ana, BEN).until("21:00", **COOL).until("07:00", **COOL)
    assert [("13:15", "ben", "at once"), ("07:00", "ana", "morning")] == people_told(house)


def test_harm_that_is_not_answered_goes_on_to_the_next():
    house = shed(ANA, BEN).until("12:30", **COLD)
    assert [("12:15", "ana", "at once")] == people_told(house)
    house.until("14:30", **COLD)
    assert [("12:15", "ana", "at once"), ("12:45", "ben", "passed on")] == people_told(house)
    assert "ana was told at 12:15 and has not answered." in house.post()[-1].lines
    assert ("not answered", "told", "ana was told at 12:15 and has not answered.") == house.why(1, "ben")[-1]


@pytest.mark.parametrize("answer", ["seen", "done"])
def test_harm_that_is_answered_does_not(answer):
    house = shed(ANA, BEN).until("12:30", **COLD)
    ask(house, answer, 1)
    assert [("12:15", "ana", "at once")] == people_told(house.until("18:00", **COLD))


def test_nor_does_harm_that_is_put_aside_until_its_shelf_is_over():
    house = shed(ANA, BEN).until("12:30", **COLD)
    shelve(house, 1, hours=2)
    house.until("15:15", **COLD)
    assert [("12:15", "ana"), ("14:30", "ana"), ("15:00", "ben")] == [
        (at, who) for at, who, _ in people_told(house)
    ]


def test_comfort_never_goes_on():
    house = shed(ANA, BEN).until("20:00", **COOL)
    assert ["ana"] == [who for _, who, _ in people_told(house)]


def test_it_ends_with_the_last_of_the_chain_and_asks_nobody_twice():
    house = shed(ANA, replace(BEN, then="cleo", after=HOUR), replace(CLEO, then="ana")).until("20:00", **COLD)
    assert [("12:15", "ana"), ("12:15", "ben"), ("12:15", "cleo")] == [
        (at, who) for at, who, _ in people_told(house)
    ]
    straight = shed(ANA, replace(BEN, then="cleo", after=HOUR), CLEO).until("20:00", **COLD)
    assert [("12:15", "ana"), ("12:45", "ben"), ("13:45", "cleo")] == [
        (at, who) for at, who, _ in people_told(straight)
    ]


def test_whoever_is_away_is_passed_over():
    house = shed(ANA, replace(away(BEN), then="cleo"), CLEO).until("14:00", **COLD)
    assert [("12:15", "ana"), ("12:45", "cleo")] == [(at, who) for at, who, _ in people_told(house)]


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def test_a_restart_forgets_neither_whom_it_asked_nor_when(store):
    house = shed(ANA, BEN, store=store).until("12:15", **COLD)
    house.restart()
    house.until("12:30", **COLD).restart()
    house.until("12:45", **COLD).restart()
    house.until("14:00", **COLD)
    assert [("12:15", "ana"), ("12:45", "ben")] == [(at, who) for at, who, _ in people_told(house)]


def test_at_night_whoever_sleeps_is_woken_for_it_only_if_they_may_do_something():
    for may, expected in ((frozenset({Ability.MATS}), ["ana", "ben"]), (frozenset({Ability.WATER}), ["ana"])):
        house = shed(ANA, replace(BEN, may=may), bins=PLUGGED, at="20:00").until("23:00")
        house.until("02:00", **COLD)
        assert expected == [n.person for n in house.post() if n.woke]


def test_what_the_first_may_do_nothing_about_at_night_goes_to_the_stand_in_at_once():
    helpless = replace(ANA, may=frozenset({Ability.WATER}))
    house = shed(helpless, BEN, bins=PLUGGED).until("23:00").until("23:15", **COLD)
    assert [("23:15", "ben", "passed on")] == people_told(house)
    assert "You stand in for ana, who can do nothing about it now." in house.post()[-1].lines


def test_it_is_worded_at_the_ability_of_whoever_reads_it():
    house = shed(ANA, replace(BEN, may=frozenset({Ability.WATER})), bins=PLUGGED)
    house.until("14:00", **COLD)
    first, second = house.post()
    assert "Fig: see that long-mat is on now; west is 11.0 °C" == first.title
    assert "Fig: see that long-mat is on now; for somebody who may see to mats" == second.title


def test_harm_goes_to_somebody_even_when_all_are_away():
    house = shed(away(ANA), away(BEN)).until("13:30", **COLD)
    assert [("12:15", "ben", "at once")] == people_told(house)
    assert "You are away, and nobody else is there: ask somebody to go and do it." in house.post()[0].lines


def test_less_than_harm_goes_to_nobody_then():
    house = shed(away(ANA), away(BEN)).until("20:00", **COOL)
    assert [] == people_told(house)


def test_whoever_was_asked_hears_that_it_is_over():
    house = shed(ANA, BEN).until("13:00", **COLD).until("16:00")
    assert {"ana", "ben"} == {n.person for n in house.post() if n.title.startswith("Fig: over")}


def test_a_day_is_a_day():
    assert 3 * DAY == away_until(away(ANA, FRIDAY), ms("2026-11-27T07:00"), TZ) - ms("2026-11-27T07:00")
