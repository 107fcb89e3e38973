"""After each round: what other programs are told of it."""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping

from monitor.advice.follow import VALID, Stands, Told, followed, zones_needed
from monitor.advice.present import Present, present
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Kind
from monitor.errors import StoreError
from monitor.judge import Stood
from monitor.outward import messages
from monitor.outward.messages import topic_of
from monitor.outward.outlet import Outlet, Publish
from monitor.readings import Millis
from monitor.reports.bins import Scene
from monitor.reports.probes import heard
from monitor.reports.saying import Saying
from monitor.rules import Bin, Rules
from monitor.store.promises import Store

log = logging.getLogger(__name__)

AT_ONCE, ROUNDS = 400, 7
"""Bins told of after one round, at most; or where there are many, so that all are within so many rounds, which is within
what `messages.STATE_HOLDS` gives them."""

NOT_STORED = "this round could not be stored."
CLOCK_UNSURE = "what time it is, is not known."
NO_LONGER = "No switch is to follow it any more."
STOPPED = "Vermistat stops."


class Teller:
    """Says it, for one site. Not safe from two threads at once, but for `greet`."""

    def __init__(
        self,
        rules: Rules,
        *,
        store: Store,
        publish: Publish,
        now: Callable[[], Millis],
        speed: float = 1.0,
    ) -> None:
        self._site = rules.site.id
        self._store = store
        self._now = now
        self._outlet = Outlet(publish=publish, now=now, speed=speed)
        self.greet = self._outlet.greet
        self.use(rules)

    def use(self, rules: Rules) -> None:
        """Go by these rules. What they know no longer is switched off and forgotten."""
        self._rules = rules
        self._probes = rules.probes()
        self._bin_of = {p.id: bed.id for bed in rules.bins.values() for zone in bed.zones for p in zone.probes}
        self._follow = {mat.id for mat in rules.mats.values() if mat.follow}
        left = self._outlet.held() - self._topics()
        mats = [t.rpartition("/")[2] for t in left if t.startswith(topic_of(self._site, "mats", ""))]
        if left:
            self._outlet.drop(left, [self._off(mat, NO_LONGER) for mat in mats])

    def _topics(self) -> set[str]:
        beds = {topic_of(self._site, bed, what) for bed in self._rules.bins for what in ("state", "advice")}
        mats = {topic_of(self._site, "mats", mat) for mat in self._follow}
        return beds | mats | {topic_of(self._site, "alive")}

    def _off(self, mat: str, why: str) -> messages.Message:
        at = self._now()
        return messages.mat(self._site, Told(mat, False, why, at, at + VALID))

    def told(
        self,
        stood: Stood,
        at: Millis,
        *,
        stored: bool = True,
        clock_sure: bool = True,
        failed: Collection[str] = (),
    ) -> None:
        """What a round at `at` left standing."""
        doubt = "" if stored and clock_sure else NOT_STORED if clock_sure else CLOCK_UNSURE
        try:
            self._outlet.say([messages.alive(self._site, at), *self._mats(stood, at, doubt, failed)])
            if stored:
                self._tell_of_bins(stood, at)
        except StoreError as error:
            log.warning("other programs could not be told how the bins are: %s", error)
        except Exception:
            # whatever is wrong with telling others, beds are watched; what switches were told ends by itself
            log.exception("other programs could not be told")

    def _mats(self, stood: Stood, at: Millis, doubt: str, failed: Collection[str]) -> Iterable[messages.Message]:
        if not self._follow:
            return []
        stands = Stands(
            self._rules,
            tuple(stood.alarms.values()),
            self._zones(stood, at),
            at,
            works=stood.works.keys(),
            failed=failed,
            doubted={p for p, kept in stood.memory.items() if kept.untrusted_since is not None},
            doubt=doubt,
        )
        return [messages.mat(self._site, told) for told in followed(stands)]

    def _zones(self, stood: Stood, at: Millis) -> dict[str, Present]:
        beds = [self._rules.bins[bed] for bed in zones_needed(self._rules) if bed in self._rules.bins]
        return {f"{bed.id}.{z.id}": present(z, stood.memory, at) for bed in beds for z in bed.zones}

    def _tell_of_bins(self, stood: Stood, at: Millis) -> None:
        mine = self._alarms_by_bin(stood)
        gists = {bed.id: self._gist(bed, stood, mine) for bed in self._rules.bins.values()}
        due = [bed for bed in self._rules.bins.values() if self._due(bed, gists[bed.id])]
        due = due[: max(AT_ONCE, len(gists) // ROUNDS)]
        saying = Saying(self._rules, at)
        known = {p.id for bed in due for zone in bed.zones for p in zone.probes}
        probes = heard(self._store, [self._probes[p] for p in known]) if known else {}
        memory = {p: one.memory for p, one in probes.items()}
        for bed in due:
            alarms, gist = mine.get(bed.id, []), gists[bed.id]
            scene = Scene(saying, probes, memory=memory, alarms=alarms, phases=stood.phases)
            made = stood.advice.get(bed.place)
            self._outlet.say(
                [
                    messages.state(self._site, bed, scene, gist),
                    messages.advice(self._site, bed, made, alarms=alarms, saying=saying, gist=gist),
                ]
            )

    def _alarms_by_bin(self, stood: Stood) -> Mapping[str, list[Alarm]]:
        found: defaultdict[str, list[Alarm]] = defaultdict(list)
        for alarm in stood.alarms.values():
            kind, id_, _ = alarm.key.subject
            bed = self._bin_of.get(id_, "") if kind is Kind.PROBE else alarm.key.subject.bed
            found[bed].append(alarm)
        return found

    def _gist(self, bed: Bin, stood: Stood, mine: Mapping[str, list[Alarm]]) -> object:
        """What makes a bin's messages news: its alarms and what is advised, not each reading."""
        made = stood.advice.get(bed.place)
        alarms = ((a.number, a.state, a.level, a.suppressed, a.shelf) for a in mine.get(bed.id, ()))
        return (tuple(alarms), made.at if made is not None and bed.id in mine else 0)

    def _due(self, bed: Bin, gist: object) -> bool:
        return any(self._outlet.waits(topic_of(self._site, bed.id, what), gist) for what in ("state", "advice"))

    def close(self) -> None:
        """We stop in order: every mat off, nobody judges any more, and nothing of it is left at the broker."""
        mats = [self._off(mat, STOPPED) for mat in sorted(self._follow)]
        self._outlet.close([*mats, messages.gone(self._site, self._now())])
