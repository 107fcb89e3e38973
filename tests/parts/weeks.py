"""The demo's six weeks and its night through decoder, trust and rounds over a store in memory, without broker and threads."""

from __future__ import annotations

import tempfile
from pathlib import Path

from monitor.checks.system import System
from monitor.demo import SCREEN, settings_in
from monitor.intake.payloads import Decoder
from monitor.intake.quality import Trust
from monitor.readings import MINUTE, Reading
from monitor.rounds import Rounds
from monitor.settings import load
from monitor.simulator.hand import Hand
from monitor.simulator.story import START, Story
from monitor.simulator.weeks import EVERY, Weeks, habits
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts.house import Flushed


class FastWeeks:
    """`done` is what the keeper did: when, and in words."""

    def __init__(self, days):
        with tempfile.TemporaryDirectory() as folder:
            self.rules = load([settings_in(Path(folder), 1883)], environ=SCREEN).rules
        self.weeks = Weeks(days=days)
        self.store, self.at, self.done = MemoryStore(), self.weeks.begins, []
        self.decoder, self.trust = Decoder(self.rules.sources()), Trust()
        habit = habits(self.weeks.begins)
        self.hand = Hand(self.rules, "keeper", do=self.weeks.yard.do, habits=habit)
        self.restart()

    def restart(self):
        system = System(link_up=True, link_since=self.weeks.begins)
        self.rounds = Rounds(
            store=self.store, rules=self.rules, now=lambda: self.at, flush=Flushed, system=lambda: system,
            nudge=lambda: None, straight=lambda _post: None,
        )  # fmt: skip

    def live_weeks(self):
        while self.at < START:
            end = self.at + EVERY
            for due in iter(lambda end=end: self._due_before(end), None):
                self.weeks.live_to(due)
                self._pass_to(due)
            self.weeks.live_to(end)
            self.at = end
            self._keep(self.weeks.said())
            self._pass_to(end)
        return self

    def live_night(self, until, every=5 * MINUTE):
        story = Story(START, yard=self.weeks.yard)
        while self.at < until:
            self.at += every
            self._keep(story.until(self.at))
            self._pass_to(self.at)
        return self

    def _keep(self, messages):
        self.store.keep(Batch(readings=[r for m in messages for r in self._readings(m)]))

    def _readings(self, message):
        sources = self.rules.sources()
        for sample in self.decoder.decode(message.topic, message.payload, message.at).samples:
            at = message.at if sample.at is None else sample.at
            quality = self.trust.judge(sources[sample.probe], sample.value, at=at, received_at=message.at)
            yield Reading(sample.probe, at, sample.value, message.at, quality)

    def _due_before(self, end):
        times = (self.hand.next(), self.rounds.next_deadline(self.at, end))
        return min((max(t, self.at) for t in times if t is not None and t < end), default=None)

    def _pass_to(self, at):
        self.at = at
        self.hand.look(self.store, self.rounds.stands.advice, at, lambda *one: self.done.append(one))
        self.rounds.run()
        self.hand.look(self.store, self.rounds.stands.advice, at, lambda *one: self.done.append(one))
