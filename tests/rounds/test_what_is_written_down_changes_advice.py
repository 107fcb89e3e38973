"""From a line in the diary to the advice of the same round, and over a restart."""

import json

import pytest

from monitor.readings import HOUR
from parts.house import House


@pytest.fixture
def house():
    """Fig is in harm by cold; the long mat is switched by hand."""
    home = House()
    home.say(fig_west=11.4, fig_east=11.1, fig_mat=12.0, plum_near=18.0)
    return home


def write(house, deed, subject, **more):
    body = {"deed": deed, "subject": subject, **more}
    return house.store.ask(house.at, "ana", "diary", body=json.dumps(body))


def advised(house):
    return [order.words for order in house.store.advice("shed")[-1].orders]


def test_before_anybody_wrote_it_is_to_be_seen_whether_the_mat_is_on(house):
    assert "see that long-mat is on" in advised(house)


def test_a_line_about_a_mat_makes_the_advice_anew_in_the_round_that_takes_it_up(house):
    write(house, "mat off", "mat:long-mat")
    house.later(1).rounds.run()
    assert "switch long-mat on" in advised(house)
    write(house, "mat on", "mat:long-mat", ago=5 * HOUR)
    house.later(1).rounds.run()
    # the mat was on before it was off: the newest by when it was, not by when it was written
    assert "switch long-mat on" in advised(house)
    write(house, "mat on", "mat:long-mat")
    house.later(1).rounds.run()
    assert not any("long-mat" in words for words in advised(house))
    order = house.store.advice("shed")[-1].orders[0]
    assert "long-mat is on since 10:02; look again by 14:02." in order.why


def test_after_a_restart_the_diary_is_heeded_as_before(house):
    write(house, "mat on", "mat:long-mat", ago=5 * HOUR)
    house.later(1).rounds.run()
    before = house.store.advice("shed")[-1]
    assert "look at long-mat: on since 05:00" in [o.words for o in before.orders]
    house.restart()
    house.later(56).rounds.run()
    after = house.store.advice("shed")[-1]
    assert before.at < after.at
    assert "look at long-mat: on since 05:00" in [o.words for o in after.orders]


def test_a_line_about_nothing_in_alarm_makes_no_advice_anew(house):
    before = house.store.advice("shed")[-1]
    write(house, "fed", "bin:sloe", amount=1.0, unit="kg")
    write(house, "note", "")
    house.later(1).rounds.run()
    assert before == house.store.advice("shed")[-1]
    assert 2 == len(house.store.diary())


def test_a_correction_takes_back_what_it_stands_for(house):
    number = write(house, "mat on", "mat:long-mat", ago=5 * HOUR)
    house.later(1).rounds.run()
    assert "look at long-mat: on since 05:00" in advised(house)
    write(house, "note", "bin:fig", corrects=number)
    house.later(1).rounds.run()
    assert "see that long-mat is on" in advised(house)


def test_done_says_that_the_mat_is_on_and_it_is_not_asked_for_again(house):
    number = house.standing()["fig", "cold"].number
    house.store.ask(house.at, "ana", "done", number)
    house.later(1).rounds.run()
    assert ["done", "mat on"] == [str(entry.deed) for entry in house.store.diary()]
    assert not any("long-mat" in words for words in advised(house))


def test_when_the_store_fails_the_line_waits_and_nothing_is_lost(house):
    write(house, "mat off", "mat:long-mat")
    keep, house.store.commit = house.store.commit, failing
    house.later(1).rounds.run()
    assert 1 == len(house.store.asked())
    house.store.commit = keep
    house.later(1).rounds.run()
    assert "switch long-mat on" in advised(house)
    assert [[], 1] == [house.store.asked(), len(house.store.diary())]


def failing(_round):
    from monitor.errors import StoreFull

    raise StoreFull("the disk is full")
