"""Which worm can live in what: look one up, or find what several can share.

The numbers and their sources stand in `monitor.science.bands`. Temperatures in °C, moisture in % wet basis.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from monitor.errors import BadValue
from monitor.rules import Harm, Limits
from monitor.science.bands import BANDS, MAT_DEADBAND, ColdMeans, Range, Species

__all__ = ["MAT_DEADBAND", "ColdMeans", "Species", "at_the_mat", "names", "narrowed", "narrowest", "species"]


def names() -> tuple[str, ...]:
    """Every species key, in the order they are shown."""
    return tuple(BANDS)


def species(key: str) -> Species:
    """The worm of this key. Raises BadValue for another one, with the nearest key if one is near."""
    if key in BANDS:
        return BANDS[key]
    nearest = _nearest(key)
    hint = f"did you mean {nearest}?" if nearest else f"known are {', '.join(names())}"
    raise BadValue(f"no limits are known for the species {key!r}; {hint}")


def _nearest(key: str) -> str | None:
    """The key of what the keeper may have meant: a misspelt key or Latin name, or a trade name."""
    called = {key: key for key in BANDS}
    for worm in BANDS.values():
        called |= {_dashed(name): worm.key for name in worm.common.split(", ")}
    found = get_close_matches(_dashed(key), called, n=1)
    return called[found[0]] if found else None


def _dashed(name: str) -> str:
    return "-".join(name.lower().split())


def narrowest(worms: Sequence[Species]) -> Species:
    """What several worms in one bin can all live in: the highest lows, the lowest highs, every harm.

    One worm is returned as it is. Raises BadValue for none, and when no climate suits them all.
    """
    if not worms:
        raise BadValue("a bin needs at least one species")
    if len(worms) == 1:
        return worms[0]
    latin = ", ".join(worm.latin for worm in worms)
    try:
        temperature = narrowed([worm.temperature for worm in worms])
        moisture = narrowed([worm.moisture for worm in worms])
    except BadValue as why:
        raise BadValue(f"{latin} cannot share a bin: {why}") from None
    return Species(
        "+".join(worm.key for worm in worms),
        latin,
        ", ".join(worm.common for worm in worms),
        temperature=temperature,
        moisture=moisture,
        target_temperature=_shared([worm.target_temperature for worm in worms], temperature),
        target_moisture=_shared([worm.target_moisture for worm in worms], moisture),
        mat_harm_hot=_strictest_mat(worms),
        cold_means=_cold_means(worms),
        notes=tuple(dict.fromkeys(note for worm in worms for note in worm.notes)),
        warning=next((worm.warning for worm in worms if worm.warning), None),
    )


def at_the_mat(worm: Species) -> Limits:
    """Temperature limits of a zone right above a mat: the worm's own, its hot harm no later than there allowed."""
    if worm.mat_harm_hot is None:
        return worm.temperature
    own = worm.temperature
    return Limits(
        own.low,
        own.high,
        _undominated((*own.harm, worm.mat_harm_hot)),
        deadband=own.deadband,
        comfort_delay=own.comfort_delay,
        off_delay=own.off_delay,
    )


def narrowed(limits: Sequence[Limits]) -> Limits:
    """Limits that satisfy all of these at once. Raises BadValue when their comfort bands do not meet."""
    lows = [each.low for each in limits if each.low]
    highs = [each.high for each in limits if each.high]
    return Limits(
        max(lows, key=lambda bound: bound.value, default=None),
        min(highs, key=lambda bound: bound.value, default=None),
        _undominated([harm for each in limits for harm in each.harm]),
        deadband=min(each.deadband for each in limits),
        comfort_delay=min(each.comfort_delay for each in limits),
        off_delay=max(each.off_delay for each in limits),
    )


def _strictest_mat(worms: Sequence[Species]) -> Harm | None:
    harms = [worm.mat_harm_hot for worm in worms if worm.mat_harm_hot]
    return min(harms, key=lambda harm: harm.bound.value, default=None)


def _cold_means(worms: Sequence[Species]) -> ColdMeans:
    """What the worm says whose comfort ends first on the way down; of several, the one that asks for more."""
    lows = [worm.temperature.low.value for worm in worms if worm.temperature.low]
    first = [worm for worm in worms if worm.temperature.low and worm.temperature.low.value == max(lows)]
    return ColdMeans.ACT if any(worm.cold_means is ColdMeans.ACT for worm in first) else ColdMeans.FEED_LESS


def _undominated(harms: Sequence[Harm]) -> tuple[Harm, ...]:
    """The harms that are not always entered later than another one; equal ones once; cold before hot."""
    kept = [
        harm
        for index, harm in enumerate(harms)
        if not any(_at_least_as_strict(o, harm, o_first=i < index) for i, o in enumerate(harms) if i != index)
    ]
    return tuple(sorted(kept, key=lambda harm: (not harm.below, -harm.lasting)))


def _at_least_as_strict(other: Harm, harm: Harm, *, o_first: bool) -> bool:
    """Whether `other` is entered whenever `harm` is, and no later; of two equal ones the first counts."""
    if other.below is not harm.below:
        return False
    inside = other.bound.value >= harm.bound.value if harm.below else other.bound.value <= harm.bound.value
    same = other.bound.value == harm.bound.value and other.lasting == harm.lasting
    return inside and other.lasting <= harm.lasting and (o_first or not same)


def _shared(ranges: Sequence[Range], comfort: Limits) -> Range:
    """Where all targets meet inside comfort; where they do not, the middle half of comfort."""
    floor = comfort.low.value if comfort.low else min(low for low, _ in ranges)
    top = comfort.high.value if comfort.high else max(high for _, high in ranges)
    low, high = max(floor, *(r[0] for r in ranges)), min(top, *(r[1] for r in ranges))
    quarter = (top - floor) / 4
    return (low, high) if low < high else (floor + quarter, top - quarter)
