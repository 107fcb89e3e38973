"""Whatever is done in whatever order: the file answers as the store in memory does, also after it was reopened."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from monitor.errors import StoreError
from monitor.names import Names
from monitor.readings import HOUR, MINUTE, Quality
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch, Delivered, Shift, Standing
from monitor.store.sqlite import SqliteStore
from parts.kept import (
    T0,
    advice,
    alarm,
    decision,
    entry,
    moved_often,
    notice,
    past,
    reading,
    refusal,
    round_,
    taking,
    transition,
    undated,
    untold,
)

PROBES = ("fig-west", "fig-east", "plum-near")
few = st.integers(0, 8)
times = st.integers(-20, 20)
values = st.sampled_from([20.0, 20.0625, 21.0, 21.00004, -3.5]) | st.floats(-1000, 1000)
readings = st.builds(
    reading,
    st.sampled_from(PROBES),
    times,
    values,
    received_at=st.integers(T0 - HOUR, T0 + HOUR),
    quality=st.sampled_from(Quality),
    own_time=st.booleans(),
)
batches = st.builds(
    Batch,
    st.lists(readings, max_size=12),
    st.lists(st.builds(undated, st.sampled_from([*PROBES, "new"]), values), max_size=3),
    st.lists(st.builds(refusal, st.sampled_from(["a", "b/c"]), number=few), max_size=3),
    st.lists(st.builds(Delivered, st.integers(0, 65_535), st.integers(0, 2**64 - 1)), max_size=3),
)
people = st.sampled_from(["ana", "ben"])
places = st.sampled_from(["shed", "attic"])


letters = st.sampled_from("abc")


def ids(*known):
    return st.dictionaries(st.sampled_from(known), st.sampled_from(known), max_size=2).map(
        lambda found: {old: new for old, new in found.items() if new not in found}
    )


names = st.builds(
    Names,
    places=ids("shed", "attic"),
    bins=ids("fig", "plum"),
    zones=ids("fig.west", "fig.east", "fig.zone1"),
    probes=ids(*PROBES, "new"),
    people=ids("ana", "ben", "keeper"),
)


def some(made):
    return st.lists(made, max_size=2)


rounds = st.fixed_dictionaries(
    {
        "standing": some(
            st.builds(Standing, st.sampled_from("ab"), st.sampled_from("xy"), st.none() | st.text(max_size=5))
        ),
        "alarms": some(st.builds(alarm, few)),
        "ended": some(few),
        "transitions": some(st.builds(transition, few, times.map(lambda n: T0 + n))),
        "past": some(st.builds(past, few)),
        "advice": some(st.builds(advice, places, few)),
        "decisions": some(st.builds(decision, few, few)),
        "untold": some(st.builds(untold, people, places, few)),
        "told": some(st.tuples(people, places)),
        "diary": some(st.builds(entry, times.map(lambda n: T0 + n), st.text(max_size=4))),
        "requests": some(few),
        "settings": st.sampled_from(["1", "2"]),
    }
)
channels = st.lists(st.sampled_from(["phone", "mail", "wall"]), max_size=3).map(tuple)


class Both(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "kept.db"
        self.file = SqliteStore(self.path)
        self.memory = MemoryStore()
        self.rounds = self.notices = 0
        self.marks = [self.memory.mark(), self.file.mark()]

    def both(self, work):
        """The same call on both; the same answer, or the same refusal."""
        answers = []
        for store in (self.memory, self.file):
            try:
                answers.append(work(store))
            except StoreError as error:
                answers.append(type(error))
        assert answers[0] == answers[1]
        return answers[0]

    @rule(batch=batches)
    def keep(self, batch):
        self.both(lambda s: s.keep(batch))

    @rule(what=rounds, letters=st.lists(channels, max_size=2), step=st.integers(0, 2), leap=st.integers(-1, 2))
    def commit(self, what, letters, step, leap):
        notices = [notice(self.notices + leap + n, to) for n, to in enumerate(letters, start=1)]
        made = round_(self.rounds + step, upto=self.memory.last_arrival(), notices=notices, **what)
        if self.both(lambda s: s.commit(made)) is None:
            self.rounds += step
            self.notices = max([self.notices, *(n.number for n in notices)])

    @rule(letter=letters, names=names, minute=few)
    def take_up(self, letter, names, minute):
        self.both(lambda s: s.take_up(taking(letter, minute, names=names)))

    @rule(who=people, alarm=few)
    def ask(self, who, alarm):
        self.both(lambda s: s.ask(T0, who, "seen", alarm))

    @rule(
        number=few, channel=st.sampled_from(["phone", "mail"]), how=st.sampled_from(["sent", "failed", "give up"])
    )
    def tell(self, number, channel, how):
        if how == "sent":
            self.both(lambda s: s.sent(number, channel, T0 + number))
        elif how == "failed":
            self.both(lambda s: s.failed(number, channel, T0 + number, "no"))
        else:
            self.both(lambda s: s.give_up(number, channel, "never"))

    @rule(start=times, length=few, width=st.integers(1, 5), limit=few, arrival=st.none() | st.integers(0, 40))
    def ask_everything(self, start, length, width, limit, arrival):
        start, end, width = T0 + start * MINUTE, T0 + (start + length) * MINUTE, width * MINUTE
        for probe in PROBES:
            self.both(lambda s, p=probe: s.window(p, start, end))
            self.both(lambda s, p=probe: s.buckets(p, start, end, width))
            self.both(lambda s, p=probe: s.latest(p, limit, arrival))
            self.both(lambda s, p=probe: s.unchanged_since(p, arrival))
        self.both(lambda s: s.latest_of(PROBES, limit))
        self.both(lambda s: s.after(arrival or 0, limit))
        self.both(lambda s: s.after(arrival or 0))
        self.both(lambda s: s.transitions(T0, T0 + length, limit))
        self.both(lambda s: s.due(T0 + start, limit))
        for question in (
            "undated",
            "refusals",
            "delivered",
            "past_episodes",
            "notices",
            "rounds",
            "diary",
            "taken_up",
        ):
            self.both(lambda s, q=question: getattr(s, q)(limit))
        self.both(lambda s: s.version(limit))
        self.both(lambda s: s.decisions(arrival, limit))
        self.both(lambda s: s.advice("shed", limit))

    @rule()
    def mark(self):
        self.marks = [self.memory.mark(), self.file.mark()]

    @rule(
        by=st.integers(-30, 30),
        begin=times,
        end=st.integers(-70, 70),
        now=st.integers(-70, 70),
        believed=st.sampled_from([Quality.GOOD, Quality.STALE, Quality.AHEAD]),
        overtaken=st.booleans(),
    )
    def shift(self, *, by, begin, end, now, believed, overtaken):
        marks = iter(self.marks)
        begin, end, now = (T0 + n * MINUTE for n in (begin, end, now))
        self.both(
            lambda s: s.shift(
                Shift(by * MINUTE, begin, end, now, next(marks), lambda _: believed, overtaken=overtaken)
            )
        )
        assert self.memory.after(0) == self.file.after(0)

    @rule()
    def reopen(self):
        self.file.close()
        self.file = SqliteStore(self.path)

    @rule()
    def look_from_outside(self):
        outside = SqliteStore(self.path, read_only=True)
        assert self.memory.after(0) == outside.after(0)
        assert self.memory.load() == outside.load()
        for probe in PROBES:
            assert self.memory.latest(probe, 5) == outside.latest(probe, 5)
        outside.close()

    @invariant()
    def the_same_stands(self):
        self.both(lambda s: s.load())
        for question in (
            "last_arrival",
            "counted",
            "refusal_counts",
            "contradictions",
            "asked",
            "waiting",
            "in_force",
        ):
            self.both(lambda s, q=question: getattr(s, q)())

    def teardown(self):
        self.file.close()
        self.folder.cleanup()


@pytest.mark.parametrize("staged", ["moved often", "moved seldom"])
def test_the_file_answers_as_the_memory_does(staged, monkeypatch):
    if staged == "moved often":
        moved_often(monkeypatch)
    Both.TestCase.settings = settings(
        max_examples=60,
        stateful_step_count=25,
        deadline=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    Both.TestCase().runTest()
