"""What goes on night after night is told three times, then once a week with what would change it, until something does."""

from dataclasses import replace

import pytest

from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.notify.habit import _comfort, acceptable, how_to_accept
from monitor.notify.ledger import Habit
from monitor.readings import DAY
from monitor.rules import Control, Units
from monitor.settings import load
from parts.nights import COOL, FIG, PLUM, shed
from parts.orchard import ANA, by, ms, rules

NIGHTLY = {"fig_west": 19.5, "fig_east": 19.5}


def nights(house, count, **celsius):
    """So many nights below comfort from 18:00 to 09:00, warm by day."""
    for _ in range(count):
        house.until("18:00").until("09:00", **(celsius or NIGHTLY))
    return house.until("12:00")


def warm_shed(**more):
    return shed(mats=[by(Control.THERMOSTAT, 21.0)], **more)


def test_three_nights_are_told_each_and_the_fourth_is_the_weekly_line():
    house = nights(warm_shed(), 4)
    evenings = [(n.at // DAY - ms("00:00") // DAY, n.title) for n in house.post() if str(n.slot) == "evening"]
    assert [0, 1, 2, 3] == [night for night, _ in evenings]
    assert all("raise long-mat's thermostat" in title or "look at long-mat" in title for _, title in evenings)
    assert "or accept 19 °C" in evenings[-1][1]
    assert "or accept" not in evenings[0][1]


def test_then_there_is_one_line_a_week_and_nothing_else():
    house = nights(warm_shed(), 4)
    before = len(house.post())
    nights(house, 14)
    later = house.post()[before:]
    assert 2 == len(later)
    assert all("This is said once a week, until something changes." in n.lines for n in later)
    assert 7 * DAY == later[1].at - later[0].at


def test_a_bin_that_never_gets_warm_is_told_once_and_then_weekly():
    house = warm_shed().until("12:00", **COOL)
    for _ in range(15):
        house.until("12:00", **COOL)
    weekly = [n for n in house.post() if "or accept" in n.title]
    assert [0, 7, 14][: len(weekly)] == [round((n.at - weekly[0].at) / DAY) for n in weekly]
    assert 1 + len(weekly) >= len([n for n in house.post() if "Fig" in n.title])


def test_the_reason_stands_in_the_record():
    house = nights(warm_shed(), 6)
    numbers = [t.number for t in house.store.transitions() if t.event == "raised"]
    said = [why for _, verdict, why in house.why(numbers[-1]) if verdict == "not told"]
    assert "It is like the 5 nights before, and is said once a week until something changes." in said


def test_much_worse_than_ever_before_is_news_again():
    house = nights(warm_shed(), 6)
    before = len(house.post())
    house.until("18:00").until("07:15", fig_west=16.0, fig_east=16.0)
    assert [n for n in house.post()[before:] if "or accept" not in n.title]


def test_a_thermostat_that_was_turned_is_a_change():
    house = nights(warm_shed(), 6)
    house.restart(replace(house.rules, mats={"long-mat": by(Control.THERMOSTAT, 23.0)}))
    before = len(house.post())
    nights(house, 1)
    assert len(house.post()) > before


def test_a_few_nights_without_it_end_it():
    house = nights(nights(warm_shed(), 6), 0)
    for _ in range(5):
        house.until("12:00")
    before = len(house.post())
    nights(house, 1)
    assert [n for n in house.post()[before:] if "long-mat" in n.title and "or accept" not in n.title]


def test_harm_is_never_a_habit():
    house = shed()
    for _ in range(5):
        house.until("18:00").until("02:00", fig_west=11.0, fig_east=11.0).until("18:00")
    assert 5 <= len([n for n in house.post() if n.woke or "harm" in n.lines[1]])
    assert {} == dict(house.rounds.stands.ledger.habits) or all(
        "fig/cold" not in key for key in house.rounds.stands.ledger.habits
    )


FILE = """
site: {id: orchard, timezone: Europe/Lisbon, units: %s}
bins:
  fig:
    species: eudrilus-eugeniae
    zones: {west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west}}}}
    limits: {temperature: {comfort: %s}}
"""


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("lowest", [20.9, 19.5, 18.25, 16.2])
def test_the_limit_that_is_proposed_can_be_written_and_would_have_been_kept(units, lowest, tmp_path):
    shed_ = rules(bins=(FIG, PLUM), units=units)
    kept = Habit(4, "2026-11-25", "shed", bound=21.0, worst=lowest)
    said = how_to_accept("bin:fig/cold", kept, shed_)
    written = said.partition("comfort: ")[2].rstrip("}")
    (tmp_path / "s.yaml").write_text(FILE % (units, written))
    found = load([tmp_path / "s.yaml"], environ={}).rules.bins["fig"].limits["temperature"].low.value
    assert found == pytest.approx(acceptable("bin:fig/cold", kept, shed_))
    assert lowest - 1.2 < found < lowest


def test_what_lies_in_harm_cannot_be_accepted():
    kept = Habit(4, "2026-11-25", "shed", bound=21.0, worst=15.5)
    assert acceptable("bin:fig/cold", kept, rules()) is None
    assert "15.5 °C cannot be accepted: harm begins there." == how_to_accept("bin:fig/cold", kept, rules())


def test_a_restart_keeps_the_count():
    house = warm_shed()
    for _ in range(4):
        nights(house, 1)
        house.restart()
    assert 1 == len([n for n in house.post() if "or accept" in n.title])
    assert ANA.id in dict(house.rounds.stands.ledger.habits["bin:fig/cold"].told)


@pytest.mark.parametrize(
    ("worst", "units", "found"),
    [
        (18.25, Units.METRIC, 18.0),
        (18.0, Units.METRIC, 17.0),  # at least a tenth away
        (18.25, Units.US, (64 - 32) * 5 / 9),  # 64.85 °F
        (18.0, Units.US, (64 - 32) * 5 / 9),  # 64.4 °F
        (17.8, Units.US, (63 - 32) * 5 / 9),  # 64.04 °F, less than a tenth from 64
    ],
)
def test_the_limit_is_the_next_whole_degree_on_the_keepers_own_scale(worst, units, found):
    kept = Habit(4, "2026-11-25", "shed", bound=21.0, worst=worst)
    assert found == pytest.approx(acceptable("bin:fig/cold", kept, rules(units=units)), abs=1e-9)


def test_a_bed_that_lives_drier_is_let_be_by_a_limit_of_moisture():
    kept = Habit(4, "2026-11-25", "shed", bound=70.0, worst=67.5)
    assert "limits: {moisture: {comfort: 67" in how_to_accept("bin:fig/dry", kept, rules())


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        (Condition.COLD, 21),
        (Condition.HOT, 29),
        (Condition.DRY, 70),
        (Condition.WET, 85),
        (Condition.SILENT, None),
    ],
)
def test_a_habit_remembers_the_end_of_comfort_that_it_is_about(condition, expected):
    assert expected == _comfort(AlarmKey(Subject(Kind.BIN, "fig", "shed"), condition), rules())
