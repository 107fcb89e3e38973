"""Trying limits takes a core for seconds: one is tried at a time, and who waits too long is told so."""

import time
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Lock

import pytest

from monitor.web.pages import trying
from web.test_the_api_is_what_it_says_it_is import client_of

ASKED = "/limits/try?limit=fig.temperature.comfort&value=18..29+°C"


@pytest.fixture
def client(tmp_path):
    found, store = client_of(tmp_path)
    yield found
    store.close()


def test_two_that_try_at_once_are_tried_one_after_the_other(client, monkeypatch):
    together, most, counting, really = 0, 0, Lock(), trying.try_it
    begins = Barrier(2)

    def counted(*args, **more):
        nonlocal together, most
        with counting:
            together += 1
            most = max(most, together)
        time.sleep(0.2)
        try:
            return really(*args, **more)
        finally:
            with counting:
                together -= 1

    def ask(_):
        begins.wait(20)
        return client.get(ASKED)

    monkeypatch.setattr(trying, "try_it", counted)
    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(ask, range(2)))
    assert [200, 200] == [one.status_code for one in answers]
    assert all("What would be written" in one.text for one in answers)
    assert 1 == most


def test_who_waits_too_long_is_told_when_to_come_back(client, monkeypatch):
    monkeypatch.setattr(trying, "WAITS", 0.05)
    with trying._ONE:
        busy = client.get(ASKED)
    assert 503 == busy.status_code
    assert "Try it again in a minute." in busy.text
    assert "18..29 °C" in busy.text, "what was typed stands there again"
    assert 200 == client.get(ASKED).status_code
