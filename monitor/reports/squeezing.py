"""What somebody's hand has said of a bed, and what becomes of it."""

from __future__ import annotations

from monitor.checks.squeezes import SPEAKS
from monitor.readings import DAY, MINUTE, Measures
from monitor.reports.facts import watching
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis, zone_words
from monitor.reports.shapes import SqueezeShape
from monitor.rules import Bedding
from monitor.science.squeeze import SAID
from monitor.squeezing import Squeezed
from monitor.store.promises import RoundRow


def squeeze_facts(one: Squeezed, saying: Saying, last: RoundRow | None) -> SqueezeShape:
    """What one call has left."""
    waits = not watching(last, one.at)
    return {
        "request": one.request,
        "at": instant(one.at),
        "squeezed_at": instant(one.happened),
        "bin": one.bed.id,
        "zone": one.zone or None,
        "feel": str(one.feel),
        "bedding": str(one.bed.made_of),
        "low": one.band.low,
        "high": one.band.high,
        "source": one.band.source,
        "mark": one.band.mark,
        "who": one.who,
        "note": plain(one.note),
        "sentence": f"{_becomes(one)} {_when(waits=waits)}",
        "last_round": instant(last.at) if last else None,
        "waits": waits,
    }


def _becomes(one: Squeezed) -> str:
    zones = [z for z in one.bed.zones if one.zone in ("", z.id)]
    probes = [p.id for z in zones for p in z.probes if p.measures is Measures.MOISTURE and p.judged]
    if probes:
        return f"It goes into the diary; as long as {probes[0]} speaks within its points, that is what is judged."
    days = SPEAKS // DAY
    return f"It goes into the diary, and speaks for {days} days: too dry or too wet only when the whole of it is."


def _when(*, waits: bool) -> str:
    if waits:
        return "It waits: no round seems to run. It counts as soon as `vermistat run` runs again."
    return "The next round takes it up, within about a minute."


def squeeze_text(facts: SqueezeShape, one: Squeezed, saying: Saying) -> str:
    """The same in sentences."""
    zone = f" {zone_words(one.bed, one.zone)}" if one.zone else ""
    late = one.at - one.happened >= MINUTE
    when = f" {saying.when(millis(facts['squeezed_at']))}" if late else ""
    note = f", “{facts['note']}”" if facts["note"] else ""
    stuff = "bedding of no known kind" if one.bed.made_of is Bedding.MIXED else f"{facts['bedding']} bedding"
    return (
        f"{facts['who']} squeezed a handful of {one.bed.name}{zone}{when}: {SAID[one.feel]}{note}.\n"
        f"In {stuff} that is {facts['low']:g} to {facts['high']:g} % moisture ({facts['source']} [{facts['mark']}]).\n"
        f"{facts['sentence']}"
    )
