"""Properties of planning over random nights: one decision a step, nobody woken for less, every queue emptied."""

from datetime import time

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.advice.acts import AT_NIGHT
from monitor.alarms.cycle import Event
from monitor.checks.findings import Condition
from monitor.notify.hours import sleeping
from monitor.notify.notices import Slot, Verdict
from monitor.notify.plan import CLIMATE, plan
from monitor.notify.post import PASSED_ON, REMINDED, STANDS
from monitor.readings import HOUR, MINUTE
from monitor.rules import Ability, Level, Person
from parts.drawn import ZONES_NOW, alarms, sheds
from parts.orchard import advise, episode, ms, step

MANY = settings(max_examples=200, deadline=None)
PEOPLE = st.lists(
    st.builds(
        Person,
        id=st.sampled_from(["ana", "ben", "cleo"]),
        channels=st.just(("mail",)),
        evening=st.none() | st.sampled_from([time(21), time(0, 30), time(23, 45)]),
        up=st.none() | st.sampled_from([time(7), time(8, 30)]),
        may=st.frozensets(st.sampled_from(Ability)),
        hears=st.none() | st.frozensets(st.sampled_from(["fig", "plum", "shed", "sloe"]), min_size=1),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda person: person.id,
).map(tuple)
TIMES = st.integers(ms("2026-11-25T00:00"), ms("2026-11-26T00:00"))


@st.composite
def rounds(draw):
    """One round at any time of the day: what stands, what steps, what came late."""
    shed = draw(sheds(people=draw(PEOPLE)))
    standing = draw(alarms())
    now = draw(TIMES)
    begins = st.sampled_from([Event.RAISED, Event.ROSE, Event.FELL, Event.ACKNOWLEDGED])
    ends = st.sampled_from([Event.RETURNED, Event.REMOVED])
    over = {a.number for a in standing if draw(st.booleans())}
    steps = [step(a, draw(ends if a.number in over else begins)) for a in standing]
    standing = [a for a in standing if a.number not in over]
    past = [episode("fig", Condition.COLD, "01:00", "02:00")] if draw(st.booleans()) else []
    zones = draw(ZONES_NOW)
    return shed, standing, steps, past, zones, now


def planned(shed, standing, steps, past, zones, now, untold=None):
    clock = f"2026-11-25T{now // HOUR % 24:02d}:{now // MINUTE % 60:02d}"
    advice = {"shed": advise(standing, zones, at=clock, of=shed)}
    return advice, plan(
        rules=shed, untold=untold or {}, transitions=steps, past=past, alarms={a.number: a for a in standing},
        advice=advice, before={}, now=now, next_notice=1,
    )  # fmt: skip


def of_steps(result):
    """The decisions that a step asked for: not those about what stands, in the evening, or changed without a step."""
    return [d for d in result.decisions if d.event not in (STANDS, REMINDED, PASSED_ON)]


@MANY
@given(rounds())
def test_every_step_has_exactly_one_decision_for_every_person(one):
    shed, _, steps, past, _, _ = one
    _, result = planned(*one)
    wanted = sorted(
        (person, number, event)
        for person in shed.people
        for number, event in [*((s.number, str(s.event)) for s in steps), *((0, "past episode") for _ in past)]
    )
    assert wanted == sorted((d.person, d.alarm, d.event) for d in of_steps(result))
    assert all(d.reason.endswith(".") for d in result.decisions)


@MANY
@given(rounds())
def test_what_is_held_waits_and_what_is_told_has_its_notice(one):
    _, result = planned(*one)
    held = [d for d in result.decisions if d.verdict is Verdict.HELD]
    assert len(held) == len(result.untold)
    assert all(d.until is not None and d.until > one[-1] for d in held)
    numbers = {n.number: n for n in result.notices}
    for d in result.decisions:
        assert (d.verdict is Verdict.TOLD) == (d.notice is not None)
        if d.notice is not None:
            assert numbers[d.notice].person == d.person
    assert len({(n.person, n.place) for n in result.notices}) == len(result.notices)
    assert 1 + len(result.notices) == result.next_notice


@MANY
@given(rounds())
def test_nobody_asleep_is_told_without_harm_and_something_they_may_do(one):
    shed, standing, steps, *_, now = one
    advice, result = planned(*one)
    for notice in result.notices:
        person = shed.people[notice.person]
        asleep = sleeping(person, now, shed.site.timezone)
        assert notice.woke == (asleep and notice.slot is not Slot.EVENING)
        if notice.woke:
            entered = {s.number for s in steps if s.event in (Event.RAISED, Event.ROSE)}
            bad = {a.number for a in standing if a.number in entered and bad_enough(shed, a)}
            doable = [
                o
                for o in advice["shed"].orders
                if bad & set(o.alarms) and o.act in AT_NIGHT and (o.needs is None or o.needs in person.may)
            ]
            assert doable


def bad_enough(shed, one):
    bed = shed.bins.get(one.key.subject.id.partition(".")[0])
    wakes_early = bed is not None and bed.wake_for is Level.COMFORT
    return one.key.condition in CLIMATE and (one.level is Level.HARM or wakes_early)


@MANY
@given(rounds(), st.lists(rounds(), max_size=3))
def test_after_up_every_queue_is_empty(first, more):
    shed, *_ = first
    untold = {}
    for _, standing, steps, past, zones, now in (first, *more):
        _, result = planned(shed, standing, steps, past, zones, now, untold)
        untold = fold(untold, result)
    noon = ms("2026-11-26T12:00")  # everybody is up
    _, result = planned(shed, first[1], [], [], first[4], noon, untold)
    assert {} == fold(untold, result)
    waited = sum(len(queue) for queue in untold.values())
    assert waited == len(of_steps(result))


def fold(untold, result):
    """The queues after a round, as the store keeps them."""
    left = {key: queue for key, queue in untold.items() if key not in result.told}
    for one in result.untold:
        left[one.person, one.place] = (*left.get((one.person, one.place), ()), one)
    return left


@MANY
@given(rounds())
def test_a_restart_between_rounds_changes_nothing(one):
    """Everything planning knows is handed in: the same arguments give the same plan."""
    assert planned(*one)[1] == planned(*one)[1]


@MANY
@given(rounds())
def test_line_lengths_and_sense_hold_for_every_notice(one):
    _, result = planned(*one)
    for notice in result.notices:
        assert all(len(line) <= 90 for line in (notice.lines[0], *notice.lines[3:]))
        assert all(notice.lines)
        text = "\n".join((*notice.lines, *notice.more))
        assert "!" not in text
        assert all(ord(letter) < 0x2600 for letter in text)
        reading = notice.lines[1].partition(";")[0] if len(notice.lines) > 1 else ""
        assert "\n".join(notice.lines)[:160].startswith(f"{notice.lines[0]}\n{reading}")
        for number in {a.number for a in one[1]} & set(notice.alarms):
            assert any(f"vermistat seen {number}" in line for line in notice.more)
