"""How much lies in a bin: settings at the start, or the last weighing, and what was put in and taken out since."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.diary import Deed, Entry
from monitor.masses import DENSEST, FOOD_STAYS, mass_of, rules_now
from monitor.readings import DAY, HOUR
from monitor.rules import Vessel
from parts.orchard import FIG, TZ, ms, rules

NOW = ms("12:00")
BED = replace(FIG, started=date(2026, 11, 1), vessel=Vessel(drains=True))
"""35 kg of bedding and 2 kg of worms on 1 November."""


def entry(deed, amount=None, unit="kg", *, days=1.0, subject="bin:fig", number=0, corrects=None):
    at = NOW - round(days * DAY)
    return Entry(at, at, "ana", deed, subject, "", amount=amount, unit=unit, number=number, corrects=corrects)


def mass(*entries, bed=BED, at=NOW):
    return mass_of(bed, entries, at=at, tz=TZ)


def test_without_entries_it_is_what_the_settings_say():
    found = mass()
    assert (35.0, 2.0, False) == (found.bedding, found.worms, found.moved)


def test_bedding_and_food_go_in_and_harvests_come_out():
    found = mass(entry(Deed.BEDDING, 4.0), entry(Deed.FED, 5.0), entry(Deed.FED, 5.0), entry(Deed.HARVESTED, 6.0))
    assert (35.0 + 4.0 + 0.4 * 10.0 - 6.0, True) == (found.bedding, found.moved)
    assert (4.0, 10.0, 6.0) == (found.added, found.food, found.harvested)


def test_what_food_leaves_is_its_dry_matter_less_what_is_degraded_made_moist_again():
    # 80 % water, 90 % volatile, half of that degraded [memory]; at 75 % moisture
    left = 0.2 * (1 - 0.9 * 0.5) / (1 - 0.75)
    assert 0.44 == pytest.approx(left)
    assert FOOD_STAYS == pytest.approx(left, abs=0.05)


def test_water_changes_nothing_since_the_probe_says_how_wet_it_is():
    assert 35.0 == mass(entry(Deed.WATERED, 5.0, "L")).bedding


def test_a_weighing_counts_from_then_on_and_forgets_what_was_before():
    found = mass(
        entry(Deed.BEDDING, 9.0, days=3), entry(Deed.WEIGHED, 31.0, days=2), entry(Deed.BEDDING, 1.0, days=1)
    )
    assert (32.0, 31.0, NOW - 2 * DAY) == (found.bedding, found.begun, found.weighed_at)


def test_a_weighing_makes_it_known_where_the_settings_do_not():
    assert 12.0 == mass(entry(Deed.WEIGHED, 12.0), bed=replace(BED, bedding=None)).bedding
    assert None is mass(entry(Deed.BEDDING, 12.0), bed=replace(BED, bedding=None)).bedding


def test_what_was_before_the_bin_was_started_does_not_count():
    assert 35.0 == mass(entry(Deed.BEDDING, 4.0, days=30)).bedding
    assert 39.0 == mass(entry(Deed.BEDDING, 4.0, days=30), bed=replace(BED, started=None)).bedding


def test_the_day_of_the_start_counts_from_its_local_midnight():
    tokyo = ms("2026-10-31T15:00")
    one = Entry(tokyo, tokyo, "ana", Deed.BEDDING, "bin:fig", "", amount=1.0, unit="kg")
    assert 36.0 == mass_of(BED, [one], at=NOW, tz="Asia/Tokyo").bedding
    assert 35.0 == mass_of(BED, [replace(one, at=tokyo - 1)], at=NOW, tz="Asia/Tokyo").bedding


def test_what_was_corrected_does_not_count_and_its_correction_does():
    wrong, right = entry(Deed.BEDDING, 40.0, number=1), entry(Deed.BEDDING, 4.0, number=2, corrects=1)
    assert 39.0 == mass(wrong, right).bedding
    assert 35.0 == mass(wrong, entry(Deed.NOTE, number=2, corrects=1)).bedding


def test_a_zone_counts_for_its_bin_and_another_bin_does_not():
    assert 36.0 == mass(entry(Deed.BEDDING, 1.0, subject="zone:fig.west")).bedding
    assert 35.0 == mass(entry(Deed.BEDDING, 1.0, subject="bin:plum")).bedding


def test_what_is_told_in_litres_or_not_at_all_is_not_counted_and_is_said():
    found = mass(entry(Deed.BEDDING, 10.0, "L"), entry(Deed.HARVESTED), entry(Deed.FED))
    assert (35.0, 2, True) == (found.bedding, found.unweighed, found.moved)


def test_no_vessel_holds_more_than_it_can():
    bed = replace(BED, vessel=Vessel(floor=0.3, depth=0.2))
    most = 0.3 * 0.2 * DENSEST
    found = mass(entry(Deed.BEDDING, 30.0), bed=bed)
    assert (most, most) == (found.bedding, found.full)
    assert None is mass(entry(Deed.BEDDING, 1.0), bed=bed).full


def test_the_settings_own_figure_is_believed_beyond_what_a_vessel_holds():
    assert 35.0 == mass(bed=replace(BED, vessel=Vessel(floor=0.1, depth=0.1))).bedding


def test_more_taken_out_than_there_was_is_unknown():
    assert None is mass(entry(Deed.HARVESTED, 36.0)).bedding


def test_worms_are_added_and_split_off_and_never_fewer_than_none():
    assert 2.25 == mass(entry(Deed.WORMS_ADDED, 0.25)).worms
    assert 1.5 == mass(entry(Deed.WORMS_TAKEN, 0.5)).worms
    assert 0.0 == mass(entry(Deed.WORMS_TAKEN, 5.0)).worms
    assert None is mass(entry(Deed.WORMS_ADDED, 1.0), bed=replace(BED, worms=None)).worms


def test_the_past_is_asked_with_what_was_then():
    entries = [entry(Deed.BEDDING, 4.0, days=2), entry(Deed.HARVESTED, 6.0, days=1)]
    assert [35.0, 39.0, 33.0] == [mass(*entries, at=NOW - round(d * DAY)).bedding for d in (3, 1.5, 0)]


def test_the_rules_of_now_hold_it_and_nothing_else_is_changed():
    shed = rules()
    found = mass(entry(Deed.BEDDING, 4.0))
    now = rules_now(shed, {"fig": found})
    assert (39.0, 2.0) == (now.bins["fig"].bedding, now.bins["fig"].worms)
    assert shed.bins["plum"] is now.bins["plum"]
    assert replace(now.bins["fig"], bedding=35.0) == shed.bins["fig"]
    assert shed is rules_now(shed, {})


KINDS = st.sampled_from([Deed.BEDDING, Deed.HARVESTED, Deed.FED])
ENTRIES = st.lists(
    st.builds(entry, KINDS, st.floats(0.1, 9.0), days=st.floats(0, 20)), max_size=8
)  # fmt: skip


@given(ENTRIES)
def test_it_is_the_sum_in_whatever_order_it_was_written(entries):
    signs = {Deed.BEDDING: 1.0, Deed.HARVESTED: -1.0, Deed.FED: FOOD_STAYS}
    total = 35.0 + sum(signs[e.deed] * e.amount for e in entries)
    for order in (entries, entries[::-1]):
        found = mass(*order).bedding
        assert (None if total <= 1e-9 else pytest.approx(total, abs=1e-6)) == found


@given(ENTRIES, st.floats(1, 60))
def test_after_a_weighing_only_what_came_later_counts(entries, weighed):
    at = NOW + HOUR
    one = Entry(at, at, "ana", Deed.WEIGHED, "bin:fig", "", amount=weighed, unit="kg")
    assert weighed == mass(*entries, one, at=at).bedding
