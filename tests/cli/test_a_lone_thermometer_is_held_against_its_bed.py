"""`vermistat care` says when a thermometer without a neighbour has left what its bed makes of its air, or that it cannot know."""

import pytest

from cli.keeping import NOW, SETTINGS, Site
from monitor.advice.cautions import ICE_WATER
from monitor.readings import DAY, MINUTE

ALONE = SETTINGS.replace("warms: [fig.west, plum.near]", "warms: [fig.west]")
UNSEEN = "plum-near has none to be compared with, {}, so a drift is not seen"
DAYS = "and too few days of three months are known on which no mat was on"


def mat(control):
    """The plum's own, with whatever switches it."""
    return ALONE.replace("mats:\n", f"mats:\n  plum-mat: {{power: 20 W, warms: [plum.near], {control}}}\n")


PLUG = "control: thermostat, state: {topic: plugs/plum-mat, sends: on/off}"


@pytest.fixture
def site(tmp_path, noon):
    """Three months: the shed swings by 8 K in three weeks, the plum follows and stands 6 K above it; for nine days 11 K."""
    found = Site(tmp_path, text=mat(PLUG), began="2026-08-25T12:00")
    with found.lived() as house:
        while house.at <= NOW:
            days = (NOW - house.at) / DAY
            air = 10 + 4 * abs(days % 21 - 10.5) / 10.5
            house.say(shed_air=air, plum_near=air + (11 if days < 9 else 6), **{"mat:plum_mat": 0})
            house.later(360)
    return found


def seen(site, capsys, text, lacks=DAYS):
    """Whether care tells, with these settings, that the plum's thermometer has left its bed; or else that nobody can see it."""
    site.file.write_text(text.replace("UNITS", "metric").replace("ZONE", "Europe/Lisbon").replace("PORT", "1883"))
    (plum,) = site.tells(capsys, "care", "plum")["bins"]
    told = [line for line in plum["heat"]["unusual"] if line.startswith("plum-near reads 5")]
    assert [UNSEEN.format(lacks)] * (not told) == [
        line for line in plum["heat"]["lacks"] if "none to be compared with" in line
    ]
    assert all(
        "more than its bed made of its air in the two months before, on days without a mat" in one for one in told
    )
    assert all("Hold it into ice water" in one for one in told)
    assert bool(told) == ({c.words for c in ICE_WATER} <= {*plum["cautions"]})
    return bool(told)


def test_one_that_has_left_it_is_named_as_far_as_its_mat_is_known_to_be_off(site, capsys):
    assert seen(site, capsys, ALONE)
    assert seen(site, capsys, mat(PLUG))
    for control in ("thermostat", "always", "hand"):
        assert not seen(site, capsys, mat(f"control: {control}")), control
    without = ALONE.replace(
        "shed: {probes: {shed-air: {measures: temperature", "shed: {probes: {shed-air: {measures: humidity"
    )
    assert not seen(site, capsys, without, lacks="nor one in its air")


def test_by_the_diary_only_days_with_the_mat_off_count(site, capsys):
    with site.lived() as house:
        for days, deed in ((95, "off"), (30, "on"), (9, "off")):
            body = f'{{"deed": "mat {deed}", "subject": "mat:plum-mat"}}'
            house.store.ask(NOW - days * DAY, "ana", "diary", 0, "melon", body=body)
        house.at = NOW + MINUTE
        house.say(shed_air=10.0)
    assert seen(site, capsys, mat("control: hand"))
