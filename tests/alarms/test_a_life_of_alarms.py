"""A bin lives through anything: gaps, lies, late readings, restarts, a lost broker, people who look or do not."""

from itertools import pairwise

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from checks.beds import HOUR, MINUTE, T0, Watching, bed, reading, site, zone
from monitor.alarms.causes import suppress
from monitor.alarms.cycle import Alarm, Event, State, Transition, acknowledge, needs_acknowledgement, step
from monitor.alarms.holds import Shelf, Work, shelf_key
from monitor.alarms.quiet import LONGEST, Ended, Quiet, begin_work, over, over_all, put_aside
from monitor.checks.findings import AlarmKey, Finding, Kind
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
        self.shelves: dict[str, Shelf] = {}
        self.works: dict[str, Work] = {}
        self.unshelved: dict[str, Ended] = {}
        self.returned: dict[str, Ended] = {}
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

    @rule(which=st.integers(1, 40), hours=st.sampled_from([1, 3, 8, 200]))
    def somebody_shelves(self, which: int, hours: int) -> None:
        self.now += MINUTE
        for alarm in [a for a in self.alarms.values() if a.number == which]:
            shelf = put_aside(alarm, "ana", at=self.now, until=self.now + hours * HOUR)
            self.shelves[shelf_key(alarm.key)] = shelf
        self.look()

    @rule()
    def somebody_takes_all_off_their_shelves(self) -> None:
        self.now += MINUTE
        self.unshelved = {key: Ended("Taken off.", self.now, "ben") for key in self.shelves}
        self.shelves.clear()
        self.look()

    @rule(hours=st.sampled_from([1, 2, 30]))
    def somebody_works(self, hours: int) -> None:
        self.now += MINUTE
        before, until = self.works.get("fig"), self.now + hours * HOUR
        self.works["fig"] = begin_work(self.alarms.values(), "fig", "ana", at=self.now, until=until, before=before)
        self.look()

    @rule()
    def the_work_is_done(self) -> None:
        self.now += MINUTE
        if self.works.pop("fig", None):
            self.returned["fig"] = Ended("Done.", self.now, "ana")
        self.look()

    @rule()
    def restart(self) -> None:
        before = {p: m for p, m in self.watching.memory.items() if m.heard is not None}
        self.watching.restart()
        assert before == {p: m for p, m in self.watching.memory.items() if m.heard is not None}

    def look(self, *fresh) -> None:
        begun = len(self.rows)
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
        self.hush(begun)
        self.compare()

    def hush(self, begun: int) -> None:
        """What people have laid over alarms, as a round does it after everything else."""
        for key, ended in over(self.shelves, self.rows[begun:], now=self.now).items():
            del self.shelves[key]
            self.unshelved[key] = ended
        for where in [where for where, work in self.works.items() if work.until <= self.now]:
            self.returned[where] = Ended("Its time is over.", self.works.pop(where).until)
        quiet = Quiet(self.shelves, self.works, self.unshelved, self.returned)
        for after, rows in over_all(
            list(self.alarms.values()),
            quiet,
            rules=self.rules,
            bin_of=dict.fromkeys(ZONES, "fig"),
            coming_back=lambda _alarm: False,
            round_at=self.now,
        ):
            self.put(after.key, after, rows)
        self.unshelved, self.returned = {}, {}

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
    def what_lies_over_an_alarm_is_what_the_rows_say(self) -> None:
        """Each of the three suppressions by itself, from the begin and end rows of it alone."""
        for begin, end, lies in (
            (Event.SUPPRESSED, Event.UNSUPPRESSED, lambda a: a.cause is not None),
            (Event.SHELVED, Event.UNSHELVED, lambda a: a.shelf is not None),
            (Event.OUT_OF_SERVICE, Event.IN_SERVICE, lambda a: a.work is not None),
        ):
            for alarm in self.alarms.values():
                if alarm.state is State.RETURNED:
                    continue  # what is over needs no explanation, and forgets it without a word
                mine = [r.event for r in self.rows if r.number == alarm.number]
                raised = len(mine) - 1 - mine[::-1].index(Event.RAISED)
                last = [e for e in mine[raised:] if e in (begin, end)]
                assert lies(alarm) is bool(last and last[-1] is begin)

    @invariant()
    def nothing_is_put_aside_or_worked_in_for_longer_than_it_may(self) -> None:
        for shelf in self.shelves.values():
            assert shelf.until - shelf.since <= max(LONGEST.values())
        assert all(work.until > self.now - MINUTE for work in self.works.values())
        for row in self.rows:
            if row.event is Event.SHELVED:
                assert (row.who, True) == ("ana", row.until is not None)

    @invariant()
    def no_harm_is_kept_quiet_by_a_shelf_that_was_put_over_less(self) -> None:
        for alarm in self.alarms.values():
            if alarm.shelf is not None and alarm.level is Level.HARM:
                assert alarm.shelf.level is Level.HARM

    @invariant()
    def harm_that_stood_before_the_work_is_not_hushed_by_it(self) -> None:
        for alarm in self.alarms.values():
            if alarm.work is not None:
                assert alarm.number not in alarm.work.spared

    @invariant()
    def what_the_daemon_says_of_itself_no_work_hushes(self) -> None:
        assert all(a.work is None for a in self.alarms.values() if a.key.subject.kind is Kind.DAEMON)

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
