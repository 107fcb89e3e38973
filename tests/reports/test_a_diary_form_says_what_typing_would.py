"""What a form for the diary offers is what can be typed, and a filled-in form comes to the same entry."""

import pytest

from monitor.deeds import UNITS, WAYS, said
from monitor.diary import Deed
from monitor.errors import RequestError
from monitor.moments import moment, senses
from monitor.readings import HOUR, MINUTE
from monitor.reports.entering import LABELS, OWN, abouts, own_time, taken_back, times, typed
from monitor.rules import Units
from parts.orchard import TZ, ms, rules

METRIC, US = rules(), rules(units=Units.US)
NOW = ms("12:00")
"""Wednesday 25 November 2026, noon in Lisbon, which is UTC then."""
EVERY_OFFER = [
    pytest.param(of, about.name, offer, id=f"{of.site.units}-{about.name}-{offer.word}")
    for of in (METRIC, US)
    for about in abouts(of)
    for offer in about.offers
]


def test_whatever_can_be_written_about_is_offered():
    names = [one.name for one in abouts(METRIC)]
    assert len(set(names)) == len(names)
    assert {*METRIC.bins, *METRIC.mats, *METRIC.probes(), "site", "fig.west", "fig.east"} <= {*names}


def test_every_word_for_a_deed_has_its_button_somewhere():
    assert list(WAYS) == list(LABELS)
    assert {*WAYS} == {offer.word for about in abouts(METRIC) for offer in about.offers}


@pytest.mark.parametrize(("of", "name", "offer"), EVERY_OFFER)
def test_each_offer_is_understood_with_each_of_its_units(of, name, offer):
    for unit in offer.units or ("",):
        amount = "1.5" if unit else ""
        found = said(of, typed(name, offer.word, amount=amount, unit=unit, note="as it was"))
        assert WAYS[offer.word].deed is found.deed
        assert "as it was" == found.text
        if unit:
            assert pytest.approx(1.5 * UNITS[unit][1]) == found.amount


@pytest.mark.parametrize(("of", "name", "offer"), EVERY_OFFER)
def test_an_amount_may_be_left_out_only_where_the_form_says_so(of, name, offer):
    words = typed(name, offer.word, amount="", unit="", note="")
    if offer.needed:
        with pytest.raises(RequestError, match="says nothing without an amount"):
            said(of, words)
    else:
        assert said(of, words).amount is None


def test_a_unit_that_is_written_beside_the_number_outdoes_the_one_chosen():
    for amount in ("800 g", "800g"):
        assert 0.8 == said(METRIC, typed("fig", "fed", amount=amount, unit="kg", note="")).amount
    assert 0.5 == said(METRIC, typed("fig", "watered", amount="½", unit="L", note="")).amount


def test_a_note_that_would_be_read_as_the_amount_is_asked_about():
    with pytest.raises(RequestError, match="into the field for it"):
        typed("fig", "fed", amount="", unit="kg", note="2 kg of peel")
    found = said(METRIC, typed("fig", "fed", amount="1", unit="kg", note="2 handfuls of peel"))
    assert (1.0, "2 handfuls of peel") == (found.amount, found.text)
    assert "2 blankets" == said(METRIC, typed("fig", "cover", amount="", unit="", note="2 blankets")).text


@pytest.mark.parametrize("amount", ["1,5", "-2", "0", "much", "1e3", "99999"])
def test_an_amount_that_is_none_is_refused_with_what_to_write(amount):
    with pytest.raises(RequestError, match=r"write it as in|write an amount"):
        said(METRIC, typed("fig", "weighed", amount=amount, unit="kg", note=""))


@pytest.mark.parametrize(("about", "word"), [("", "fed"), ("fig", "")])
def test_a_form_without_whom_or_what_is_asked_for_it(about, word):
    with pytest.raises(RequestError, match="choose whom"):
        typed(about, word, amount="1", unit="kg", note="")


def test_an_entry_is_taken_back_by_a_note_about_the_same():
    found = said(METRIC, taken_back("fig.west"))
    assert ("zone:fig.west", Deed.NOTE, "taken back: it was not so") == (found.subject, found.deed, found.text)


# ── when ──────────────────────────────────────────────────────────────────────────────────────────────────────


def meant(choice, now=NOW, tz=TZ):
    return now if choice.when is None else moment(choice.when, tz, now)


def test_the_likely_times_are_offered_with_their_hour():
    offered = {one.key: one for one in times(NOW, TZ)}
    assert ["now", "hour", "morning", "evening", OWN] == list(offered)
    assert "this morning, 08:00" == offered["morning"].label
    assert NOW == meant(offered["now"])
    assert NOW - HOUR == meant(offered["hour"])
    assert ms("08:00") == meant(offered["morning"])
    assert ms("2026-11-24T18:00") == meant(offered["evening"])


def test_a_morning_that_is_not_over_is_not_offered():
    assert "morning" not in {one.key for one in times(ms("08:59"), TZ)}
    assert "morning" in {one.key for one in times(ms("09:00"), TZ)}


def test_a_page_that_lay_open_overnight_still_means_its_own_morning():
    morning = next(one for one in times(NOW, TZ) if one.key == "morning")
    assert ms("08:00") == meant(morning, now=NOW + 20 * HOUR)


@pytest.mark.parametrize("tz", [TZ, "America/St_Johns", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Apia"])
def test_no_choice_lies_ahead_on_any_day_of_a_year(tz):
    for step in range(0, 366 * 24, 7):
        now = NOW + step * HOUR + 31 * MINUTE
        for choice in times(now, tz)[:-1]:
            assert meant(choice, now, tz) <= now


def test_an_hour_that_was_twice_is_asked_about_and_both_can_be_chosen():
    # clocks in Lisbon go back on 25 October 2026 at 01:00 UTC (Directive 2000/84/EC: the last Sunday of October)
    now = ms("2026-10-26T12:00")
    first, second = own_time("2026-10-25T01:30", TZ, now)
    assert (ms("2026-10-25T00:30"), ms("2026-10-25T01:30")) == (meant(first, now), meant(second, now))
    assert "yesterday 01:30 WEST, the first time, before clocks went back" == first.label
    assert "yesterday 01:30 WET, the second time, after clocks went back" == second.label


def test_any_other_time_of_ones_own_is_itself():
    (only,) = own_time("2026-11-25T07:15", TZ, NOW)
    assert ms("07:15") == meant(only)


@pytest.mark.parametrize(
    ("text", "said_of_it"),
    [
        ("2026-03-29T01:30", "skipped"),
        ("2026-11-25T12:01", "still to come"),
        ("2026-11-31T10:00", "no calendar"),
        ("soon", "no time"),
    ],
)
def test_a_time_that_was_not_is_refused_by_what_reads_it(text, said_of_it):
    (only,) = own_time(text, TZ, NOW)
    with pytest.raises(RequestError, match=said_of_it):
        meant(only)


def test_an_empty_time_is_asked_for():
    with pytest.raises(RequestError, match="choose the day and the time"):
        own_time("  ", TZ, NOW)


def test_what_a_local_time_can_mean():
    assert 1 == len(senses("2026-11-25 07:15", TZ))
    assert 2 == len(senses("2026-10-25T01:59:59", TZ))
    assert () == senses("2026-03-29T01:30", TZ)
    assert () == senses("2026-11-25T07:15Z", TZ)
    assert () == senses("2026-11-31T07:15", TZ)
    assert () == senses("07:15", TZ)
