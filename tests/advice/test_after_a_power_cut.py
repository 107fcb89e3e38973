"""What is advised when the power came back: the mats first, with what belongs to mains."""

from dataclasses import replace

from monitor.advice import cautions
from monitor.advice.acts import Act
from monitor.advice.decide import decide
from monitor.advice.present import Drawn, Present
from monitor.checks.findings import Condition
from monitor.notify.text import compose
from monitor.readings import MINUTE
from monitor.rules import Ability
from parts.orchard import ANA, FIG, LONG_MAT, advise, alarm, ms, now_at, rules

CUT = alarm(
    16, "", Condition.POWER_BACK,
    arithmetic="nothing was heard for 3 h 10 min, until the machine had power again; every probe has spoken since",
)  # fmt: skip


def order(of=None):
    (found,) = advise([CUT], place="", of=of or rules()).orders
    return found


def test_each_mat_is_named_and_asked_of_whoever_may():
    found = order()
    assert (Act.SYSTEM_CHECK, "see that long-mat is on again") == (found.act, found.words)
    assert Ability.MATS is found.needs
    assert "Nothing was heard for 3 h 10 min" in found.why
    assert cautions.RCD.words == found.cautions[0]
    assert cautions.UNPLUG.words in found.cautions
    assert any("may have lost its setting" in line for line in found.more)


def test_how_far_each_bed_is_from_harm_is_told_the_nearest_first():
    """Eudrilus 15 °C and Perionyx 12 °C are the species' own limits; Eisenia has harm by cold at 1 °C."""
    zones = now_at(fig_west=18.2, fig_east=17.5, fig_mat=26.0, plum_near=4.0, sloe_top=Present(None, None))
    (found,) = advise([CUT], zones, place="").orders
    assert (
        "Plum now: 4.0 °C in near, 3 °C above 1 °C, which is harm by cold.",
        "Fig now: 18.2 °C in west, 3.2 °C above 15 °C, which is harm by cold.",
    ) == found.more[:2]
    beds = [replace(FIG, id=f"b{n}", name=f"B{n}") for n in range(6)]
    zones = {f"b{n}.west": Present(20.0 + n, 5 * MINUTE) for n in range(6)}
    (found,) = advise([CUT], zones, place="", of=rules(bins=beds)).orders
    assert ["B0", "B1", "B2", "B3"] == [line.partition(" ")[0] for line in found.more[:4]]
    assert "2 further bins: `vermistat now` shows all." == found.more[4]


def test_many_mats_are_counted():
    mats = [replace(LONG_MAT, id=f"mat-{n}") for n in range(5)]
    assert "see that mat-0 and mat-1 are on again" == order(rules(mats=mats[:2])).words
    assert "see that all 5 mats are on again" == order(rules(mats=mats)).words


def after(**plugs):
    """The order when mats' plugs have said something: `long_mat=Drawn(...)`."""
    mats = [replace(LONG_MAT, id=name.replace("_", "-")) for name in ("long_mat", "wide_mat")]
    said = {name.replace("_", "-"): drawn for name, drawn in plugs.items()}
    (found,) = decide("", rules=rules(mats=mats), alarms=[CUT], zones={}, at=ms("02:10"), plugs=said).orders
    return found


def test_a_mat_whose_plug_says_that_it_is_on_again_need_not_be_looked_at():
    found = after(long_mat=Drawn(True, 38.4, CUT.since))
    assert "see that wide-mat is on again" == found.words
    assert "By its plug long-mat is on again, it draws 38 W." == found.more[0]
    both = after(long_mat=Drawn(True, 38.4, CUT.since), wide_mat=Drawn(True, None, CUT.since + 1))
    assert ("see that every probe is back", None, ()) == (both.words, both.needs, both.cautions)
    assert "By its plug wide-mat is on again." == both.more[1]


def test_a_plug_that_says_off_or_has_said_nothing_since_proves_nothing():
    found = after(long_mat=Drawn(False, 0.2, CUT.since), wide_mat=Drawn(True, 38.0, CUT.since - 1))
    assert "see that long-mat and wide-mat are on again" == found.words
    assert "By its plug long-mat is off, it draws 0 W; a thermostat may hold it off." == found.more[0]
    assert not any("By its plug wide-mat" in line for line in found.more)


def test_without_mats_the_probes_are_looked_at():
    found = order(rules(mats=()))
    assert ("see that every probe is back", None, ()) == (found.words, found.needs, found.cautions)


def test_as_a_notice_it_fits_its_lines():
    lines = compose([order()], [], [], person=ANA, rules=rules(), place="", now=ms("08:00")).lines
    assert lines[0].startswith("Vermistat: see that long-mat is on again by ")
    assert lines[1].startswith("Nothing was heard for 3 h 10 min, until the machine had power again;")
    assert cautions.RCD.words == lines[2]
