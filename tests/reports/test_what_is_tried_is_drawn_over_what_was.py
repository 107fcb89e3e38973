"""The picture of a limit that is tried: both bands, and each episode in the row of who has it."""

from dataclasses import replace

import pytest

from monitor.alarms.review import Activation
from monitor.charts.layout import WIDE
from monitor.charts.svg import draw
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import DAY, HOUR, Measures, Reading
from monitor.replay import Replayed
from monitor.reports.charting import past_of_bin
from monitor.reports.replaying import Twice
from monitor.reports.saying import Saying
from monitor.reports.sight import sight_of_days
from monitor.reports.tried_picture import tried_picture
from monitor.rules import Bound, Level
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts import orchard

NOW = orchard.ms("12:00")
RULES = orchard.rules()
FIG = RULES.bins["fig"]
NOTHING = Replayed((), (), (), 0)
COOLER = replace(
    FIG,
    limits=FIG.limits
    | {Measures.TEMPERATURE: replace(FIG.limits[Measures.TEMPERATURE], low=Bound(18.0, "tried", "settings"))},
)


def cold(began, ended, bed="fig", condition=Condition.COLD):
    key = AlarmKey(Subject(Kind.BIN, bed, "shed"), condition)
    return Activation(key, 1, began, ended, Level.COMFORT)


def drawn(ours=(), theirs=(), days=30, measures=Measures.TEMPERATURE, tried=COOLER):
    store = MemoryStore()
    store.keep(Batch(readings=[Reading("fig-west", at, 20.0, at) for at in range(NOW - 9 * DAY, NOW, HOUR)]))
    past = past_of_bin(store, RULES, FIG, sight_of_days(days, NOW, RULES.site.timezone), now=NOW)
    both = Twice(NOW - days * DAY, NOW, ("fig",), NOTHING, NOTHING, tuple(ours), tuple(theirs))
    return tried_picture(past, tried, both, measures, Saying(RULES, NOW))


def rows(chart):
    return {lane.name: [(s.start, s.end) for s in lane.spans] for lane in chart.lanes}


def test_an_episode_stands_in_the_row_of_who_has_it():
    gone, kept = cold(NOW - 5 * DAY, NOW - 4 * DAY), cold(NOW - 2 * DAY, NOW - DAY)
    shorter, new = cold(NOW - 2 * DAY + HOUR, NOW - DAY), cold(NOW - 7 * DAY, NOW - 6 * DAY)
    expected = {
        "only now": [(gone.began, gone.ended)],
        "by both": [(kept.began, kept.ended)],
        "only tried": [(new.began, new.ended)],
    }
    assert expected == rows(drawn([gone, kept], [new, shorter]))


def test_what_stands_still_reaches_to_now_and_what_began_before_to_the_edge():
    one = cold(NOW - 40 * DAY, None)
    chart = drawn([one], [])
    assert [(chart.start, NOW)] == rows(chart)["only now"]
    assert [] == [m for lane in chart.lanes for m in lane.marks]


def test_episodes_of_another_bin_or_quantity_are_not_in_it():
    others = [cold(NOW - DAY, NOW, "plum"), cold(NOW - DAY, NOW, condition=Condition.DRY)]
    assert [[], [], []] == list(rows(drawn(others)).values())


def test_only_the_limits_that_differ_are_drawn_besides_as_lines_with_their_words():
    (panel,) = drawn().panels
    assert ["tried: comfort from 18 °C"] == [b.words for b in panel.bands if b.words.startswith("tried")]
    (held,) = (b for b in panel.bands if b.words == "comfort")
    assert (21, 29) == (held.low, held.high)


def test_an_axis_reaches_to_what_is_tried():
    limits = FIG.limits[Measures.TEMPERATURE]
    far = replace(
        FIG, limits=FIG.limits | {Measures.TEMPERATURE: replace(limits, high=Bound(44.0, "x", "settings"))}
    )
    (panel,) = drawn(tried=far).panels
    assert panel.high > 44
    assert max(value for value, _ in panel.values) > 40


@pytest.mark.parametrize("days", [7, 30, 90])
def test_it_covers_the_days_that_were_judged_and_can_be_drawn(days):
    chart = drawn(days=days)
    assert chart.start <= NOW - (days - 1) * DAY
    assert chart.end > NOW
    assert "tried: comfort from 18 °C" in draw(chart, WIDE)


def test_of_what_was_not_measured_there_is_no_picture():
    assert drawn(measures=Measures.MOISTURE) is None
