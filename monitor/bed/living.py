"""The life of one zone: what each whole hour adds to what it has learned, and what is told of it then.

The same steps for the daemon, for whoever asks later what was learned, and for a test that goes the way by hand. What an hour
did is noted (`Noted`), so that a day of them leads from what was kept whole to what stands now, to the last bit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from monitor import words
from monitor.bed import plan as plans
from monitor.bed.dressing import Dressing, Issued
from monitor.bed.forecast import Forecast, Learned, forecast, took
from monitor.bed.hours import Known
from monitor.bed.mats import Watch, forgiven, watch
from monitor.bed.plan import Plan
from monitor.bed.room import Room
from monitor.bed.zone import Hour, Reason, begun, relearn
from monitor.diary import Deed, Entry
from monitor.readings import HOUR, Measures, Millis
from monitor.rules import Bin, Bound, Control, JudgeBy, Limits, Mat, Role, Rules, Zone
from monitor.science import heat

MOIST = 3.3
"""kJ/kg K of moist bedding: 75 % water at 4.19 and dry matter at 1.3 make 3.5, its air pockets and drier parts less (derived)."""
DENSITY = 600.0
"""kg/m³ of a moist worm bed (common practice: 500 to 700)."""
LOOKED, ANEW = "somebody looked", "the keeper asked for it to begin anew"
"""What may be noted of an hour besides a `Reason`."""
WALLS: Mapping[str, str] = {
    "tub": "tub", "trays": "tub", "barrel": "tub", "bag": "bag", "crate": "wooden box", "trough": "wooden box",
    "flow-through": "plywood box",
    "plastic": "tub", "felt": "bag", "plywood": "plywood box", "wood": "wooden box", "foam": "foam box",
}  # fmt: skip
"""What walls are as `science.heat` names them, and what a kind of vessel is mostly made of (proposal). Nothing is known of a
windrow's or a pit's."""


@dataclass(frozen=True, slots=True)
class Bed:
    """All that one zone keeps of its past."""

    learned: Learned
    watch: Watch = field(default_factory=Watch)


Issues = tuple[Issued | None, ...]


@dataclass(frozen=True, slots=True)
class Noted:
    """What one hour did: what was observed, what it learned anew for, and what was issued under either source of air."""

    hour: Hour
    why: tuple[str, ...] = ()
    past: Issues = ()
    outdoors: Issues = ()


class Drive(NamedTuple):
    """How much a zone's mats were on in the last hour, what says so, and what they do in the hours ahead."""

    duty: float | None
    known: Known
    plan: Plan


NO_DRIVE = Drive(None, Known.NOTHING, plans.NO_MAT)


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of one zone at the end of one hour, with everything that is needed to ask more."""

    at: Millis
    bed: Bed
    room: Room
    hour: Hour
    limits: tuple[float | None, float | None]
    drive: Drive
    forecast: Forecast | None
    outdoor: tuple[float, ...] | None = None
    came: Millis | None = None
    """When the newest outdoor forecast came, whether or not it could be gone by."""


# ── one hour ──────────────────────────────────────────────────────────────────────────────────────────────────


def took_up(bed: Bed, hour: Hour, why: Sequence[str] = ()) -> Bed:
    """An hour that has passed, and what the diary told of it. Every hour once, in order; hours of silence may be left out."""
    learned, watched = bed.learned, bed.watch
    for one in why:
        if one != LOOKED:
            learned = replace(learned, zone=relearn(learned.zone, Reason(one), hour.at))
        watched = forgiven(watched)
    learned = took(learned, hour)
    return Bed(learned, watch(watched, learned.zone, hour))


def tell(
    bed: Bed,
    room: Room,
    hour: Hour,
    *,
    limits: tuple[float | None, float | None],
    drive: Drive,
    outdoor: Sequence[float] | None = None,
    came: Millis | None = None,
) -> Told:
    """What is told at the end of an hour that was taken up; `bed` of the answer has noted it for its record."""
    told, learned = forecast(
        bed.learned, room, at=hour.at, now_c=hour.end_c, limits=limits, plan=drive.plan, outdoor=outdoor
    )
    outside = None if outdoor is None else tuple(outdoor)
    return Told(hour.at, replace(bed, learned=learned), room, hour, limits, drive, told, outside, came)


def noted(told: Told, why: Sequence[str] = ()) -> Noted:
    """What to keep of an hour."""
    learned = told.bed.learned
    return Noted(told.hour, tuple(why), _issued(learned.past), _issued(learned.outdoors))


def again(bed: Bed, one: Noted) -> Bed:
    """An hour that was lived before: nothing is reckoned ahead, what was issued then is put back."""
    bed = took_up(bed, one.hour, one.why)
    learned = replace(
        bed.learned,
        past=_put_back(bed.learned.past, one.past),
        outdoors=_put_back(bed.learned.outdoors, one.outdoors),
    )
    return replace(bed, learned=learned)


def _issued(record: Dressing) -> Issues:
    told = tuple(dress.open[-1] if dress.open else None for dress in record.dresses)
    return told if any(told) else ()


def _put_back(record: Dressing, told: Issues) -> Dressing:
    if not told:
        return record
    pairs = zip(record.dresses, told, strict=True)
    return replace(record, dresses=tuple(replace(d, open=(*d.open[:-1], one)) for d, one in pairs))


# ── where it begins ───────────────────────────────────────────────────────────────────────────────────────────


def begin(bed: Bin, at: Millis, *, watts: float | None, mass: float | None = None) -> Bed:
    """A zone of a bin that has learned nothing: from its vessel's walls, what lies in it (`mass` kg), and its mat.

    `watts` None is a zone without a mat whose state is ever known.
    """
    floor, depth = bed.vessel.floor, bed.vessel.depth
    kilos = mass or (floor * depth * DENSITY if floor and depth else None)
    walls = walls_of(bed)
    loss = loss_of(walls, floor, depth) if floor and depth and walls else None
    return Bed(Learned(begun(at, loss=loss, heat=kilos * MOIST if kilos else None, watts=watts)))


WATERY = 0.5
"""Share of its volume that is water in a moist bed (proposal: 600 kg/m³ at 75 to 85 %)."""
COVERED, STANDS = 3 * heat.FILMS[heat.Film.UP], 2 * heat.FILMS[heat.Film.DOWN]
"""m² K/W at the top, where air lies still under a cover between bed and room, and below, where it stands on something
(proposal)."""


def loss_of(walls: str, floor: float, depth: float) -> float:
    """W/K that a bed of `floor` m² and `depth` m loses from its middle: through so much bedding as its volume has over its
    surface, and through walls of a usual make. A bed's Biot number is above 0.1, so without the bedding it came out three times
    as quick as beds are.
    """
    width = math.sqrt(floor / 1.5)
    box = heat.Box(1.5 * width, width, depth)
    inside = heat.Layer(box.volume / (box.sides + 2 * box.floor), heat.conductivity(WATERY))
    return heat.loss(box, (*heat.MAKES[walls], inside), films=(heat.FILMS[heat.Film.SIDE], COVERED, STANDS))


def walls_of(bed: Bin) -> str | None:
    """What a bin's walls are made of, as `science.heat` names it; None where nobody knows."""
    return WALLS.get(bed.vessel.walls or bed.vessel.kind)


def as_warmed(bed: Bed, fresh: Bed, at: Millis) -> Bed:
    """The same zone with a mat whose state is known now and was not, or the other way round: b begins as `fresh` has it."""
    before, after = bed.learned.zone, fresh.learned.zone
    if before.warmed == after.warmed:
        return bed
    a, _, c = before.theta
    open_again = relearn(replace(before, warmed=after.warmed, theta=(a, after.theta[1], c)), Reason.MAT_MOVED, at)
    return Bed(replace(bed.learned, zone=open_again), forgiven(bed.watch))


# ── what the settings and the diary say ───────────────────────────────────────────────────────────────────────


def limits_of(bed: Bin, zone: Zone) -> Limits | None:
    """What a zone's warmth is judged by: the bin's limits where its living zones are judged together."""
    together = zone.role is Role.LIVING and bed.judge is JudgeBy.REFUGE
    return (bed.limits if together else zone.limits).get(Measures.TEMPERATURE)


def zones_of(bed: Bin) -> tuple[Zone, ...]:
    """The zones of a bin that have a thermometer."""
    return tuple(z for z in bed.zones if any(p.measures is Measures.TEMPERATURE for p in z.probes))


def together(rules: Rules) -> tuple[tuple[str, ...], ...]:
    """Bins that hang together by their mats, each group by itself: what is told of one may need the others."""
    group = {bed: bed for bed in rules.bins}

    def root(bed: str) -> str:
        while group[bed] != bed:
            bed = group[bed]
        return bed

    for mat in rules.mats.values():
        beds = [bed for bed, _ in mat.warms if bed in group]
        for bed in beds[1:]:
            group[root(bed)] = root(beds[0])
    found: dict[str, list[str]] = {}
    for bed in rules.bins:
        found.setdefault(root(bed), []).append(bed)
    return tuple(tuple(beds) for beds in found.values())


def control_of(mat: Mat, rules: Rules) -> tuple[str, str] | None:
    """The zone in which a mat's thermostat is taken to have its probe: the one at the mat, else the first it warms."""
    there = [pair for pair in mat.warms if _role(pair, rules) is not None]
    return next((pair for pair in there if _role(pair, rules) is Role.AT_THE_MAT), there[0] if there else None)


def _role(pair: tuple[str, str], rules: Rules) -> Role | None:
    bed = rules.bins.get(pair[0])
    return next((z.role for z in zones_of(bed) if z.id == pair[1]), None) if bed else None


def in_turn(beds: Sequence[str], rules: Rules) -> list[tuple[str, Zone]]:
    """The zones of bins that hang together, those first that others' mats go by."""
    first = {control_of(mat, rules) for mat in rules.mats.values()}
    every = [(bed, zone) for bed in beds for zone in zones_of(rules.bins[bed])]
    return sorted(every, key=lambda pair: (pair[0], pair[1].id) not in first)


def is_known(mat: Mat, switches: Sequence[object]) -> bool:
    """Whether anything ever tells that a mat is on: its plug, its settings, or what was written of it."""
    if mat.state is not None or mat.control is Control.ALWAYS or mat.hours is not None:
        return True
    return mat.control is not Control.THERMOSTAT and bool(switches)


def timed(mat: Mat, at: Millis, tz: str) -> Plan | None:
    """What its timer does in the 24 hours from `at` on; None without one whose hours are known."""
    if mat.control is not Control.TIMER or mat.hours is None:
        return None
    begins, lasts = mat.hours
    return plans.timed(begins.hour + begins.minute / 60, lasts / HOUR, local_hour=local_hour(at, tz))


def plan_of(mat: Mat, duty: float | None, *, at: Millis, tz: str, followed: Forecast | None) -> Plan:
    """What a mat does in the hours from `at` on. `followed`: what was told of its thermostat's zone, if another."""
    by_timer = timed(mat, at, tz)
    if by_timer is not None:
        return by_timer
    if mat.control is Control.ALWAYS:
        return plans.ALWAYS
    if mat.control is Control.THERMOSTAT and mat.set_to is not None:
        return plans.held(mat.set_to) if followed is None else followed.duties
    return plans.by_hand(duty) if followed is None else followed.duties


def bounds(limits: Limits | None) -> tuple[Bound | None, Bound | None]:
    """The limits that nights and hot days are told ahead of: where harm begins, and where that is not said, comfort."""
    if limits is None:
        return None, None
    cold = [h.bound for h in limits.harm if h.below] or ([limits.low] if limits.low else [])
    hot = [h.bound for h in limits.harm if not h.below] or ([limits.high] if limits.high else [])
    return max(cold, key=lambda b: b.value, default=None), min(hot, key=lambda b: b.value, default=None)


def edges(limits: Limits | None) -> tuple[float | None, float | None]:
    """The same as numbers, °C."""
    low, high = bounds(limits)
    return low.value if low else None, high.value if high else None


def local_hour(at: Millis, tz: str) -> float:
    """What the clock on the wall shows at the beginning of an hour, in hours."""
    then = words.local(at, tz)
    return then.hour + then.minute / 60


_CHANGES: Mapping[Deed, Reason] = {
    Deed.HARVESTED: Reason.BIN_HALVED,
    Deed.COVER: Reason.INSULATED,
    Deed.INSULATED: Reason.INSULATED,
    Deed.MOVED: Reason.MOVED,
}


def changes(entries: Iterable[Entry], zone: str, mats: Sequence[Mat]) -> tuple[str, ...]:
    """What of these entries a zone (`fig.west`) learns anew for, or is forgiven for because somebody looked."""
    bed = zone.partition(".")[0]
    mine = {f"bin:{bed}", f"zone:{zone}"}
    warming = {f"mat:{mat.id}" for mat in mats}
    found: list[str] = []
    for entry in entries:
        if entry.subject in mine and entry.deed is Deed.LEARNS_ANEW:
            found.append(ANEW)
        elif entry.subject in mine and entry.deed in _CHANGES:
            found.append(_CHANGES[entry.deed])
        elif entry.subject in warming and entry.deed is Deed.MOVED:
            found.append(Reason.MAT_MOVED)
        elif entry.subject in mine | warming and entry.deed in (Deed.LOOKED, Deed.DONE):
            found.append(LOOKED)
    return tuple(dict.fromkeys(found))
