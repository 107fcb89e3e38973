"""The database server, through influxdb-client's transport: lines in by `/api/v2/write`, questions by InfluxQL on
`/query`. Both are what versions 1.8, 2 (with a DBRP mapping) and 3 have in common.

Imported only when a database is chosen: the client costs half a second and 20 MB.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from monitor.addresses import Database
from monitor.errors import StoreBroken, StoreBusy, StoreError, StoreFull

LONGEST = 6000
"""Characters of questions in one request: they travel in the address, of which proxies commonly take 8 kB."""
HELD = 204
"""What a server answers to a write that it holds; a page that greets everybody with 200 is no database."""
T = TypeVar("T")
Row = list[float | None]
Answer = list[tuple[Mapping[str, str], list[Row]]]
"""For one question: each series' tags, and its rows."""


class Server:
    """One bucket of one server. Safe to use from any thread. Every call ends within `timeout` seconds.

    Raises StoreBusy when it is down, slow or asks for patience, StoreFull when its disk is full, StoreBroken when it
    refuses us or says what it never should.
    """

    TROUBLES = (ApiException, HTTPError, OSError)
    """What the client raises by itself."""

    def __init__(self, database: Database, *, timeout: float = 10.0) -> None:
        self._database = self.database = database
        token = database.token.reveal() if database.token else ""
        # The client turns urllib3's warnings on for the whole process, and those hold whole addresses of channels.
        chatty = logging.getLogger("urllib3")
        before = chatty.level
        self._client = self.client = InfluxDBClient(
            database.url,
            token=token,
            org=database.org or "-",
            timeout=int(timeout * 1000),
            enable_gzip=True,
            ssl_ca_cert=database.ca_file,
        )
        chatty.setLevel(before)

    def close(self) -> None:
        """Let go of the connections."""
        self._client.close()

    def write(self, lines: Sequence[str]) -> None:
        """Write lines with times in milliseconds; returns after the server has answered that it holds them."""
        answer = self._call(
            "/api/v2/write",
            "POST",
            query=[
                ("org", self._database.org),
                ("bucket", self._database.bucket),
                ("precision", WritePrecision.MS),
            ],
            headers={"Content-Type": "text/plain; charset=utf-8", "Content-Encoding": "identity"},
            body="\n".join(lines).encode(),
        )
        if answer[1] != HELD:
            raise self._nonsense()

    def ask(self, questions: Sequence[str]) -> list[Answer]:
        """The answers to InfluxQL questions, in their order; times in milliseconds."""
        return [answer for some in _in_portions(questions) for answer in self._ask(some)]

    def do(self, statement: str) -> None:
        """One InfluxQL statement that changes the server (version 1)."""
        self._results(self._query("POST", statement), 1)

    def version(self) -> str:
        """What the server calls its version: `1.6.7`, `v2.7.1`; empty when it does not say."""
        headers = self._sent("/ping", "GET", query=[], headers={})[2]
        return next((str(value) for name, value in headers.items() if name.lower() == "x-influxdb-version"), "")

    def guarded(self, call: Callable[[], T]) -> T:
        """One call of the client's own, its errors as ours."""
        try:
            return call()
        except ApiException as error:
            raise self._told(error) from error
        except (HTTPError, OSError) as error:
            raise StoreBusy(f"{self._name} does not answer ({_short(error)})") from error

    def _ask(self, questions: Sequence[str]) -> list[Answer]:
        # Version 2 takes questions as GET only; version 1 takes what changes something as POST only.
        results = self._results(self._query("GET", ";".join(questions)), len(questions))
        try:
            return [
                [(series.get("tags", {}), series.get("values", [])) for series in result.get("series", ())]
                for result in results
            ]
        except (AttributeError, TypeError) as error:
            raise self._nonsense() from error

    def _query(self, method: str, text: str) -> bytes:
        name, _, policy = self._database.bucket.partition("/")
        query = [("db", name), ("epoch", "ms")] + ([("rp", policy)] if policy else [])
        return self._call("/query", method, query=[*query, ("q", text)], headers={"Accept": "application/json"})[0]

    def _results(self, body: bytes, wanted: int) -> list[dict[str, Any]]:
        try:
            document = json.loads(body)
            results = sorted(document["results"], key=lambda result: result.get("statement_id", 0))
            wrong = next((result["error"] for result in results if "error" in result), None)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise self._nonsense() from error
        if wrong is not None:
            raise self._refused(str(wrong))
        if len(results) != wanted:
            raise self._nonsense()
        return results

    def _call(self, path: str, method: str, **what: Any) -> tuple[bytes, int]:
        data, status, _ = self._sent(path, method, **what)
        return data, status

    def _sent(
        self,
        path: str,
        method: str,
        *,
        query: Sequence[tuple[str, str]],
        headers: Mapping[str, str],
        body: bytes | None = None,
    ) -> tuple[bytes, int, Mapping[str, str]]:
        def call() -> tuple[bytes, int, Mapping[str, str]]:
            data, status, told = self._client.api_client.call_api(
                path,
                method,
                query_params=list(query),
                header_params=dict(headers),
                body=body,
                response_type=object,
                auth_settings=[],
                _preload_content=False,
                _return_http_data_only=False,
            )
            # Read to its end, or the connection would not be used again; an answer may also break off here.
            body_of_answer = bytes(data.data)
            data.release_conn()
            return body_of_answer, int(status), told

        return self.guarded(call)

    @property
    def _name(self) -> str:
        return f"the database at {self._database.url}"

    def _told(self, error: ApiException) -> StoreError:
        said = _reason(error)
        if "no space left" in said:
            return StoreFull(f"{self._name} has no room left on its disk: {said}")
        match error.status:
            case 401 | 403:
                return StoreBroken(f"{self._name} refuses the token for {self._database.bucket}: {said}")
            case 404:
                return StoreBroken(
                    f"{self._name} does not know {self._database.bucket} ({said}); `vermistat database set-up` makes it"
                )
            case 429 | 500 | 502 | 503 | 504:
                return StoreBusy(f"{self._name} asks for patience ({error.status}: {said})")
            case 413:
                return StoreBroken(f"{self._name} takes less in one write than Vermistat sends: {said}")
            case _:
                return StoreBroken(f"{self._name} refuses what it is sent ({error.status}: {said})")

    def _refused(self, said: str) -> StoreError:
        if "not found" in said or "not exist" in said:
            return StoreBroken(f"{self._name}: {said}; `vermistat database set-up` makes it")
        return StoreBroken(f"{self._name} refuses a question: {said}")

    def _nonsense(self) -> StoreError:
        return StoreBroken(f"{self._name} answers, but not as an InfluxDB does: look at its address")


def _in_portions(questions: Sequence[str]) -> Iterator[list[str]]:
    some: list[str] = []
    length = 0
    for question in questions:
        if some and length + len(question) > LONGEST:
            yield some
            some, length = [], 0
        some.append(question)
        length += len(question)
    if some:
        yield some


def _reason(error: ApiException) -> str:
    body = error.body.decode(errors="replace") if isinstance(error.body, bytes) else str(error.body or "")
    try:
        document = json.loads(body)
        body = str(document.get("message") or document.get("error") or body)
    except (ValueError, AttributeError):
        pass
    return " ".join(body.split())[:200] or str(error.reason or "no reason given")


def _short(error: Exception) -> str:
    return " ".join(str(error).split())[:160]
