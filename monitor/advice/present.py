"""What is known of a zone now: the readings that advice is made of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.checks.memory import ProbeMemory, is_fresh, middle
from monitor.checks.values import percent
from monitor.readings import Measures, Millis
from monitor.rules import Mat, Place, Probe, Rules, Unit, Zone, plug_id

MOISTURE_SPREAD = 5.0
"""Points a calibrated capacitive probe may be off either way: packing and contact move it by as much, whatever the
points say (proposal; a squeeze of the hand is no better than ±5, common practice)."""


@dataclass(frozen=True, slots=True)
class Present:
    """What good, fresh probes say of one zone. None: nobody knows.

    `temperature` in °C and `moisture` in % wet basis with their ages; `spread` is how many points the moisture
    may be off either way. `air` (°C) and `humidity` (%RH) are those of the place the bin stands in.
    """

    temperature: float | None = None
    temperature_age: Millis = 0
    moisture: float | None = None
    moisture_age: Millis = 0
    spread: float = 0.0
    air: float | None = None
    humidity: float | None = None


UNKNOWN = Present()

LEAST_WATTS = 1.0
LEAST_SHARE = 0.1
"""W, and the share of what a mat is said to draw, from which a plug counts as on: meters idle at less (proposal)."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a mat's plug said last, while that is fresh. `watts` is None where it only says on or off."""

    on: bool
    watts: float | None
    at: Millis


def least_watts(mat: Mat) -> float:
    """W from which a mat's plug counts as on."""
    return max(LEAST_WATTS, LEAST_SHARE * (mat.power or 0.0))


def on_from(mat: Mat, plug: Probe) -> float:
    """What a mat's plug says at least while it is on: W, or a half where it says 1 and 0."""
    return 0.5 if plug.source.sends is Unit.SWITCH else least_watts(mat)


def drawn(mat: Mat, plug: Probe, memory: Mapping[str, ProbeMemory], at: Millis) -> Drawn | None:
    """What a mat's plug says now, None when nobody knows."""
    kept = memory.get(plug.id)
    if kept is None or kept.trusted_at is None or not is_fresh(plug, kept, at=at):
        return None
    watts = None if plug.source.sends is Unit.SWITCH else kept.value
    return Drawn(kept.value >= on_from(mat, plug), watts, kept.trusted_at)


def drawn_by(rules: Rules, memory: Mapping[str, ProbeMemory], at: Millis) -> dict[str, Drawn]:
    """What every mat's plug says now, by mat; of which nobody knows is left out."""
    plugs = rules.plugs()
    found = {m.id: drawn(m, plugs[plug_id(m.id)], memory, at) for m in rules.mats.values() if m.state is not None}
    return {mat: one for mat, one in found.items() if one is not None}


def present(zone: Zone, memory: Mapping[str, ProbeMemory], at: Millis, *, place: Place | None = None) -> Present:
    """What is remembered of a zone's probes and its place's, as far as it is fresh and trusted at `at`.

    Of several probes the median counts; the age is that of the oldest of them.
    """
    temperature, temperature_age = _known(zone.probes, Measures.TEMPERATURE, memory=memory, at=at)
    moisture, moisture_age = _known(zone.probes, Measures.MOISTURE, memory=memory, at=at)
    around = place.probes if place else ()
    return Present(
        temperature=temperature,
        temperature_age=temperature_age,
        moisture=moisture,
        moisture_age=moisture_age,
        spread=MOISTURE_SPREAD if moisture is not None else 0.0,
        air=_known(around, Measures.TEMPERATURE, memory=memory, at=at)[0],
        humidity=_known(around, Measures.HUMIDITY, memory=memory, at=at)[0],
    )


def _known(
    probes: Iterable[Probe], measures: Measures, *, memory: Mapping[str, ProbeMemory], at: Millis
) -> tuple[float | None, Millis]:
    found = [
        (value, at - kept.trusted_at)
        for probe in probes
        if probe.measures is measures
        and (kept := memory.get(probe.id)) is not None
        and kept.trusted_at is not None
        and is_fresh(probe, kept, at=at)
        and (value := percent(probe, kept.value)) is not None
    ]
    return (middle(v for v, _ in found), max(age for _, age in found)) if found else (None, 0)
