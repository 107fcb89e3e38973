"""Shelved and out of service as machines: every state of theirs with everything that can happen to an alarm.

Both lie beside the alarm's own state. The rows of the standard are read from a public course text [seen-2nd], the way back
from its figure [memory]: "time over, unshelve, return to service: normal or unacknowledged, by the condition at that moment".
"""

from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event, Priority, State
from monitor.alarms.holds import (
    Shelf,
    Work,
    key_of,
    shelf_key,
    shelf_of,
    shelf_text,
    work_key,
    work_of,
    work_text,
)  # fmt: skip
from monitor.alarms.quiet import (
    LONGEST,
    LONGEST_WORK,
    SERVICE_ENDS,
    SERVICE_MOVES,
    SHELF_ENDS,
    SHELF_MOVES,
    InService,
    OnShelf,
    begin_work,
    put_aside,
    service_state,
    shelf_state,
)
from monitor.checks.findings import AlarmKey, Condition
from monitor.checks.system import System
from monitor.names import Names
from monitor.readings import DAY, HOUR, MINUTE
from monitor.rules import Level
from parts import kept, orchard
from parts.asking import ask, shelve, work
from parts.house import House, warm
from parts.orchard import FIG, PLUM, alarm

WELL = {**warm(FIG), "plum_near": 18.0}
BOTH = orchard.rules(bins=(FIG, PLUM), people=(orchard.ANA,))


def called(bed, name):
    """The bin with its first probe under another id."""
    (zone,) = bed.zones
    first, *rest = zone.probes
    return replace(bed, zones=(replace(zone, probes=(replace(first, id=name), *rest)),))


class Silent:
    """plum-near has fallen silent: the one alarm that anything can happen to but a change of level."""

    name = "plum-near"

    def __init__(self):
        self.house = House(rules=BOTH)
        self.house.say(**WELL)
        self.fall_silent()

    def fall_silent(self):
        until = self.house.at + 4 * HOUR
        while not self.alarm and self.house.at < until:
            self.house.later(10).say(**warm(FIG))

    @property
    def alarm(self):
        return self.house.standing().get((self.name, "silent"))

    def RAISED(self):
        self.RETURNED()
        self.fall_silent()

    def RETURNED(self):
        self.house.later(1).say(**WELL)

    def ACKNOWLEDGED(self):
        ask(self.house.later(1), "seen", self.alarm.number)

    def SUPPRESSED(self):
        self.house.system = System(link_up=False, link_since=self.house.at)
        self.house.later(6).say()

    def UNSUPPRESSED(self):
        self.SUPPRESSED()
        self.house.system = System(link_up=True, link_since=self.house.at)
        self.house.later(1).say(**warm(FIG))

    def SHELVED(self):
        shelve(self.house.later(1), self.alarm.number)

    def UNSHELVED(self):
        self.SHELVED()
        ask(self.house.later(1), "unshelve", self.alarm.number)

    def OUT_OF_SERVICE(self):
        work(self.house.later(1), "plum")

    def IN_SERVICE(self):
        self.OUT_OF_SERVICE()
        work(self.house.later(1), "plum", hours=0)

    def RENAMED(self):
        rules = orchard.rules(bins=(FIG, called(PLUM, "plum-far")), people=(orchard.ANA,))
        self.house.later(1).store.take_up(kept.taking(names=Names(probes={"plum-near": "plum-far"})))
        self.name = "plum-far"
        self.house.restart(rules)
        self.house.rounds.run()

    def REMOVED(self):
        self.house.later(1).restart(orchard.rules(bins=(FIG,), people=(orchard.ANA,)))
        self.house.rounds.run()


class Cold:
    """Fig is too cold, which has levels."""

    name = "fig"

    def __init__(self, celsius=18.0):
        self.house = House(rules=BOTH)
        self.house.say(**WELL)
        self.stay(celsius)

    def stay(self, celsius, minutes=75):
        self.house.through(minutes, **warm(FIG, celsius), plum_near=18.0)

    @property
    def alarm(self):
        return self.house.standing().get((self.name, "cold"))

    def ROSE(self):
        self.stay(11.0, 15)


class VeryCold(Cold):
    """Fig is in harm."""

    def __init__(self):
        super().__init__(11.0)

    def FELL(self):
        self.stay(18.0)


WHO_CAN = {Event.ROSE: Cold, Event.FELL: VeryCold}
ALL = [(state, event) for state in OnShelf for event in Event]


def happens(life, event):
    """Let it happen to the alarm, and see that it did."""
    before = len(life.house.steps())
    getattr(life, event.name)()
    assert str(event) in [e for name, _, e in life.house.steps()[before:] if name == life.name]


def is_shelved(life):
    """By what stands, whether or not an alarm is there."""
    shelved = [key for (kind, key) in life.house.store.load().standing if kind == "shelf"]
    if life.alarm:
        assert bool(shelved) is (shelf_state(life.alarm) is OnShelf.YES)
    return OnShelf.YES if shelved else OnShelf.NO


@pytest.mark.parametrize(("state", "event"), ALL)
def test_a_shelf_moves_as_its_table_says_or_not_at_all(state, event):
    life = WHO_CAN.get(event, Silent)()
    if state is OnShelf.YES:
        happens(life, Event.SHELVED) if isinstance(life, Silent) else shelve(life.house, life.alarm.number)
    elif event is Event.UNSHELVED:
        assert (state, event) not in SHELF_MOVES
        ask(life.house, "unshelve", life.alarm.number)
        assert (OnShelf.NO, []) == (is_shelved(life), [s for s in life.house.steps() if s[2] == "unshelved"])
        return
    happens(life, event)
    assert SHELF_MOVES.get((state, event), state) is is_shelved(life)


@pytest.mark.parametrize(("state", "event"), [(s, e) for s in InService for e in Event])
def test_work_in_its_bin_moves_as_its_table_says_or_not_at_all(state, event):
    life = WHO_CAN.get(event, Silent)()
    bed = "plum" if isinstance(life, Silent) else "fig"
    if state is InService.OUT:
        work(life.house, bed, hours=12)
    elif event is Event.IN_SERVICE:
        assert (state, event) not in SERVICE_MOVES
        work(life.house, bed, hours=0)
        assert [] == [s for s in life.house.steps() if s[2] == "back in service"]
        return
    happens(life, event)
    expected = SERVICE_MOVES.get((state, event), state)
    if isinstance(life, VeryCold):
        expected = InService.IN  # harm that stood before the work is spared
    if life.alarm:
        assert expected is service_state(life.alarm)
    assert (f"bin:{bed}" in dict(works(life))) is (
        expected is InService.OUT or (isinstance(life, VeryCold) and state is InService.OUT)
    )


def works(life):
    return [(key, body) for (kind, key), body in life.house.store.load().standing.items() if kind == "work"]


@pytest.mark.parametrize("hold", [SHELF_ENDS, SERVICE_ENDS])
def test_both_end_by_themselves_and_nothing_else_of_them_does(hold):
    assert 1 == len(hold)
    life = Silent()
    shelve(life.house, life.alarm.number, hours=1)
    work(life.house, "plum", hours=1)
    life.house.later(59).say(**warm(FIG))
    assert (OnShelf.YES, InService.OUT) == (shelf_state(life.alarm), service_state(life.alarm))
    life.house.later(1).say(**warm(FIG))
    assert (OnShelf.NO, InService.IN) == (shelf_state(life.alarm), service_state(life.alarm))
    assert {} == {key: 1 for key in life.house.store.load().standing if key[0] in ("shelf", "work")}


@pytest.mark.parametrize("order", ["shelf first", "work first"])
def test_they_lie_over_one_alarm_together_and_each_ends_for_itself(order):
    life = Silent()
    for hold in (shelve, work) if order == "shelf first" else (work, shelve):
        hold(life.house, *((life.alarm.number,) if hold is shelve else ("plum",)), hours=1)
    life.SUPPRESSED()
    assert life.alarm.suppressed
    assert None not in (life.alarm.shelf, life.alarm.work, life.alarm.cause)
    ask(life.house, "unshelve", life.alarm.number)
    assert (None, True) == (life.alarm.shelf, life.alarm.suppressed)
    work(life.house, "plum", hours=0)
    assert (None, True) == (life.alarm.work, life.alarm.suppressed)
    life.house.system = System(link_up=True, link_since=life.house.at)
    life.house.later(1).say(**warm(FIG))
    assert not life.alarm.suppressed


WAYS_BACK = [
    # a state under the shelf, and what it is when the shelf is over
    (State.UNACKNOWLEDGED, State.UNACKNOWLEDGED),
    (State.ACKNOWLEDGED, State.UNACKNOWLEDGED),
    (State.NORMAL, State.NORMAL),
]


@pytest.mark.parametrize(("before", "after"), WAYS_BACK)
def test_after_a_shelf_it_is_unacknowledged_or_normal_by_the_condition(before, after):
    life = Silent()
    shelve(life.house, life.alarm.number, hours=1)
    if before is State.ACKNOWLEDGED:
        life.ACKNOWLEDGED()
    if before is State.NORMAL:
        life.RETURNED()
    assert before is (life.alarm.state if life.alarm else State.NORMAL)
    said = WELL if before is State.NORMAL else warm(FIG)
    life.house.later(60).say(**said)
    assert after is (life.alarm.state if life.alarm else State.NORMAL)


def test_harm_that_went_under_its_shelf_still_waits_to_be_seen():
    life = VeryCold()
    number = life.alarm.number
    shelve(life.house, number, hours=8)
    life.stay(24.0, 180)
    assert State.RETURNED is life.alarm.state
    life.stay(24.0, 8 * 60)
    assert (State.RETURNED, None) == (life.alarm.state, life.alarm.shelf)
    ask(life.house, "seen", number)
    assert life.alarm is None


def test_after_work_what_was_seen_stays_seen():
    life = Silent()
    life.ACKNOWLEDGED()
    work(life.house, "plum")
    work(life.house.later(5), "plum", hours=0)
    assert (State.ACKNOWLEDGED, None) == (life.alarm.state, life.alarm.work)


@pytest.mark.parametrize(
    ("condition", "level", "priority"),
    [
        (Condition.COLD, Level.COMFORT, Priority.LOW),
        (Condition.HOT, Level.COMFORT, Priority.MEDIUM),
        (Condition.COLD, Level.HARM, Priority.HIGH),
    ],
)
def test_no_shelf_is_longer_than_its_priority_allows(condition, level, priority):
    of = alarm(3, "fig", condition, level)
    for asked in (HOUR, LONGEST[priority] - 1, LONGEST[priority], LONGEST[priority] + 1, 900 * DAY):
        shelf = put_aside(of, "ana", at=5, until=5 + asked)
        assert min(asked, LONGEST[priority]) == shelf.until - shelf.since
    assert (3, level) == (shelf.number, shelf.level)


def test_the_more_an_alarm_matters_the_shorter_it_may_be_shelved():
    assert sorted(LONGEST.values(), reverse=True) == [LONGEST[p] for p in Priority]


def test_no_work_is_longer_than_work_may_be_also_when_it_goes_on():
    first = begin_work([], "fig", "ana", at=0, until=900 * DAY)
    assert LONGEST_WORK == first.until
    again = begin_work([], "fig", "ben", at=HOUR, until=900 * DAY, before=first)
    assert (HOUR + LONGEST_WORK, 0, "ben") == (again.until, again.since, again.who)


def test_only_what_stood_in_harm_when_the_work_began_is_spared_also_when_it_goes_on():
    stands = [
        alarm(1, "fig", Condition.COLD, Level.HARM),
        alarm(2, "fig", Condition.DRY),
        replace(alarm(3, "fig", Condition.WET, Level.HARM), state=State.RETURNED, level=None),
    ]
    first = begin_work(stands, "fig", "ana", at=0, until=HOUR)
    assert (1,) == first.spared
    later = [*stands, alarm(4, "fig.west", Condition.HOT, Level.HARM)]
    assert (1,) == begin_work(later, "fig", "ana", at=MINUTE, until=2 * HOUR, before=first).spared


def test_both_are_kept_as_text_that_reads_back():
    shelf = Shelf(1, 2, "ana", Level.HARM, 7, "tonight – “later”")
    assert shelf == shelf_of(shelf_text(shelf))
    job = Work("fig", 1, 2, "ben", "turning", (3, 4))
    assert job == work_of(work_key("fig"), work_text(job))


@pytest.mark.parametrize("name", ["fig", "fig.west", "fig-west", ""])
def test_what_a_shelf_lies_over_is_a_key_that_reads_back(name):
    key = alarm(1, name, Condition.COLD if name[:4] in ("fig", "fig.") else Condition.SILENT).key
    assert AlarmKey(replace_place(key.subject), key.condition) == key_of(shelf_key(key))


def replace_place(subject):
    return subject._replace(place="")
