"""A bin lives through anything: gaps, lies, late readings, restarts, a lost broker, people who look or do not."""

from itertools import pairwise

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from checks.beds import HOUR, MINUTE, T0, Watching, bed, reading, site, zone
from monitor.alarms.causes import suppress
from monitor.alarms.cycle import Alarm, Event, State, Transition, acknowledge, needs_acknowledgement, step
from monitor.checks.findings import AlarmKey, Finding
from monitor.checks.memory import is_fresh
from monitor.checks.probes import look_at_probes, roll
from monitor.checks.system import System, look_at_system
from monitor.readings import DAY, Millis, Quality, Reading
from monitor.rules import Bin, JudgeBy, Level

ZONES = ("fig-west", "fig-east")


class Life(RuleBasedStateMachine):
    numbers = Bundle("numbers")

    @initialize(judge=st.sampled_from(JudgeBy))
    def begin(self, judge: JudgeBy) -> None:
        self.bed: Bin = bed(zone("west"), zone("east"), judge=judge)
        self.watching = Watching(self.bed)
        self.rules = site(self.bed)
        self.roll = roll(self.rules, [self.watching.watched])
        self.now: Millis = T0
        self.system = System(link_since=T0)
        self.alarms: dict[AlarmKey, Alarm] = {}
        self.rows: list[Transition] = []
        self.next = 1

    @rule(probe=st.sampled_from(ZONES), gap=st.sampled_from([1, 10, 30, 44, 90, 400]), value=st.integers(8, 40))
    def hear(self, probe: str, gap: int, value: float) -> None:
        self.now += gap * MINUTE
        self.look(reading(probe, self.now, value))

    @rule(probe=st.sampled_from(ZONES), quality=st.sampled_from([q for q in Quality if not q.trusted]))
    def hear_nonsense(self, probe: str, quality: Quality) -> None:
        self.now += 10 * MINUTE
        before = dict(self.watching.phases)
        self.look(
            Reading(probe, self.now + DAY * (quality is Quality.AHEAD), -127.0, self.now, quality, own_time=True)
        )
        assert before == self.watching.phases

    @rule(probe=st.sampled_from(ZONES), age=st.integers(1, 600), value=st.integers(8, 40))
    def hear_late(self, probe: str, age: int, value: float) -> None:
        memory = self.watching.memory.get(probe)
        if memory is None or memory.last_at is None:
            return
        before = (dict(self.watching.phases), dict(self.watching.memory))
        self.look(reading(probe, memory.last_at - age * MINUTE, value))
        assert before == (self.watching.phases, self.watching.memory)

    @rule(probe=st.sampled_from(ZONES), values=st.lists(st.integers(8, 40), min_size=2, max_size=30))
    def hear_a_backlog(self, probe: str, values: list[float]) -> None:
        start = self.now
        self.now += len(values) * 20 * MINUTE
        self.look(*(reading(probe, start + (n + 1) * 20 * MINUTE, v) for n, v in enumerate(values)))

    @rule(hours=st.integers(1, 12))
    def hear_nothing(self, hours: int) -> None:
        self.now += hours * HOUR
        self.look()

    @rule(up=st.booleans())
    def lose_or_find_the_broker(self, up: bool) -> None:
        self.now += 10 * MINUTE
        if up is not self.system.link_up:
            self.system = System(link_up=up, link_since=self.now)
        self.look()

    @rule(which=st.integers(1, 40))
    def somebody_looks(self, which: int) -> None:
        self.now += MINUTE
        found = [a for a in self.alarms.values() if a.number == which]
        for alarm in found:
            after, rows = acknowledge(alarm, "ana", at=self.now, round_at=self.now)
            self.put(alarm.key, after, rows)

    @rule()
    def restart(self) -> None:
        before = {p: m for p, m in self.watching.memory.items() if m.heard is not None}
        self.watching.restart()
        assert before == {p: m for p, m in self.watching.memory.items() if m.heard is not None}

    def look(self, *fresh) -> None:
        self.watching.standing = {k: a.level for k, a in self.alarms.items() if a.active and a.level}
        looked = self.watching.round(*fresh, now=self.now)
        self.step(looked.findings)
        active = {a.key for a in self.alarms.values() if a.active}
        self.step(
            look_at_probes(
                self.roll,
                memory=self.watching.memory,
                now=self.now,
                listening_since=self.system.listening_since,
                known_since=dict.fromkeys(ZONES, T0),
                standing=active,
            )
        )
        self.step(look_at_system(self.system, rules=self.rules, now=self.now, standing=active))
        changed, rows = suppress(self.alarms, only_probes=self.roll.only_probes, round_at=self.now)
        self.alarms |= changed
        self.rows += rows
        self.compare()

    def compare(self) -> None:
        """Of a subject with a fresh value, an alarm is there exactly while one of its limits is broken."""
        life = self.watching
        for view in life.watched.views:
            known = [p for p in view.probes if p.id in life.memory]
            if any(is_fresh(p, life.memory[p.id], at=self.now) for p in known):
                for key, watches in view.keys:
                    there = [p.present for w in watches if (p := life.phases.get(w.name))]
                    assert any(there) is (key in self.alarms and self.alarms[key].active)

    def step(self, findings: list[Finding] | tuple[Finding, ...]) -> None:
        for finding in findings:
            after, rows = step(self.alarms.get(finding.key), finding, round_at=self.now, next_number=self.next)
            self.next += 1 if after and after.number == self.next else 0
            self.put(finding.key, after, rows)

    def put(self, key: AlarmKey, after: Alarm | None, rows: tuple[Transition, ...]) -> None:
        self.alarms.pop(key, None)
        if after:
            self.alarms[key] = after
        self.rows += rows

    @invariant()
    def a_number_is_one_alarm_of_one_subject(self) -> None:
        assert len({a.number for a in self.alarms.values()}) == len(self.alarms)
        assert all(key == a.key for key, a in self.alarms.items())
        assert len({(r.number, r.key) for r in self.rows}) == len({r.number for r in self.rows})

    @invariant()
    def every_step_goes_on_from_the_one_before(self) -> None:
        for number in {r.number for r in self.rows}:
            mine = [r for r in self.rows if r.number == number]
            assert mine[0].event is Event.RAISED
            assert mine[0].before is State.NORMAL
            assert all(a.after is b.before for a, b in pairwise(mine))
            assert State.NORMAL not in [r.after for r in mine[:-1]]

    @invariant()
    def what_stands_is_what_the_rows_say(self) -> None:
        last = {r.number: r.after for r in self.rows}
        assert {n: s for n, s in last.items() if s is not State.NORMAL} == {
            a.number: a.state for a in self.alarms.values()
        }

    @invariant()
    def acknowledged_is_only_what_was_raised_and_seen(self) -> None:
        seen = {r.number for r in self.rows if r.event is Event.ACKNOWLEDGED}
        assert {a.number for a in self.alarms.values() if a.state is State.ACKNOWLEDGED} <= seen

    @invariant()
    def only_harm_waits_for_eyes_when_it_is_over(self) -> None:
        for alarm in self.alarms.values():
            if alarm.state is State.RETURNED:
                assert needs_acknowledgement(alarm)
                assert (None, Level.HARM) == (alarm.level, alarm.worst)
            else:
                assert alarm.level is not None

    @invariant()
    def every_row_carries_its_cause(self) -> None:
        assert all(r.cause.endswith(".") and r.round_at >= r.at for r in self.rows)


Life.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
TestALifeOfAlarms = Life.TestCase
