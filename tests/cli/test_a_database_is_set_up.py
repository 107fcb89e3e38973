"""`vermistat database set-up` on real servers, and on one that is told what version 2 documents.

Version 1: Debian's InfluxDB 1.6.7 [seen]. Version 2: no such server can be had here; a stand-in answers as its API is
documented (docs.influxdata.com/influxdb/v2/api/ [memory]), so that half proves our requests, not a server.
"""

import json
import threading
import urllib.parse
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from pydantic import TypeAdapter

from cli.keeping import Site
from cli.test_json_has_its_shape import strict
from monitor.reports.databasing import SetUpShape
from parts.influx import Influx, Victoria

SECRET = "ann:pass:word"


@pytest.fixture(scope="module")
def influx():
    with Influx(user=("ann", "pass:word")) as running:
        yield running


@pytest.fixture
def site(tmp_path):
    return Site(tmp_path)


def names(site, url, bucket="worms", *, token=SECRET, org=""):
    """Write a database into the site's settings."""
    (site.folder / "token").write_text(token)
    more = f", org: {org}" if org else ""
    text = site.file.read_text().split("\ndatabase:")[0]
    site.file.write_text(
        f'{text}\ndatabase: {{url: "{url}", bucket: {bucket}, token: {{from_file: token}}{more}}}\n'
    )


def called(site, capsys, *words):
    capsys.readouterr()
    code = site.call("database", "set-up", *words)
    out, errors = capsys.readouterr()
    return code, out, errors


def as_json(site, capsys, *words):
    code, out, errors = called(site, capsys, *words, "--json")
    assert "" == errors, errors
    facts = json.loads(out)
    TypeAdapter(strict(SetUpShape)).validate_python(facts, strict=True)
    return code, facts


def databases(influx):
    return [name for (name,) in influx.query("SHOW DATABASES")[0].get("values", [])]


def test_what_will_be_made_is_said_and_nothing_is_done_without_a_yes(influx, site, capsys):
    names(site, influx.address, "unasked")
    code, out, errors = called(site, capsys)
    assert (1, "") == (code, errors)
    assert "version 1.6.7" in out
    assert "the database unasked: will be made" in out
    assert "Nothing was done." in out
    code, facts = as_json(site, capsys)
    assert (1, False) == (code, facts["done"])
    assert "unasked" not in databases(influx)


@pytest.mark.parametrize(("bucket", "steps"), [("worms", 1), ("farm/always", 2)])
def test_it_is_made_proven_and_left_clean_and_a_second_time_changes_nothing(influx, site, capsys, bucket, steps):
    names(site, influx.address, bucket)
    code, facts = as_json(site, capsys, "--yes")
    assert (0, True, True, 0) == (code, facts["proven"], facts["trial_removed"], facts["keeps_seconds"])
    assert [(False, True)] * steps == [(s["there"], s["made"]) for s in facts["steps"]]
    name = bucket.partition("/")[0]
    assert name in databases(influx)
    assert [] == influx.query("SHOW SERIES", name)
    code, facts = as_json(site, capsys, "--yes")
    assert (0, [(True, False)] * steps) == (code, [(s["there"], s["made"]) for s in facts["steps"]])


def test_somebody_at_a_terminal_is_asked(influx, site, capsys, monkeypatch):
    names(site, influx.address, "asked")
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: "n")
    assert 1 == called(site, capsys)[0]
    assert "asked" not in databases(influx)
    monkeypatch.setattr("builtins.input", lambda _: "y")
    code, out, _ = called(site, capsys)
    assert (0, True) == (code, "the database asked: made" in out)


def test_a_database_that_forgets_is_told(influx, site, capsys):
    influx.query('CREATE DATABASE "short" WITH DURATION 30d')
    names(site, influx.address, "short")
    code, facts = as_json(site, capsys, "--yes")
    assert (0, 30 * 86_400) == (code, facts["keeps_seconds"])
    assert "it removes what is older than 30 days" in called(site, capsys, "--yes")[1]


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"token": "ann:guess"}, "refuses the token for worms"),
        ({"url": "http://127.0.0.1:9"}, "the database at http://127.0.0.1:9 does not answer"),
    ],
)
def test_a_wrong_token_or_address_is_told_in_a_sentence(influx, site, capsys, how, said):
    names(site, **({"url": influx.address} | how))
    code, out, errors = called(site, capsys, "--yes")
    assert (1, "") == (code, out)
    assert said in errors
    assert "guess" not in errors


def test_a_server_that_takes_everything_and_keeps_nothing_of_it_is_found_out(site, capsys):
    """VictoriaMetrics takes the lines with 204, and answers any question with something else [seen]."""
    with Victoria() as running:
        names(site, f"http://127.0.0.1:{running.port}")
        code, out, errors = called(site, capsys, "--yes")
    assert (1, "") == (code, out)
    assert "answered that it holds a test reading in worms, and does not give it back" in errors


def test_so_is_one_that_answers_every_write_with_204_and_one_that_is_a_page(influx, site, capsys):
    for said, told in (((204, b""), "not as an InfluxDB does"), ((200, b"<html>"), "not as an InfluxDB does")):
        influx.said = said
        try:
            names(site, influx.address)
            code, out, errors = called(site, capsys, "--yes")
        finally:
            influx.said = None
        assert (1, "", True) == (code, out, told in errors)


class Two:
    """What version 2 documents of buckets, mappings, writing and questions, in front of a version 1."""

    def __init__(self, influx):
        self.influx, self.buckets, self.mappings, self.asked = influx, {}, [], []

    @contextmanager
    def running(self):
        door = ThreadingHTTPServer(("127.0.0.1", 0), _two(self))
        threading.Thread(target=door.serve_forever, daemon=True).start()
        try:
            yield f"http://127.0.0.1:{door.server_address[1]}"
        finally:
            door.shutdown()
            door.server_close()


def _two(two):
    class Door(BaseHTTPRequestHandler):
        def _do(self):
            path, _, query = self.path.partition("?")
            asked = dict(urllib.parse.parse_qsl(query))
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            two.asked.append(f"{self.command} {path}")
            match self.command, path:
                case _, "/ping":
                    self._say(204, None)
                case "GET", "/api/v2/buckets":
                    found = two.buckets.get(asked["name"])
                    self._say(200, {"buckets": [found] if found else []})
                case "POST", "/api/v2/buckets":
                    wanted = json.loads(body)
                    made = {
                        "id": "b1",
                        "name": wanted["name"],
                        "orgID": "o1",
                        "retentionRules": wanted["retentionRules"],
                    }
                    two.buckets[wanted["name"]] = made
                    two.influx.query(f'CREATE DATABASE "{wanted["name"]}"')
                    self._say(201, made)
                case "GET", "/api/v2/orgs":
                    self._say(200, {"orgs": [{"id": "o1", "name": asked.get("org", "orchard")}]})
                case "GET", "/api/v2/dbrps":
                    self._say(200, {"content": two.mappings})
                case "POST", "/api/v2/dbrps":
                    two.mappings.append(json.loads(body) | {"id": "d1", "orgID": "o1"})
                    self._say(201, two.mappings[-1])
                case "POST", "/api/v2/write" if asked["bucket"] not in two.buckets:
                    self._say(404, {"code": "not found", "message": f'bucket "{asked["bucket"]}" not found'})
                case "POST", "/api/v2/write":
                    two.influx.write(asked["bucket"], body)
                    self._say(204, None)
                case "POST", "/api/v2/delete":
                    two.influx.query('DROP SERIES FROM "reading"', asked["bucket"])
                    self._say(204, None)
                case "GET", "/query" if two.mappings:
                    self._say(
                        200,
                        {"results": [{"statement_id": 0, "series": two.influx.query(asked["q"], asked["db"])}]},
                    )
                case _:
                    self._say(404, {"code": "not found", "message": "dbrp not found"})

        do_GET = do_POST = _do  # noqa: N815

        def _say(self, status, document):
            self.send_response(status)
            self.send_header("X-Influxdb-Version", "v2.7.1")
            body = b"" if document is None else json.dumps(document).encode()
            self.send_header("Content-Type", "application/json")
            if status != 204:
                self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_):
            pass

    return Door


def test_what_version_2_documents_is_asked_for_in_its_words(influx, site, capsys):
    two = Two(influx)
    with two.running() as url:
        names(site, url, "heap", token="long-token", org="orchard")
        code, facts = as_json(site, capsys, "--yes")
        assert (0, [True, True], True) == (code, [s["made"] for s in facts["steps"]], facts["trial_removed"])
        (mapping,) = two.mappings
        assert ("b1", "heap", "autogen", True) == tuple(
            mapping[key] for key in ("bucketID", "database", "retention_policy", "default")
        )
        assert [] == two.buckets["heap"]["retentionRules"]
        two.asked.clear()
        code, facts = as_json(site, capsys, "--yes")
        assert (0, [True, True]) == (code, [s["there"] for s in facts["steps"]])
        assert [] == [one for one in two.asked if one in ("POST /api/v2/buckets", "POST /api/v2/dbrps")]
