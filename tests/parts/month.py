"""The demo's January through decoder, trust and rounds over a store in memory: the same month without broker and threads."""

from __future__ import annotations

from monitor.checks.system import System
from monitor.intake.payloads import Decoder
from monitor.intake.quality import Trust
from monitor.january import january_settings
from monitor.readings import DAY, Reading
from monitor.rounds import Rounds
from monitor.simulator.keepers import replies
from monitor.simulator.month import START, Month
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts.house import Flushed


class FastMonth:
    """`post` is everything written; keepers read it and do what it asks."""

    def __init__(self, settings=None, *, answer=True):
        self.settings = settings or january_settings(1883)
        self.rules, self.answer = self.settings.rules, answer
        self.month, self.store, self.at = Month(), MemoryStore(), START
        self.decoder, self.trust = Decoder(self.rules.probes()), Trust()
        self.system = System(link_up=True, link_since=START)
        self.post, self.replies = [], []
        self.restart()

    def restart(self):
        self.rounds = Rounds(
            store=self.store, rules=self.rules, now=lambda: self.at, flush=Flushed, system=lambda: self.system,
            nudge=lambda: None, straight=lambda _post: None,
        )  # fmt: skip

    def live(self, days):
        end = self.at + days * DAY
        while self.at < end:
            self.quarter()
        return self

    def quarter(self):
        at, said = self.month.next()
        for due in iter(lambda: self._due_before(at), None):
            self._pass_to(due)
        self.at = at
        self.store.keep(Batch(readings=[r for m in said for r in self._readings(m)]))
        self._pass_to(at)

    def _readings(self, message):
        probes = self.rules.probes()
        for sample in self.decoder.decode(message.topic, message.payload, message.at).samples:
            at = message.at if sample.at is None else sample.at
            quality = self.trust.judge(probes[sample.probe], sample.value, at=at, received_at=message.at)
            yield Reading(sample.probe, at, sample.value, message.at, quality)

    def _due_before(self, at):
        deadline = self.rounds.next_deadline(self.at, at)
        times = [r.at for r in self.replies if r.at < at] + ([deadline] if deadline is not None else [])
        return min(times, default=None)

    def _pass_to(self, at):
        self.at = max(at, self.at)
        for reply in [r for r in self.replies if r.at <= self.at]:
            self.replies.remove(reply)
            if self.store.heard_of(reply.alarm) is not None:
                self.store.ask(self.at, reply.who, reply.what, reply.alarm, reply.note)
            if reply.deed is not None:
                self.month.do(reply.deed)
        self.rounds.run()
        last = self.post[-1].number if self.post else 0
        fresh = {p.notice.number: p.notice for p in self.store.notices(20) if p.notice.number > last}
        for notice in fresh.values():
            self.post.append(notice)
            advice = self.rounds.stands.advice.get(notice.place)
            if self.answer:
                tz = self.rules.site.timezone
                self.replies += replies(
                    notice, advice.orders if advice else (), self.rules.people[notice.person], tz
                )
