"""A program says the passphrase with each question, where one is asked for; without it, it is told what is missing."""

import http.client
from urllib.parse import urlsplit

import httpx2 as httpx
import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from monitor.addresses import Asking, Page, Secret
from parts.paged import BINS, ENVIRON, paged
from web.test_the_api_is_what_it_says_it_is import client_of

WORD = ENVIRON["PAGE_PASSPHRASE"]
SAID = {"authorization": f"Bearer {WORD}"}
PASSPHRASE = "passphrase: {from_env: PAGE_PASSPHRASE}"
ADDRESSES = ["/api/now", "/api/description.json", "/api/nothing", "/metrics"]
ANSWER = "/api/alarms/1/seen"


@pytest.fixture(scope="module")
def closed(tmp_path_factory):
    """A page that asks for the passphrase of whoever looks."""
    with paged(tmp_path_factory.mktemp("closed"), page=PASSPHRASE) as one:
        yield one


@pytest.mark.parametrize("path", ADDRESSES)
@pytest.mark.parametrize("headers", [{}, {"authorization": "Bearer wrong"}, {"authorization": f"Basic {WORD}"}])
def test_nothing_is_told_without_it_and_what_is_missing_is_said(closed, path, headers):
    answer = httpx.get(closed.address + path, headers=headers)
    assert (401, "application/problem+json", 'Bearer realm="vermistat"') == (
        answer.status_code, answer.headers["content-type"], answer.headers["www-authenticate"],
    )  # fmt: skip
    assert "fig" not in answer.text.lower()
    assert "Authorization: Bearer" in answer.json()["detail"]


def test_with_it_everything_is_told(closed):
    assert [200, 200, 404, 200] == [
        httpx.get(closed.address + path, headers=SAID).status_code for path in ADDRESSES
    ]
    told = httpx.get(closed.address + "/metrics", headers=SAID).text
    assert "vermistat_rounds" in {family.name for family in text_string_to_metric_families(told)}
    described = httpx.get(closed.address + "/api/description.json", headers=SAID).json()
    assert [{"passphrase": []}] == described["security"]


def test_it_opens_no_page_for_people(closed):
    """There the cookie counts, so that a page cannot be reached by what a program has."""
    assert 303 == httpx.get(closed.address + "/", headers=SAID, follow_redirects=False).status_code


def test_where_only_acting_asks_for_it_anybody_reads_and_nobody_acts_without(tmp_path):
    client, store = client_of(tmp_path, page=Page(passphrase=Secret(WORD), asks_for=Asking.ACTING))
    try:
        assert 200 == client.get("/api/now").status_code
        assert 401 == client.post("/api/alarms/2/seen", json={"who": "ana"}).status_code
        assert [] == store.asked()
        assert 202 == client.post("/api/alarms/2/seen", json={"who": "ana"}, headers=SAID).status_code
        assert ["seen"] == [request.what for request in store.asked()]
    finally:
        store.close()


def test_a_passphrase_beyond_ascii_is_known_as_it_is_sent(tmp_path):
    client, store = client_of(tmp_path, page=Page(passphrase=Secret("Blätter im Öl")))
    try:
        said = {b"authorization": "Bearer Blätter im Öl".encode()}
        assert [401, 200] == [client.get("/api/now", headers=h).status_code for h in ({}, said)]
    finally:
        store.close()


def test_without_a_passphrase_in_the_settings_nothing_is_asked_for(house):
    assert 200 == httpx.get(house.address + "/api/now").status_code
    assert [] == httpx.get(house.address + "/api/description.json").json()["security"]


@pytest.mark.parametrize(
    ("headers", "status"), [({"Host": "elsewhere.example"}, 400), ({"Sec-Fetch-Site": "cross-site"}, 403)]
)
def test_a_strange_name_and_another_page_are_refused_as_problem_details(house, headers, status):
    where = urlsplit(house.address)
    link = http.client.HTTPConnection(where.hostname, where.port, timeout=30)
    link.request("POST", ANSWER, body=b"{}", headers={"Content-Type": "application/json", **headers})
    answer = link.getresponse()
    assert (status, "application/problem+json") == (answer.status, answer.headers["content-type"])
    link.close()


def test_an_alarm_is_seen_by_a_program_and_the_round_takes_it_up(tmp_path):
    harm = "    limits: {temperature: {harm: [{below: 9 °C, lasting: 0 min}]}}\n    zones:\n      bed:"
    with paged(tmp_path, bins=BINS.replace("    zones:\n      bed:", harm)) as one:
        one.say("probes/plum-bed", "5.25")
        one.until(lambda store: store.load().alarms, "an alarm stands")
        number = httpx.get(one.address + "/api/alarms").json()["alarms"][0]["number"]
        answer = httpx.post(
            f"{one.address}/api/alarms/{number}/seen", json={"who": "ana", "note": "blankets"}, timeout=60
        )
        assert answer.status_code in (200, 202), answer.text
        one.until(lambda store: store.load().alarms[0].state == "acknowledged", "it is acknowledged")
        story = httpx.get(f"{one.address}/api/alarms/{number}").json()
        assert ("ana", "blankets") == (story["steps"][-1]["who"], story["steps"][-1]["note"])
