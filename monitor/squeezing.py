"""A squeezed handful, told from outside the daemon: left as a request, judged and written down from the next round on."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches

from monitor.errors import RequestError
from monitor.jotting import corrected
from monitor.keeper import check_note, who_asks
from monitor.moments import moment
from monitor.readings import Millis
from monitor.rules import Bin, Rules
from monitor.science.squeeze import SAID, Band, Feel, band
from monitor.store.promises import Store


@dataclass(frozen=True, slots=True)
class Squeezed:
    """What was left: whose handful it was (`zone` empty for the bin as a whole), what it did, and what that says."""

    request: int
    at: Millis
    happened: Millis
    who: str
    note: str
    bed: Bin
    zone: str
    feel: Feel
    band: Band


def squeeze(
    store: Store,
    rules: Rules,
    *,
    of: str,
    feel: str,
    who: str | None,
    when: str | None,
    note: str,
    at: Millis,
    corrects: int | None = None,
) -> Squeezed:
    """Leave `squeeze` for `fig` or `fig.west`. `when` is when it was done (None: now), `corrects` the number of the diary's
    entry that it stands for instead. Raises RequestError, having left nothing, for a bin, a zone, a feel, a person, a time or
    an entry that nobody knows.
    """
    person = who_asks(rules, who)
    check_note(note)
    bed, zone = _whose(rules, of)
    if feel not in list(Feel):
        ways = "; ".join(f"{one} ({SAID[one]})" for one in Feel)
        near = get_close_matches(feel, list(Feel), n=1)
        raise RequestError(
            f"no handful {feel!r}: " + (f"did you mean {near[0]}?" if near else f"known are {ways}")
        )
    happened = at if when is None else moment(when, rules.site.timezone, at)
    subject = f"zone:{of}" if zone else f"bin:{bed.id}"
    # a span, so that it stays true when the clock turns out to have been off
    told = {"of": subject, "feel": feel, "ago": at - happened}
    if corrects is not None:
        told |= {"corrects": corrects, "was": corrected(store, corrects)}
    body = json.dumps(told)
    request = store.ask(at, person, "squeeze", note=note, body=body)
    return Squeezed(request, at, happened, person, note, bed, zone, Feel(feel), band(Feel(feel), bed.made_of))


def _whose(rules: Rules, of: str) -> tuple[Bin, str]:
    name, dot, zone = of.partition(".")
    bed = rules.bins.get(name)
    if bed is None:
        raise RequestError(f"the settings know no bin called {name}; {_nearest(name, rules.bins)}")
    zones = [known.id for known in bed.zones]
    if dot and zone not in zones:
        raise RequestError(f"{name} has no zone called {zone}; {_nearest(zone, zones)}")
    return bed, zone


def _nearest(name: str, known: Collection[str]) -> str:
    near = get_close_matches(name, known, n=1)
    return f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
