"""What one zone has learned of its own heat: how fast it goes to the room, what its mat adds, what else warms it.

dT/dt = a · (room - T) + b · duty + c, with a in 1/h, b and c in K/h, learned hour by hour by recursive least squares over
the last three hours in integral form: T[k] - T[k-3] = a · Σ(room - T̄) + b · Σ duty + 3 c. Forgetting and least squares as in
Ljung, System Identification, ch. 11 (memory). One temperature for a whole bed is no physics (its Biot number is above 0.1):
a, b, c are fitted numbers that foretell a probe, not properties of the vessel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.errors import BadValue
from monitor.readings import HOUR, Millis

FORGETS = 0.999
"""Of what was learned an hour before stays so much: about six weeks (proposal, chosen on simulated beds)."""
SPAN = 3
"""Hours of one equation (proposal)."""
CLIP = 1.0
"""K of surprise that teaches at most: cold water and a lid are not the bed (proposal)."""
FULL = 500.0
"""Trace of the covariance past which nothing more is forgotten: the bed is not excited (proposal)."""
NOISE = 0.1
"""K, of one equation before its own noise is known (proposal)."""
DOUBTS = (0.03, 0.5, 0.15)
"""1/h, K/h, K/h: how wrong a beginning may be (proposal, chosen on simulated beds)."""
FIRST = (0.04, 0.4, 0.0)
"""Where neither vessel nor mat tells: half the difference lost in 17 h, 0.4 K an hour by the mat (proposal)."""
LOSES, LIFTS, DRIFTS = (0.006, 0.7), (0.02, 4.0), (-0.6, 0.6)
"""What a, b and c are held to when they are used; 0.7 is a bare small tub, 0.006 a pallet box wrapped up (proposal)."""
INTO_THE_BED = 0.7
"""Share of a mat's watts that gets into its bed (proposal: 0.55 to 0.85 by what lies underneath)."""
TOLD_AFTER = 14 * 24
"""Excited hours before what was learned is told as the bed's own (proposal)."""
PARTLY, HOLDS_BY = 0.05, 0.05
"""Share of an hour a mat is on for a part of it; how fast what is held then is learned, about a day of such hours (proposal)."""

Three = tuple[float, float, float]
Six = tuple[float, float, float, float, float, float]
"""The upper half of a symmetric matrix: aa, ab, ac, bb, bc, cc."""


class Reason(StrEnum):
    """Why a zone learns anew, as far as the diary says."""

    MAT_MOVED = "the mat was moved"
    BIN_HALVED = "the bedding was halved or harvested"
    INSULATED = "the insulation was changed"
    MOVED = "the bin was moved to another place"
    KEEPER = "the keeper asked for it"


LOOSENED: dict[Reason, Three] = {
    Reason.MAT_MOVED: (0.1, 1.0, 0.3),
    Reason.BIN_HALVED: (1.0, 1.0, 0.5),
    Reason.INSULATED: (1.0, 0.2, 0.5),
    Reason.MOVED: (0.5, 0.1, 1.0),
    Reason.KEEPER: (1.0, 1.0, 1.0),
}
"""How far each of a, b, c is thrown open again, 1 as far as at the beginning (proposal)."""


@dataclass(frozen=True, slots=True)
class Hour:
    """One whole hour of one zone. `at` is its end, UTC; temperatures in °C, `duty` the share the mat was on, None unknown.

    `start_c`, `end_c` are means of the last readings before either end; `air_c` is the hour's mean. `lowest` and `highest` are
    ends of centred means of five readings in the hour *before* this one, which is complete only now.
    """

    at: Millis
    start_c: float | None
    end_c: float | None
    air_c: float | None = None
    duty: float | None = None
    lowest: float | None = None
    highest: float | None = None

    def __post_init__(self) -> None:
        for value in (self.start_c, self.end_c, self.air_c, self.duty, self.lowest, self.highest):
            if value is not None and not math.isfinite(value):
                raise BadValue(f"{value} is not a number")
        if self.duty is not None and not 0 <= self.duty <= 1:
            raise BadValue(f"a mat is on for 0 to 1 of an hour, not {self.duty}")


@dataclass(frozen=True, slots=True)
class Zone:
    """What was learned. `theta` is (a, b, c); `spread` its covariance over the noise of one equation.

    `since` is when learning began or began anew, `hours` and `excited` count what taught since then. `noise` is the mean square
    of what one equation still misses, K². `recent` are the last three hours, joined end to end.
    """

    warmed: bool
    theta: Three
    spread: Six
    since: Millis
    hours: int = 0
    excited: int = 0
    noise: float = NOISE**2
    newest: Millis | None = None
    recent: tuple[Hour, ...] = ()
    holds: float | None = None
    """°C at which it stays while its mat is on for a part of the hour: what a thermostat holds here, by this probe."""
    why: str = ""

    @property
    def known(self) -> bool:
        """Whether what was learned may be told as the bed's own."""
        return self.excited >= TOLD_AFTER


def begun(at: Millis, *, loss: float | None = None, heat: float | None = None, watts: float | None = None) -> Zone:
    """A zone that has learned nothing: `loss` W/K and `heat` kJ/K of its vessel, `watts` of its mat, as far as they are known.

    `watts` None is a bed without a mat whose state is known; 0 or more is one with it.
    """
    a, b, c = FIRST
    if loss and heat:
        a = _held(loss * 3.6 / heat, LOSES)
    if watts and heat:
        b = _held(watts * INTO_THE_BED * 3.6 / heat, LIFTS)
    return Zone(watts is not None, (a, b if watts is not None else 0.0, c), _open((1.0, 1.0, 1.0)), at)


def observe(zone: Zone, hour: Hour) -> Zone:
    """Take up one hour. What is not newer than the newest changes nothing; a gap is never learned across."""
    if zone.newest is not None and hour.at <= zone.newest:
        return zone
    joined = zone.newest is not None and hour.at - zone.newest == HOUR
    recent = (*zone.recent, hour)[-SPAN:] if joined else (hour,)
    zone = replace(zone, newest=hour.at, recent=recent, holds=_holding(zone.holds, hour))
    equation = _equation(zone)
    return zone if equation is None else _taught(zone, *equation)


def relearn(zone: Zone, reason: Reason, at: Millis) -> Zone:
    """After a change that the diary tells of: what it touches is open again, what it leaves alone stays."""
    more = _open(LOOSENED[reason])
    spread = (
        max(zone.spread[0], more[0]),
        0.0,
        0.0,
        max(zone.spread[3], more[3]),
        0.0,
        max(zone.spread[5], more[5]),
    )
    return replace(zone, spread=spread, since=at, hours=0, excited=0, recent=(), why=reason.value)


def used(zone: Zone) -> Three:
    """(a, b, c) as they are reckoned with: 1/h, K/h, K/h; b is 0 without a mat."""
    a, b, c = zone.theta
    return _held(a, LOSES), _held(b, LIFTS) if zone.warmed else 0.0, _held(c, DRIFTS)


def doubts(zone: Zone) -> Three:
    """Standard errors of a, b, c. Equations of three hours overlap, which makes them √3 wider than they look."""
    scale = SPAN * zone.noise
    first, second, third = (math.sqrt(scale * zone.spread[n]) for n in (0, 3, 5))
    return first, second if zone.warmed else 0.0, third


def half_life(zone: Zone) -> Three:
    """Hours in which it loses half of its warmth over the room: (likely, 10 %, 90 %)."""
    a, error = used(zone)[0], doubts(zone)[0]
    quick, slow = (_held(a + way * 1.2816 * error, LOSES) for way in (1, -1))
    return math.log(2) / a, math.log(2) / quick, math.log(2) / slow


def lift(zone: Zone) -> Three | None:
    """K by which its mat lifts it in the end: (likely, 10 %, 90 %). None without a mat, or where it is not known to a half.

    On simulated beds this was good to a third at the mat and useless on the far side: it is told only at the mat.
    """
    a, b, _ = used(zone)
    if not zone.warmed:
        return None
    error_a, error_b, _ = doubts(zone)
    share = math.hypot(error_a / a, error_b / b) * 1.2816
    return (b / a, b / a / (1 + share), b / a * (1 + share)) if share < 0.5 else None


def _held(value: float, ends: tuple[float, float]) -> float:
    return min(ends[1], max(ends[0], value))


def _open(share: Three) -> Six:
    aa, bb, cc = ((s * d / NOISE) ** 2 for s, d in zip(share, DOUBTS, strict=True))
    return aa, 0.0, 0.0, bb, 0.0, cc


def _holding(before: float | None, hour: Hour) -> float | None:
    if hour.duty is None or not PARTLY < hour.duty < 1 - PARTLY or hour.start_c is None or hour.end_c is None:
        return before
    middle = (hour.start_c + hour.end_c) / 2
    return middle if before is None else before + HOLDS_BY * (middle - before)


def _equation(zone: Zone) -> tuple[float, float, float] | None:
    """(Σ(room - T̄), Σ duty, rise) of the last three hours; None when an end, the air or the mat's state is not known."""
    hours = zone.recent
    if len(hours) < SPAN:
        return None
    first, last = hours[0].start_c, hours[-1].end_c
    air = [hour.air_c for hour in hours]
    duty = [hour.duty for hour in hours]
    if first is None or last is None or air[-1] is None or air[0] is None or (zone.warmed and None in duty):
        return None
    rise, at, reach = last - first, first, 0.0
    for number, hour in enumerate(hours, start=1):
        straight = first + rise * number / SPAN
        end = straight if hour.end_c is None else hour.end_c
        around = hour.air_c if hour.air_c is not None else (air[0] + air[-1]) / 2
        reach += around - (at + end) / 2
        at = end
    return reach, sum(d for d in duty if d is not None) if zone.warmed else 0.0, rise


def _taught(zone: Zone, x: float, y: float, rise: float) -> Zone:
    a, b, c = zone.theta
    aa, ab, ac, bb, bc, cc = zone.spread
    z = float(SPAN)
    p, q, r = aa * x + ab * y + ac * z, ab * x + bb * y + bc * z, ac * x + bc * y + cc * z
    reach = x * p + y * q + z * r
    total = FORGETS + reach
    missed = rise - a * x - b * y - c * z
    wrong = _held(missed, (-CLIP, CLIP)) / total
    spread = (
        (aa - p * p / total) / FORGETS,
        (ab - p * q / total) / FORGETS,
        (ac - p * r / total) / FORGETS,
        (bb - q * q / total) / FORGETS,
        (bc - q * r / total) / FORGETS,
        (cc - r * r / total) / FORGETS,
    )
    grows = spread[0] + spread[3] + spread[5] > FULL
    return replace(
        zone,
        theta=(a + p * wrong, (b + q * wrong) if zone.warmed else 0.0, c + r * wrong),
        spread=zone.spread if grows else spread,
        hours=zone.hours + 1,
        excited=zone.excited + (not grows),
        noise=max(1e-4, zone.noise + 0.01 * (min(missed * missed, CLIP * CLIP) - zone.noise)),
    )
