"""The store that keeps nothing: every promise but durability, for tests and measurements."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from itertools import chain
from typing import Any

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.findings import PastEpisode
from monitor.diary import Entry
from monitor.errors import StoreError
from monitor.names import Names
from monitor.notify.notices import Decision, Post, Posted, Untold
from monitor.readings import Millis
from monitor.shifting import Move, moved
from monitor.store import renaming
from monitor.store.codec import written
from monitor.store.memory_readings import at_of, newest, whole
from monitor.store.memory_versions import MemoryVersions, renamed_alarms, renamed_all, renamed_standing
from monitor.store.promises import APART, Mark, Past, Request, Round, RoundRow, Shift, Standing, Story


class MemoryStore(MemoryVersions):
    """`promises.Store` without durability, lock or second process: it keeps nothing when it is closed."""

    def __init__(self) -> None:
        super().__init__()
        self._rounds: list[RoundRow] = []
        self._standing: dict[tuple[str, str], str] = {}
        self._alarms: dict[int, Alarm] = {}
        self._transitions: list[Transition] = []
        self._past: list[PastEpisode] = []
        self._advice: list[Advice] = []
        self._posts: dict[tuple[int, str], Post] = {}
        self._decisions: list[Decision] = []
        self._untold: list[Untold] = []
        self._diary: list[Entry] = []
        self._requests: list[Request] = []
        self._dealt_with: set[int] = set()
        self._next_alarm = self._next_notice = 1

    @whole
    def load(self) -> Past:
        """As promised."""
        advice = {a.place: a for a in self._advice}
        return Past(
            last_round=self._rounds[-1] if self._rounds else None,
            standing={key: body for key, body in self._standing.items() if key[0] not in APART},
            alarms=[self._alarms[number] for number in sorted(self._alarms)],
            advice=[advice[place] for place in sorted(advice)],
            untold=list(self._untold),
            next_alarm=self._next_alarm,
            next_notice=self._next_notice,
        )

    @whole
    def standing(self, kind: str, under: Collection[str] | None = None) -> dict[str, str]:
        """As promised."""
        found = {key: body for (of, key), body in self._standing.items() if of == kind}
        if under is None:
            return found
        beginnings = tuple(f"{one}/" for one in under)
        return {key: body for key, body in found.items() if f"{key}/".startswith(beginnings)}

    @whole
    def commit(self, round_: Round) -> None:
        """As promised."""
        self._refuse(round_)
        self._rounds.append(round_.row)
        self._commit_standing(round_.standing)
        self._commit_alarms(round_)
        self._past += round_.past
        self._advice += round_.advice
        self._decisions += round_.decisions
        told = set(round_.told)
        self._untold = [u for u in self._untold if (u.person, u.place) not in told] + list(round_.untold)
        self._diary += round_.diary
        self._dealt_with.update(r.id for r in self._requests if r.id in round_.requests)
        for notice in round_.notices:
            self._posts |= {(notice.number, channel): Post(notice, channel) for channel in notice.channels}
            self._next_notice = max(self._next_notice, notice.number + 1)

    def _rename_journal(self, names: Names, at: Millis) -> None:
        self._standing = renamed_standing(self._standing, names)
        self._alarms, steps = renamed_alarms(self._alarms, names, at)
        self._transitions = renamed_all(self._transitions, names) + steps
        self._past = renamed_all(self._past, names)
        self._advice = renamed_all(self._advice, names)
        self._decisions = renamed_all(self._decisions, names)
        self._untold = renamed_all(self._untold, names)
        self._diary = renamed_all(self._diary, names)
        self._posts = {
            key: replace(post, notice=renaming.renamed(post.notice, names)) for key, post in self._posts.items()
        }

    def _refuse(self, round_: Round) -> None:
        """Before anything is kept."""
        documents: Iterable[object] = chain(
            round_.alarms, round_.transitions, round_.past, round_.advice, round_.notices, round_.decisions,
            round_.untold, round_.diary,
        )  # fmt: skip
        for document in documents:
            written(document)
        if self._rounds and round_.row.number <= self._rounds[-1].number:
            raise StoreError(f"round {round_.row.number} comes after round {self._rounds[-1].number}")
        numbers = [n.number for n in round_.notices]
        if len(set(numbers)) < len(numbers) or any(n < self._next_notice for n in numbers):
            raise StoreError(f"one of the notices {numbers} is used already; the next is {self._next_notice}")

    def _commit_standing(self, standing: Sequence[Standing]) -> None:
        for one in standing:
            if one.body is None:
                self._standing.pop((one.kind, one.key), None)
            else:
                self._standing[one.kind, one.key] = one.body

    def _commit_alarms(self, round_: Round) -> None:
        self._alarms |= {a.number: a for a in round_.alarms}
        for number in round_.ended:
            self._alarms.pop(number, None)
        self._transitions += round_.transitions
        used = [*round_.ended, *(a.number for a in round_.alarms), *(t.number for t in round_.transitions)]
        self._next_alarm = max([self._next_alarm, *(number + 1 for number in used)])

    @whole
    def transitions(self, start: Millis = 0, end: Millis | None = None, limit: int = 1000) -> list[Transition]:
        """As promised."""
        return newest([t for t in self._transitions if start <= t.at and (end is None or t.at < end)], limit)

    @whole
    def story(self, alarm: int) -> Story:
        """As promised."""
        return Story(
            [t for t in self._transitions if t.number == alarm], [d for d in self._decisions if d.alarm == alarm]
        )

    @whole
    def past_episodes(self, limit: int = 100) -> list[PastEpisode]:
        """As promised."""
        return newest(self._past, limit)

    @whole
    def advice(self, place: str, limit: int = 1) -> list[Advice]:
        """As promised."""
        return newest([a for a in self._advice if a.place == place], limit)

    @whole
    def notices(self, limit: int = 100) -> list[Post]:
        """As promised."""
        return newest(self._in_order(), limit)

    def _in_order(self) -> list[Post]:
        """Oldest notice first; a dictionary keeps the order of the channels."""
        return sorted(self._posts.values(), key=lambda post: post.notice.number)

    @whole
    def decisions(self, alarm: int | None = None, limit: int = 100) -> list[Decision]:
        """As promised."""
        return newest([d for d in self._decisions if alarm is None or d.alarm == alarm], limit)

    @whole
    def rounds(self, limit: int = 100) -> list[RoundRow]:
        """As promised."""
        return newest(self._rounds, limit)

    @whole
    def diary(self, limit: int = 100) -> list[Entry]:
        """As promised."""
        return newest(sorted(self._diary, key=at_of), limit)

    @whole
    def heard_of(self, alarm: int) -> Alarm | None:
        """As promised."""
        return self._alarms.get(alarm)

    @whole
    def ask(self, at: Millis, who: str, what: str, alarm: int = 0, note: str = "", *, body: str = "{}") -> int:
        """As promised."""
        self._requests.append(Request(len(self._requests) + 1, at, who, what, alarm, note, body))
        return len(self._requests)

    @whole
    def asked(self) -> list[Request]:
        """As promised."""
        return [r for r in self._requests if r.id not in self._dealt_with]

    @whole
    def due(self, now: Millis, limit: int = 100) -> list[Post]:
        """As promised."""
        return [p for p in self._in_order() if p.state is Posted.WAITING and p.next_try <= now][:limit]

    @whole
    def sent(self, notice: int, channel: str, at: Millis) -> None:
        """As promised."""
        if self._post(notice, channel).state is not Posted.SENT:
            self._tried(notice, channel, state=Posted.SENT, sent_at=at)

    @whole
    def failed(self, notice: int, channel: str, next_try: Millis, error: str) -> None:
        """As promised."""
        if self._post(notice, channel).state is Posted.WAITING:
            self._tried(notice, channel, next_try=next_try, last_error=error)

    @whole
    def give_up(self, notice: int, channel: str, error: str) -> None:
        """As promised."""
        if self._post(notice, channel).state is Posted.WAITING:
            self._tried(notice, channel, state=Posted.GIVEN_UP, last_error=error)

    @whole
    def waiting(self) -> int:
        """As promised."""
        return sum(post.state is Posted.WAITING for post in self._posts.values())

    @whole
    def mark(self) -> Mark:
        """As promised."""
        kept: dict[str, list[Any]] = {"round": self._rounds, "transition": self._transitions, "past_episode": self._past,
                "advice": self._advice, "decision": self._decisions, "request": self._requests,
                "taken_up": self._taken_up, "accepted": self._versions}  # fmt: skip
        counts = {name: len(rows) for name, rows in kept.items()}
        return self._mark_readings() | counts | {"notice": self._next_notice - 1, "diary": len(self._diary)}

    @whole
    def settle(self, standing: Sequence[Standing]) -> None:
        """As promised."""
        self._commit_standing(standing)

    @whole
    def shift(self, shift: Shift) -> None:
        """As promised."""
        by, above = Move(shift.by, shift.begin, shift.now), shift.above
        self._shift_readings(shift)
        journal: dict[str, list[Any]] = {"transition": self._transitions, "past_episode": self._past,
                   "advice": self._advice, "decision": self._decisions, "diary": self._diary,
                   "taken_up": self._taken_up}  # fmt: skip
        for name, rows in journal.items():
            rows[above[name] :] = [moved(row, by) for row in rows[above[name] :]]
        stamped: dict[str, list[Any]] = {
            "round": self._rounds,
            "request": self._requests,
            "accepted": self._versions,
        }
        for name, rows in stamped.items():
            rows[above[name] :] = [replace(row, at=by.stamp(row.at)) for row in rows[above[name] :]]
        self._alarms = {number: moved(alarm, by) for number, alarm in self._alarms.items()}
        self._untold = [moved(one, by) for one in self._untold]
        self._posts = {key: _post_moved(post, by, above["notice"]) for key, post in self._posts.items()}
        self._commit_standing(shift.standing)

    def _post(self, notice: int, channel: str) -> Post:
        try:
            return self._posts[notice, channel]
        except KeyError:
            raise StoreError(f"notice {notice} was never to go to {channel}") from None

    def _tried(self, notice: int, channel: str, **what: Any) -> None:
        post = self._posts[notice, channel]
        self._posts[notice, channel] = replace(post, tries=post.tries + 1, **what)


def _post_moved(post: Post, by: Move, above: int) -> Post:
    sent_at = None if post.sent_at is None else by.stamp(post.sent_at)
    notice = moved(post.notice, by) if post.notice.number > above else post.notice
    return replace(post, notice=notice, sent_at=sent_at, next_try=by.ahead(post.next_try, post.next_try))
