"""Every address of `/api/` is described, every answer of it is what the description says, and every refusal as well.

The description is read by openapi-spec-validator, answers are held to its schemas by jsonschema: neither is ours.
"""

import json
import re
from typing import TypedDict

import pytest
from jsonschema import Draft202012Validator, FormatChecker, ValidationError
from openapi_spec_validator import OpenAPIV31SpecValidator
from openapi_spec_validator.validation.exceptions import OpenAPIValidationError
from starlette.testclient import TestClient

from cli.keeping import NOW, Site
from cli.test_json_has_its_shape import full
from monitor.addresses import Page
from monitor.clock import WallClock
from monitor.reports.shapes import NowShape
from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from monitor.web.api_facts import ADDRESSES
from monitor.web.describing import Schemas
from monitor.web.desk import Desk
from monitor.web.pages.api import ROUTES
from monitor.web.site import site

WAYS = {"get", "put", "post", "delete", "options", "head", "patch", "trace"}
PATHS = {
    "bin": "fig", "number": "1", "probe": "fig-west", "key": "eudrilus-eugeniae",
}  # fmt: skip
NUMBERS = {"/api/alarms/{number}/seen": "2", "/api/alarms/{number}/done": "2", "/api/alarms/{number}/later": "2"}
QUERIES = {
    "/api/alarms/journal": "?since=2026-11-20T00:00:00Z&bin=fig",
    "/api/alarms/review": "?days=7",
    "/api/probes": "?bin=fig",
    "/api/probes/{probe}/readings": "?since=2026-11-24T12:00:00%2B00:00&until=2026-11-25T12:00:00Z",
    "/api/diary": "?since=2026-11-20T00:00:00Z",
    "/api/notices": "?days=2.5&person=ana",
    "/api/week": "?of=2026-11-25",
}


def client_of(folder, *, units="metric", filled=True, now=NOW, page=None):
    """A client of the page of a site that has lived; its store is open as the daemon's is."""
    where = Site(folder, units=units)
    if filled:
        full(where)
    else:
        with where.lived():
            pass
    settings = load([where.file], environ={})
    store = SqliteStore(where.store_file)
    desk = Desk(settings, store=store, now=lambda: now)
    desk.soon = lambda _request, within=0.0: False  # no round runs here
    return TestClient(
        site(desk, page or Page(), key=bytes(32)), base_url="http://127.0.0.1", raise_server_exceptions=False
    ), store


@pytest.fixture(scope="module")
def here(tmp_path_factory):
    client, store = client_of(tmp_path_factory.mktemp("api"))
    yield client
    store.close()


@pytest.fixture(scope="module")
def told(here):
    """The description."""
    answer = here.get("/api/description.json")
    assert (200, "application/json") == (answer.status_code, answer.headers["content-type"])
    return answer.json()


def fits(facts, schema, told):
    whole = {**schema, "components": told["components"]}
    Draft202012Validator(whole, format_checker=FormatChecker()).validate(facts)


def held(answer, told, path, way="get"):
    """Hold an answer to the description of its address."""
    described = told["paths"][path][way]["responses"]
    assert str(answer.status_code) in described, (path, way, answer.status_code, answer.text)
    (kind,) = described[str(answer.status_code)]["content"]
    assert kind == answer.headers["content-type"].partition(";")[0]
    fits(answer.json(), described[str(answer.status_code)]["content"][kind]["schema"], told)
    return answer.json()


def address(path):
    filled = path.replace("{number}", NUMBERS.get(path, "1"))
    return re.sub(r"\{(\w+)\}", lambda m: PATHS[m[1]], filled) + QUERIES.get(path, "")


def test_the_description_is_a_valid_one(told):
    assert "3.1.0" == told["openapi"]
    OpenAPIV31SpecValidator(told).validate()


def test_a_description_that_is_none_is_found_out(told):
    broken = json.loads(json.dumps(told))
    broken["paths"]["/api/now"]["get"]["responses"]["200"].pop("description")
    with pytest.raises(OpenAPIValidationError):
        OpenAPIV31SpecValidator(broken).validate()


def test_every_address_is_described_and_no_other(told):
    served = {
        (route.path, method)
        for route in ROUTES
        for method in getattr(route, "methods", None) or ()
        if route.path.startswith("/api") and method != "HEAD"
    }
    beside = {(p, m) for p, m in served if p in ("/api/description.json", "/api/{rest:path}")}
    described = {(path, way.upper()) for path, ways in told["paths"].items() for way in ways if way in WAYS}
    assert described == served - beside
    assert len(described) == len(ADDRESSES)


@pytest.mark.parametrize("path", [one.path for one in ADDRESSES if one.method == "GET"])
@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("filled", [True, False], ids=["full", "empty"])
def test_every_answer_is_what_the_description_says(tmp_path, path, units, filled):
    client, store = client_of(tmp_path, units=units, filled=filled)
    try:
        answer = client.get(address(path))
        assert (200 if filled or "{number}" not in path else 404) == answer.status_code, answer.text
        held(answer, client.get("/api/description.json").json(), path)
    finally:
        store.close()


def test_every_string_that_is_a_time_is_called_one_and_no_other(here, told):
    """Formats are not only claimed: whatever looks like a time has the format, and the checker has looked at the rest."""
    strict = json.loads(json.dumps(told).replace('"type": "string", "format"', '"type":"string","format"'))
    for schema in strict["components"]["schemas"].values():
        for found in schema["properties"].values():
            for one in found.get("anyOf", [found]):
                if one == {"type": "string"}:
                    one["not"] = {"pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"}
    for one in ADDRESSES:
        if one.method == "GET":
            held(here.get(address(one.path)), strict, one.path)


def test_it_says_what_the_commands_say(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(WallClock, "now", lambda _clock: NOW)
    client, store = client_of(tmp_path)
    with_command = Site.__new__(Site)
    with_command.file = tmp_path / "vermistat.yaml"
    with_command.folder = tmp_path
    pairs = [
        ("/api/now", ("now",)),
        ("/api/alarms", ("alarms",)),
        ("/api/alarms/1", ("why", "1")),
        ("/api/probes", ("probes",)),
        ("/api/diary", ("diary",)),
        ("/api/notices", ("notices",)),
        ("/api/species", ("species",)),
        ("/api/care", ("care",)),
        ("/api/learned", ("learned",)),
        ("/api/week?of=2026-11-24", ("week", "--of", "2026-11-24")),
        ("/api/week", ("week",)),
        ("/api/alarms/review?days=7", ("alarms", "--review", "--days", "7")),
    ]
    try:
        answers = [client.get(path).json() for path, _ in pairs]
    finally:
        store.close()
    assert [with_command.tells(capsys, *words) for _, words in pairs] == answers


def test_limits_say_whose_they_are_and_where_they_are_changed(here):
    found = here.get("/api/limits").json()["holdings"]
    lows = {
        one["subject"]: next(n for n in one["limits"] if n["level"] == "comfort" and n["below"])
        for one in found
        if one["measures"] == "temperature" and one["subject"] in ("bin:fig", "bin:plum")
    }
    assert [(22, "the bin"), (10, "the species")] == [(n["value"], n["said_by"]) for n in lows.values()]
    assert "bins.fig.limits.temperature.comfort" == lows["bin:fig"]["to_change"]
    assert re.fullmatch(r"vermistat\.yaml:\d+", lows["bin:fig"]["written"])
    assert "" == lows["bin:plum"]["written"] != lows["bin:plum"]["source"]


def test_readings_are_those_that_are_kept_as_they_are_judged(here):
    found = here.get(address("/api/probes/{probe}/readings")).json()
    assert ("fig-west", "2026-11-24T12:00:00Z", "2026-11-25T12:00:00Z") == (
        found["probe"], found["since"], found["until"],
    )  # fmt: skip
    assert len(found["readings"]) > 10
    assert sorted(r["at"] for r in found["readings"]) == [r["at"] for r in found["readings"]]
    last_day = here.get("/api/probes/fig-west/readings").json()
    assert found["readings"] == last_day["readings"]


REFUSED = [
    ("/api/nothing", 404, "There is nothing at this address; /api/description.json tells of all there are."),
    ("/api/bins/elm", 404, "The settings know no bin of that name."),
    ("/api/alarms/99", 404, "No alarm has had the number 99 so far."),
    ("/api/alarms/none", 404, "`number` is a number from 1 on."),
    ("/api/alarms/0", 404, "`number` is a number from 1 on."),
    ("/api/notices/999", 404, "There is no notice 999."),
    ("/api/notices?person=zoe", 404, "The settings know nobody of that name."),
    ("/api/notices?days=-1", 400, "`days` is a number of days above 0."),
    ("/api/alarms/review?days=0.5", 400, "`days` is a whole number up to 366."),
    ("/api/probes?bin=elm", 404, "The settings know no bin of that name."),
    ("/api/probes/elm/readings", 404, "The settings know no probe of that name."),
    ("/api/probes/fig-west/readings?since=2026-11-01T00:00:00Z", 400, "`since` comes before `until`, by seven days at most."),
    ("/api/probes/fig-west/readings?since=yesterday", 400,
     "`since` is a time with its offset, such as 2026-11-25T02:10:00Z (in an address + is written %2B)."),
    ("/api/diary?since=2026-11-20T00:00:00", 400,
     "`since` is a time with its offset, such as 2026-11-25T02:10:00Z (in an address + is written %2B)."),
    ("/api/week?of=monday", 400, "`of` is a day, such as 2026-11-20."),
    ("/api/week?of=2026-13-01", 400, "`of` is a day, such as 2026-11-20."),
    ("/api/week?of=9999-12-31", 400, "`of` is a day, such as 2026-11-20."),
    ("/api/week?of=2026-12-25", 400, "That week has not begun yet."),
    ("/api/diary?until=2026-11-20T00:00:00Z", 400, "There is no `until` to ask for here."),
    ("/api/diary?bin=fig&bin=plum", 400, "`bin` stands twice."),
    ("/api/now?<b>=1", 400, "There is no `?b?` to ask for here."),
    ("/api/species/lumbricus", 404, "No species of that key is known here: "),
]  # fmt: skip


@pytest.mark.parametrize(("path", "status", "detail"), REFUSED, ids=[p for p, *_ in REFUSED])
def test_what_cannot_be_answered_is_said_as_problem_details(here, told, path, status, detail):
    answer = here.get(path)
    assert (status, "application/problem+json") == (answer.status_code, answer.headers["content-type"])
    assert answer.json()["detail"].startswith(detail)
    fits(answer.json(), {"$ref": "#/components/schemas/Problem"}, told)
    assert status == answer.json()["status"]


def test_an_address_says_which_ways_it_takes(here):
    answer = here.post("/api/now", json={})
    assert (405, "GET, HEAD", "application/problem+json") == (
        answer.status_code, answer.headers["allow"], answer.headers["content-type"],
    )  # fmt: skip
    assert "POST" == here.get("/api/alarms/1/seen").headers["allow"]
    assert 200 == here.head("/api/now").status_code


def test_what_breaks_is_said_without_its_inside_and_the_rest_goes_on(tmp_path, caplog):
    client, store = client_of(tmp_path)
    store.close()
    answer = client.get("/api/now")
    assert answer.status_code in (500, 503)
    assert "application/problem+json" == answer.headers["content-type"]
    assert "sqlite" not in answer.text.lower()
    assert "could not be answered" in caplog.text


# ── answers ───────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture
def asking(tmp_path):
    client, store = client_of(tmp_path)
    for request in store.asked():
        assert request
    yield client, store
    store.close()


@pytest.mark.parametrize(
    ("what", "body"),
    [
        ("seen", {"who": "ana"}),
        ("done", {"who": "ben", "note": "two blankets"}),
        ("later", {"who": "ana"}),
        ("later", {"who": "ana", "until": "2026-11-25T14:00:00Z", "note": "after lunch"}),
    ],
)
def test_an_answer_is_left_for_the_next_round_as_the_commands_leave_it(asking, what, body):
    client, store = asking
    answer = client.post(f"/api/alarms/2/{what}", json=body)
    assert 202 == answer.status_code, answer.text
    found = held(answer, client.get("/api/description.json").json(), f"/api/alarms/{{number}}/{what}", "post")
    (left,) = store.asked()
    assert (what, 2, body["who"], body.get("note", "")) == (left.what, left.alarm, left.who, left.note)
    assert (left.id, what) == (found["request"], found["what"])
    assert body.get("until") in (None, found["until"])


def test_an_answer_that_a_round_has_taken_up_says_so(asking):
    client, _ = asking
    client.app.state.desk.soon = lambda _request: True
    assert 200 == client.post("/api/alarms/2/seen", json={"who": "ana"}).status_code


WRONG = [
    ("/api/alarms/99/seen", {"who": "ana"}, 404, "No alarm has had the number 99 so far."),
    ("/api/alarms/2/seen", {}, 422, "Say who you are in `who`: ana, ben."),
    ("/api/alarms/2/seen", {"who": "zoe"}, 422, "The settings know nobody called zoe; known are ana, ben."),
    ("/api/alarms/2/done", {"who": "ana", "note": "x" * 1001}, 422, "At most 1000 characters are kept at once"),
    ("/api/alarms/2/later", {"who": "ana", "until": "2026-11-25T01:00:00Z"}, 422, "That time is over; name one that is"),
    ("/api/alarms/2/later", {"who": "ana", "until": "soon"}, 400, "`until` is a time with its offset"),
    ("/api/alarms/2/seen", {"who": "ana", "until": "2026-11-25T14:00:00Z"}, 400, "There is no `until` in what may be sent"),
    ("/api/alarms/2/seen", {"who": 1}, 400, "Send a JSON object of texts."),
    ("/api/alarms/2/seen", ["ana"], 400, "Send a JSON object of texts."),
    ("/api/alarms/2/seen", {"who": "ana", "note": "x" * 20_000}, 413, "At most 16384 bytes."),
]  # fmt: skip


@pytest.mark.parametrize(("path", "body", "status", "detail"), WRONG, ids=[d[:24] for *_, d in WRONG])
def test_an_answer_that_cannot_be_is_refused_and_nothing_is_left(asking, path, body, status, detail):
    client, store = asking
    answer = client.post(path, json=body)
    pattern = re.sub(r"\d+", "{number}", path)
    found = held(answer, client.get("/api/description.json").json(), pattern, "post")
    assert (status, True) == (answer.status_code, found["detail"].startswith(detail)), found
    assert [] == store.asked()


@pytest.mark.parametrize("kind", [None, "text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_what_a_form_of_another_page_could_send_is_refused(asking, kind):
    """Cross-site forms can send these three kinds and no other without asking first (Fetch, CORS-safelisted)."""
    client, store = asking
    headers = {} if kind is None else {"content-type": kind}
    answer = client.post("/api/alarms/2/seen", content=b'{"who": "ana"}', headers=headers)
    assert (415, []) == (answer.status_code, store.asked())


def test_no_answer_lets_another_page_read_it(here):
    answer = here.get("/api/now", headers={"origin": "https://elsewhere.example"})
    assert "access-control-allow-origin" not in answer.headers
    assert "no-store" == answer.headers["cache-control"]


def test_broken_json_is_refused(asking):
    client, store = asking
    for body in (b"{", b"\xff", b"[" * 10_000):
        answer = client.post("/api/alarms/2/seen", content=body, headers={"content-type": "application/json"})
        assert (400, "That is not JSON.", []) == (answer.status_code, answer.json()["detail"], store.asked())


# ── schemas ───────────────────────────────────────────────────────────────────────────────────────────────────


def spoilt(facts):
    yield {**facts, "more": 1}
    yield {key: value for key, value in facts.items() if key != "to_do"}
    yield {**facts, "watching": "yes"}
    yield {**facts, "at": "noon"}
    yield {**facts, "bins": [{**facts["bins"][0], "name": None}]}


def test_an_answer_that_does_not_fit_is_found_out(here, told):
    wrong = list(spoilt(here.get("/api/now").json()))
    for facts in wrong:
        with pytest.raises(ValidationError):
            fits(facts, {"$ref": "#/components/schemas/Now"}, told)
    assert 5 == len(wrong)


def test_a_type_without_a_schema_is_no_shape():
    with pytest.raises(TypeError):
        Schemas().of(bytes)
    assert {"$ref": "#/components/schemas/Now"} == Schemas().of(NowShape)


def test_two_shapes_of_one_name_have_a_schema_each():
    one, other = TypedDict("RangeShape", {"low": float}), TypedDict("RangeShape", {"high": float})
    other.__module__ = "monitor.reports.bed_shapes"
    schemas = Schemas()
    assert ["#/components/schemas/Range", "#/components/schemas/BedShapesRange"] == [
        schemas.of(kind)["$ref"] for kind in (one, other)
    ]
    assert [["low"], ["high"]] == [list(found["properties"]) for found in schemas.found.values()]
    assert schemas.of(one) == schemas.of(one)
