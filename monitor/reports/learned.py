"""What beds have learned of their own heat, in sentences with how sure they are; written out, and forgotten again."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from monitor import words
from monitor.bed import dressing, living
from monitor.bed.forecast import Dressed
from monitor.bed.keeping import written
from monitor.bed.living import Bed
from monitor.bed.mats import KNOWN
from monitor.bed.room import Air, Room, ahead
from monitor.bed.unsure import FAR, QUICK, cools_quickly
from monitor.bed.zone import TOLD_AFTER, Three, doubts, half_life, lift, used
from monitor.errors import RequestError
from monitor.hourly import beds_in, documents_of, rooms_in, zone_names
from monitor.readings import Measures, Millis
from monitor.reports.bed_shapes import LearnedShape, LearnedZoneShape, RangeShape
from monitor.reports.saying import Saying, instant, millis, zone_words
from monitor.rules import Bin, Rules, Zone
from monitor.store.promises import Store

AIRS: Mapping[Air, str] = {
    Air.AS_NOW: "its room taken to stay as it is now",
    Air.ALIKE: "days of its room's own past that began alike",
    Air.OUTDOORS: "the outdoor forecast through its room's walls",
}


def learned_facts(store: Store, rules: Rules, at: Millis, *, said: str = "") -> LearnedShape:
    """Every zone with a thermometer, in the order of the settings."""
    documents, saying = documents_of(store, zone_names(rules.bins.values())), Saying(rules, at)
    beds, rooms = beds_in(documents), rooms_in(documents)
    zones = [
        _zone(
            saying,
            bed,
            zone,
            beds.get(f"{bed.id}.{zone.id}", (None, None))[0],
            rooms.get(bed.place, (Room(), None))[0],
        )
        for bed in rules.bins.values()
        for zone in living.zones_of(bed)
    ]
    return {"at": instant(at), "zones": zones, "said": said}


def _zone(saying: Saying, bed: Bin, zone: Zone, learned: Bed | None, room: Room) -> LearnedZoneShape:
    name = f"{bed.id}.{zone.id}"
    model = learned.learned.zone if learned else None
    half = half_life(model) if model and model.known else None
    at_the_mat = any(
        living.control_of(mat, saying.rules) == (bed.id, zone.id) for mat in saying.rules.mats.values()
    )
    rises = lift(model) if model and model.known and at_the_mat else None
    errors = len(dressing.recent(learned.learned.past.dresses[1])) if learned else 0
    source, _ = ahead(room)
    own = errors >= dressing.ENOUGH
    return {
        "id": name,
        "about": f"{bed.name} {zone_words(bed, zone.id)}".strip(),
        "since": instant(model.since) if model else None,
        "why": model.why if model else "",
        "hours": model.excited if model else 0,
        "of": TOLD_AFTER,
        "known": bool(model and model.known),
        "half_life_h": _range(half) if half else None,
        "lift_c": _range(rises) if rises else None,
        "holds_c": model.holds if model else None,
        "errors": errors,
        "air": str(source),
        "dressed": str(Dressed.OWN if own else Dressed.PRIOR),
        "mat_watched": bool(model and model.warmed and used(model)[1] > KNOWN * doubts(model)[1]),
        "sentences": list(
            _sentences(saying, bed, zone, learned, half=half, rises=rises, source=source, errors=errors)
        ),
    }


def _range(three: Three) -> RangeShape:
    return {"likely": round(three[0], 2), "low": round(three[1], 2), "high": round(three[2], 2)}


def _sentences(
    saying: Saying,
    bed: Bin,
    zone: Zone,
    learned: Bed | None,
    *,
    half: Three | None,
    rises: Three | None,
    source: Air,
    errors: int,
) -> Iterator[str]:
    place = saying.rules.places.get(bed.place)
    if not any(p.measures is Measures.TEMPERATURE for p in (place.probes if place else ())):
        yield "It cannot learn: no thermometer measures the air it stands in."
        return
    if learned is None:
        yield "It has learned nothing yet: that begins with its first whole hour."
        return
    model = learned.learned.zone
    if half is None:
        learning = f"It still learns ({model.excited} of {TOLD_AFTER} hours)"
        yield f"{learning}; until then it is taken to be as its vessel and bedding are."
    else:
        yield f"It loses half its warmth over the room in {_about(half, 'h')}."
        if cools_quickly(model):
            yield QUICK
    yield from _mat_words(saying, bed, zone, model.known, rises)
    if model.holds is not None and model.warmed:
        yield f"While its mat goes on and off it stays at {words.temperature(model.holds, saying.units)}."
    if errors >= dressing.ENOUGH:
        yield f"Its night is told by {AIRS[source]}, as surely as its last {errors} errors at this time of day allow."
    else:
        yield f"Its night is told by {AIRS[source]}, and roughly: too few of its own errors are known."


def _mat_words(saying: Saying, bed: Bin, zone: Zone, known: bool, rises: Three | None) -> Iterator[str]:
    mats = [mat for mat in saying.rules.mats.values() if any(b == bed.id for b, _ in mat.warms)]
    if not mats or not known:
        return
    if rises is not None:
        low, high = (words.difference(round(value, 0), saying.units) for value in rises[1:])
        yield f"Its mat lifts it by about {words.difference(round(rises[0], 0), saying.units)} ({low} to {high})."
    elif any(living.control_of(mat, saying.rules) == (bed.id, zone.id) for mat in mats):
        yield "How far its mat lifts it is not known yet: it learns that while the mat is on and off by turns."
    else:
        yield FAR


def _about(three: Three, unit: str) -> str:
    likely, low, high = (f"{value:.0f}" if value >= 4 else f"{value:.1f}" for value in three)
    return f"about {likely} {unit} ({low} to {high})"


def learned_text(facts: LearnedShape, saying: Saying) -> str:
    """Sentences under each zone's name."""
    lines = [facts["said"], ""] if facts["said"] else []
    if not facts["zones"]:
        return "\n".join([*lines, "No zone has a thermometer, so no bed can learn."])
    for zone in facts["zones"]:
        lines += [f"{zone['about']}{_since(zone, saying)}", *(f"  {s}" for s in zone["sentences"])]
    return "\n".join(lines)


def _since(zone: LearnedZoneShape, saying: Saying) -> str:
    if zone["since"] is None:
        return ""
    why = f", because {zone['why']}" if zone["why"] else ""
    return f" (learns since {saying.clock(millis(zone['since']))}{why})"


def exported(store: Store, rules: Rules, at: Millis) -> str:
    """Everything that beds and rooms have learned, as one JSON text."""
    documents = documents_of(store)
    beds, rooms = beds_in(documents), rooms_in(documents)
    whole: dict[str, Any] = {
        "site": rules.site.id,
        "at": instant(at),
        "zones": {
            zone: {"learned": json.loads(written(bed.learned)), "watch": json.loads(written(bed.watch))}
            for zone, (bed, _) in beds.items()
        },
        "rooms": {place: json.loads(written(room)) for place, (room, _) in rooms.items()},
    }
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def written_words(file: object) -> str:
    """What is said when it is written out."""
    return f"What was learned is written to {file}."


def reset_words(zone: str) -> str:
    """What is said when a zone is reset."""
    return f"{zone} forgets what it has learned of its heat at the end of this hour, and learns anew."


def zone_asked(rules: Rules, name: str) -> str:
    """A zone, or a bin that has only one, by its id: `fig.west`. Raises RequestError for what is none."""
    known = [f"{bed.id}.{zone.id}" for bed in rules.bins.values() for zone in living.zones_of(bed)]
    alone = [zone for zone in known if zone.partition(".")[0] == name]
    if name in known or len(alone) == 1:
        return name if name in known else alone[0]
    if alone:
        raise RequestError(f"{name} has several zones: say one of {', '.join(alone)}")
    near = get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(known) or 'none'}"
    raise RequestError(f"the settings know no zone {name} with a thermometer; {hint}")
