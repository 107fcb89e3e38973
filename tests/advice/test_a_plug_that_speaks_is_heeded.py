"""Where a mat's plug says what it draws, nobody is told to switch on what is on; and it is shown."""

from dataclasses import replace

import pytest

from cli.keeping import NOW, SETTINGS, Site, cold, part
from monitor.advice.acts import Act
from monitor.advice.decide import decide
from monitor.advice.present import Drawn, drawn, drawn_by
from monitor.checks.findings import Condition
from monitor.checks.memory import ProbeMemory
from monitor.clock import WallClock
from monitor.diary import Deed, Entry
from monitor.readings import HOUR, MINUTE, Reading
from monitor.rules import Control, Level, Source, Unit
from parts.orchard import LONG_MAT, alarm, by, ms, now_at, rules

AT = ms("02:10")
COLD = alarm(12, "fig", Condition.COLD, Level.HARM)
HOT = alarm(14, "fig", Condition.HOT, Level.HARM)
CHILLY = now_at(fig_west=14.2, fig_east=14.8)
WATTS = replace(LONG_MAT, state=Source("plugs/long", Unit.WATT))


def order(alarms, plug, *diary, control=Control.HAND, zones=CHILLY):
    shed = rules(mats=(by(control),))
    plugs = {"long-mat": plug} if plug else {}
    made = decide("shed", rules=shed, alarms=alarms, zones=zones, at=AT, diary=diary, plugs=plugs).orders
    return next(o for o in made if o.target == "long-mat")


def switched(deed, hours):
    at = AT - round(hours * HOUR)
    return Entry(at, at, "ana", deed, "mat:long-mat", "", number=1)


@pytest.mark.parametrize("control", [Control.HAND, Control.TIMER, Control.UNKNOWN])
def test_a_mat_that_draws_is_on_and_is_looked_at(control):
    found = order([COLD], Drawn(True, 38.4, AT - 2 * MINUTE), control=control)
    assert (Act.MAT_CHECK, "look at long-mat: it is on") == (found.act, found.words)
    assert "By its plug long-mat draws 38 W, 2 min ago." in found.more
    assert not any("vermistat diary" in line for line in found.more)


def test_a_mat_that_draws_nothing_is_switched_on():
    found = order([COLD], Drawn(False, 0.3, AT))
    assert (Act.MAT_ON, "switch long-mat on") == (found.act, found.words)
    assert "By its plug long-mat draws 0 W, 0 s ago." in found.more


def test_the_newer_of_plug_and_diary_says_it_and_the_diary_says_since_when():
    off = switched(Deed.MAT_OFF, 1)
    assert "look at long-mat: it is on" == order([COLD], Drawn(True, 38.0, AT), off).words
    assert "switch long-mat on" == order([COLD], Drawn(True, 38.0, AT - 2 * HOUR), off).words
    on = switched(Deed.MAT_ON, 5)
    assert "look at long-mat: on since yesterday 21:10" == order([COLD], Drawn(True, None, AT), on).words


def test_a_mat_that_is_off_is_not_what_heats():
    zones = now_at(fig_west=34.5, fig_east=34.2)
    found = order([HOT], Drawn(False, None, AT), zones=zones)
    assert "see that long-mat is off" == found.words
    assert "By its plug long-mat is off: then the heat is not its." in found.more
    assert "switch long-mat off" == order([HOT], Drawn(True, 40.0, AT), zones=zones).words


def kept(value, age):
    return {"mat:long-mat": ProbeMemory(last_at=AT - age, heard=AT - age, trusted_at=AT - age, value=value)}


@pytest.mark.parametrize(
    ("value", "power", "on"),
    [(0.0, 40.0, False), (0.9, None, False), (1.0, None, True), (3.9, 40.0, False), (4.0, 40.0, True)],
)
def test_a_meter_that_idles_is_no_mat_that_heats(value, power, on):
    shed = rules(mats=(replace(WATTS, power=power),))
    assert {"long-mat": Drawn(on, value, AT)} == drawn_by(shed, kept(value, 0), AT)


def test_a_plug_that_has_long_said_nothing_says_nothing():
    shed = rules(mats=(WATTS,))
    assert {} == drawn_by(shed, kept(38.0, 2 * HOUR), AT) == drawn_by(shed, {}, AT) == drawn_by(rules(), {}, AT)


def test_a_switch_has_no_watts():
    mat = replace(WATTS, state=Source("plugs/long", Unit.SWITCH))
    plug = rules(mats=(mat,)).plugs()["mat:long-mat"]
    assert Drawn(True, None, AT) == drawn(mat, plug, kept(1.0, 0), AT)


# ── in a house, and on the screen ─────────────────────────────────────────────────────────────────────────────


PLUGGED = SETTINGS.replace("control: hand}", "control: hand, state: {topic: plugs/long}}")


@pytest.fixture
def site(tmp_path, monkeypatch):
    monkeypatch.setattr(WallClock, "now", lambda self: NOW)
    return Site(tmp_path, text=PLUGGED)


def draws(house, watts):
    house.keep(Reading("mat:long-mat", house.at, watts, house.at))


def test_readings_of_a_plug_reach_advice_and_raise_nothing(site):
    with site.lived() as house:
        house.at = NOW - 2 * MINUTE
        draws(house, 38.0)
        cold(house)
        house.rounds.run()
        words = [o.words for o in house.store.advice("shed")[-1].orders]
        assert "look at long-mat: it is on" in words
        assert all(a.key.subject.id != "mat:long-mat" for a in house.store.load().alarms)
        house.restart()
        house.later(55)
        house.rounds.run()
        # an hour on the plug is silent: nobody is told so, and nobody knows whether the mat is on
        assert all(a.key.subject.id != "mat:long-mat" for a in house.store.load().alarms)
        words = [o.words for o in house.store.advice("shed")[-1].orders]
        assert "see that long-mat is on" in words


@pytest.mark.parametrize(
    ("watts", "entry", "line", "on", "told_by"),
    [
        (38.4, None, "long-mat: on by its plug, it draws 38 W, 0 s ago; switched by hand", True, "plug"),
        (0.2, None, "long-mat: off by its plug, it draws 0 W, 0 s ago; switched by hand", False, "plug"),
        (None, "on", "long-mat: its plug says nothing that is recent; by the diary on since 12:00; switched by hand",
         True, "diary"),
        (None, None, "long-mat: its plug says nothing that is recent; nobody wrote whether it is on; switched by hand",
         None, None),
    ],
)  # fmt: skip
def test_now_shows_whether_a_mat_is_on(site, capsys, watts, entry, line, on, told_by):
    with site.lived() as house:
        cold(house)
        if watts is not None:
            draws(house, watts)
        if entry:
            house.store.ask(NOW, "ana", "diary", body='{"deed": "mat on", "subject": "mat:long-mat"}')
        house.rounds.run()
    assert line in part(site.says(capsys, "now"), "The mats")
    (mat,) = site.tells(capsys, "now")["mats"]
    assert ("long-mat", on, told_by) == (mat["id"], mat["on"], mat["told_by"])
    assert (
        "Mat long-mat: 40 W, warms fig.west and plum.near, switched by hand; its plug speaks on plugs/long."
        in (site.says(capsys, "check"))
    )
