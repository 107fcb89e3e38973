"""The power came back: how long it was off, who has spoken again, and whose silence it explains.

Another boot of the machine since the last round says that it was off; a process that was only started again says
nothing. Told once, when every probe has spoken or has had time to, and then left standing until whoever slept has
read it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from monitor.checks.arithmetic import span
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding
from monitor.checks.memory import ProbeMemory, interval, nothing_of
from monitor.checks.probes import GRACE, Listed
from monitor.checks.system import DAEMON
from monitor.readings import HOUR, MINUTE, Millis
from monitor.reckoning import Belief
from monitor.rules import Level, Probe

WAIT: Millis = 15 * MINUTE
"""So long after the power is back at most we wait for probes to speak and for the time to be proven (proposal)."""
STANDS: Millis = 12 * HOUR
"""So long it stands, so that whoever slept reads it whole in the morning (proposal)."""
BRIEF: Millis = 10 * MINUTE
"""A machine that was told to stop and is back within this was started anew by somebody (proposal)."""
FEW = 4
"""So many probes are named, the rest is counted."""

KEY = AlarmKey(DAEMON, Condition.POWER_BACK)


@dataclass(frozen=True, slots=True)
class Outage:
    """The machine was off between `since`, the last moment that is stored, and `back`, when it booted; both in our time.

    `belief` is how far our time is known now. `orderly`: it had been told to stop.
    """

    since: Millis
    back: Millis
    belief: Belief
    orderly: bool = False

    @property
    def length(self) -> Millis | None:
        """How long it was off, to a round; None while that is not known."""
        off = self.back - self.since
        return off if self.belief is not Belief.UNSURE and off >= 0 else None


def look_at_power(
    outage: Outage | None,
    *,
    probes: Iterable[Listed],
    memory: Mapping[str, ProbeMemory],
    now: Millis,
    standing: Collection[AlarmKey],
    plugs: Iterable[str] = (),
) -> list[Finding]:
    """That the power came back, once; and, long after, that it is over. `plugs` are the ids of what speaks for mats:
    waited for, and not counted among the probes.
    """
    if outage is None or now >= outage.back + STANDS:
        return [Finding(KEY, None, now, now, Evidence("that is long ago"))] if KEY in standing else []
    if KEY in standing:
        return []
    silent = [p.probe for p in probes if not _has_spoken(memory.get(p.probe.id), outage)]
    awaited = silent or not all(_has_spoken(memory.get(plug), outage) for plug in plugs)
    waiting = now < outage.back + WAIT and (awaited or outage.belief is not Belief.PROVEN)
    if waiting or _was_brief(outage):
        return []
    count = sum(1 for _ in probes)
    text = f"{_off(outage)}; {_spoken(silent, memory, count=count, now=now, outage=outage)}"
    return [Finding(KEY, Level.COMFORT, now, outage.back, Evidence(text, held=now - outage.back))]


def _has_spoken(memory: ProbeMemory | None, outage: Outage) -> bool:
    return memory is not None and memory.heard is not None and memory.heard >= outage.back


def _was_brief(outage: Outage) -> bool:
    return outage.orderly and outage.length is not None and outage.length < BRIEF


def _off(outage: Outage) -> str:
    if outage.length is None:
        return "how long the power was off is not known yet, because the clock is unsure"
    off = f"nothing was heard for {span(outage.length)}, until the machine had power again"
    doubt = ", if its clock is right, which nothing has confirmed"
    return off if outage.belief is Belief.PROVEN else off + doubt


def _spoken(
    silent: list[Probe], memory: Mapping[str, ProbeMemory], *, count: int, now: Millis, outage: Outage
) -> str:
    if not silent:
        return "every probe has spoken since" if count else "there are no probes"
    due = [p for p in silent if not _is_early(p, memory, now=now, outage=outage)]
    early = [p for p in silent if p not in due]
    said = [f"{count - len(silent)} of {count} probes have spoken since"]
    said += [f"not yet: {_named(due)}"] if due else []
    said += [f"not due yet: {_named(early)}"] if early else []
    return "; ".join(said)


def _is_early(probe: Probe, memory: Mapping[str, ProbeMemory], *, now: Millis, outage: Outage) -> bool:
    every = interval(probe, memory.get(probe.id) or nothing_of(probe))
    return every is not None and now < outage.back + max(every, GRACE) + MINUTE


def _named(probes: list[Probe]) -> str:
    more = [f"{len(probes) - FEW} more"] if len(probes) > FEW else []
    return ", ".join([p.id for p in probes[:FEW]] + more)
