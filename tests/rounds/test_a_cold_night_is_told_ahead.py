"""A cold night is told before it comes, out of what a bed has learned; to whom, when, and what is to be done about it."""

import re
from copy import copy, deepcopy
from dataclasses import replace

import pytest

from monitor.hourly import shown
from monitor.notify.notices import Slot
from monitor.readings import HOUR, MINUTE, Measures, Reading
from monitor.reports.saying import Saying
from monitor.reports.text import why_text
from monitor.reports.why import why_facts
from monitor.rules import Bound, Control, Harm, JudgeBy, Limits, Place, Remedy, Units
from monitor.store.memory import MemoryStore
from parts import orchard
from parts.asking import ask
from parts.house import House
from parts.nights import clock, only_thermometers


def bound(value):
    return Bound(value, "the keeper's own", "settings")


HARM = (Harm(True, bound(12.0), 0), Harm(False, bound(39.0), 0))
HEAT = Limits(None, None, HARM)


def bin_of(bed):
    """West alone, with limits that leave only nights as cold as this one."""
    west = replace(bed.zones[0], limits={Measures.TEMPERATURE: HEAT})
    return replace(bed, zones=(west,), limits={Measures.TEMPERATURE: HEAT}, can=frozenset())


FIG = bin_of(only_thermometers(orchard.FIG))
BEGINS = orchard.ms("2026-11-08T12:00")
DAYS = 16
QUARTER = 15 * MINUTE
LOSES, MAT, ELSE = 0.05, 0.55, 0.30
"""1/h, K/h, K/h: what the bed really does."""


class Night(House):
    """One bin in a shed. `air` says °C at a time; `mat` whether it is on; `heats` whether that warms the bed."""

    mat, heats = False, True

    def air(self, at):
        hour = at / HOUR % 24
        return self.level + 3.0 * (1 - abs(hour - 14) / 6)

    def __post_init__(self):
        super().__post_init__()
        self.level, self.warmth = 9.0, 16.0

    def live(self, hours, *, rounds=True):
        for _ in range(round(hours * 4)):
            self.at += QUARTER
            heat = MAT if self.mat and self.heats else 0.0
            self.warmth += 0.25 * (LOSES * (self.air(self.at) - self.warmth) + ELSE + heat)
            noise = ((self.at // QUARTER * 7919) % 13 - 6) / 100
            values = {"shed-air": self.air(self.at), "fig-west": self.warmth + noise}
            self.keep(*(Reading(p, self.at - 1000, round(v, 2), self.at) for p, v in values.items()))
            if rounds:
                self.rounds.run()
        return self

    def until(self, when):
        self.at -= self.at % QUARTER
        for _ in range(4 * 24):
            self.live(0.25)
            if clock(self.at) == when:
                return self
        raise AssertionError(f"{when} never comes")

    def switch(self, on):
        self.mat = on
        ask(self, "diary", deed="mat on" if on else "mat off", subject="mat:long-mat")
        return self

    def notices(self):
        return list({p.notice.number: p.notice for p in self.store.notices(1000)}.values())

    def order(self, act):
        return next((o for o in self.rounds.stands.advice["shed"].orders if o.act == act), None)


def night(*, bed=FIG, learns=True, **more):
    """A bed that has learned for sixteen days, its mat on every third day, without a round in all that time."""
    mats = more.pop("mats", (replace(orchard.LONG_MAT, warms=(("fig", "west"),)),))
    rules = orchard.rules(bins=(bed,), mats=mats, people=(orchard.ANA,), **more)
    rules = replace(rules, places={"shed": Place("shed", "Shed", orchard.SHED.probes[:1])})
    house = Night(rules=rules, store=MemoryStore(), at=BEGINS)
    if not learns:
        return house
    for day in range(DAYS):
        if house.rules.mats and day % 3 == 1:
            house.switch(True)
        elif house.rules.mats and day % 3 == 2:
            house.switch(False)
        house.live(24, rounds=False)
    while house.rounds.stands.nights.get("fig") is None:
        house.later(1).rounds.run()
    return house.live(3)


@pytest.fixture(scope="module")
def learned():
    """The same for all tests; each takes it over into a house of its own."""
    return night()


@pytest.fixture
def shed(learned):
    house = Night(rules=learned.rules, store=copied(learned.store), at=learned.at)
    house.level, house.warmth, house.mat = learned.level, learned.warmth, learned.mat
    return house


def copied(store):
    twin = MemoryStore()
    twin.__dict__.update({name: copy_of(value) for name, value in store.__dict__.items()})
    return twin


def copy_of(value):
    if isinstance(value, dict | list | set):
        return deepcopy(value)
    try:
        return copy(value)
    except TypeError:
        return value


def ahead(house):
    return house.steps("cold night ahead")


def cold_front(house):
    """The air falls by seven degrees in the afternoon."""
    house.until("16:00").level -= 7.0
    return house


def test_a_cold_night_is_told_in_the_evening_before_it_comes_and_it_comes(shed):
    cold_front(shed).until("20:45")
    assert [("fig", "cold night ahead", "raised")] == ahead(shed)
    assert shed.warmth > 13.0
    told = len(shed.notices())
    shed.until("21:00")
    notice = shed.notices()[told]
    assert ("21:00", "evening") == (clock(notice.at), str(notice.slot))
    assert notice.title.startswith("Fig: switch long-mat on tonight;")
    assert "below 12 °C" in notice.title
    assert "°C within 18 h, limit 12 °C" in notice.lines[1]
    assert "Nothing stops a mat without its own thermostat" in notice.lines[2]
    shed.until("08:00")
    assert shed.warmth < 12.0


def test_its_arithmetic_can_be_followed(shed):
    cold_front(shed).until("21:00")
    order = shed.order("mat on")
    model = shed.rounds.stands.nights["fig"]["west"].bed.learned.zone
    more = "\n".join(order.more)
    assert "On all night it is enough: " in more
    assert "below the limit instead of " in more
    assert "On for 12 h it takes 0.48 kWh." in more
    assert (
        f"Each hour it goes {model.theta[0] * 100:.1f} % of the way to its room, its mat adds 0.5 °C an hour"
        in more
    )
    assert "Rolled out over 18 h with " in more
    assert "Its own errors make that " in more
    assert order.by is not None


def test_what_was_told_and_done_holds_the_bed_and_is_over_within_the_hour(shed):
    cold_front(shed).until("21:00").switch(True).until("23:15")
    assert [("fig", "cold night ahead", "raised"), ("fig", "cold night ahead", "returned")] == ahead(shed)
    shed.until("08:00")
    assert shed.warmth > 12.0
    assert [] == shed.steps("cold")


def test_its_end_is_told_to_nobody(shed):
    cold_front(shed).until("21:00").switch(True).until("23:15")
    number = next(t.number for t in shed.store.transitions(limit=9999) if t.key.condition == "cold night ahead")
    ends = [d for d in shed.store.story(number).decisions if d.event == "returned"]
    assert ["What was told ahead came, or did not: its end asks nothing of anybody."] == [d.reason for d in ends]


def test_one_that_is_seen_coming_only_in_the_night_wakes_nobody_but_the_plain_limit_does(shed):
    shed.until("21:30").level -= 20.0
    before = len(shed.notices())
    shed.until("23:30")
    assert [("fig", "cold night ahead", "raised")] == ahead(shed)
    assert before == len(shed.notices())
    shed.until("06:45")
    woken = [n for n in shed.notices()[before:] if n.slot is Slot.NIGHT]
    assert woken
    assert shed.warmth < 12.0


def test_who_read_of_it_in_the_evening_is_not_woken_by_comfort_but_by_harm(shed):
    cold_front(shed).until("21:00")
    before = len(shed.notices())
    shed.until("06:45")
    harm = next(t for t in shed.store.transitions(limit=9999) if t.key.condition == "cold" and t.level == "harm")
    night = [n for n in shed.notices()[before:] if n.slot is Slot.NIGHT]
    assert [clock(harm.round_at)] == [clock(n.at) for n in night][:1]


def test_harm_that_is_there_explains_that_it_was_to_come(shed):
    cold_front(shed).until("08:00")
    assert ("fig", "cold night ahead", "suppressed") in ahead(shed)
    assert "harm" == shed.standing()["fig", "cold"].level


def test_a_kill_in_the_evening_changes_nothing_of_what_is_told(shed, learned):
    cold_front(shed).until("20:45")
    before = shed.rounds.stands
    shed.restart()
    shed.later(1).rounds.run()
    after = shed.rounds.stands
    assert before.nights["fig"]["west"].forecast == after.nights["fig"]["west"].forecast
    assert {k: o for k, o in before.outlooks.items() if o.ahead.stands} == {
        k: o for k, o in after.outlooks.items() if o.ahead.stands
    }
    assert before.expected == after.expected
    assert [("fig", "cold night ahead", "raised")] == ahead(shed)


@pytest.mark.parametrize("minutes", [4, 59])
def test_what_was_foretold_is_known_from_the_first_round_after_a_restart_on(shed, minutes):
    cold_front(shed).until("20:00").later(4).rounds.run()
    before = shed.rounds.stands
    shed.restart()
    shed.at += (minutes - 4) * MINUTE
    shed.rounds.run()
    after = shed.rounds.stands
    assert before.nights.keys() == after.nights.keys() == {"fig"}
    assert before.nights["fig"]["west"].forecast == after.nights["fig"]["west"].forecast
    assert before.expected == after.expected
    assert shed.order("mat on") is not None
    assert {} != shown(shed.store, shed.rules, shed.at, ())


def test_on_a_site_in_us_units_every_number_of_it_is_in_fahrenheit(learned):
    house = Night(
        rules=replace(learned.rules, site=replace(learned.rules.site, units=Units.US)),
        store=copied(learned.store),
        at=learned.at,
    )  # fmt: skip
    house.level, house.warmth, house.mat = learned.level, learned.warmth, learned.mat
    cold_front(house).until("21:00")
    (alarm,) = [a for a in house.store.load().alarms if a.key.condition == "cold night ahead"]
    assert " likely below 53.6 °F within 18 h in west: least expected " in alarm.evidence.arithmetic
    order = house.order("mat on")
    told = "\n".join([alarm.evidence.arithmetic, order.words, order.why, *order.more])
    assert "°C" not in f"{told} {story(house, alarm.number)}"
    house.until("06:00").switch(True)
    house.heats = False
    house.until("12:00")
    (dead,) = [a for a in house.store.load().alarms if a.key.condition == "mat not heating"]
    assert " °F expected with it and " in dead.evidence.arithmetic
    assert "°C" not in story(house, dead.number)


def story(house, number):
    """What `vermistat why` says, but for a caution that has both units."""
    text = why_text(why_facts(house.store, house.rules, number, house.at), Saying(house.rules, house.at))
    return text.replace("1 °C (2 °F)", "")


def test_a_bed_of_which_nothing_is_told_for_hours_has_no_cold_night_ahead(shed):
    cold_front(shed).until("20:45")
    for _ in range(6):
        shed.later(hours=1).rounds.run()
    assert ("fig", "cold night ahead", "returned") in ahead(shed)


def test_a_mat_that_dies_is_told_within_hours_and_what_to_look_at(shed):
    shed.until("06:00").switch(True).until("09:00")
    assert [] == shed.steps("mat not heating")
    shed.heats = False
    shed.until("14:00")
    steps = shed.steps("mat not heating")
    assert [("long-mat", "mat not heating", "raised")] == steps
    order = shed.order("look at the mat")
    assert "look at long-mat: it does not heat" == order.words
    assert "and west did not feel it: it should add 0.54 °C an hour" in order.why
    assert any(n.title.startswith("Fig: look at long-mat") for n in shed.notices())
    (alarm,) = [a for a in shed.store.load().alarms if a.key.condition == "mat not heating"]
    shed.heats = True
    ask(shed, "done", alarm.number)
    shed.live(3)
    assert ("long-mat", "mat not heating", "returned") in shed.steps("mat not heating")


def test_a_mat_that_the_diary_says_is_off_is_not_called_dead(shed):
    shed.heats = False
    shed.until("06:00").live(12)
    assert [] == shed.steps("mat not heating")


def test_without_insulation_in_its_can_and_without_a_mat_it_says_what_would_help(learned):
    house = night(mats=())
    cold_front(house).level -= 6.0
    house.until("21:00")
    (order,) = house.rounds.stands.advice["shed"].orders
    assert "look" == order.act
    more = "\n".join(order.more)
    assert "mm of foam all round: " in more
    assert "Insulation goes around the sides and under the lid, never over a mat" in more


def test_a_bed_that_can_be_wrapped_is_wrapped_when_there_is_no_mat():
    house = night(bed=replace(FIG, can=frozenset({Remedy.INSULATE})), mats=())
    cold_front(house).level -= 6.0
    house.until("21:00")
    (order,) = house.rounds.stands.advice["shed"].orders
    assert ("insulate", "wrap it before the night, around the sides") == (order.act, order.words)
    assert any("mm of foam all round" in line for line in order.more)


def elsewhere(house, warmer, *, can):
    """The same evening beside an empty wash-house, so much warmer than the shed, with a thermometer of its own."""
    bed = replace(FIG, can=frozenset(can))
    air = replace(orchard.SHED.probes[0], id="wash-air")
    places = {**house.rules.places, "wash": Place("wash", "Wash-house", (air,))}
    twin = Night(
        rules=replace(house.rules, bins={"fig": bed}, mats={}, places=places),
        store=copied(house.store),
        at=house.at,
    )
    twin.level, twin.warmth, twin.mat = house.level, house.warmth, house.mat
    for hour in range(11 * 24 * 4):
        at = twin.at - hour * QUARTER
        twin.keep(Reading("wash-air", at - 2000, round(house.air(at) + warmer, 2), at))
    cold_front(twin)
    while clock(twin.at) != "21:00":
        twin.live(0.25, rounds=False)
        twin.keep(Reading("wash-air", twin.at - 2000, round(twin.air(twin.at) + 7 + warmer, 2), twin.at))
        twin.rounds.run()
    return twin


def test_the_other_place_is_offered_with_by_how_much_where_it_may_be_moved(learned):
    house = elsewhere(learned, 6.0, can={Remedy.MOVE})
    order = house.order("move")
    assert "move it to Wash-house for the night, two people or a trolley" == order.words
    (line,) = [line for line in order.more if line.startswith("In Wash-house, whose air is ")]
    assert re.fullmatch(
        r"In Wash-house, whose air is \d+\.\d °C at its coldest within a day, and without its mat: "
        r"(less than 1|\d+) % below the limit\.",
        line,
    )
    told = house.rounds.stands.nights["fig"]["west"].forecast
    assert told.alarm[0].chance > 0.9


@pytest.mark.parametrize(("warmer", "can"), [(-8.0, {Remedy.MOVE}), (6.0, {Remedy.INSULATE})])
def test_a_place_that_is_no_warmer_or_a_bin_that_stays_is_offered_nothing_of_it(learned, warmer, can):
    house = elsewhere(learned, warmer, can=can)
    (order,) = house.rounds.stands.advice["shed"].orders
    assert not [line for line in (order.words, *order.more) if "Wash-house" in line]


def test_a_bin_one_degree_above_its_limit_is_not_alarmed_ahead_in_its_first_week():
    house = night(learns=False, mats=())
    house.warmth, house.level = 13.0, 4.5
    for _ in range(7 * 24):
        house.live(1)
        house.warmth = max(12.6, min(13.4, house.warmth))
    assert [] == ahead(house)
    told = house.rounds.stands.nights["fig"]["west"].forecast
    assert told is not None
    assert not told.may_alarm


def test_several_living_zones_are_told_as_they_are_judged(learned):
    assert learned.rules.bins["fig"].judge is JudgeBy.REFUGE
    from monitor.checks.ahead import harm_ahead, look_ahead

    told = learned.rounds.stands.nights["fig"]["west"]
    frost = replace(told.forecast.alarm[0], chance=0.9, point=9.0)
    cold = replace(told, forecast=replace(told.forecast, alarm=(frost, told.forecast.alarm[1])))
    west = learned.rules.bins["fig"].zones[0]
    both = replace(learned.rules.bins["fig"], zones=(west, replace(west, id="east")))
    _, findings = look_ahead(both, {"west": cold, "east": told}, {}, standing=())
    assert [] == findings
    _, (finding,) = look_ahead(both, {"west": cold, "east": cold}, {}, standing=())
    assert ("bin:fig", "cold night ahead", "comfort") == (
        str(finding.key.subject),
        finding.key.condition,
        finding.level,
    )
    every = replace(both, judge=JudgeBy.EVERY_ZONE)
    _, (finding,) = look_ahead(every, {"west": cold, "east": told}, {}, standing=())
    assert "zone:fig.west" == str(finding.key.subject)
    assert harm_ahead(both, {"west": told}) is None


def test_a_thermostat_needs_no_word_and_its_bed_is_wrapped_where_that_is_not_enough():
    warm = orchard.by(Control.THERMOSTAT, 16.0)
    house = night(
        bed=replace(FIG, can=frozenset({Remedy.INSULATE})), mats=(replace(warm, warms=(("fig", "west"),)),)
    )
    zone = house.rounds.stands.nights["fig"]["west"].bed.learned.zone
    assert not zone.warmed, "its relay is hidden"
    cold_front(house).until("21:00")
    assert house.order("insulate") is not None
    assert house.order("mat on") is None


def test_a_bed_that_still_learns_is_one_line_in_an_evening_that_has_something_to_tell():
    house = night(learns=False, mats=())
    house.live(30).until("18:00").level -= 12.0
    house.until("21:00")
    assert [] == ahead(house)
    assert [] == house.notices(), "nothing is the matter, so nothing is written"
    house.warmth = 11.0
    house.until("21:00")
    evening = [n for n in house.notices() if n.slot is Slot.EVENING]
    (line,) = [line for n in evening for line in n.lines if line.startswith("Tonight, roughly:")]
    assert line.startswith("Tonight, roughly: Fig ")
    assert line.endswith(" at its coldest; it still learns.")
    assert [] == ahead(house)


def test_a_bed_that_knows_itself_has_no_such_line(shed):
    cold_front(shed).until("21:00")
    assert not [line for n in shed.notices() for line in n.lines if line.startswith("Tonight, roughly:")]


def test_a_bed_that_does_not_answer_what_was_done_within_two_hours_is_told(shed):
    shed.until("09:00").heats = False
    shed.switch(True).until("11:00")
    assert [] == shed.steps("mat not heating")
    shed.until("11:15")
    assert [("long-mat", "mat not heating", "raised")] == shed.steps("mat not heating")
    why = shed.order("look at the mat").why
    assert "it was switched on two hours ago, and west did not answer" in why
    assert "expected with it and" in why


def test_a_bed_that_answers_what_was_done_is_no_news(shed):
    shed.until("09:00").switch(True).until("15:00")
    assert [] == shed.steps("mat not heating")
