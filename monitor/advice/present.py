"""What is known of a zone now: the readings that advice is made of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.checks.memory import ProbeMemory, is_fresh, middle
from monitor.checks.values import percent
from monitor.readings import Measures, Millis
from monitor.rules import Place, Probe, Zone

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
