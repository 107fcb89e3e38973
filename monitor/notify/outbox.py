"""Sends what waits and marks it sent afterwards. Twice is tolerable, never is not.

One sender thread decides; each send runs in a thread of its own that is abandoned when it hangs. A channel
has one send under way at a time, so a slow one delays nobody else's. Back-off and bounds run by real time,
so a wall clock that jumps neither stops nor floods anything; what the store says of the next try is for
people to read, and a restart makes everything that waits due at once.
"""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from monitor.errors import StoreError, VermistatError
from monitor.notify.backoff import FEWEST_TRIES, pause_after, worth_trying_for
from monitor.notify.notices import Post
from monitor.readings import HOUR, Millis
from monitor.store import promises

log = logging.getLogger(__name__)

LOOSE_AT_MOST = 100
UNRECORDED = "(Not recorded: the store is failing.)"

EVER: Millis = 2**62
STRANDED_FOR = 3600.0
"""Seconds after which a send that hangs still is no reason any more to leave its channel alone (ours, no source): what
stood in its way may be gone, and a keeper must not go untold because of a call that never ends."""
STRANDED_AT_MOST = 24
"""Sends of a channel that may hang in all: each keeps a thread and a connection (ours, no source)."""
LOOK_EVERY = 2.0
"""Seconds between looks at the store when nobody nudges; the thread's sign of life follows it."""


class Patience(Protocol):
    """Real, monotonic time for whatever waits."""

    def now(self) -> float:
        """Seconds since some fixed moment; never jumps."""

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set or the seconds are over; true when it was set."""


class _Hung(VermistatError):
    """A send that did not end."""

    temporary = True


@dataclass(eq=False, slots=True)
class _Item:
    """One post as this run knows it. `due_at` is by `patience`; `recorded` says whether the store has it."""

    post: Post
    recorded: bool
    tries: int
    due_at: float = 0.0
    delivered_at: Millis | None = None
    """Delivered, and not yet marked so."""

    def __str__(self) -> str:
        return f"notice {self.number} to {self.post.notice.person} on {self.channel}"

    @property
    def number(self) -> int:
        return self.post.notice.number

    @property
    def channel(self) -> str:
        return self.post.channel

    @property
    def key(self) -> tuple[int, str, bool]:
        return self.number, self.channel, self.recorded

    @property
    def turn(self) -> tuple[bool, int, int]:
        """Who goes first on a channel: what no store holds, then the least tried, then the oldest."""
        return self.recorded, self.tries, self.number


@dataclass(eq=False, slots=True)
class _Job:
    """One send under way."""

    item: _Item
    overdue_at: float
    abandoned: bool = False


class Outbox:
    """Sends posts. `send(channel, post)` delivers one or raises; an error of ours is told by its words (they
    hold no secret), a foreign one by its class. `now` is the beds' clock and `speed` how fast it runs; `bound`
    the real seconds after which a send is abandoned, `stranded` how many abandoned ones of a channel may hang
    at once, until an hour has passed; `beat` is called every few seconds by the sender thread.
    """

    def __init__(
        self,
        *,
        store: promises.Outbox,
        send: Callable[[str, Post], None],
        now: Callable[[], Millis],
        patience: Patience,
        beat: Callable[[], None],
        speed: float = 1.0,
        bound: float = 45.0,
        stranded: int = 3,
        pause: Callable[[int], float] = pause_after,
        worth: Callable[[Post], Millis] = worth_trying_for,
    ) -> None:
        self._store, self._send, self._now, self._patience = store, send, now, patience
        self._beat, self._speed, self._bound, self._stranded = beat, speed, bound, stranded
        self._pause, self._worth = pause, worth
        self._wake, self._stopping = threading.Event(), threading.Event()
        self._until = 0.0
        self._results: queue.SimpleQueue[tuple[_Job, Exception | None]] = queue.SimpleQueue()
        self._handed: queue.SimpleQueue[Post] = queue.SimpleQueue()
        self._items: dict[tuple[int, str, bool], _Item] = {}
        self._jobs: list[_Job] = []
        self._failing: dict[str, Millis] = {}
        self._looked = False
        self._refused: set[str] = set()
        self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)

    # ── what the rest of the program calls, from any thread ───────────────────────────────────────────────

    def start(self) -> None:
        """Begin sending; whatever waits from earlier is due at once."""
        self._thread.start()

    def nudge(self) -> None:
        """Look now: a round has left something new."""
        self._wake.set()

    def straight(self, post: Post) -> None:
        """Send without the store, marked unrecorded, and keep trying while this process lives."""
        self._handed.put(replace(post, notice=replace(post.notice, lines=(*post.notice.lines, UNRECORDED))))
        self._wake.set()

    def failing(self) -> Mapping[str, Millis]:
        """Channels whose last send failed, and since when, by the beds' clock."""
        return dict(self._failing)

    def stop(self, timeout: float = 2.0) -> bool:
        """Begin nothing new, give what is under way most of `timeout` seconds, mark what got through.

        True when the sender has ended. A send that hangs is left behind; its post stays waiting in the store.
        """
        self._until = self._patience.now() + 0.75 * timeout
        self._stopping.set()
        self._wake.set()
        if self._thread.ident is None:
            return True
        self._thread.join(timeout)
        return not self._thread.is_alive()

    # ── the sender thread ─────────────────────────────────────────────────────────────────────────────────

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            nap = self._guarded(self._turn)
            self._patience.wait(self._wake, nap)
        while self._live() and self._patience.now() < self._until:
            self._wake.clear()
            self._guarded(self._settle)
            self._patience.wait(self._wake, 0.05)
        self._guarded(self._settle)

    def _guarded(self, step: Callable[[], float]) -> float:
        self._beat()
        try:
            return step()
        except Exception:
            log.exception("a turn of the outbox failed; the next goes on")
            return LOOK_EVERY

    def _turn(self) -> float:
        """Settle what ended, begin what is due; the seconds until something may be due again."""
        self._settle()
        self._adopt()
        self._look()
        waiting: dict[str, list[_Item]] = {}
        for item in self._items.values():
            if item.delivered_at is None:
                waiting.setdefault(item.channel, []).append(item)
        now = self._patience.now()
        soonest = min((self._serve(c, items) for c, items in waiting.items()), default=now + LOOK_EVERY)
        return min(LOOK_EVERY, max(0.005, soonest - now))

    def _settle(self) -> float:
        """Take in results, abandon what hangs, mark what was delivered."""
        while not self._results.empty():
            job, error = self._results.get()
            self._jobs.remove(job)
            if error is None:
                self._succeeded(job.item)
            elif not job.abandoned and job.item.delivered_at is None:
                self._failed(job.item, error)
        for job in self._live():
            if self._patience.now() >= job.overdue_at:
                job.abandoned = True
                self._failed(job.item, _Hung(f"no end after {self._bound:g} s"))
        for item in [i for i in self._items.values() if i.delivered_at is not None]:
            self._mark_sent(item)
        return LOOK_EVERY

    def _adopt(self) -> None:
        """Take over what was handed in to go straight out."""
        while not self._handed.empty():
            self._remember(self._handed.get(), recorded=False)
        loose = [i for i in self._items.values() if not i.recorded and i.delivered_at is None]
        for item in loose[:-LOOSE_AT_MOST]:
            log.error("%s given up: too many wait without a store", item)
            self._forget(item)

    def _look(self) -> None:
        """Learn what waits in the store. All of it: its age bounds how much, and what is due is ours to say."""
        found: list[Post] = []
        if not self._kept("look what waits", lambda: found.extend(self._everything())):
            return
        for post in found:
            self._remember(post, recorded=True)
            if post.tries and not self._looked:
                self._failing.setdefault(post.channel, post.notice.at)
        self._looked = True
        there = {(p.notice.number, p.channel, True) for p in found}
        there |= {j.item.key for j in self._jobs}
        for item in list(self._items.values()):
            if item.recorded and item.delivered_at is None and item.key not in there:
                self._forget(item)

    def _everything(self) -> list[Post]:
        limit = 100
        while len(found := self._store.due(EVER, limit)) == limit:
            limit *= 2
        return found

    def _remember(self, post: Post, *, recorded: bool) -> None:
        item = _Item(post, recorded, post.tries)
        # what is known already has the same words, but its time may have been put right since
        self._items.setdefault(item.key, item).post = post

    def _forget(self, item: _Item) -> None:
        self._items.pop(item.key, None)

    def _kept(self, what: str, action: Callable[[], None]) -> bool:
        """Whether the store did it; its refusing is logged once, and its doing it again."""
        try:
            action()
        except StoreError as error:
            if what not in self._refused:
                log.error("the outbox could not %s: %s", what, error)
            self._refused.add(what)
            return False
        if what in self._refused:
            log.warning("the outbox can %s again", what)
            self._refused.discard(what)
        return True

    # ── one channel ───────────────────────────────────────────────────────────────────────────────────────

    def _live(self) -> list[_Job]:
        return [j for j in self._jobs if not j.abandoned]

    def _serve(self, channel: str, items: list[_Item]) -> float:
        """Begin at most one send on a channel; when to look at it again by `patience`, if nothing ends before."""
        live = [j.overdue_at for j in self._live() if j.item.channel == channel]
        if live:
            return min(live)
        ready = [i for i in items if i.due_at <= self._patience.now()]
        if not ready:
            return min(i.due_at for i in items)
        item = min(ready, key=lambda i: i.turn)
        hanging = [j.overdue_at for j in self._jobs if j.item.channel == channel]
        lately = sum(overdue > self._patience.now() - STRANDED_FOR for overdue in hanging)
        if lately >= self._stranded or len(hanging) >= STRANDED_AT_MOST:
            self._failed(item, _Hung(f"{len(hanging)} earlier sends still hang"))
            return self._patience.now()
        return self._begin(item)

    def _begin(self, item: _Item) -> float:
        job = _Job(item, self._patience.now() + self._bound)
        threading.Thread(target=self._work, args=(job,), name=f"send-{item.channel}", daemon=True).start()
        self._jobs.append(job)
        return job.overdue_at

    def _work(self, job: _Job) -> None:
        error: Exception | None = None
        try:
            self._send(job.item.channel, job.item.post)
        except Exception as raised:
            error = raised
        self._results.put((job, error))
        self._wake.set()

    # ── what became of it ─────────────────────────────────────────────────────────────────────────────────

    def _succeeded(self, item: _Item) -> None:
        """Also one that was abandoned, or given up, and got through after all."""
        item = self._items.setdefault(item.key, item)
        item.delivered_at = self._now()
        if self._failing.pop(item.channel, None) is not None:
            log.warning("notices on %s get through again", item.channel)
            for other in self._items.values():
                if other.channel == item.channel:
                    other.due_at = self._patience.now()

    def _mark_sent(self, item: _Item) -> None:
        mark = partial(self._store.sent, item.number, item.channel, item.delivered_at or self._now())
        if not item.recorded or self._kept("mark sent", mark):
            self._forget(item)

    def _failed(self, item: _Item, error: Exception) -> None:
        ours = isinstance(error, VermistatError)
        reason = str(error) if ours else type(error).__name__
        item.tries += 1
        wait = self._pause(item.tries)
        item.due_at = self._patience.now() + wait
        self._failing.setdefault(item.channel, self._now())
        if (isinstance(error, VermistatError) and not error.temporary) or self._too_old_indeed(item):
            self._give_up(item, reason)
            return
        log.warning("%s failed (try %d, next in %.0f s): %s", item, item.tries, wait, reason)
        again = self._now() + int(wait * 1000 * self._speed)
        if item.recorded:
            self._kept("note a failed try", partial(self._store.failed, item.number, item.channel, again, reason))

    def _age(self, item: _Item) -> float:
        return (self._now() - item.post.notice.at) / self._speed

    def _too_old(self, item: _Item) -> bool:
        return item.tries >= FEWEST_TRIES and self._age(item) >= self._worth(item.post)

    def _too_old_indeed(self, item: _Item) -> bool:
        """By the time that is kept now: a clock that was put right must not make a notice old."""
        if self._too_old(item) and item.recorded:
            self._look()
        return self._too_old(item)

    def _give_up(self, item: _Item, reason: str) -> None:
        hours = self._age(item) / HOUR
        log.error("%s given up after %d tries in %.1f h: %s", item, item.tries, hours, reason)
        give_up = partial(self._store.give_up, item.number, item.channel, reason)
        if not item.recorded or self._kept("give up", give_up):
            self._forget(item)
