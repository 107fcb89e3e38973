"""Keeps what the clock is worth: between a start without a clock and the moment the true time comes.

What is kept, as standing documents of kind `clock`, before anything is received:

- `now`: the stretch of time we are in (`monitor.reckoning`), the boot it belongs to, and how much was kept when it
  began. Whatever is kept above that is moved together, once: the document that says so changes in the same
  transaction. So a death at any point leaves either all of it to do or nothing.
- `moved`: what was last moved, for people.
- `power`: since when this boot is, and when the one before was last heard of.
- `ended`: which boot was told to stop, and so did not end with the power.
- `lost`: a stretch without a clock whose boot ended before the time was known. How long the machine was off after it
  nobody can say, so it stays as it was stamped, and is told of.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from monitor import words
from monitor.checks.power import Outage
from monitor.clock import KnownClock, Machine
from monitor.errors import StoreError
from monitor.intake.pump import Moved
from monitor.intake.quality import Trust
from monitor.readings import SECOND, Millis, Quality, Reading
from monitor.reckoning import CLOCK_RIGHT, KIND, Belief, Look, Reckoning, Seen, Stretch, begin, kept_stretch, look
from monitor.shifting import STANDING, Move
from monitor.store.promises import Shift, Standing
from monitor.store.promises import Store as Kept

log = logging.getLogger(__name__)

NOTED: Millis = 30 * SECOND
"""Small steps that add up to this are kept, so that a restart does not take them for one large step."""
Errand = Callable[[], tuple[Moved, Trust] | None]


def start(store: Kept, machine: Machine) -> tuple[KnownClock, Stretch]:
    """The clock of a process that begins, and its stretch, which is kept when this returns. Raises StoreError."""
    past, seen, boot = store.load(), machine.seen(), machine.boot()
    kept = kept_stretch(past.standing)
    if kept is not None and kept.reckoning.boot == boot:
        store.settle([Standing(KIND, "ended", None)])
        return KnownClock(machine, kept.reckoning), kept  # what has happened since, the first round looks at
    last = past.last_round.at if past.last_round else None
    found = begin(seen, boot=boot, last=last, kept=None)
    # From the boot on, and later than anything stored: what is said to have begun with the boot is moved as well.
    since = max(found.after.at - seen.ran, -1 if last is None or found.overtaken else last) + 1
    stretch = Stretch(found.after, since, last, store.mark())
    documents = [Standing(KIND, "now", stretch.text()), *_lost(kept, last)]
    documents.append(Standing(KIND, "ended", None))
    documents.append(Standing(KIND, "power", _power(kept, past.standing.get((KIND, "ended")), stretch)))
    if found.overtaken:
        log.warning("what is stored says %s, but it is %s: what was stamped later than now has no known time",
                    _utc(last or 0), _utc(seen.wall))  # fmt: skip
        store.shift(_nothing_but_the_future(stretch, seen.wall, documents))
    else:
        store.settle(documents)
    _say(found.after)
    return KnownClock(machine, found.after), stretch


def _nothing_but_the_future(stretch: Stretch, now: Millis, documents: list[Standing]) -> Shift:
    end = stretch.begin
    return Shift(0, end, end, now, stretch.above, lambda r: r.quality, standing=documents, overtaken=True)


def _lost(kept: Stretch | None, last: Millis | None) -> Iterable[Standing]:
    if kept is None or last is None or last < kept.begin:
        return
    if kept.reckoning.belief is not Belief.UNSURE or kept.reckoning.exact:
        return
    log.error(
        "the machine went off before the time was known: what was stamped from %s to %s is too early, nobody can say"
        " by how much", _utc(kept.begin), _utc(last),
    )  # fmt: skip
    yield Standing(KIND, "lost", json.dumps({"begin": kept.begin, "end": last}))


def _power(kept: Stretch | None, ended: str | None, stretch: Stretch) -> str | None:
    """Another boot than that of the last round; of one that nobody knows of, nothing is said."""
    if kept is None or stretch.last is None:
        return None
    orderly = ended is not None and json.loads(ended) == kept.reckoning.boot
    log.info("the machine has booted since the last round, which was at %s", _utc(stretch.last))
    boot = stretch.reckoning.boot
    return json.dumps({"boot": boot, "since": stretch.last, "back": stretch.begin, "orderly": orderly})


def _utc(at: Millis) -> str:
    return f"{words.local(at, 'UTC'):%Y-%m-%d %H:%M:%S} UTC"


def _say(found: Reckoning) -> None:
    if found.belief is Belief.UNSURE:
        log.error("the true time is not known: the time is reckoned from %s on", _utc(found.at))


class Timekeeper:
    """Looks at the clock once a round, and puts right what was stamped before the truth was known.

    `between` runs work in the pump's thread (`Pump.between`); `trust` is what is known of the probes, from the store;
    `anew` the quality of a reading that was ahead; `sinces` the moments that other parts remember in our time;
    `beat` is the pump's sign of life while it does our work.
    """

    def __init__(
        self,
        clock: KnownClock,
        stretch: Stretch,
        *,
        store: Kept,
        between: Callable[[Errand], None],
        trust: Callable[[], Trust],
        anew: Callable[[Reading], Quality],
        sinces: Callable[[], Iterable[Millis]],
        beat: Callable[[], None] = lambda: None,
    ) -> None:
        self._clock, self._stretch, self._store = clock, stretch, store
        self._between, self._trust, self._anew, self._sinces = between, trust, anew, sinces
        self._beat = beat
        self._unsaid: Stretch | None = None
        self._moved = self._told = False
        self._since: dict[Millis, Millis] = {}
        power = store.load().standing.get((KIND, "power"))
        self._power = None if power is None else json.loads(power)

    def outage(self) -> Outage | None:
        """When the machine was off before this boot; None when nothing is known of that."""
        power = self._power
        if power is None or power["boot"] != self._stretch.reckoning.boot:
            return None
        belief = self._clock.stretch.belief
        return Outage(power["since"], power["back"], belief, orderly=power["orderly"])

    def ended(self) -> None:
        """We were told to stop: what comes after this boot is no power cut."""
        try:
            self._store.settle([Standing(KIND, "ended", json.dumps(self._stretch.reckoning.boot))])
        except StoreError as error:
            log.error("that we were told to stop could not be kept: %s", error)

    @property
    def unsure_since(self) -> Millis | None:
        """Since when the time is not known, by our own reckoning; None when it is."""
        return self._clock.stretch.since

    def since(self, at: Millis) -> Millis:
        """Where a moment lies now that some part remembers as it was stamped then."""
        return self._since.get(at, at)

    def set_right(self) -> bool:
        """Look at the clock; true when kept times have been moved since the last call, so that all that was loaded
        of them is to be loaded again. What cannot be written now is done at the next look.
        """
        try:
            self._look()
        except StoreError as error:
            log.error("the clock could not be put right in the store: %s", error)
        moved, self._moved = self._moved, False
        return moved

    def _look(self) -> None:
        self._told = self._clock.stretch.belief is not Belief.PROVEN and self._is_told()
        found = look(self._clock.stretch, self._seen())
        if found.by or found.overtaken:
            self._between(self._put_right)
        else:
            self._follow(found)

    def _is_told(self) -> bool:
        """Whether a keeper says that the wall is right; the round that comes deals with the request."""
        return any(request.what == CLOCK_RIGHT for request in self._store.asked())

    def _seen(self) -> Seen:
        seen = self._clock.machine.seen()
        return replace(seen, synced=seen.synced or self._told)

    def _follow(self, found: Look) -> None:
        before, after = self._clock.stretch, found.after
        self._clock.adopt(after)
        if found.settled:
            self._stretch = Stretch(after, after.at, before.now(after.ran), self._store.mark())
        elif not self._unsaid and self._is_kept(after):
            return
        self._unsaid = self._stretch = replace(self._stretch, reckoning=after)
        if before.belief is not after.belief:
            _say(after)
        self._store.settle([Standing(KIND, "now", self._stretch.text())])
        self._unsaid = None

    def _is_kept(self, after: Reckoning) -> bool:
        kept = self._stretch.reckoning
        same = (kept.belief, kept.since, kept.left) == (after.belief, after.since, after.left)
        return same and abs(after.at - kept.now(after.ran)) < NOTED

    def _put_right(self) -> tuple[Moved, Trust] | None:
        """In the pump's thread: what was received before is kept, and nothing is stamped meanwhile but by the old time."""
        before, seen = self._clock.stretch, self._seen()
        found = look(before, seen)
        if not found.by and not found.overtaken:
            return None
        end = before.now(seen.ran)
        stretch = replace(self._stretch, reckoning=found.after, begin=self._stretch.begin + found.by)
        if found.settled:
            stretch = Stretch(found.after, seen.wall, end, self._store.mark())
        power = self._power and self._power | {"back": self._power["back"] + found.by}
        self._store.shift(self._shift(found, stretch, power, end=end, now=seen.wall))
        self._power = power
        self._clock.adopt(found.after)
        log.warning("the true time is known: what was stamped from %s to %s was %s off", _utc(self._stretch.begin),
                    _utc(end), words.duration(abs(found.by)))  # fmt: skip
        self._since = {at: self._moved_since(at, found.by) for at in self._sinces()}
        self._stretch, self._unsaid, self._moved = stretch, None, True
        return (found.by, end), self._trust()

    def _shift(
        self, found: Look, stretch: Stretch, power: dict[str, Any] | None, *, end: Millis, now: Millis
    ) -> Shift:
        begin = self._stretch.begin
        told = {"by": found.by, "begin": begin, "end": end, "at": now}
        return Shift(
            by=found.by,
            begin=begin,
            end=end,
            now=now,
            above=self._stretch.above,
            anew=self._anew,
            standing=[
                *self._standing(Move(found.by, begin, now)),
                Standing(KIND, "now", stretch.text()),
                *([Standing(KIND, "moved", json.dumps(told))] if found.by else []),
                *([Standing(KIND, "power", json.dumps(power))] if power else []),
            ],
            overtaken=found.overtaken or found.by < 0,
            alive=self._beat,
        )

    def _standing(self, by: Move) -> Iterable[Standing]:
        away = 0 if self._stretch.last is None else by.begin + by.by - self._stretch.last
        for (kind, key), body in self._store.load().standing.items():
            if kind in STANDING:
                yield Standing(kind, key, STANDING[kind](body, by, away))

    def _moved_since(self, at: Millis, by: Millis) -> Millis:
        known = self.since(at)
        return known + by if known >= self._stretch.begin else known
