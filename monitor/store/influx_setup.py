"""A database made ready on a server: what is there, what has to be made, and whether it holds what it answers it holds.

Version 1 is asked and changed by InfluxQL [docs.influxdata.com/influxdb/v1/query_language/manage-database/, memory], and
that is tested on a real server. Version 2 is asked and changed through the client's buckets and mappings
(`/api/v2/buckets`, `/api/v2/dbrps`): no such server could be had for the tests, which hold that half only to the
documented requests and answers [docs.influxdata.com/influxdb/v2/api/, memory]. Version 3 makes a database at its first
write. What a server of any version really does is proven by a reading that is written and read back.
"""

from __future__ import annotations

import contextlib
import re
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from influxdb_client.domain.dbrp_create import DBRPCreate
from influxdb_client.service.dbr_ps_service import DBRPsService

from monitor.errors import BadValue, StoreBroken, StoreError
from monitor.readings import RESOLUTION, Millis, Reading
from monitor.store.influx_lines import FIELDS, MEASUREMENT, line_of, quoted, reading_from, where
from monitor.store.influx_server import Server

TRIAL_SITE = "vermistat set-up"
"""The site under which the test reading is written: with its space no site of the settings can be called so."""
LOOKS, BETWEEN = 10, 0.2
"""How often, and how many seconds apart, the test reading is looked for: a server may need a moment."""
DEFAULT_POLICY = "autogen"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that has to be there: its sentence, and whether it is."""

    what: str
    there: bool


@dataclass(frozen=True, slots=True)
class Found:
    """A server, looked at: its version ("" when it does not say), the steps, and how long it keeps what is written
    (seconds; 0 for ever, None when that is not known).
    """

    version: str
    steps: tuple[Step, ...]
    keeps: int | None = None


@dataclass(frozen=True, slots=True)
class Proof:
    """What became of the test reading: it was read back as it was written; `removed` or left under a site of its own."""

    removed: bool


def look(server: Server) -> Found:
    """What is there. Changes nothing. Raises StoreError when it cannot be asked, or when it refuses us."""
    version = server.version()
    return _KINDS.get(_major(version), _look_other)(server, version)


def make(server: Server, found: Found) -> None:
    """Make what is not there yet. Raises StoreError, saying which step was refused."""
    missing = [step for step in found.steps if not step.there]
    if missing:
        {1: _make_1, 2: _make_2}[_major(found.version)](server)


def prove(server: Server, *, now: Millis) -> Proof:
    """Write one reading, read it back, and take it away again. Raises StoreBroken for a server that answers that it
    holds what it does not hold, or that gives back something else.
    """
    tag = f"trial-{secrets.token_hex(8)}"
    value = secrets.randbelow(1_000_000) / RESOLUTION
    sent = Reading("trial", now, value, now, own_time=True, arrival=1)
    server.write([line_of(TRIAL_SITE, tag, sent)])
    back = _read_back(server, tag)
    name = server.database.bucket
    if not back:
        raise StoreBroken(
            f"the database at {server.database.url} answered that it holds a test reading in {name}, and does not give it"
            " back: it is no InfluxDB, or its questions go to another database (version 2: a DBRP mapping is missing)"
        )
    if back != [sent]:
        raise StoreBroken(
            f"the database at {server.database.url} gives a test reading back from {name} otherwise than it was written:"
            " something else writes or changes `reading` there; give Vermistat a bucket of its own"
        )
    return Proof(_removed(server, tag))


def _read_back(server: Server, tag: str) -> list[Reading]:
    question = f'SELECT {FIELDS} FROM "{MEASUREMENT}" WHERE {where(TRIAL_SITE, [tag])}'
    wait = threading.Event().wait
    for _ in range(LOOKS):
        rows = [row for _, rows in server.ask([question])[0] for row in rows]
        with contextlib.suppress(BadValue):  # an answer to some other question is none to ours
            if rows:
                return [reading_from("trial", row) for row in rows]
        wait(BETWEEN)
    return []


def _removed(server: Server, tag: str) -> bool:
    """Whether the test reading could be taken away; a token may allow no more than to write and to read."""
    try:
        if _major(server.version()) == 2:
            server.client.delete_api().delete(
                "1970-01-01T00:00:00Z",
                "2200-01-01T00:00:00Z",
                f'_measurement="{MEASUREMENT}" AND probe="{tag}"',
                bucket=server.database.bucket,
                org=server.database.org,
            )
        else:
            server.do(f'DROP SERIES FROM "{MEASUREMENT}" WHERE "probe" = {quoted(tag)}')
        return not _there_now(server, tag)
    except (StoreError, *server.TROUBLES):
        return False


def _there_now(server: Server, tag: str) -> bool:
    question = f'SELECT {FIELDS} FROM "{MEASUREMENT}" WHERE {where(TRIAL_SITE, [tag])}'
    return any(rows for _, rows in server.ask([question])[0])


def _major(version: str) -> int:
    found = re.match(r"v?(\d+)\.", version)
    return int(found[1]) if found else 0


# ── version 1 ─────────────────────────────────────────────────────────────────────────────────────────────────


def _look_1(server: Server, version: str) -> Found:
    name, _, policy = server.database.bucket.partition("/")
    there = [name] in _rows(server, "SHOW DATABASES")
    steps = [Step(f"the database {name}", there)]
    policies = _rows(server, f'SHOW RETENTION POLICIES ON "{_named(name)}"') if there else []
    if policy and policy != DEFAULT_POLICY:
        steps.append(Step(f"its retention policy {policy}", policy in [row[0] for row in policies]))
    lasts = [str(row[1]) for row in policies if (row[0] == policy if policy else row[-1])]
    return Found(version, tuple(steps), _seconds(lasts[0]) if lasts else 0)


def _make_1(server: Server) -> None:
    name, _, policy = server.database.bucket.partition("/")
    server.do(f'CREATE DATABASE "{_named(name)}"')
    if policy and policy != DEFAULT_POLICY:
        server.do(f'CREATE RETENTION POLICY "{_named(policy)}" ON "{_named(name)}" DURATION INF REPLICATION 1')


def _rows(server: Server, question: str) -> list[list[Any]]:
    return [list(row) for _, rows in server.ask([question])[0] for row in rows]


def _named(name: str) -> str:
    return name.replace("\\", "\\\\").replace('"', '\\"')


def _seconds(duration: str) -> int:
    """`168h0m0s` as seconds; 0 is for ever."""
    return sum(int(n) * {"h": 3600, "m": 60, "s": 1}[unit] for n, unit in re.findall(r"(\d+)([hms])", duration))


# ── version 2 ─────────────────────────────────────────────────────────────────────────────────────────────────


def _look_2(server: Server, version: str) -> Found:
    bucket = server.guarded(lambda: server.client.buckets_api().find_bucket_by_name(server.database.bucket))
    steps = [
        Step(f"the bucket {server.database.bucket}", bucket is not None),
        Step(
            f"a DBRP mapping, by which the bucket answers questions to {_mapped(server)}",
            _has_mapping(server, bucket),
        ),
    ]
    keeps = max((rule.every_seconds or 0 for rule in bucket.retention_rules or ()), default=0) if bucket else 0
    return Found(version, tuple(steps), keeps)


def _mapped(server: Server) -> str:
    name, _, policy = server.database.bucket.partition("/")
    return f"{name}/{policy or DEFAULT_POLICY}"


def _has_mapping(server: Server, bucket: Any) -> bool:
    if bucket is None:
        return False
    name, _, policy = server.database.bucket.partition("/")
    maps = DBRPsService(server.client.api_client)
    found = server.guarded(lambda: maps.get_dbr_ps(org=server.database.org, bucket_id=bucket.id, db=name))
    return any(
        one.bucket_id == bucket.id and one.database == name and (one.default or one.retention_policy == policy)
        for one in found.content or ()
    )


def _make_2(server: Server) -> None:
    buckets = server.client.buckets_api()
    name, _, policy = server.database.bucket.partition("/")
    bucket = server.guarded(lambda: buckets.find_bucket_by_name(server.database.bucket))
    if bucket is None:
        bucket = server.guarded(
            lambda: buckets.create_bucket(bucket_name=server.database.bucket, org=server.database.org)
        )
    if not _has_mapping(server, bucket):
        wanted = DBRPCreate(
            org=server.database.org,
            bucket_id=bucket.id,
            database=name,
            retention_policy=policy or DEFAULT_POLICY,
            default=True,
        )
        server.guarded(lambda: DBRPsService(server.client.api_client).post_dbrp(wanted))


# ── others ────────────────────────────────────────────────────────────────────────────────────────────────────


def _look_other(_server: Server, version: str) -> Found:
    """Version 3, which makes what is written to, and whatever else takes lines: the test reading tells."""
    return Found(version, ())


_KINDS: dict[int, Callable[[Server, str], Found]] = {1: _look_1, 2: _look_2}
