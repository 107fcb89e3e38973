"""What is taken up when the files change: as a whole between two rounds, later when the store fails, or not at all."""

import os

import pytest

from monitor.changing import Changing, begin, taking_of
from monitor.errors import StoreFull
from monitor.settings import load
from monitor.settings.watching import Watch
from monitor.store.memory import MemoryStore

TEXT = """\
site: {id: porch}
broker: {url: mqtt://localhost:1883}
bins:
  fig:
    species: eisenia-fetida
    limits: {temperature: {comfort: 15..25 °C}}
    zones: {middle: {probes: {fig-middle: {measures: temperature, topic: probes/fig-middle}}}}
people: {ana: {channels: phone}}
channels: {phone: {send_to: {from_env: PHONE}}}
"""
SECRET = "json://nobody.invalid/a-word-that-opens"


class Porch:
    """Settings in a file, the store, and everything that is done when they change."""

    def __init__(self, folder, store=None):
        self.file = folder / "vermistat.yaml"
        self.file.write_text(TEXT)
        self.store = store or MemoryStore()
        self.used, self.topics, self.ready = [], [], True
        first = self.load()
        self.changing = Changing(
            first,
            store=self.store,
            now=lambda: 1000,
            change=self.change,
            use=lambda settings, taken: self.used.append((settings.rules.version, taken.number)),
            begun=begin(first, self.store, at=0) is not None,
            watch=Watch(first, load=self.load, settle=lambda _: None),
        )

    def load(self):
        return load([self.file], environ={"PHONE": SECRET})

    def change(self, settings, put):
        if not self.ready:
            raise StoreFull("what is in hand is not kept yet")
        put()
        self.topics.append([p.source.topic for p in settings.rules.probes().values()])

    def edit(self, *pairs):
        text = self.file.read_text()
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new)
        beside = self.file.with_suffix(".new")
        beside.write_text(text)
        os.replace(beside, self.file)
        return self

    def look(self):
        self.changing.look()
        return self

    @property
    def number(self):
        return self.store.in_force().number


@pytest.fixture
def porch(tmp_path):
    return Porch(tmp_path)


def test_nothing_happens_while_nothing_changes(porch):
    porch.look().look()
    assert (1, [], None) == (porch.number, porch.used, porch.changing.refused)


def test_a_change_is_recorded_read_by_and_judged_by(porch):
    porch.edit(("15..25", "16..25"), ("probes/fig-middle", "probes/other")).look()
    assert [(porch.load().rules.version, 2)] == porch.used
    assert [["probes/other"]] == porch.topics
    assert [(15.0, 16.0, "vermistat.yaml:6")] == [
        (a.old, a.new, a.written) for a in porch.store.taken_up()[-1].amendments
    ]
    assert "16..25" in porch.store.in_force().files[0][1]


def test_a_change_back_is_the_first_version_again_and_recorded_anew(porch):
    porch.edit(("15..25", "16..25")).look().edit(("16..25", "15..25")).look()
    assert [1, 2, 1] == [row.number for row in porch.store.taken_up()]
    assert [(15.0, 16.0), (16.0, 15.0)] == [
        (a.old, a.new) for row in porch.store.taken_up() for a in row.amendments
    ]


def test_a_comment_is_a_version_that_changes_no_limit(porch):
    porch.edit(("bins:", "# mine\nbins:")).look()
    assert (2, ()) == (porch.number, porch.store.taken_up()[-1].amendments)


def test_what_is_refused_changes_nothing_and_says_why_until_it_is_mended(porch):
    porch.edit(("15..25 °C", "25..15 °C"), ("eisenia", "eisena")).look().look()
    said = porch.changing.refused
    assert said.startswith("the changed settings are not in force, the earlier ones stay: ")
    assert "vermistat.yaml:5:14: 'eisena-fetida' is no species we know." in said
    assert said.endswith("(and 1 more)")
    assert (1, []) == (porch.number, porch.used)
    porch.edit(("25..15", "15..26"), ("eisena", "eisenia")).look()
    assert (2, None) == (porch.number, porch.changing.refused)


def test_mending_by_taking_the_change_back_needs_no_new_version(porch):
    porch.edit(("15..25", "25..15")).look().edit(("25..15", "15..25")).look()
    assert (1, None) == (porch.number, porch.changing.refused)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("localhost:1883", "localhost:1884", "broker.url"),
        ("id: porch", "id: yard", "site.id"),
        ("bins:", "store: {path: kept.db}\nbins:", "store.path"),
        ("{url: mqtt://localhost:1883}", "{url: mqtt://localhost:1883, user: me}", "broker.user"),
        ("{url: mqtt://localhost:1883}", '{url: mqtt://localhost:1883, protocol: "5"}', "broker.protocol"),
        ("{url: mqtt://localhost:1883}", "{url: mqtt://localhost:1883, client_id: me}", "broker.client_id"),
    ],
)
def test_what_needs_a_restart_is_said_and_the_whole_waits(porch, old, new, key):
    porch.edit((old, new), ("15..25", "16..25")).look()
    assert f"`{key}` cannot change while Vermistat runs. Restart Vermistat" in porch.changing.refused
    assert (1, []) == (porch.number, porch.used)


def test_what_is_in_hand_comes_first(porch):
    porch.ready = False
    porch.edit(("15..25", "16..25")).look().look()
    assert (1, [], None) == (porch.number, porch.used, porch.changing.refused)
    porch.ready = True
    porch.look()
    assert 2 == porch.number


class Failing(MemoryStore):
    full = False

    def take_up(self, taking):
        if self.full:
            raise StoreFull("the disk is full")
        return super().take_up(taking)


def test_a_store_that_does_not_take_it_is_asked_again_each_round(tmp_path):
    porch = Porch(tmp_path, Failing())
    porch.store.full = True
    porch.edit(("15..25", "16..25")).look().look()
    assert (1, []) == (porch.number, porch.used)
    porch.store.full = False
    porch.look()
    assert (2, 1) == (porch.number, len(porch.used))


def test_settings_that_could_not_be_recorded_at_the_start_are_recorded_by_a_later_round(tmp_path):
    store = Failing()
    store.full = True
    porch = Porch(tmp_path, store)
    assert porch.look().store.in_force() is None
    store.full = False
    assert 1 == porch.look().number
    assert 1 == len(porch.used)


def test_a_fault_of_ours_stops_no_round_and_is_told(porch, monkeypatch):
    monkeypatch.setattr("monitor.changing.outline", lambda *_: 1 / 0)
    porch.edit(("15..25", "16..25")).look()
    assert (
        "they could not be taken up (ZeroDivisionError), which is a fault of this program"
        in porch.changing.refused
    )
    monkeypatch.undo()
    porch.edit(("16..25", "17..25")).look()
    assert (2, None) == (porch.number, porch.changing.refused)


def test_no_secret_is_kept_with_the_files(porch):
    porch.edit(("bins:", f"# {SECRET} a-word-that-opens\nbins:")).look()
    kept = porch.store.in_force().files[0][1]
    assert "a-word-that-opens" not in kept
    assert "eisenia-fetida" in kept


def test_the_same_settings_at_the_next_start_are_the_same_version(porch):
    again = begin(porch.load(), porch.store, at=99)
    assert (1, 0) == (again.number, again.at)
    assert () == taking_of(porch.load(), porch.store, at=99).amendments
