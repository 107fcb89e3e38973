"""What a form for the diary offers is what can be typed, and a filled-in form comes to the same entry."""

import json

import pytest

from monitor.deeds import WAYS, said
from monitor.errors import RequestError
from monitor.moments import moment, senses
from monitor.readings import HOUR, MINUTE
from monitor.reports.diary import diary_facts
from monitor.reports.entering import LABELS, OWN, SQUEEZED, abouts, own_time, times
from monitor.reports.filling import as_form, filled, write
from monitor.rules import Units
from monitor.store.memory import MemoryStore
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
    assert [*WAYS, SQUEEZED] == list(LABELS)
    assert {*LABELS} == {offer.word for about in abouts(METRIC) for offer in about.offers}


TYPED = [one for one in EVERY_OFFER if one.values[2].word != SQUEEZED]


def sent(of=METRIC, **form):
    return filled(of, {"who": "ana", **form}, NOW)


@pytest.mark.parametrize(("of", "name", "offer"), TYPED)
def test_each_offer_comes_to_what_typing_it_would_in_each_of_its_units(of, name, offer):
    for unit in offer.units or ("",):
        amount = "1.5" if unit else ""
        found = sent(of, about=name, did=offer.word, amount=amount, unit=unit, note="as it was")
        typed = [name, offer.word, *([amount, unit] if unit else []), "as", "it", "was"]
        assert {} == found.wrong
        assert said(of, typed) == found.what


@pytest.mark.parametrize(("of", "name", "offer"), TYPED)
def test_an_amount_may_be_left_out_only_where_the_form_says_so(of, name, offer):
    found = sent(of, about=name, did=offer.word, note="nothing more")
    if offer.needed:
        assert ["amount"] == list(found.wrong)
        assert "says nothing without an amount" in found.wrong["amount"]
    else:
        assert ({}, None) == (found.wrong, found.what.amount)


@pytest.mark.parametrize(("of", "name", "offer"), [one for one in EVERY_OFFER if one not in TYPED])
def test_a_squeezed_handful_needs_what_it_did(of, name, offer):
    assert {"feel": "Choose what the handful did."} == sent(of, about=name, did=offer.word).wrong
    found = sent(of, about=name, did=offer.word, feel="holds", note="by the mat")
    assert ({}, None, name, "holds", "by the mat") == (found.wrong, found.what, found.of, found.feel, found.note)


def test_a_unit_that_is_written_beside_the_number_outdoes_the_one_chosen():
    for amount in ("800 g", "800g"):
        assert 0.8 == sent(about="fig", did="fed", amount=amount, unit="kg").what.amount
    assert 0.5 == sent(about="fig", did="watered", amount="½", unit="L").what.amount


def test_a_comma_before_decimals_is_one_and_before_three_digits_is_asked_about():
    assert 1.5 == sent(about="fig", did="fed", amount="1,5", unit="kg").what.amount
    assert "can be read in two ways" in sent(about="fig", did="fed", amount="1,500", unit="kg").wrong["amount"]


def test_a_note_may_begin_with_a_number_without_being_taken_for_the_amount():
    found = sent(about="fig", did="fed", note="2 kg of peel")
    assert (None, "2 kg of peel") == (found.what.amount, found.what.text)
    assert "2 blankets" == sent(about="fig", did="cover", note="2 blankets").what.text


@pytest.mark.parametrize("amount", ["-2", "0", "much", "1e3", "99999", "1.5 kg of peel", "2 W"])
def test_an_amount_that_is_none_is_refused_beside_its_field_with_what_to_write(amount):
    found = sent(about="fig", did="weighed", amount=amount, unit="kg")
    assert ["amount"] == list(found.wrong)
    assert "write " in found.wrong["amount"]


def test_everything_that_is_wrong_is_said_at_once_and_beside_its_own_field():
    found = filled(
        METRIC,
        {
            "about": "fig",
            "did": "fed",
            "amount": "lots",
            "note": "x" * 100_000,
            "own": "2026-11-25T12:01",
            "who": "eve",
        },
        NOW,
    )
    assert {"amount", "note", "own", "who"} == set(found.wrong)
    assert all(one[0].isupper() or one[0] == "“" for one in found.wrong.values())


@pytest.mark.parametrize(("about", "did"), [("", "fed"), ("fig", "")])
def test_a_form_without_whom_or_what_is_asked_for_it(about, did):
    assert "Choose whom it is about and what was done." == sent(about=about, did=did).wrong["about"]


def test_a_deed_that_cannot_be_done_there_is_refused():
    assert "that is for" in sent(about="site", did="fed").wrong["about"]
    assert "did you mean fig" in sent(about="fg", did="fed").wrong["about"]


def test_a_note_without_words_is_asked_for_them():
    assert ["note"] == list(sent(about="fig", did="note").wrong)


def test_a_zone_that_was_chosen_is_what_it_is_about():
    assert "zone:fig.west" == sent(about="fig", part="fig.west", did="fed").what.subject


# ── writing, and writing again ────────────────────────────────────────────────────────────────────────────────


@pytest.fixture
def store():
    return MemoryStore()


@pytest.mark.parametrize("of", [METRIC, US], ids=str)
@pytest.mark.parametrize(
    ("form", "subject", "amount"),
    [
        ({"about": "fig", "did": "fed", "amount": "1.5"}, "bin:fig", 1.5),
        ({"about": "fig", "part": "fig.west", "did": "watered", "amount": "2"}, "zone:fig.west", 2),
        ({"about": "long-mat", "did": "on", "amount": "40"}, "mat:long-mat", 40),
        ({"about": "site", "did": "note", "note": "first frost"}, "", None),
    ],
)
def test_an_entry_as_a_form_again_comes_to_the_same_entry(store, of, form, subject, amount):
    unit = next(
        (
            o.units[0]
            for a in abouts(of)
            if a.name == form["about"]
            for o in a.offers
            if o.word == form["did"] and o.units
        ),
        "",
    )
    whole = {"when": OWN, "own": "2026-11-25T07:15", "who": "ana", "unit": unit, **form}
    write(store, of, filled(of, whole, NOW), corrects=None, at=NOW)
    (entry,) = diary_facts(store, of, NOW)["entries"]
    assert (subject, "2026-11-25T07:15:00Z") == (entry["subject"], entry["at"])
    write(store, of, filled(of, as_form(entry, of) | {"who": "ana"}, NOW), corrects=entry["number"], at=NOW)
    first, again = diary_facts(store, of, NOW)["entries"]
    assert again["number"] == first["corrected_by"]
    for same in ("subject", "deed", "at", "text", "unit"):
        assert entry[same] == again[same]
    assert entry["amount"] == (None if amount is None else pytest.approx(again["amount"], rel=1e-3))


def test_a_squeezed_handful_is_left_as_one_and_can_be_corrected(store):
    form = {"about": "fig", "part": "fig.west", "did": SQUEEZED, "feel": "drips", "who": "ana"}
    number = write(store, METRIC, filled(METRIC, form, NOW), corrects=None, at=NOW)
    write(store, METRIC, filled(METRIC, form | {"feel": "holds"}, NOW), corrects=number, at=NOW + MINUTE)
    first, second = store.asked()
    assert ("squeeze", "squeeze") == (first.what, second.what)
    body = json.loads(second.body)
    assert (number, ["zone:fig.west", NOW]) == (body["corrects"], body["was"])


def test_nothing_is_left_for_a_correction_of_what_was_never_written(store):
    for form in ({"about": "fig", "did": "fed"}, {"about": "fig", "did": SQUEEZED, "feel": "holds"}):
        with pytest.raises(RequestError, match="no entry 7"):
            write(store, METRIC, filled(METRIC, form | {"who": "ana"}, NOW), corrects=7, at=NOW)
    assert [] == list(store.asked())


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


def test_of_an_hour_that_was_twice_either_can_be_chosen_in_the_form():
    now = ms("2026-10-26T12:00")
    form = {"about": "fig", "did": "fed", "who": "ana", "when": OWN, "own": "2026-10-25T01:30"}
    asked = filled(METRIC, form, now)
    assert (["own"], 2) == (list(asked.wrong), len(asked.twice))
    for choice, at in zip(asked.twice, (ms("2026-10-25T00:30"), ms("2026-10-25T01:30")), strict=True):
        chosen = filled(METRIC, form | {"when": choice.key}, now)
        assert {} == chosen.wrong
        assert at == moment(chosen.when, TZ, now)


def test_a_time_that_is_filled_in_is_meant_and_two_times_are_asked_about():
    form = {"about": "fig", "did": "fed", "own": "2026-11-25T07:15", "who": "ana"}
    assert "2026-11-25T07:15" == filled(METRIC, form | {"when": "now"}, NOW).when
    assert "Two times" in filled(METRIC, form | {"when": "1 h ago"}, NOW).wrong["own"]
    assert "1 h ago" == filled(METRIC, form | {"own": "", "when": "1 h ago"}, NOW).when
