"""The probes: what each said last, whether it is believed, what was refused, and topics that nobody reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.readings import Reading
from monitor.reports.discovered import listen_facts
from monitor.reports.probes import as_read
from monitor.reports.roster import is_well, placed, probes_facts, speaks, told_words, troubles
from monitor.reports.saying import DOUBTS, Saying, millis, value_words, zone_words
from monitor.reports.shapes import ListenShape, ProbeRowShape
from monitor.reports.steps import can_be_calibrated
from monitor.rules import Probe, Rules
from monitor.web.hearing import LENGTHS, Hearing, hearing_of
from monitor.web.showing import back, desk_of, form_of, render

NEWEST = 12
"""So many of the newest readings are shown of a probe."""


def probes(request: Request) -> Response:
    """Every probe, the worst first, and what was heard that nobody reads."""
    desk = desk_of(request)
    rules, at = desk.rules(), desk.now()
    saying = Saying(rules, at)
    rows = [_row(row, saying) for row in probes_facts(desk.store, rules, at)["probes"]]
    return render(
        request,
        "probes.html",
        bad=[row for row in rows if not row["well"]],
        well=[row for row in rows if row["well"]],
        heard=_heard(hearing_of(request), rules, at),
        lengths=LENGTHS,
    )


def _row(row: ProbeRowShape, saying: Saying) -> dict[str, Any]:
    return {
        "id": row["probe"],
        "where": where(row, saying.rules),
        "measures": row["measures"],
        "speaks": _opening(speaks(row, saying)),
        "troubles": list(troubles(row, saying)),
        "alarms": row["alarms"],
        "suggested": row["suggested"],
        "well": is_well(row),
    }


def where(row: ProbeRowShape, rules: Rules) -> str:
    """Where it stands, as it is called: "Fig tub near", "Shed"."""
    bed, _, zone = row["placed"].partition(".")
    if bed in rules.bins and zone:
        return f"{rules.bins[bed].name} {zone_words(rules.bins[bed], zone)}"
    return rules.places[bed].name if bed in rules.places else row["placed"]


def _opening(text: str) -> str:
    return text[:1].upper() + text[1:]


def _heard(hearing: Hearing, rules: Rules, at: int) -> Mapping[str, Any] | None:
    found = hearing.so_far()
    if found is None:
        return None
    facts: ListenShape = listen_facts(found.ears, rules, topics="#", seconds=found.seconds, at=at)
    return {
        "going": found.going,
        "trouble": found.trouble,
        "long": words.duration(round(found.seconds) * 1000),
        "nobodys": [row for row in facts["topics"] if row["lines"]],
        "others": [row for row in facts["topics"] if not row["lines"]],
        "more": facts["more"],
    }


def hear(request: Request) -> Response:
    """Begins to listen."""
    form = form_of(request)
    told = form.get("seconds", "")
    if told not in {str(seconds) for seconds in LENGTHS}:
        raise HTTPException(400, "Choose how long to listen.")
    hearing_of(request).begin(float(told))
    return back(request, "/probes#nobodys")


def probe_of(request: Request) -> Probe:
    """The probe of this address. Raises HTTPException, 404, when the settings know none of that name."""
    found = desk_of(request).rules().probes().get(request.path_params["probe"])
    if found is None:
        raise HTTPException(404, "The settings know no probe of that name.")
    return found


def probe(request: Request) -> Response:
    """All that is known of one probe."""
    one, desk = probe_of(request), desk_of(request)
    rules, at = desk.rules(), desk.now()
    saying = Saying(rules, at)
    bed = next((p.bed.id for p in placed(rules, at) if p.probe.id == one.id and p.bed is not None), None)
    row = next(r for r in probes_facts(desk.store, rules, at, bed=bed)["probes"] if r["probe"] == one.id)
    return render(
        request,
        "probe.html",
        probe=_row(row, saying),
        facts=list(_facts(row, saying).items()),
        newest=[_reading(one, reading, saying) for reading in reversed(desk.store.latest(one.id, NEWEST))],
        roads=can_be_calibrated(one),
        calibration=row["calibration"],
    )


def _facts(row: ProbeRowShape, saying: Saying) -> dict[str, str]:
    """What stands beside each label; what is not known is left out."""
    shown = {
        "Stands": where(row, saying.rules),
        "Measures": row["measures"],
        "Topic": row["topic"],
        "Last value": "" if row["value"] is None else value_words(row["value"], row["unit"], saying.units),
        "Heard": "never" if row["heard"] is None else _ago(row["heard"], saying),
        "Speaks every": "" if row["every_seconds"] is None else words.duration(row["every_seconds"] * 1000),
        "Newest reading": row["quality"] or "",
        "Battery": told_words(row["battery"], row["battery_unit"]),
        "Signal": told_words(row["signal"], row["signal_unit"]),
        "Calibration": row["calibration"],
    }
    if row["good_share"] is not None:
        shown["Good of a day"] = f"{100 * row['good_share']:.4g} % of {row['readings_of_a_day']:,} readings"
    return {label: said for label, said in shown.items() if said}


def _ago(heard: str, saying: Saying) -> str:
    return f"{saying.ago(millis(heard))} ago, {saying.clock(millis(heard))}"


def _reading(one: Probe, reading: Reading, saying: Saying) -> tuple[str, str, str]:
    value, unit = as_read(one, reading)
    return saying.clock(reading.at), value_words(value, unit, saying.units), DOUBTS.get(reading.quality, "")


ROUTES = [
    Route("/probes", probes),
    Route("/probes/listen", hear, methods=["POST"]),
    Route("/probes/{probe}", probe),
]
