"""Which limits hold where: the species', then what site, bin and zone write over them, each with its source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from monitor.errors import BadValue
from monitor.readings import Measures
from monitor.rules import Bound, Climate, Harm, Limits, Role
from monitor.science.worms import MAT_DEADBAND, Species, at_the_mat, names, narrowed, species
from monitor.settings import quantities as q
from monitor.settings.mistakes import Paper, Path
from monitor.settings.schema import (
    FileShape,
    HarmAt,
    MoistureHarmAt,
    MoistureLimits,
    SiteLimits,
    TemperatureLimits,
)

Written: TypeAlias = TemperatureLimits | MoistureLimits
QUANTITY = {Measures.TEMPERATURE: q.TEMPERATURE, Measures.MOISTURE: q.PERCENT}
SETTINGS = "settings"
"""The mark of a bound that the keeper wrote."""


@dataclass(frozen=True, slots=True)
class BinClimate:
    """What holds in one bin, and in each of its zones."""

    limits: Climate
    zones: Mapping[str, Climate]


@dataclass(frozen=True, slots=True)
class _Scope:
    """One place of the file where limits of one quantity are written."""

    path: Path
    written: Written
    paper: Paper

    def said(self, key: str) -> str:
        """Where one key of it is written, as the source of a limit."""
        return ".".join(str(step) for step in self.paper.origin((*self.path, key)))


def climates(model: FileShape, paper: Paper) -> dict[str, BinClimate]:
    """The limits of every bin; what cannot hold together is noted on `paper`, and such a bin is left out."""
    warmed = {bed for mat in model.mats.values() for bed, _ in mat.warms}
    found = {}
    for key, bed in model.bins.items():
        worms = [species(s) for s in bed.species if s in names()]
        if len(worms) == len(bed.species) and worms:
            climate = _Composer(model, paper, key, worms=worms, warmed=key in warmed).climate()
            if climate is not None:
                found[key] = climate
    return found


class _Composer:
    """The limits of one bin."""

    def __init__(
        self, model: FileShape, paper: Paper, key: str, *, worms: Sequence[Species], warmed: bool
    ) -> None:
        self.paper, self.key, self.bed, self.worms, self.warmed = paper, key, model.bins[key], worms, warmed
        self.units, self.site = model.site.units, model.site.limits

    def climate(self) -> BinClimate | None:
        own = {measure: self.bin_limits(measure) for measure in QUANTITY}
        limits = {measure: each for measure, each in own.items() if each is not None}
        if len(limits) < len(QUANTITY):
            return None
        zones = {zone: self.zone_climate(limits, zone) for zone in self.bed.zones}
        return BinClimate(limits, zones)

    def scopes(self, measure: Measures, zone: str | None = None) -> list[_Scope]:
        """Where limits of this quantity are written, from far to near."""
        places: list[tuple[Path, SiteLimits]] = [
            (("site", "limits"), self.site),
            (("bins", self.key, "limits"), self.bed.limits),
        ]
        if zone is not None:
            places.append((("bins", self.key, "zones", zone, "limits"), self.bed.zones[zone].limits))
        found = [((*path, str(measure)), _of(limits, measure)) for path, limits in places]
        return [_Scope(path, written, self.paper) for path, written in found if written is not None]

    def bin_limits(self, measure: Measures) -> Limits | None:
        scopes = self.scopes(measure)
        base = self.shared(measure, comfort_written=any(s.written.comfort for s in scopes))
        if base is None:
            return None
        if measure is Measures.TEMPERATURE and self.warmed:
            base = replace(base, deadband=max(base.deadband, MAT_DEADBAND))
        limits = _overridden(base, scopes)
        self.check(limits, scopes, measure)
        return limits

    def shared(self, measure: Measures, *, comfort_written: bool) -> Limits | None:
        """What all worms of the bin can live in; a band that the keeper writes stands in for one they lack."""
        each = [_of_species(worm, measure) for worm in self.worms]
        try:
            return narrowed(each)
        except BadValue:
            if comfort_written:
                return narrowed([replace(limits, low=None, high=None) for limits in each])
        self.share_too_little(measure)
        return None

    def share_too_little(self, measure: Measures) -> None:
        self.paper.wrong(
            ("bins", self.key, "species"),
            f"These worms share no comfort band of {measure}, or one too narrow to judge by.",
            f"Keep them in separate bins, or write `limits: {{{measure}: {{comfort: …}}}}` yourself.",
        )

    def zone_climate(self, bed: Climate, zone: str) -> Climate:
        return {measure: self.zone_limits(bed[measure], zone, measure) for measure in QUANTITY}

    def zone_limits(self, bed: Limits, zone: str, measure: Measures) -> Limits:
        path: Path = ("bins", self.key, "zones", zone, "limits", str(measure))
        near = [s for s in self.scopes(measure, zone) if s.path == path]
        by_the_mat = self.bed.zones[zone].role is Role.AT_THE_MAT
        if by_the_mat:
            harm = self.mat_harm() if measure is Measures.TEMPERATURE else ()
            bed = replace(bed, low=None, high=None, harm=harm)
        if not near:
            return bed
        limits = _overridden(bed, near)
        self.check(limits, near if by_the_mat else self.scopes(measure, zone), measure)
        return limits

    def mat_harm(self) -> tuple[Harm, ...]:
        """Hot harm right above a mat: the worm's own, no later than is allowed there."""
        each = [_hot(at_the_mat(w)) for w in self.worms]
        return narrowed([Limits(None, None, harm) for harm in each]).harm

    def check(self, limits: Limits, scopes: Sequence[_Scope], measure: Measures) -> None:
        """Harm lies outside comfort, cold harm below hot harm, and the deadband leaves something of comfort."""
        if not self.paper.whole(*(scope.path for scope in scopes)):
            return
        for harm in limits.harm:
            edge = limits.low if harm.below else limits.high
            if edge is not None and (
                harm.bound.value >= edge.value if harm.below else harm.bound.value <= edge.value
            ):
                self.harm_inside(limits, harm, scopes, measure)
        self.check_sides(limits, scopes, measure)
        self.check_deadband(limits, scopes, measure)

    def harm_inside(self, limits: Limits, harm: Harm, scopes: Sequence[_Scope], measure: Measures) -> None:
        path = _harm_at(self.paper, harm, scopes) or _nearest_with(scopes, "comfort")
        band = " to ".join(self.shown(b.value, measure) for b in (limits.low, limits.high) if b)
        side = "below" if harm.below else "above"
        whose = "" if harm.bound.mark == SETTINGS else f" of {', '.join(self.bed.species)}"
        self.paper.wrong(
            path,
            f"Harm {side} {self.shown(harm.bound.value, measure)}{whose} lies inside the comfort band {band}.",
            "Harm begins outside comfort: move one of them; a `harm` of your own replaces the species'.",
        )

    def check_sides(self, limits: Limits, scopes: Sequence[_Scope], measure: Measures) -> None:
        cold = max((h for h in limits.harm if h.below), key=lambda h: h.bound.value, default=None)
        hot = min((h for h in limits.harm if not h.below), key=lambda h: h.bound.value, default=None)
        if cold is not None and hot is not None and cold.bound.value >= hot.bound.value:
            low, high = self.shown(cold.bound.value, measure), self.shown(hot.bound.value, measure)
            path = _harm_at(self.paper, cold, scopes) or _nearest_with(scopes, "harm")
            self.paper.wrong(path, f"Harm below {low} and harm above {high} leave nothing between.", "Swap them?")

    def check_deadband(self, limits: Limits, scopes: Sequence[_Scope], measure: Measures) -> None:
        if limits.low is None or limits.high is None or 2 * limits.deadband < limits.high.value - limits.low.value:
            return
        path = _nearest_with(scopes, "deadband") or _nearest_with(scopes, "comfort")
        if not path:
            self.share_too_little(measure)
            return
        kind = q.DEGREES if measure is Measures.TEMPERATURE else q.PERCENT
        deadband = q.written(limits.deadband, kind, self.units)
        width = q.written(limits.high.value - limits.low.value, kind, self.units)
        self.paper.wrong(
            path,
            f"A deadband of {deadband} leaves nothing of a comfort band {width} wide.",
            "An alarm would never end: make it less than half the band.",
        )

    def shown(self, value: float, measure: Measures) -> str:
        return q.written(value, QUANTITY[measure], self.units)


def _of(limits: SiteLimits, measure: Measures) -> Written | None:
    return limits.temperature if measure is Measures.TEMPERATURE else limits.moisture


def _of_species(worm: Species, measure: Measures) -> Limits:
    return worm.temperature if measure is Measures.TEMPERATURE else worm.moisture


def _hot(limits: Limits) -> tuple[Harm, ...]:
    return tuple(harm for harm in limits.harm if not harm.below)


def _overridden(base: Limits, scopes: Sequence[_Scope]) -> Limits:
    """`base` with what each scope writes over it, the nearest last."""
    for scope in scopes:
        base = _with(base, scope)
    return base


def _with(base: Limits, scope: _Scope) -> Limits:
    own = scope.written
    low, high, harm = base.low, base.high, base.harm
    if own.comfort is not None:
        source = f"{SETTINGS}: {scope.said('comfort')}"
        low, high = (Bound(end, source, SETTINGS) for end in own.comfort)
    if own.harm is not None:
        source = f"{SETTINGS}: {scope.said('harm')}"
        harm = tuple(h for each in own.harm for h in _harms(each.below, each.above, each.lasting, source))
    return Limits(
        low,
        high,
        harm,
        deadband=base.deadband if own.deadband is None else own.deadband,
        comfort_delay=base.comfort_delay if own.comfort_delay is None else own.comfort_delay,
        off_delay=base.off_delay if own.off_delay is None else own.off_delay,
    )


def _harms(below: float | None, above: float | None, lasting: int, source: str) -> list[Harm]:
    ends = [(True, below), (False, above)]
    return [Harm(side, Bound(value, source, SETTINGS), lasting) for side, value in ends if value is not None]


def _nearest_with(scopes: Sequence[_Scope], key: str) -> Path:
    """Where `key` is written nearest to the zone, () when it is written nowhere."""
    for scope in reversed(scopes):
        if getattr(scope.written, key) is not None:
            return (*scope.path, key)
    return ()


def _harm_at(paper: Paper, harm: Harm, scopes: Sequence[_Scope]) -> Path:
    """Where this harm limit is written, () when it is the species' own."""
    path = _nearest_with(scopes, "harm")
    found = next((s.written.harm for s in reversed(scopes) if s.written.harm is not None), None)
    written: Sequence[HarmAt | MoistureHarmAt] | None = found
    if written is None or not isinstance(paper.raw(*path), list):
        return path
    for index, each in enumerate(written):
        if (each.below if harm.below else each.above) == harm.bound.value:
            return (*path, index, "below" if harm.below else "above")
    return path
