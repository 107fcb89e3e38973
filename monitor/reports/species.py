"""The worms that are known, as facts and in sentences: looked up without settings and without a store."""

from __future__ import annotations

from collections.abc import Sequence

from monitor import words
from monitor.checks.watches import WET_DELAY
from monitor.readings import MINUTE, Millis
from monitor.reports.shapes import LimitShape, SpeciesShape
from monitor.rules import Level, Limits, Units
from monitor.science.bands import Species

IN = "    "


def species_facts(worm: Species) -> SpeciesShape:
    """One species."""
    mat = worm.mat_harm_hot
    return {
        "key": worm.key,
        "latin": worm.latin,
        "common": worm.common,
        "temperature": _limits(worm.temperature, "°C"),
        "moisture": _limits(worm.moisture, "%", wet=WET_DELAY),
        "at_the_mat": _limits(Limits(None, None, (mat,)), "°C") if mat else [],
        "cold_means": str(worm.cold_means),
        "notes": list(worm.notes),
        "warning": worm.warning,
    }


def _limits(limits: Limits, unit: str, *, wet: Millis = 0) -> list[LimitShape]:
    """`wet` is how long at least a bed must be above its comfort before that is told."""
    above = max(limits.comfort_delay, wet)
    edges = [(True, limits.low, limits.comfort_delay), (False, limits.high, above)]
    comfort = [(str(Level.COMFORT), below, bound, lasting) for below, bound, lasting in edges if bound]
    harm = [(str(Level.HARM), h.below, h.bound, h.lasting) for h in limits.harm]
    return [
        {
            "level": level,
            "below": below,
            "value": bound.value,
            "unit": unit,
            "lasting_minutes": lasting / MINUTE,
            "source": bound.source,
            "mark": bound.mark,
        }
        for level, below, bound, lasting in comfort + harm
    ]


def species_list_text(worms: Sequence[SpeciesShape]) -> str:
    """One line for each species."""
    lines = [f"{w['key']}: {w['latin']} ({w['common']})\n{IN}{_comforts(w)}" for w in worms]
    return "\n".join([*lines, "", "`vermistat species KEY` says every limit of one, and where it comes from."])


def _comforts(worm: SpeciesShape) -> str:
    low, high = (limit["value"] for limit in worm["temperature"] if limit["level"] == "comfort")
    dry, wet = (limit["value"] for limit in worm["moisture"] if limit["level"] == "comfort")
    celsius = f"{low:g} to {words.limit(high, Units.METRIC)}"
    american = f"{words.limit(low, Units.US).partition(' ')[0]} to {words.limit(high, Units.US)}"
    beware = "; beware, see there" if worm["warning"] else ""
    return f"at home at {celsius} ({american}), {dry:g} to {wet:g} % moisture{beware}"


def species_text(worm: SpeciesShape) -> str:
    """One species: each limit with its source."""
    lines = [f"{worm['key']}: {worm['latin']} ({worm['common']})"]
    for title, limits in (("Temperature", worm["temperature"]), ("Moisture of the bedding", worm["moisture"])):
        lines += [f"  {title}", *(f"{IN}{_limit(limit)}" for limit in limits)]
    if worm["at_the_mat"]:
        lines += ["  Right above a mat", *(f"{IN}{_limit(limit)}" for limit in worm["at_the_mat"])]
    lines += [f"  Note: {note}" for note in worm["notes"]]
    if worm["warning"]:
        lines.append(f"  Beware: {worm['warning']}")
    return "\n".join([*lines, "  Any of these can be changed in the settings, for a site, a bin or a zone."])


def _limit(limit: LimitShape) -> str:
    lasting = round(limit["lasting_minutes"] * 60_000)
    day = ", by the median of a day" if limit["unit"] == "%" and limit["below"] else ""
    if limit["level"] == "comfort":
        side = "from" if limit["below"] else "up to"
        said = f"comfort {side} {_both(limit)}, told after {words.duration(lasting)} outside{day}"
    else:
        side = "below" if limit["below"] else "above"
        after = f"for {words.duration(lasting)}" if lasting else "at once"
        said = f"harm at {_both(limit)} or {side}, {after}{day}"
    return f"{said}: {limit['source']} [{limit['mark']}]"


def _both(limit: LimitShape) -> str:
    """In both units: species are looked up without settings."""
    if limit["unit"] != "°C":
        return f"{limit['value']:g} {limit['unit']}"
    return f"{words.limit(limit['value'], Units.METRIC)} ({words.limit(limit['value'], Units.US)})"
