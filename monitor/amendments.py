"""What one version of the settings changes of the limits before it: from the old and the new rules, as plain rows.

What held is kept as an `Outline`, not read again from the old file: a newer program may know other limits for the
same species, and that is a change of a limit like any other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from monitor.names import Names
from monitor.readings import HOUR, MINUTE, SECOND, Measures, Millis
from monitor.rules import Bound, Climate, Limits, Rules

UNITS = {Measures.TEMPERATURE: "°C", Measures.MOISTURE: "%"}


@dataclass(frozen=True, slots=True)
class Held:
    """One limit as it holds: canonical value (°C, %, for a deadband K or points, for a delay seconds), its unit,
    and where it comes from.
    """

    value: float
    unit: str
    source: str = ""
    mark: str = ""


Row = Mapping[str, Held]
"""`temperature: comfort from` → what holds."""


@dataclass(frozen=True, slots=True)
class Outline:
    """What a version says, as far as changes of it are told: the limits of each bin, and of each zone that has its
    own (`fig.west`); what has ids at all; and the old ids that it names.

    `limits` holds equal rows once; `of` says which of them belongs to whom.
    """

    limits: tuple[Row, ...] = ()
    of: Mapping[str, int] = field(default_factory=dict)
    ids: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    was: Names = field(default_factory=Names)

    def rows(self, subject: str) -> Row | None:
        """The limits of a bin or of `bin.zone`, None when this version does not know the bin."""
        at = self.of.get(subject, self.of.get(subject.partition(".")[0]))
        return None if at is None else self.limits[at]


@dataclass(frozen=True, slots=True)
class Amendment:
    """One limit that became another. `zone` is empty for the bin as a whole. `old` or `new` None: there was, or is,
    none. `written` is `file:line` where the keeper wrote the new one, else empty.
    """

    bin: str
    zone: str
    quantity: str
    limit: str
    old: float | None
    new: float | None
    unit: str
    source: str
    mark: str
    written: str = ""


def outline(rules: Rules, was: Names | None = None) -> Outline:
    """The outline of these rules. Bins that share a climate share its row."""
    limits: list[Row] = []
    of: dict[str, int] = {}
    known: dict[tuple[object, ...], int] = {}

    def keep(subject: str, climate: Climate) -> None:
        key = tuple(sorted(climate.items()))
        if key not in known:
            known[key] = len(limits)
            limits.append(dict(_row(climate)))
        of[subject] = known[key]

    for bed in rules.bins.values():
        keep(bed.id, bed.limits)
        for zone in bed.zones:
            if zone.limits != bed.limits:
                keep(f"{bed.id}.{zone.id}", zone.limits)
    return Outline(tuple(limits), of, _ids(rules), was or Names())


def _ids(rules: Rules) -> dict[str, tuple[str, ...]]:
    return {
        "place": tuple(rules.places),
        "bin": tuple(rules.bins),
        "zone": tuple(f"{bed.id}.{zone.id}" for bed in rules.bins.values() for zone in bed.zones),
        "probe": tuple(rules.probes()),
        "mat": tuple(rules.mats),
        "person": tuple(rules.people),
    }


def _row(climate: Climate) -> Iterator[tuple[str, Held]]:
    for measure, limits in climate.items():
        unit = UNITS[measure]
        for name, bound in (("comfort from", limits.low), ("comfort up to", limits.high)):
            if bound is not None:
                yield f"{measure}: {name}", _held(bound, unit)
        yield from _harms(limits, measure, unit)
        yield f"{measure}: deadband", Held(limits.deadband, "K" if unit == "°C" else "points")
        yield f"{measure}: comfort delay", Held(limits.comfort_delay / SECOND, "s")
        yield f"{measure}: off delay", Held(limits.off_delay / SECOND, "s")


def _harms(limits: Limits, measure: Measures, unit: str) -> Iterator[tuple[str, Held]]:
    seen: dict[str, int] = {}
    for harm in limits.harm:
        side = "at or below" if harm.below else "at or above"
        name = f"{measure}: harm {side}, {_lasting(harm.lasting)}"
        seen[name] = seen.get(name, 0) + 1
        yield name if seen[name] == 1 else f"{name} ({seen[name]})", _held(harm.bound, unit)


def _lasting(span: Millis) -> str:
    if span == 0:
        return "at once"
    size, word = next(
        (s, w) for s, w in ((HOUR, "h"), (MINUTE, "min"), (SECOND, "s")) if span % s == 0 or s == SECOND
    )
    return f"for {span / size:g} {word}"


def _held(bound: Bound, unit: str) -> Held:
    return Held(bound.value, unit, bound.source, bound.mark)


def amendments(before: Outline, after: Outline, written: Mapping[str, str] | None = None) -> tuple[Amendment, ...]:
    """Every limit that is another now, of bins that were there before and still are. `written` says for a source
    (`settings: bins.fig.limits.temperature.comfort`) where it stands in the files. A zone is named where it has, or
    had, limits of its own that changed.
    """
    old = _renamed(before, after.was)
    found: list[Amendment] = []
    for subject in dict.fromkeys([*after.of, *old.of]):
        was, now = old.rows(subject), after.rows(subject)
        if was is None or now is None or was == now or _told_by_the_bin(subject, old, after):
            continue
        found += _changed(subject, was, now, written or {})
    return tuple(found)


def _told_by_the_bin(subject: str, old: Outline, after: Outline) -> bool:
    """Whether a zone has no limits of its own in either version, or is no zone of both."""
    bed, dot, _ = subject.partition(".")
    if not dot:
        return False
    there = subject in old.ids.get("zone", ()) and subject in after.ids.get("zone", ())
    return not there or bed not in after.of


def _changed(subject: str, was: Row, now: Row, written: Mapping[str, str]) -> Iterator[Amendment]:
    bed, _, zone = subject.partition(".")
    for name in dict.fromkeys([*was, *now]):
        old, new = was.get(name), now.get(name)
        if old and new and old.value == new.value:
            continue
        there = now.get(name) or was[name]
        quantity, _, limit = name.partition(": ")
        yield Amendment(
            bed,
            zone,
            quantity,
            limit,
            old.value if old else None,
            new.value if new else None,
            there.unit,
            new.source if new else "",
            new.mark if new else "",
            written.get(new.source, "") if new else "",
        )


def _renamed(outline: Outline, names: Names) -> Outline:
    if not names:
        return outline
    ways = {
        "place": names.place,
        "bin": names.bed,
        "zone": names.zone,
        "probe": names.probe,
        "mat": names.mat,
        "person": names.person,
    }
    return Outline(
        outline.limits,
        {names.zone(subject): row for subject, row in outline.of.items()},
        {kind: tuple(ways[kind](one) for one in ids) for kind, ids in outline.ids.items() if kind in ways},
        outline.was,
    )


def came_and_went(before: Outline, after: Outline) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is new and what is gone, each as `bin fig`; what only changed its id is neither."""
    old = _renamed(before, after.was)

    def beyond(these: Outline, those: Outline) -> tuple[str, ...]:
        known = {kind: set(ids) for kind, ids in those.ids.items()}
        return tuple(
            f"{kind} {one}" for kind, ids in these.ids.items() for one in ids if one not in known.get(kind, ())
        )

    return beyond(after, old), beyond(old, after)
