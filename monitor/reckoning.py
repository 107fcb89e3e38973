"""What time it is, as far as it can be known.

A board without a battery clock wakes up with any time: 1970, the time of its last shutdown, or the right one. Pure:
`clock` looks at the machine and asks here what to make of it.

Dead reckoning: between two looks exactly as much time has passed as CLOCK_BOOTTIME says, which no step and no
suspend disturbs. A wall that is elsewhere has been stepped, or was wrong from the start. What that means is a
table (`look`) over how far the wall is believed:

- *proven*: the kernel says that something disciplines its clock (`STA_UNSYNC` is clear; every step sets it, and
  only whoever knows the time clears it), or the keeper says so. A proof is good for the whole boot.
- *believed*: nothing speaks against it, nothing proves it. So it is on every machine without a network, and on a
  board that restored the time of its shutdown: plausible, and hours behind.
- *unsure*: it cannot be right. It stands behind what is stored, or was stepped away from what was proven, or
  stepped back. Time is then reckoned: the last known moment plus what has passed since.

When the truth comes, whatever was stamped in the stretch before it is off by one and the same span, `by`.

What probes say of the time proves nothing: two that were given local time for UTC agree with each other and are
both an hour ahead.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum

from monitor.readings import MINUTE, SECOND, Millis

LEAST: Millis = 5 * MINUTE
"""A difference up to this is a clock being put right and changes nothing that was stamped: crystals, a restored time
of a minute ago, a leap second (proposal)."""
SLIGHT: Millis = SECOND
"""What was reckoned without a clock is not moved for less than this."""
FLOOR: Millis = 1_704_067_200_000
"""2024-01-01: this program did not exist, so a clock that shows less is wrong."""


class Belief(StrEnum):
    """How far the time is known."""

    UNSURE = "unsure"
    BELIEVED = "believed"
    PROVEN = "proven"


@dataclass(frozen=True, slots=True)
class Seen:
    """The machine's clocks at one moment: the wall, the time since it booted, and whether the wall is proven.

    `hardware`: a clock that runs without power gave the machine its time when it booted.
    """

    wall: Millis
    ran: Millis
    synced: bool = False
    hardware: bool = False


@dataclass(frozen=True, slots=True)
class Left:
    """The reckoning that a step forward left: if the wall comes back to it, the step was the error."""

    belief: Belief
    at: Millis
    ran: Millis


@dataclass(frozen=True, slots=True)
class Reckoning:
    """One unbroken stretch of time: at `ran` of this `boot` it was `at`.

    `since` is when it became unsure, by its own time. `exact`: it goes on from a proven time, so that it is itself
    the best there is; without, the true time can only be later.
    """

    boot: str
    belief: Belief
    at: Millis
    ran: Millis
    since: Millis | None = None
    exact: bool = False
    left: Left | None = None

    def now(self, ran: Millis) -> Millis:
        """The time after so much of this boot, if nothing was stepped."""
        return self.at + ran - self.ran


@dataclass(frozen=True, slots=True)
class Look:
    """What a look found: the stretch from here on; `by` how much everything is off that was stamped in the
    stretch before (0: nothing is); whether a new stretch begins here, so that what came before is settled; and
    whether the wall went behind what is stored with a proof, so that what is stored later than now is false.
    """

    after: Reckoning
    by: Millis = 0
    settled: bool = False
    overtaken: bool = False


def begin(seen: Seen, *, boot: str, last: Millis | None, kept: Reckoning | None) -> Look:
    """The first look of a process. `last` is the newest moment that is stored, `kept` the stretch that is stored.

    One of this very boot goes on as if there had been no pause. After another boot at least `last` and the time
    since this boot have passed.
    """
    if kept is not None and kept.boot == boot:
        return look(kept, seen)
    least = FLOOR if last is None else last + seen.ran
    behind = seen.wall < least - LEAST
    if seen.synced:
        return Look(_at(seen, boot, Belief.PROVEN), settled=True, overtaken=behind)
    if behind:
        return Look(Reckoning(boot, Belief.UNSURE, least, seen.ran, since=least), settled=True)
    return Look(_at(seen, boot, Belief.BELIEVED), settled=True)


def look(before: Reckoning, seen: Seen) -> Look:
    """The next look of the same boot."""
    step = seen.wall - before.now(seen.ran)
    came_back = _came_back(before, seen)
    if came_back is not None:
        return Look(_at(seen, before.boot, came_back), by=step)
    if seen.synced:
        return _proven(before, seen, step)
    return _UNPROVEN[before.belief](before, seen, step)


def _came_back(before: Reckoning, seen: Seen) -> Belief | None:
    """How far the wall is believed that is back where it was before a step forward, None when it is not."""
    left = before.left
    if left is None or abs(seen.wall - (left.at + seen.ran - left.ran)) > LEAST:
        return None
    return Belief.PROVEN if seen.synced else left.belief


def _proven(before: Reckoning, seen: Seen, step: Millis) -> Look:
    after = _at(seen, before.boot, Belief.PROVEN)
    if before.belief is Belief.UNSURE:
        return Look(after, by=step if abs(step) >= SLIGHT else 0, overtaken=step < 0)
    if before.belief is Belief.BELIEVED:
        return Look(after, by=step, overtaken=step < 0) if abs(step) > LEAST else Look(after)
    if abs(step) <= LEAST:
        return Look(replace(after, left=before.left))
    # Proof against proof. The newer one counts, and nothing says from when on the older one was wrong.
    return Look(replace(after, left=_left(before, seen, step)), settled=True, overtaken=step < 0)


def _unsure(before: Reckoning, seen: Seen, step: Millis) -> Look:
    if before.exact:
        return Look(_at(seen, before.boot, Belief.PROVEN)) if abs(step) <= LEAST else _goes_on(before, seen)
    if step < -LEAST:
        return _goes_on(before, seen)
    return Look(_at(seen, before.boot, Belief.BELIEVED), by=step if abs(step) >= SLIGHT else 0)


def _believed(before: Reckoning, seen: Seen, step: Millis) -> Look:
    after = replace(_at(seen, before.boot, Belief.BELIEVED), left=before.left)
    if abs(step) <= LEAST:
        return Look(after)
    if step > 0:
        # A machine that had its time from a clock with a battery was right before. It was paused, as a virtual machine
        # is: that stops CLOCK_BOOTTIME, and whoever starts it again sets the wall.
        left = replace(after, left=_left(before, seen, step))
        return Look(left, settled=True) if seen.hardware else Look(left, by=step)
    return _goes_on(replace(before, belief=Belief.UNSURE, since=before.now(seen.ran)), seen)


def _was_proven(before: Reckoning, seen: Seen, step: Millis) -> Look:
    if abs(step) <= LEAST:
        return Look(replace(_at(seen, before.boot, Belief.PROVEN), left=before.left))
    # Somebody set a clock that was right: what it says now is worth less than what has passed since.
    unsure = replace(before, belief=Belief.UNSURE, since=before.now(seen.ran), exact=True)
    return replace(_goes_on(unsure, seen), settled=True)


_UNPROVEN: dict[Belief, Callable[[Reckoning, Seen, Millis], Look]] = {
    Belief.UNSURE: _unsure,
    Belief.BELIEVED: _believed,
    Belief.PROVEN: _was_proven,
}


def _at(seen: Seen, boot: str, belief: Belief) -> Reckoning:
    return Reckoning(boot, belief, seen.wall, seen.ran)


def _goes_on(before: Reckoning, seen: Seen) -> Look:
    return Look(replace(before, at=before.now(seen.ran), ran=seen.ran))


def _left(before: Reckoning, seen: Seen, step: Millis) -> Left | None:
    return Left(before.belief, before.now(seen.ran), seen.ran) if step > 0 else None


def reckoning_text(one: Reckoning) -> str:
    """A stretch as the store keeps it."""
    return json.dumps(asdict(one))


def reckoning_of(text: str) -> Reckoning:
    """The stretch of such a text."""
    known = json.loads(text)
    left = known.pop("left")
    belief = Belief(known.pop("belief"))
    return Reckoning(**known, belief=belief, left=Left(Belief(left.pop("belief")), **left) if left else None)


CLOCK_RIGHT = "clock right"
"""What is asked by whoever says that the wall is right: as good a proof as the kernel's."""
KIND = "clock"
"""The kind of the documents about the clock among those that stand between rounds."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time as it is kept: from `begin` (our time) on everything above `above` was stamped in it.

    `last` is the newest moment stored before it, None when nothing was.
    """

    reckoning: Reckoning
    begin: Millis
    last: Millis | None
    above: Mapping[str, int]

    def text(self) -> str:
        """As the store keeps it."""
        return json.dumps(
            {
                "reckoning": reckoning_text(self.reckoning),
                "begin": self.begin,
                "last": self.last,
                "above": self.above,
            }
        )

    @classmethod
    def of(cls, text: str) -> Stretch:
        """The stretch of such a text."""
        known = json.loads(text)
        return cls(reckoning_of(known.pop("reckoning")), **known)


def kept_stretch(standing: Mapping[tuple[str, str], str]) -> Stretch | None:
    """The stretch that is kept, None when there never was one."""
    text = standing.get((KIND, "now"))
    return None if text is None else Stretch.of(text)
