"""Readings as text, one on each line, and what came from another logger read with its problems listed line by line.

Pure: text in, readings and problems out. CSV is RFC 4180's [memory] with a line of names first; JSON lines are one JSON object
on each line (RFC 8259 [memory]). Our own export reads back exactly: time to the millisecond, value to the store's resolution.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.errors import BadValue
from monitor.readings import Measures, Millis, Quality, Reading
from monitor.rules import Probe, Unit
from monitor.science.units import POUND, canonical

COLUMNS = ("probe", "time", "value", "unit", "quality", "received", "own_time")
"""What an export names its columns."""
FIRST_YEAR, LAST_YEAR = 1970, 2200
"""A logger's year outside of these is a slip of its clock."""

UNITS: Mapping[Measures, Mapping[str, Callable[[float], float]]] = {
    Measures.TEMPERATURE: {
        "Cel": float,
        "°C": float,
        "C": float,
        "degF": lambda v: canonical(v, "°F"),
        "°F": lambda v: canonical(v, "°F"),
        "F": lambda v: canonical(v, "°F"),
        "K": lambda v: canonical(v, "K"),
    },
    Measures.HUMIDITY: {"%RH": float, "%": float, "/": lambda v: 100 * v},
    Measures.MASS: {"kg": float, "g": lambda v: v / 1000, "lb": lambda v: v * POUND},
    Measures.MOISTURE: {"counts": float, "%": float, "/": lambda v: 100 * v},
}
"""Per quantity: what each unit's numbers are in the canonical one."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a line is not a reading; `line` counts from 1, the line of names included."""

    line: int
    reason: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Wanted:
    """How a logger's table is to be read. `probe` names whose it is when no column does; `zone` the clock its times were
    written by when they name none; `shape` how they are written (strptime), None for ISO 8601 or seconds since 1970.
    """

    probe: str | None = None
    time: str = "time"
    value: str = "value"
    unit: str | None = None
    zone: str = "UTC"
    shape: str | None = None


Read = tuple[list[Reading], list[Problem]]


def exported(probe: Probe, readings: Iterable[Reading]) -> Iterator[dict[str, object]]:
    """Each reading as a row of COLUMNS."""
    unit = str(probe.source.sends)
    canonical_unit = {Measures.TEMPERATURE: "Cel", Measures.HUMIDITY: "%RH", Measures.MASS: "kg"}.get(
        probe.measures
    )
    for one in readings:
        yield {
            "probe": one.probe,
            "time": iso(one.at),
            "value": one.value,
            "unit": canonical_unit or ("counts" if unit == "counts" else "%"),
            "quality": one.quality.name.lower().replace("_", " "),
            "received": iso(one.received_at),
            "own_time": one.own_time,
        }


def iso(at: Millis) -> str:
    """UTC to the millisecond, as ISO 8601 writes it."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{at % 1000:03d}Z"


def from_lines(text: str, probes: Mapping[str, Probe]) -> Read:
    """JSON lines of our own export."""
    found, problems = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
            if not isinstance(row, dict):
                raise BadValue("it is no JSON object")
            found.append(_ours({str(k): v for k, v in row.items()}, probes))
        except (BadValue, json.JSONDecodeError) as error:
            reason = f"it is not JSON ({error.msg})" if isinstance(error, json.JSONDecodeError) else str(error)
            problems.append(Problem(number, reason))
    return found, problems


def from_csv(text: str, probes: Mapping[str, Probe], wanted: Wanted) -> Read:
    """A table: our own export, or another logger's as `wanted` says. Raises BadValue when it is no such table at all."""
    text = text.removeprefix("\ufeff")
    delimiter = _delimiter(text)
    rows = csv.reader(text.splitlines(), delimiter=delimiter)
    names = [name.strip() for name in next(rows, [])]
    if set(COLUMNS) <= set(names):
        return _each(rows, names, lambda row: _ours(row, probes))
    columns = {_column(names, wanted.time): "time", _column(names, wanted.value): "value"}
    own = "probe" in names
    if not own and wanted.probe is None:
        raise BadValue("no column is called probe: say whose readings these are with --probe")
    clock = _Clock(wanted, decimal_comma=delimiter == ";")
    at = {what: index for index, what in columns.items()}
    return _each(rows, names, lambda row: clock.reading(list(row.values()), names, at, probes))


def _delimiter(text: str) -> str:
    head = text.partition("\n")[0]
    return max(",;\t", key=head.count)


def _column(names: Sequence[str], wanted: str) -> int:
    for index, name in enumerate(names):
        if name == wanted or re.sub(r"\s*[\[(].*", "", name).strip().lower() == wanted.lower():
            return index
    there = ", ".join(filter(None, names)) or "nothing"
    raise BadValue(f"the first line names no column {wanted!r}; it names {there}")


def _each(
    rows: Iterable[Sequence[str]], names: Sequence[str], reading: Callable[[dict[str, object]], Reading]
) -> Read:
    found: list[Reading] = []
    problems: list[Problem] = []
    for number, row in enumerate(rows, start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            if len(row) != len(names):
                raise BadValue(f"it has {len(row)} cells, the first line names {len(names)}")
            found.append(
                reading(
                    {
                        f"{i}" if names.count(n) > 1 else n: c
                        for i, (n, c) in enumerate(zip(names, row, strict=True))
                    }
                )
            )
        except BadValue as error:
            problems.append(Problem(number, str(error)))
    return found, problems


def _ours(row: Mapping[str, object], probes: Mapping[str, Probe]) -> Reading:
    missing = [name for name in COLUMNS if name not in row]
    if missing:
        raise BadValue(f"{missing[0]} is missing")
    probe = _known(str(row["probe"]), probes)
    quality = str(row["quality"]).replace(" ", "_").upper()
    if quality not in Quality.__members__:
        raise BadValue(f"{row['quality']!r} is no quality")
    value = _in_unit(_number(row["value"], comma=False), str(row["unit"]), probe)
    at, received = (_time_of(str(row[name]), "UTC") for name in ("time", "received"))
    own = str(row["own_time"]).lower()
    if own not in ("true", "false"):
        raise BadValue(f"own_time is true or false, not {row['own_time']!r}")
    return Reading(probe.id, at, value, received, Quality[quality], own == "true")


@dataclass(slots=True)
class _Clock:
    """Reads a logger's rows one after the other: of a local time that happens twice, the one that goes on."""

    wanted: Wanted
    decimal_comma: bool
    last: Millis | None = None

    def reading(
        self, cells: Sequence[object], names: Sequence[str], at: Mapping[str, int], probes: Mapping[str, Probe]
    ) -> Reading:
        probe = _known(str(cells[names.index("probe")]) if "probe" in names else str(self.wanted.probe), probes)
        moment = _time_of(str(cells[at["time"]]).strip(), self.wanted.zone, self.wanted.shape, self.last)
        number = _number(cells[at["value"]], comma=self.decimal_comma)
        unit = self.wanted.unit or _unit_in(names[at["value"]]) or str(probe.source.sends)
        value = _in_unit(number, unit, probe)
        self.last = moment
        return Reading(probe.id, moment, value, moment, own_time=True)


def _unit_in(name: str) -> str | None:
    found = re.search(r"[\[(]\s*(.+?)\s*[\])]", name)
    return found[1] if found else None


def _known(name: str, probes: Mapping[str, Probe]) -> Probe:
    if name not in probes:
        raise BadValue(f"the settings know no probe {name!r}")
    return probes[name]


def _number(cell: object, *, comma: bool) -> float:
    text = str(cell).strip().replace("−", "-")
    try:
        value = float(text.replace(",", ".") if comma else text)
    except ValueError:
        raise BadValue(f"{text!r} is no number" if text else "there is no value") from None
    if not abs(value) < float("inf"):
        raise BadValue(f"{text!r} is no number that can be kept")
    return value


def _in_unit(value: float, unit: str, probe: Probe) -> float:
    known = UNITS[probe.measures]
    if unit not in known:
        raise BadValue(f"{unit!r} is no unit of {probe.measures}; known are {', '.join(known)}")
    if (unit == "counts") != (probe.source.sends is Unit.COUNTS) and probe.measures is Measures.MOISTURE:
        raise BadValue(
            f"{probe.id} sends {probe.source.sends}, and this is in {unit}: one cannot be made of the other"
        )
    return known[unit](value)


def _time_of(text: str, zone: str, shape: str | None = None, last: Millis | None = None) -> Millis:
    if not text:
        raise BadValue("there is no time")
    if shape is None and re.fullmatch(r"-?\d{1,13}(\.\d+)?", text):
        seconds = float(text)
        return _in_years(round(seconds if abs(seconds) >= 1e11 else seconds * 1000), text)
    try:
        moment = datetime.strptime(text, shape) if shape else datetime.fromisoformat(text)
    except ValueError:
        how = f"as {shape}" if shape else "as ISO 8601 (2026-01-03T18:00) or seconds since 1970"
        raise BadValue(f"{text!r} is no time written {how}") from None
    if moment.tzinfo is None:
        moment = _local(moment, zone, last)
    return _in_years(_millis(moment), text)


def _millis(moment: datetime) -> Millis:
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def _in_years(at: Millis, text: str) -> Millis:
    first, last = (_millis(datetime(year, 1, 1, tzinfo=UTC)) for year in (FIRST_YEAR, LAST_YEAR))
    if not first <= at < last:
        raise BadValue(
            f"{text!r} lies outside the years {FIRST_YEAR} to {LAST_YEAR - 1}: the logger's clock was wrong"
        )
    return at


def _local(moment: datetime, zone: str, last: Millis | None) -> datetime:
    """A local time that does not exist is refused; of one that happens twice the first that is later than the line before."""
    here = ZoneInfo(zone)
    found = [moment.replace(tzinfo=here, fold=fold) for fold in (0, 1)]
    real = [m for m in found if m.astimezone(UTC).astimezone(here).replace(tzinfo=None) == moment]
    if not real:
        raise BadValue(f"{moment.isoformat(' ')} never was in {zone}: clocks went forward over it")
    times = sorted({_millis(m) for m in real})
    chosen = next((at for at in times if last is None or at > last), times[0])
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=chosen)
