"""Trying other limits takes a core for seconds: a process of its own does it, and the daemon's rounds never wait for that."""

import os
import signal
import sys
import threading
import time
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

import httpx2 as httpx
import pytest

from cli.keeping import NOW, Site
from cli.test_json_has_its_shape import full
from monitor import apart
from monitor.apart import LAST_IN_TURN, twice_apart
from monitor.errors import StoreError
from monitor.reports.replaying import twice
from monitor.settings import load
from monitor.settings.wishes import profiles_of, wish_of, wished
from monitor.store.sqlite import SqliteStore

ASKED = "/limits/try?limit=fig.temperature.comfort&value=18..29+°C"


@pytest.fixture
def lived(tmp_path):
    """A site that has lived: its settings, others, and its store, open as the daemon's is."""
    where = Site(tmp_path)
    full(where)
    settings = load([where.file], environ={})
    other = wished(
        settings, [wish_of("fig.temperature.comfort=18..29 °C", settings.rules, profiles_of(settings))], environ={}
    )
    store = SqliteStore(where.store_file)
    yield settings, other.settings.rules, store
    store.close()


def test_it_comes_to_the_same_as_here(lived):
    settings, others, store = lived
    here = twice(store, settings.rules, others, at=NOW, days=7, beds=["fig"])
    assert here.ours, "something was out of its limits"
    assert here == twice_apart(settings, others, at=NOW, days=7, beds=["fig"])


def test_no_address_goes_along(lived, monkeypatch):
    settings, others, _ = lived
    sent = []
    monkeypatch.setattr(apart, "_answer", lambda asked, _over: sent.append(asked))
    assert settings.channels
    twice_apart(settings, others, at=NOW, days=7, beds=["fig"])
    (asked,) = sent
    assert b"the-word-nobody-reads" not in asked


def test_where_its_store_cannot_be_read_it_says_so(lived, tmp_path):
    settings, others, _ = lived
    gone = replace(settings, store=tmp_path / "elsewhere.db")
    with pytest.raises(StoreError, match=r"elsewhere\.db is not there yet"):
        twice_apart(gone, others, at=NOW, days=7, beds=["fig"])


def test_where_the_other_process_breaks_its_last_word_is_told(lived, monkeypatch, tmp_path):
    settings, others, _ = lived
    (tmp_path / "monitor").mkdir()
    (tmp_path / "monitor/__init__.py").write_text('raise RuntimeError("the card has lost a file")')
    monkeypatch.setattr(sys, "path", [str(tmp_path)])
    with pytest.raises(StoreError, match="could not be judged once more: RuntimeError: the card has lost a file"):
        twice_apart(settings, others, at=NOW, days=7, beds=["fig"])


def test_who_no_longer_waits_ends_it(lived):
    settings, others, _ = lived
    with pytest.raises(StoreError, match="too long"):
        twice_apart(settings, others, at=NOW, days=7, beds=["fig"], over=lambda: True)
    assert [] == children()


def children():
    """Of each process that this one began and that still judges the past: its number, its niceness, and how readily it is given
    up where memory ends (proc(5)).
    """
    found = []
    for kept in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            of = kept.joinpath("stat").read_text().rpartition(")")[2].split()
            if int(of[1]) == os.getpid() and b"monitor.apart" in kept.joinpath("cmdline").read_bytes():
                found.append((int(kept.name), int(of[16]), int(kept.joinpath("oom_score_adj").read_text())))
    return found


@contextmanager
def each_child(seen):
    """`seen` is called with every look at them."""
    over = threading.Event()

    def look():
        while not over.is_set():
            for one in children():
                seen(*one)
            time.sleep(0.02)

    watching = threading.Thread(target=look)
    watching.start()
    try:
        yield
    finally:
        over.set()
        watching.join()


def test_where_memory_ends_it_is_given_up_and_says_what_to_do(lived):
    settings, others, _ = lived
    with (
        each_child(lambda pid, *_: os.kill(pid, signal.SIGKILL)),
        pytest.raises(StoreError, match="need more memory than there is, try fewer"),
    ):
        twice_apart(settings, others, at=NOW, days=7, beds=["fig"])


def test_the_page_asks_it_of_another_process_that_stands_back(house):
    seen = []
    with (
        each_child(lambda *one: seen.append(one[1:])),
        httpx.Client(base_url=house.address, timeout=120) as client,
    ):
        said = client.get(ASKED)
    assert (200, True) == (said.status_code, "What would be written" in said.text)
    assert (min(19, os.nice(0) + LAST_IN_TURN), 1000) == seen[-1]
    assert [] == children()
