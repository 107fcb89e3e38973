"""The line of a bin in `now`, for every way it can be judged and be out of its climate. Reckoned by hand."""

import pytest

from cli.keeping import NOW, SETTINGS, Site, to_noon
from monitor.alarms.cycle import Event
from monitor.checks.findings import Evidence
from monitor.readings import HOUR
from monitor.reports.saying import Saying, apart_words
from monitor.rules import Units

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}
EVERY_ZONE = SETTINGS.replace("can: [insulate, move]", "can: [insulate, move]\n    judge: every-zone")


@pytest.fixture
def fig(tmp_path, noon, capsys):
    """How Fig is after two hours of these values, as `now` says it."""

    def saying(*, text=SETTINGS, units="metric", hours=2, **more):
        site = Site(tmp_path, text=text, units=units)
        with site.lived() as house:
            house.at = NOW - hours * HOUR
            to_noon(house, **{**WELL, **more})
        return site.tells(capsys, "now")["bins"][0]

    return saying


def test_a_zone_at_the_mat_is_named_and_the_bed_itself_is_well(fig):
    # E. eugeniae right above a mat: harm at 32 °C, no comfort of its own
    said = fig(fig_mat=33.0)["sentence"]
    assert said.startswith("too hot by 1 °C: at the mat 33.0 °C, harm at 32 °C or above (alarm 1, harm); ")
    assert "; 23.0 to 24.0 °C is all right (comfort 21 to 29 °C); " in said


def test_under_refuge_one_good_zone_is_enough(fig):
    assert [] == fig(fig_east=12.5)["outside"]


def test_zone_by_zone_the_bad_one_is_named_and_so_is_the_good(fig):
    found = fig(text=EVERY_ZONE, fig_east=17.0)
    assert (
        "too cold by 4 °C: east 17.0 °C, comfort 21 to 29 °C (alarm 1); west 24.0 °C is all right"
        in (found["sentence"])
    )
    assert [("zone:fig.east", "east", 17.0, 1)] == [
        (o["subject"], o["zone"], o["value"], o["alarm"]) for o in found["outside"]
    ]


def test_only_zones_with_a_value_are_compared(fig):
    # 12 + (2700 − 1690) / 1250 × 68 = 66.9 %, in one zone of the two
    said = fig(fig_damp=1690, hours=30)["sentence"]
    assert said.startswith("too dry by 3 points: east moisture 67 %, comfort 70 to 85 % (alarm 1)")


def test_too_wet_is_told_with_the_hour_at_which_it_will_be_an_alarm(fig):
    # 12 + (2700 − 1330) / 1382 × 75.2 = 86.5 %; wet is an alarm after 6 h, so at 16:00
    found = fig(
        fig_damp=1330, text=SETTINGS.replace("counts: 1450, moisture: 80 %", "counts: 1318, moisture: 87.2 %")
    )
    assert "moisture" in found["sentence"]
    assert [("wet", "2026-11-25T16:00:00Z", None)] == [
        (o["condition"], o["alarm_at"], o["alarm"]) for o in found["outside"]
    ]


def test_an_edge_is_shown_and_not_judged(tmp_path, noon, capsys):
    site = Site(
        tmp_path, text=SETTINGS.replace("west: {probes:", "west: {role: edge, probes:").replace("fig.west, ", "")
    )
    with site.lived() as house:
        house.at = NOW - HOUR
        to_noon(house, **{**WELL, "fig_west": 2.0})
    assert [] == site.tells(capsys, "now")["bins"][0]["outside"]
    said = site.says(capsys, "now")
    assert "Fig: 23.0 °C is all right" in said
    assert "west (edge, not judged) 2.0 °C" in said


FLOOD = Evidence("", value=11.4, bound=10.0, unit="points", below=False, newest=78.4, clear_at=7.0)
MEDIAN = Evidence("", value=66.9, bound=70.0, unit="%", below=True, statistic="median of a day", newest=71.2,
                  lasting=HOUR, held=2 * HOUR, clear_at=73.0)  # fmt: skip
COLD = Evidence(
    "", value=11.4, bound=12.0, unit="°C", below=True, zone="west", others=(("east", 11.1),), clear_at=13.0
)
BLIND = Evidence("", bound=12.0, unit="°C", below=True)
WEST = "Warmest of 2 zones, west: "
RAISED, ROSE, RETURNED = Event.RAISED, Event.ROSE, Event.RETURNED


@pytest.mark.parametrize(
    ("evidence", "event", "said"),
    [
        (FLOOD, RAISED, "Moisture up by 11 points within an hour (78 % now), 1 point above the limit of 10"
                        " points."),
        (MEDIAN, RAISED, "67 % moisture over a day (71 % now), 3 points below the limit of 70 % for 2 h"
                         " (told after 1 h)."),
        (MEDIAN, RETURNED, "67 % moisture over a day (71 % now), above 73 % again for 2 h."),
        (COLD, ROSE, f"{WEST}11.4 °C, 0.6 °C below the limit of 12 °C."),
        (COLD, RETURNED, f"{WEST}11.4 °C; the limit is 12 °C."),
        (BLIND, RETURNED, "No value can be judged now; the limit is 12 °C."),
        (Evidence("last reading 50 min ago."), RAISED, "Last reading 50 min ago."),
        (Evidence("no good reading; last good value 21.3"), RAISED, "No good reading; last good value 21.3."),
    ],
)  # fmt: skip
def test_a_reading_and_its_limit_are_one_sentence(site, evidence, event, said):
    assert said == Saying(site.rules, NOW).evidence(evidence, event)


@pytest.mark.parametrize(
    ("evidence", "event", "said"),
    [
        (COLD, ROSE, f"{WEST}52.5 °F, 1.1 °F below the limit of 53.6 °F."),
        (COLD, RETURNED, f"{WEST}52.5 °F; the limit is 53.6 °F."),
        (MEDIAN, RETURNED, "67 % moisture over a day (71 % now), above 73 % again for 2 h."),
        (
            Evidence("none good; last good value 21.3"),
            RAISED,
            "None good; last good value 21.3 (in °C, or as sent).",
        ),
    ],
)
def test_so_it_is_in_fahrenheit(tmp_path, evidence, event, said):
    assert said == Saying(Site(tmp_path, units="us").rules, NOW).evidence(evidence, event)


@pytest.mark.parametrize(
    ("apart", "unit", "units", "said"),
    [
        (9.6, "°C", Units.METRIC, "9.6 °C"),
        (9.6, "°C", Units.US, "17.3 °F"),
        (0.01, "°C", Units.METRIC, "less than 0.1 °C"),
        (0.01, "°C", Units.US, "less than 0.2 °F"),
        (3.08, "%", Units.METRIC, "3 points"),
        (1.0, "%", Units.US, "1 point"),
        (0.3, "%", Units.METRIC, "0.3 points"),
        (0.01, "%", Units.METRIC, "less than 0.1 points"),
    ],
)
def test_how_far_apart_never_reads_as_nothing(apart, unit, units, said):
    assert said == apart_words(apart, unit, units)
