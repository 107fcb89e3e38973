"""Each step of a calibration is a note in the diary, and what has been done is read back from there."""

from dataclasses import replace

import pytest

from monitor.deeds import Said
from monitor.diary import Deed
from monitor.jotting import leave
from monitor.readings import DAY, HOUR, MINUTE, Measures, Quality, Reading
from monitor.reports.diary import diary_facts
from monitor.reports.saying import Saying
from monitor.reports.steps import (
    BEGUN,
    IN_ICE,
    LASTS,
    TubSoFar,
    can_be_calibrated,
    dry,
    in_ice_since,
    in_it,
    outcome_in_ice,
    outcome_of_tubs,
    sends,
    sent_there,
    so_far,
    wet,
)
from monitor.store.memory import MemoryStore
from parts.orchard import ms, probe, rules

RULES = rules()
NOW = ms("12:00")
PROBE = replace(probe("fig-damp", Measures.MOISTURE), calibration=())
SAYING = Saying(RULES, NOW)


def read(*texts, at=NOW - HOUR, now=NOW, corrects=None):
    store = MemoryStore()
    for n, text in enumerate(texts):
        said = Said("probe:fig-east", Deed.NOTE, None, "", text)
        leave(
            store,
            RULES,
            what=said,
            who="ana",
            when=None,
            corrects=corrects if n == len(texts) - 1 else None,
            at=at + n * 1000,
        )
    return diary_facts(store, RULES, now)["entries"]


def walked(n, counts, grams_wet, grams_dry, dish=0.0):
    return in_it(n), sends(n, counts), wet(n, grams_wet, dish=dish, step=1), dry(n, grams_dry)


def test_two_tubs_wait_from_the_first():
    assert (TubSoFar(1), TubSoFar(2)) == so_far([], "fig-east", NOW)


def test_every_step_is_read_back_as_it_was_written():
    tub, _ = so_far(read(*walked(1, 2700.125, 312.5, 290.25, dish=80.5)), "fig-east", NOW)
    assert (2700.125, 312.5, 80.5, 1.0, 290.25) == (tub.counts, tub.wet, tub.dish, tub.step, tub.dry)
    assert (NOW - HOUR, NOW - HOUR + 3000) == (tub.since, tub.dried)


def test_a_step_done_again_gives_way_to_the_later_and_takes_what_hung_on_it_along():
    tub, _ = so_far(read(*walked(1, 2700, 312, 290), wet(1, 400, dish=0, step=1)), "fig-east", NOW)
    assert (400, None) == (tub.wet, tub.dry)
    tub, _ = so_far(read(*walked(1, 2700, 312, 290), in_it(1)), "fig-east", NOW)
    assert (None, 312) == (tub.counts, tub.wet)


def test_begun_anew_is_nothing_done():
    assert (TubSoFar(1), TubSoFar(2)) == so_far(read(*walked(1, 2700, 312, 290), BEGUN), "fig-east", NOW)


def test_a_note_that_was_taken_back_counts_no_longer():
    tub, _ = so_far(read(in_it(1), sends(1, 99), "mistyped", corrects=2), "fig-east", NOW)
    assert (NOW - HOUR, None) == (tub.since, tub.counts)


def test_other_notes_other_probes_and_what_is_long_ago_are_left_alone():
    assert (TubSoFar(1), TubSoFar(2)) == so_far(read("tub 1 looks dry", sends(1, 5) + " I think"), "fig-east", NOW)
    assert (TubSoFar(1), TubSoFar(2)) == so_far(read(in_it(1)), "fig-west", NOW)
    assert (TubSoFar(1), TubSoFar(2)) == so_far(read(in_it(1), at=NOW - LASTS - MINUTE), "fig-east", NOW)


def test_a_third_tub_shows_once_it_has_begun():
    assert [1, 2, 3] == [tub.number for tub in so_far(read(in_it(3)), "fig-east", NOW)]


def test_two_whole_tubs_come_to_lines_with_the_local_day_of_the_last_weighing():
    tubs = so_far(read(*walked(1, 2700, 500, 440), *walked(2, 1450, 600, 120)), "fig-east", NOW)
    outcome = outcome_of_tubs(tubs, PROBE, SAYING)
    # wet basis by hand: (500 - 440) / 500 = 12 %, (600 - 120) / 600 = 80 %
    assert (
        "fig-damp:",
        "  sends: counts",
        "  calibration:",
        "    - {counts: 2700, moisture: 12 %, taken: 2026-11-25}",
        "    - {counts: 1450, moisture: 80 %, taken: 2026-11-25}",
    ) == outcome.lines
    assert "(600 − 120) / 600 = 80 %" in outcome.sentences[1]


def test_tubs_that_carry_no_line_say_why():
    tubs = so_far(read(*walked(1, 2700, 500, 440), *walked(2, 2690, 600, 120)), "fig-east", NOW)
    outcome = outcome_of_tubs(tubs, PROBE, SAYING)
    assert () == outcome.lines
    assert "lie too near to each other" in outcome.why_not


def test_one_tub_comes_to_its_arithmetic_alone():
    outcome = outcome_of_tubs(so_far(read(*walked(1, 2700, 500, 440)), "fig-east", NOW), PROBE, SAYING)
    assert (1, (), "") == (len(outcome.sentences), outcome.lines, outcome.why_not)


def said(*values, quality=Quality.GOOD):
    return [
        Reading("fig-east", NOW + n * MINUTE, value, NOW + n * MINUTE, quality) for n, value in enumerate(values)
    ]


def test_what_a_probe_sends_in_its_tub_is_taken_when_it_has_settled():
    assert (5, 1450.0, "") == (
        (found := sent_there(said(1449, 1450, 1450, 1451, 1450))).count,
        found.counts,
        found.why_not,
    )
    assert "only 4 of 5".lower() in sent_there(said(1, 1, 1, 1)).why_not.lower()
    assert None is sent_there(said(3000, 2500, 2000, 1800, 1500)).counts


@pytest.mark.parametrize("quality", [Quality.DISCONNECTED, Quality.OUT_OF_RANGE, Quality.RETAINED])
def test_what_a_chip_says_that_is_not_there_is_no_reading(quality):
    assert 0 == sent_there(said(1, 1, 1, 1, 1, quality=quality)).count


def test_a_probe_that_jumped_into_the_ice_and_stands_still_there_is_read():
    there = [*said(0.44, quality=Quality.JUMP), *said(0.44, 0.44, 0.44), *said(0.44, quality=Quality.STUCK)]
    outcome = outcome_in_ice(there, probe("fig-east"), SAYING)
    assert ("fig-east:", "  offset: -0.44 °C") == outcome.lines


def test_the_ice_is_remembered_for_a_day_and_until_it_is_out():
    assert NOW - HOUR == in_ice_since(read(IN_ICE), "fig-east", NOW)
    assert None is in_ice_since(read(IN_ICE, at=NOW - DAY - MINUTE), "fig-east", NOW)
    assert None is in_ice_since(read(IN_ICE, BEGUN), "fig-east", NOW)
    assert None is in_ice_since([], "fig-east", NOW)


def test_each_kind_of_probe_has_its_own_roads():
    roads = {measures: can_be_calibrated(probe("p", measures)) for measures in Measures}
    assert ("tubs", "handfuls") == roads[Measures.MOISTURE]
    assert ("ice",) == roads[Measures.TEMPERATURE]
    assert () == roads[Measures.HUMIDITY]
