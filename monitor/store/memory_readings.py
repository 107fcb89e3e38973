"""The readings of the store that keeps nothing."""

from __future__ import annotations

import threading
from bisect import bisect_left, bisect_right, insort
from collections import Counter, deque
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from functools import wraps
from itertools import groupby, pairwise
from operator import attrgetter
from typing import Any, TypeVar, cast

from monitor.errors import BadValue, StoreError
from monitor.readings import MINUTE, RESOLUTION, Beside, Millis, Quality, Reading, Refusal, Undated, restored
from monitor.store.promises import Batch, Bucket, Delivered, Kept, Shift
from monitor.store.rows import LARGEST, meta_of, packed, steps_of

T = TypeVar("T")
Method = TypeVar("Method", bound=Callable[..., Any])
at_of = attrgetter("at")


def whole(method: Method) -> Method:
    """One call at a time, and none after closing."""

    @wraps(method)
    def alone(self: Any, *args: Any, **kwargs: Any) -> Any:
        with self._alone:
            if self._closed:
                raise StoreError("this store is closed")
            return method(self, *args, **kwargs)

    return cast(Method, alone)


def newest(kept: Sequence[T], limit: int) -> list[T]:
    """The last `limit` of them."""
    return list(kept[max(len(kept) - limit, 0) :])


class MemoryReadings:
    """`promises.Readings`, kept as long as the process lives."""

    def __init__(self) -> None:
        self._alone = threading.RLock()
        self._closed = False
        self._arrived: list[Reading] = []
        self._series: dict[str, list[Reading]] = {}
        self._known: dict[tuple[str, Millis], int] = {}
        self._undated: list[Undated] = []
        self._refusals: deque[Refusal] = deque(maxlen=1000)
        self._refused: Counter[tuple[str, str]] = Counter()
        self._other: Counter[str] = Counter()
        self._delivered: deque[Delivered] = deque(maxlen=65_536)
        self._beside: dict[str, Beside] = {}
        self._last = 0

    @whole
    def keep(self, batch: Batch) -> Kept:
        """As promised."""
        _refuse_what_does_not_fit(batch)
        fates = Counter(self._keep(r, steps_of(r.value)) for r in batch.readings)
        for undated in batch.undated:
            self._last += 1
            value = restored(steps_of(undated.value))
            self._undated.append(replace(undated, value=value, arrival=self._last))
        self._refusals.extend(batch.refusals)
        self._refused.update((r.topic, str(r.kind)) for r in batch.refusals)
        self._delivered.extend(batch.delivered)
        for one in batch.beside:
            self._beside[one.topic] = one.after(self._beside.get(one.topic))
        return Kept(fates["new"], fates["same"], fates["other"], self._last)

    def _keep(self, reading: Reading, steps: int) -> str:
        key = (reading.probe, reading.at)
        if key in self._known:
            if self._known[key] == steps:
                return "same"
            self._other[reading.probe] += 1
            return "other"
        self._known[key] = steps
        self._last += 1
        kept = replace(reading, value=restored(steps), arrival=self._last)
        self._arrived.append(kept)
        insort(self._series.setdefault(reading.probe, []), kept, key=at_of)
        return "new"

    @whole
    def after(self, arrival: int, limit: int = 1_000_000) -> list[Reading]:
        """As promised."""
        first = bisect_right(self._arrived, arrival, key=attrgetter("arrival"))
        return self._arrived[first : first + limit]

    @whole
    def last_arrival(self) -> int:
        """As promised."""
        return self._last

    @whole
    def window(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """As promised."""
        series = self._series.get(probe, [])
        return series[bisect_left(series, start, key=at_of) : bisect_left(series, end, key=at_of)]

    @whole
    def latest(self, probe: str, count: int = 1, upto_arrival: int | None = None) -> list[Reading]:
        """As promised."""
        return newest(self._upto(probe, upto_arrival), count)

    def _upto(self, probe: str, arrival: int | None) -> list[Reading]:
        return [r for r in self._series.get(probe, []) if arrival is None or r.arrival <= arrival]

    @whole
    def latest_of(self, probes: Collection[str], count: int = 1) -> dict[str, list[Reading]]:
        """As promised."""
        return {probe: newest(self._upto(probe, None), count) for probe in probes}

    @whole
    def unchanged_since(self, probe: str, upto_arrival: int | None = None) -> Millis | None:
        """As promised."""
        since = value = None
        for reading in reversed(self._upto(probe, upto_arrival)):
            if value is not None and reading.value != value:
                break
            since, value = reading.at, reading.value
        return since

    @whole
    def buckets(self, probe: str, start: Millis, end: Millis, width: Millis) -> list[Bucket]:
        """As promised."""
        trusted = [r for r in self.window(probe, start, end) if r.quality.trusted]
        found = []
        for number, readings in groupby(trusted, key=lambda r: (r.at - start) // width):
            values = [r.value for r in readings]
            mean = sum(map(steps_of, values)) / (len(values) * RESOLUTION)
            found.append(Bucket(start + number * width, len(values), min(values), mean, max(values)))
        return found

    def summarise(self, upto: Millis) -> bool:
        """As promised: there is nothing to do."""
        return False

    @whole
    def spans(self, probe: str, edges: Sequence[Millis]) -> list[Bucket]:
        """As promised."""
        each = [self.buckets(probe, start, end, end - start) for start, end in pairwise(edges)]
        return [bucket for buckets in each for bucket in buckets]

    @whole
    def undated(self, limit: int = 100) -> list[Undated]:
        """As promised."""
        return newest(self._undated, limit)

    @whole
    def refusals(self, limit: int = 100) -> list[Refusal]:
        """As promised."""
        return newest(list(self._refusals), limit)

    @whole
    def refusal_counts(self) -> dict[tuple[str, str], int]:
        """As promised."""
        return dict(self._refused)

    @whole
    def contradictions(self) -> dict[str, int]:
        """As promised."""
        return dict(self._other)

    @whole
    def beside(self) -> dict[str, Beside]:
        """As promised."""
        return dict(self._beside)

    @whole
    def delivered(self, limit: int = 65_536) -> list[Delivered]:
        """As promised."""
        return newest(list(self._delivered), limit)

    @whole
    def counted(self) -> int:
        """As promised."""
        return len(self._arrived)

    def elsewhere(self) -> int:
        """As promised."""
        return 0

    def _mark_readings(self) -> dict[str, int]:
        return {"arrival": self._last, "refusal": self._refused.total()}

    def _shift_readings(self, shift: Shift) -> None:
        kept = {(r.probe, r.at): r for r in self._arrived if not _is_off(r, shift)}
        off = sorted((r for r in self._arrived if _is_off(r, shift)), key=lambda r: (r.probe, r.at))
        collided = [r for r in off if not _put_moved(kept, r, shift.by)]
        for one in collided:
            _put_next(kept, one, shift.by)
        again = []
        for key, one in list(kept.items()):
            if one.own_time and one.arrival > shift.above["arrival"] and one.received_at <= shift.end:
                kept[key], believed = _put_right(one, shift)
                if believed:
                    again.append(kept.pop(key))
        for one in sorted(again, key=attrgetter("arrival")):
            self._last += 1
            kept[one.probe, one.at] = replace(one, arrival=self._last)
        first = shift.above["arrival"]
        self._undated = [
            replace(u, received_at=min(u.received_at + shift.by, shift.now))
            if u.arrival > first and u.received_at <= shift.end
            else u
            for u in self._undated
        ]
        if shift.overtaken:
            for key in [key for key, r in kept.items() if not r.own_time and r.at > shift.now + MINUTE]:
                false = kept.pop(key)
                self._undated.append(Undated(false.probe, false.value, shift.now, false.arrival))
        self._undated.sort(key=attrgetter("arrival"))
        self._take_up(kept.values())
        old = len(self._refusals) - (self._refused.total() - shift.above["refusal"])
        moved = [
            replace(r, received_at=min(r.received_at + shift.by, shift.now)) if n >= old else r
            for n, r in enumerate(self._refusals)
        ]
        self._refusals = deque(moved, maxlen=1000)

    def _take_up(self, readings: Iterable[Reading]) -> None:
        self._arrived = sorted(readings, key=attrgetter("arrival"))
        self._known = {(r.probe, r.at): steps_of(r.value) for r in self._arrived}
        self._series = {}
        for one in self._arrived:
            insort(self._series.setdefault(one.probe, []), one, key=at_of)

    def close(self) -> None:
        """Forget everything; closing twice is no error."""
        with self._alone:
            self._closed = True


def _is_off(reading: Reading, shift: Shift) -> bool:
    above = reading.arrival > shift.above["arrival"]
    return above and not reading.own_time and reading.received_at <= shift.end


def _put_moved(kept: dict[tuple[str, Millis], Reading], one: Reading, by: Millis) -> bool:
    key = (one.probe, one.at + by)
    if key in kept:
        return False
    kept[key] = replace(one, at=one.at + by, received_at=one.received_at + by)
    return True


def _put_next(kept: dict[tuple[str, Millis], Reading], one: Reading, by: Millis) -> None:
    at = one.at + by
    while (one.probe, at) in kept:
        at += 1
    kept[one.probe, at] = replace(one, at=at, received_at=one.received_at + by)


def _put_right(one: Reading, shift: Shift) -> tuple[Reading, bool]:
    """A reading with its own time, and whether it is believed only now."""
    right = replace(one, received_at=one.received_at + shift.by)
    if one.quality not in (Quality.AHEAD, Quality.EARLY):
        return right, False
    quality = shift.anew(right)
    return replace(right, quality=quality), quality.trusted and not one.quality.trusted


def _refuse_what_does_not_fit(batch: Batch) -> None:
    """What the file could not hold, so that a test with this store finds it too."""
    packed(batch.delivered)
    numbers = [n for r in batch.readings for n in (r.at, meta_of(r))] + [u.received_at for u in batch.undated]
    if any(not -LARGEST <= n <= LARGEST for n in numbers):
        raise BadValue("a value that cannot be kept: a time beyond 64 bits")
    try:
        "".join([r.probe for r in batch.readings] + [u.probe for u in batch.undated]).encode()
    except UnicodeEncodeError as error:
        raise BadValue(f"a value that cannot be kept: {error}") from error
