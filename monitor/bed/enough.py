"""Is the mat enough tonight, when must it go on, what else helps, and what does the night cost.

Every answer is the forecast asked once more under another plan, another wall, another air or another mat, dressed by the same
errors. Not enough is only said when it is likelier than not: on simulated beds a bare yes or no missed half.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.bed.forecast import ON, STAYS, Forecast, Learned, asked
from monitor.bed.plan import ALWAYS, Plan, switched
from monitor.bed.room import AHEAD, Room
from monitor.bed.zone import INTO_THE_BED, used
from monitor.readings import HOUR, Millis
from monitor.science import heat

SAFE, LOST = 0.10, 0.50
"""P(below the limit with the mat on all night): enough below the first, not enough above the second (proposal)."""
WANTED, SPARED = 0.05, 0.02
"""P(too cold with the mat off) above which it is wanted on, and below which it is not needed (chosen on simulated beds: less harm
than waiting for the word in the evening, at a third of the kWh of a mat that is always on)."""
TOO_HOT = 0.30
"""P(too hot with the mat on) above which it hinders (proposal)."""
FOAM_MM = (5, 10, 15, 20, 25, 30, 40, 50)
"""Foam as it is sold (common practice)."""
MATS_W = (10, 15, 20, 30, 40, 60)
"""Mats as they are sold (common practice)."""
NOT_THERE = (
    "around the sides and under the lid, never over a mat, its cable or its thermostat; the air holes stay open",
    "foam keeps its distance from anything that heats: a hand's breadth from a mat (proposal)",
)
"""Where insulation must not lie."""

Ask = Callable[[Plan], Forecast | None]


class Answer(StrEnum):
    """Whether a mat that is on all night keeps its zone above its limit."""

    ENOUGH = "enough"
    UNSURE = "unsure"
    NOT_ENOUGH = "not enough"


@dataclass(frozen=True, slots=True)
class Enough:
    """The answer, P(below the limit with it on), P(with it off), and how cold it gets with it on: °C, 90 % band."""

    answer: Answer
    chance_on: float
    chance_off: float
    least: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Now:
    """One zone at one hour, for asking. `outdoor` as in `forecast`."""

    learned: Learned
    room: Room
    at: Millis
    warmth: float
    limits: tuple[float | None, float | None]
    outdoor: tuple[float, ...] | None = None

    def ask(self, plan: Plan) -> Forecast | None:
        """What would be under another plan."""
        return asked(
            self.learned,
            self.room,
            at=self.at,
            now_c=self.warmth,
            limits=self.limits,
            plan=plan,
            outdoor=self.outdoor,
        )


def is_mat_enough(now: Now) -> Enough | None:
    """None without a low limit, without a mat whose state is known, or before anything can be told."""
    on, off = now.ask(ALWAYS), now.ask(Plan())
    with_it, without = _cold(on), _cold(off)
    if on is None or with_it is None or without is None or not now.learned.zone.warmed:
        return None
    side = on.least[1]
    told = on.may_alarm
    answer = Answer.UNSURE
    if told and with_it < SAFE:
        answer = Answer.ENOUGH
    elif told and with_it > LOST:
        answer = Answer.NOT_ENOUGH
    return Enough(answer, with_it, without, side.point, side.low, side.high)


def latest_on(now: Now, awake: Sequence[bool]) -> Millis | None:
    """The last hour at which somebody is up and switching on still keeps P below 0.1. `awake` of the next 24 hours' beginnings.

    None when even now is too late, or nobody is up in time.
    """
    for step in reversed(range(min(AHEAD, len(awake)))):
        if awake[step]:
            chance = _cold(now.ask(switched(step)))
            if chance is not None and chance < SAFE:
                return now.at + step * HOUR
    return None


class Help(StrEnum):
    """What else than its mat helps a zone."""

    FOAM = "insulation, mm"
    PLACE = "the other place, °C of its air"
    MAT = "another mat, W"


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that helps, so much of it, and P(below the limit) with it and the mat on."""

    help: Help
    amount: float
    chance: float


def what_else(
    now: Now, *, holds: float, area: float | None = None, other_air: float | None = None
) -> tuple[Option, ...]:
    """The least of each that brings P below 0.1, else the most of it: `holds` kJ/K, `area` m² of its walls and lid.

    The other place is taken to stay at `other_air` °C. One that does not halve the chance is left out.
    """
    a, b, _ = used(now.learned.zone)
    bare = _cold(now.ask(ALWAYS))
    if bare is None:
        return ()
    loses = a * holds / heat.KJ_PER_WH
    found = []
    if area:
        rates = [(mm, a * heat.wrapped_loss(loses, area, mm / 1000) / loses) for mm in FOAM_MM]
        found.append(_least(Help.FOAM, [(mm, replaced(now, a=rate)) for mm, rate in rates]))
    if other_air is not None:
        elsewhere = replace(now, room=Room(now.room.newest, (other_air,)), outdoor=None)
        found.append(_least(Help.PLACE, [(other_air, elsewhere)]))
    more = [(w, replaced(now, b=b + w * INTO_THE_BED * heat.KJ_PER_WH / holds)) for w in MATS_W]
    found.append(_least(Help.MAT, more))
    return tuple(option for option in found if option is not None and option.chance < bare / 2)


def replaced(now: Now, *, a: float | None = None, b: float | None = None) -> Now:
    """The same zone with another loss or another mat."""
    zone = now.learned.zone
    old_a, old_b, c = used(zone)
    theta = (old_a if a is None else a, old_b if b is None else b, c)
    other = replace(zone, theta=theta, warmed=zone.warmed or b is not None)
    return replace(now, learned=replace(now.learned, zone=other))


def night_kwh(told: Forecast, watts: float, hours: int = 12) -> float:
    """kWh of a mat over the next hours by a forecast's own duties."""
    total = sum(sum(path.duties[:hours]) for path in told.paths) / len(told.paths)
    return heat.energy(total / hours, watts, hours)


def is_too_strong(now: Now) -> bool:
    """It would be too warm with the mat on, and not with it off."""
    on, off = _hot(now.ask(ALWAYS)), _hot(now.ask(Plan()))
    return on is not None and off is not None and now.learned.zone.warmed and on > TOO_HOT and off < SAFE


class Switch(StrEnum):
    """What one plug should do tonight."""

    ON = "on"
    OFF = "off"
    STAYS = "stays as it is"


@dataclass(frozen=True, slots=True)
class Chances:
    """One bin on a plug: P(too cold with it off), P(too cold with it on), P(too hot with it on)."""

    bin: str
    cold_off: float
    cold_on: float
    hot_on: float


@dataclass(frozen=True, slots=True)
class Says:
    """One advice for one plug: for whom, and who cannot bear it."""

    switch: Switch
    wanted_by: tuple[str, ...]
    hindered_by: tuple[str, ...]
    not_enough_for: tuple[str, ...]


def plug_says(bins: Sequence[Chances]) -> Says:
    """Checked against every bin on it: on when one needs it and none gets too hot; a conflict leaves it as it is."""
    cold = tuple(one.bin for one in bins if one.cold_off > WANTED)
    hot = tuple(one.bin for one in bins if one.hot_on > TOO_HOT)
    weak = tuple(one.bin for one in bins if one.cold_off > WANTED and one.cold_on > LOST)
    if cold and hot:
        return Says(Switch.STAYS, cold, hot, weak)
    if cold:
        return Says(Switch.ON, cold, (), weak)
    return Says(Switch.OFF if hot else Switch.STAYS, (), hot, ())


@dataclass(frozen=True, slots=True)
class Ahead:
    """An alarm of what is to come: whether it stands, and for how many hours it has been quiet."""

    stands: bool = False
    quiet: int = 0


QUIET_H = 6


def stepped(before: Ahead, chance: float | None, *, may_alarm: bool, stays: float = STAYS) -> Ahead:
    """On above 0.45, over after six hours below 0.22. A chance that is not known leaves it as it is."""
    if chance is None:
        return before
    if may_alarm and chance > ON:
        return Ahead(True, 0)
    if not before.stands:
        return Ahead()
    if chance > stays:
        return Ahead(True, 0)
    return Ahead(True, before.quiet + 1) if before.quiet + 1 < QUIET_H else Ahead()


def _least(help: Help, tries: Sequence[tuple[float, Now]]) -> Option | None:
    best: Option | None = None
    for amount, now in tries:
        chance = _cold(now.ask(ALWAYS))
        if chance is None:
            return None
        best = Option(help, amount, chance)
        if chance < SAFE:
            return best
    return best


def _cold(told: Forecast | None) -> float | None:
    return None if told is None else told.least[1].chance


def _hot(told: Forecast | None) -> float | None:
    return None if told is None else told.greatest[1].chance
