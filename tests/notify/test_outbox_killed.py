"""Killed with −9 between sending and marking: heard twice at most, never not at all."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.store.sqlite import SqliteStore
from parts import outbox_child
from parts.posting import leave, letter, states
from parts.webhook import Webhook

ROOT = Path(__file__).parents[2]


@pytest.fixture
def hook():
    with Webhook() as hook:
        yield hook


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "kept.db"
    store = SqliteStore(path)
    leave(store, letter(1, "phone"))
    store.close()
    return path


def child(path, hook, mode):
    return subprocess.Popen(
        [sys.executable, outbox_child.__file__, path, hook.url(), mode],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def killed_when_it_says(words, path, hook, mode):
    with child(path, hook, mode) as process:
        assert words == process.stdout.readline().strip()
        process.kill()
        assert -9 == process.wait(60)


def after_a_restart(path, hook):
    """How often the notice was heard in all, and what the store says of it."""
    with child(path, hook, "plain") as process:
        assert 0 == process.wait(60)
    store = SqliteStore(path)
    found = states(store)
    store.close()
    return hook.arrived.qsize(), found


def test_killed_between_sending_and_marking_it_is_heard_again_after_the_restart(path, hook):
    killed_when_it_says("sent, not marked", path, hook, "pauses-after-sending")
    assert 1 == hook.arrived.qsize()
    assert (2, {(1, "phone"): "sent"}) == after_a_restart(path, hook)


def test_not_killed_it_is_heard_once(path, hook):
    assert (1, {(1, "phone"): "sent"}) == after_a_restart(path, hook)


def test_control_marking_before_sending_would_lose_it(path, hook):
    killed_when_it_says("marked, not sent", path, hook, "marks-first")
    assert (0, {(1, "phone"): "sent"}) == after_a_restart(path, hook)
