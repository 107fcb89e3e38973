"""While the time is not known, whoever looks is told so, in the daemon's own time; afterwards, what was put right."""

import json

import pytest

from monitor import clock
from monitor.readings import DAY, HOUR, MINUTE
from monitor.reckoning import Belief, Reckoning, Stretch
from monitor.store.promises import Standing
from parts.orchard import ms

BOOTED = ms("09:00")
"""By the site's own reckoning, three hours of this boot ago."""


@pytest.fixture
def unclocked(cold_site, monkeypatch):
    """Alarm 1 stands; the machine says that it is 1970."""
    monkeypatch.setattr(clock, "boot_id", lambda: "this boot")
    monkeypatch.setattr(clock, "time_since_boot", lambda: 3 * HOUR)
    monkeypatch.setattr(clock, "_wall", lambda: 3 * HOUR)
    monkeypatch.setattr(clock.WallClock, "now", lambda self: 3 * HOUR)
    settle(cold_site, "now", stretch("this boot").text())
    return cold_site


def stretch(boot, **more):
    unsure = Reckoning(boot, Belief.UNSURE, BOOTED, 0, since=BOOTED, **more)
    return Stretch(unsure, BOOTED, ms("08:59"), {})


def settle(site, key, body):
    with site.lived() as house:
        house.store.settle([Standing("clock", key, body)])


def test_now_and_alarms_say_it_before_anything_else(unclocked, capsys):
    said = unclocked.says(capsys, "now").splitlines()
    assert said[0].startswith("Orchard shed at 12:00.")
    assert "Last judged 0 s ago" in said[0]
    assert said[1].startswith("THE CLOCK IS UNSURE, since 09:00 of its own time.")
    assert unclocked.says(capsys, "alarms").startswith("THE CLOCK IS UNSURE, since 09:00")
    for words in ("now", "alarms"):
        assert "2026-11-25T09:00:00Z" == unclocked.tells(capsys, words)["clock"]["since"]


def test_a_time_that_was_proven_once_is_said_to_be_the_better_one(unclocked, capsys):
    settle(unclocked, "now", stretch("this boot", exact=True).text())
    assert "stepped away from a time that was proven" in unclocked.says(capsys, "now")


def test_an_answer_is_given_in_the_sites_own_time(unclocked, capsys):
    unclocked.says(capsys, "seen", "1", "--as", "ana")
    with unclocked.lived() as house:
        assert [ms("12:00")] == [request.at for request in house.store.asked()]


def test_a_stretch_of_another_boot_says_nothing_of_now(cold_site, monkeypatch, capsys):
    monkeypatch.setattr(clock, "boot_id", lambda: "the next boot")
    settle(cold_site, "now", stretch("this boot").text())
    assert cold_site.says(capsys, "now").startswith("Orchard shed at 12:00.")


def test_a_clock_that_is_known_is_not_spoken_of(cold_site, capsys):
    assert "CLOCK" not in cold_site.says(capsys, "now") + cold_site.says(capsys, "alarms")
    assert cold_site.tells(capsys, "now")["clock"] is None


@pytest.mark.parametrize(("by", "way"), [(3 * HOUR, "3 h too early"), (-2 * HOUR, "2 h too late")])
def test_what_was_put_right_is_told_for_a_day(cold_site, capsys, by, way):
    told = {"by": by, "begin": ms("08:00") - by, "end": ms("11:00") - by, "at": ms("11:00")}
    settle(cold_site, "moved", json.dumps(told))
    said = cold_site.says(capsys, "now")
    assert "At 11:00 the true time became known: what was heard from 08:00 to 11:00" in said
    assert way in said
    settle(cold_site, "moved", json.dumps(told | {"at": ms("11:00") - DAY - HOUR}))
    assert "the true time became known" not in cold_site.says(capsys, "now")


def test_what_can_never_be_put_right_is_told_for_a_week(cold_site, capsys):
    settle(cold_site, "lost", json.dumps({"begin": ms("06:00"), "end": ms("08:00")}))
    assert "What is dated 06:00 to 08:00 was heard without a clock" in cold_site.says(capsys, "now")
    long_ago = ms("08:00") - 8 * DAY
    settle(cold_site, "lost", json.dumps({"begin": long_ago - MINUTE, "end": long_ago}))
    assert "without a clock" not in cold_site.says(capsys, "now")


# vermistat clock


def test_clock_tells_the_sites_time_the_machines_and_the_way_out(unclocked, capsys):
    first, second = unclocked.says(capsys, "clock").splitlines()
    assert first == "It is 2026-11-25 12:00, as far as is known. This machine's clock says 1970-01-01 04:00."
    assert second.startswith("THE CLOCK IS UNSURE, since 09:00 of its own time.")
    assert second.endswith("say `vermistat clock --right`.")
    facts = unclocked.tells(capsys, "clock")
    assert ("unsure", "2026-11-25T09:00:00Z", None) == (facts["belief"], facts["unsure_since"], facts["request"])


@pytest.mark.parametrize(
    ("belief", "begin"),
    [(Belief.PROVEN, "This machine's clock is right"), (Belief.BELIEVED, "Nothing speaks against")],
)
def test_clock_says_how_far_a_known_clock_is_known(cold_site, capsys, belief, begin):
    settle(cold_site, "now", Stretch(Reckoning("x", belief, 0, 0), 0, None, {}).text())
    first, second = cold_site.says(capsys, "clock").splitlines()
    assert "It is 2026-11-25 12:00, as far as is known." == first
    assert second.startswith(begin)


def test_clock_says_that_nobody_has_looked(cold_site, capsys):
    assert "No daemon has looked at this machine's clock yet." in cold_site.says(capsys, "clock")


def test_a_word_that_it_is_right_is_left_for_the_next_round(unclocked, monkeypatch, capsys):
    monkeypatch.setattr(clock.WallClock, "now", lambda self: ms("15:00"))
    said = unclocked.says(capsys, "clock", "--right", "--as", "ana")
    assert "You have said that it is right." in said
    with unclocked.lived() as house:
        assert [("ana", "clock right", ms("12:00"))] == [(r.who, r.what, r.at) for r in house.store.asked()]


def test_a_clock_that_cannot_be_right_is_nobodys_word_for_it(unclocked, capsys):
    code, errors = unclocked.refuses(capsys, "clock", "--right", "--as", "ana")
    assert 1 == code
    assert "this machine's clock says 1970-01-01 04:00, which is long ago: set it first" in errors
    with unclocked.lived() as house:
        assert [] == house.store.asked()
