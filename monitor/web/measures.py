"""What can be measured of beds and daemon from outside, as families of numbers.

Labels are ids out of the settings and words of our own tables, never anything that came by the wire, so that there are only
ever as many series as the settings make.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from monitor.alarms.cycle import Priority
from monitor.alarms.priority import priority_of
from monitor.checks.findings import Kind
from monitor.checks.memory import is_fresh
from monitor.readings import Measures, Millis, RefusalKind
from monitor.reports.clock import clock_facts
from monitor.reports.facts import watching
from monitor.reports.mats import mat_facts
from monitor.reports.probes import Heard, heard, judged_value
from monitor.reports.saying import Saying
from monitor.rules import Probe, Rules
from monitor.store.promises import Past, Store
from monitor.web.exposition import Family, Sample, Type

MOST = 2_000
"""Probes that are told of; of more only how many are left out, so that no site makes a flood of series."""

VALUES: Mapping[Measures, tuple[str, str, float, str]] = {
    Measures.TEMPERATURE: (
        "temperature_celsius",
        "celsius",
        1.0,
        "Temperature that a probe says now, as it is judged.",
    ),
    Measures.HUMIDITY: ("humidity_ratio", "ratio", 0.01, "Relative humidity that a probe says now."),
    Measures.MASS: ("mass_kilograms", "kilograms", 1.0, "Mass that a scale under a bin says now, less its tare."),
    Measures.MOISTURE: (
        "moisture_ratio",
        "ratio",
        0.01,
        "Moisture of the bed by a calibrated probe, of its wet mass.",
    ),
}
"""Family, unit, factor from what is kept, and help."""


def families(store: Store, rules: Rules, at: Millis) -> Iterator[Family]:
    """Everything, in one look at the store."""
    past, saying = store.load(), Saying(rules, at)
    placed = list(_placed(rules))
    known = heard(store, [probe for probe, _ in placed[:MOST]])
    yield from _probes(placed[:MOST], known, at)
    yield _one("vermistat_probes_left_out", "Probes beyond those told of here.", max(0, len(placed) - MOST))
    yield from _alarms(past, rules)
    yield from _mats(store, saying)
    yield from _daemon(store, past, saying)


def _placed(rules: Rules) -> Iterator[tuple[Probe, dict[str, str]]]:
    """Every probe once, where it stands last, with its labels."""
    found: dict[str, tuple[Probe, dict[str, str]]] = {}
    last = rules.probes()
    for place in rules.places.values():
        for probe in place.probes:
            found[probe.id] = probe, {"probe": probe.id, "place": place.id}
    for bed in rules.bins.values():
        for zone in bed.zones:
            for probe in zone.probes:
                if last[probe.id] is probe:
                    found[probe.id] = (
                        probe,
                        {"probe": probe.id, "place": bed.place, "bin": bed.id, "zone": zone.id},
                    )
    return iter(found.values())


def _probes(
    placed: Iterable[tuple[Probe, dict[str, str]]], known: Mapping[str, Heard], at: Millis
) -> Iterator[Family]:
    placed = list(placed)
    for measures, (name, unit, factor, text) in VALUES.items():
        samples = [
            Sample(round(judged_value(probe, known[probe.id].memory.value) * factor, 6), labels)
            for probe, labels in placed
            if probe.measures is measures and probe.judged and is_fresh(probe, known[probe.id].memory, at=at)
        ]
        yield Family(
            f"vermistat_probe_{name}", Type.GAUGE, unit, f"{text} Left out while it is silent.", tuple(samples)
        )
    raw = [
        Sample(known[probe.id].memory.value, labels)
        for probe, labels in placed
        if not probe.judged and is_fresh(probe, known[probe.id].memory, at=at)
    ]
    help_ = (
        "What a moisture probe without calibration says now, in whatever it sends. Left out while it is silent."
    )
    yield Family("vermistat_probe_moisture_as_sent", Type.GAUGE, "", help_, tuple(raw))
    ages = [
        Sample(max(0, at - heard_at) / 1000, labels)
        for probe, labels in placed
        if (heard_at := known[probe.id].memory.trusted_at) is not None
    ]
    yield Family(
        "vermistat_probe_age_seconds",
        Type.GAUGE,
        "seconds",
        "How old the newest believed value of a probe is.",
        tuple(ages),
    )
    fresh = [Sample(int(is_fresh(probe, known[probe.id].memory, at=at)), labels) for probe, labels in placed]
    yield Family(
        "vermistat_probe_fresh", Type.GAUGE, "",
        "1 while the newest believed value of a probe may be judged, 0 when it is too old.", tuple(fresh),
    )  # fmt: skip


def _alarms(past: Past, rules: Rules) -> Iterator[Family]:
    active = [a for a in past.alarms if a.active]
    counts = Counter((str(priority_of(a.key, a.level)), not a.suppressed) for a in active)
    samples = [
        Sample(counts[str(priority), told], {"priority": str(priority), "told": "yes" if told else "no"})
        for priority in Priority
        for told in (True, False)
    ]
    yield Family(
        "vermistat_alarms", Type.GAUGE, "",
        "Alarms that stand. Not told are those that are shelved, explained by another, or of a bin that is worked in.",
        tuple(samples),
    )  # fmt: skip
    mine = Counter(a.key.subject.bed for a in active if a.key.subject.kind in (Kind.BIN, Kind.ZONE))
    bins = tuple(Sample(mine[bed], {"bin": bed}) for bed in rules.bins)
    yield Family("vermistat_bin_alarms", Type.GAUGE, "", "Alarms that stand of a bin and its zones.", bins)
    unseen = sum(1 for a in past.alarms if a.state not in ("acknowledged", "normal"))
    yield _one("vermistat_alarms_unseen", "Alarms that nobody has acknowledged.", unseen)


def _mats(store: Store, saying: Saying) -> Iterator[Family]:
    mats = mat_facts(store, saying)
    on = tuple(Sample(int(mat["on"]), {"mat": mat["id"]}) for mat in mats if mat["on"] is not None)
    yield Family("vermistat_mat_on", Type.GAUGE, "", "1 while a mat is on, by its plug or the diary.", on)
    watts = tuple(Sample(mat["watts"], {"mat": mat["id"]}) for mat in mats if mat["watts"] is not None)
    yield Family("vermistat_mat_power_watts", Type.GAUGE, "watts", "What a mat's plug says that it draws.", watts)


def _daemon(store: Store, past: Past, saying: Saying) -> Iterator[Family]:
    last = past.last_round
    yield _count("vermistat_rounds", "Rounds ever judged.", last.number if last else 0)
    if last is not None:
        yield _one(
            "vermistat_last_round_timestamp_seconds",
            "When the last round was, by the beds' clock.",
            last.at / 1000,
            "seconds",
        )
    yield _one("vermistat_watching", "1 while the last round is recent.", int(watching(last, saying.at)))
    yield _one("vermistat_clock_sure", "1 while the time is known.", int(clock_facts(past, saying) is None))
    yield _count("vermistat_readings", "Readings ever kept.", store.last_arrival())
    refused: Counter[str] = Counter()
    for (_, kind), count in store.refusal_counts().items():
        refused[kind] += count
    contradicted = sum(store.contradictions().values())
    kinds = tuple(Sample(refused[str(kind)], {"kind": str(kind)}) for kind in RefusalKind)
    yield Family("vermistat_refused", Type.COUNTER, "", "Messages that could not be read, by why.", kinds)
    yield _count(
        "vermistat_contradicted",
        "Values kept out because their time had one already.",
        contradicted,
    )
    yield _one("vermistat_notices_waiting", "Notices that are still to be sent.", store.waiting())
    yield _one(
        "vermistat_requests_waiting", "Answers and diary entries that wait for a round.", len(store.asked())
    )


def of_process(*, version: str, memory: float, cpu: float, began: float) -> Iterator[Family]:
    """The process itself: bytes, seconds of processor, and when it began (seconds since 1970)."""
    yield Family("vermistat_build", Type.INFO, "", "Which version runs.", (Sample(1, {"version": version}),))
    yield _one("process_resident_memory_bytes", "Memory that the process holds.", memory, "bytes")
    yield Family("process_cpu_seconds", Type.COUNTER, "seconds", "Processor time used.", (Sample(cpu),))
    yield _one("process_start_time_seconds", "When the process began.", began, "seconds")


def _one(name: str, text: str, value: float, unit: str = "") -> Family:
    return Family(name, Type.GAUGE, unit, text, (Sample(value),))


def _count(name: str, text: str, value: float) -> Family:
    return Family(name, Type.COUNTER, "", text, (Sample(value),))
