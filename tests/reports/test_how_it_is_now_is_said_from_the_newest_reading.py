"""`now` looks no further back than it must, and says the same as whoever looks back as far as the checks do."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.advice.present import present
from monitor.readings import MINUTE, Measures, Quality, Reading
from monitor.reports.probes import doubt, heard, heard_now, value_facts
from monitor.reports.saying import Saying, value_words
from monitor.rules import Bin, Place, Point, Probe, Role, Rules, Site, Source, Unit, Units, Zone
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.kept import moved_often

NOW = 1_768_400_000_000
SOURCE = Source("probes/x", Unit.CELSIUS)
PROBES = (
    Probe("often", Measures.TEMPERATURE, SOURCE, every=MINUTE),
    Probe("seldom", Measures.TEMPERATURE, SOURCE),
    Probe("damp", Measures.MOISTURE, SOURCE, calibration=(Point(2700, 12), Point(1450, 80))),
    Probe("moved", Measures.TEMPERATURE, SOURCE, since=NOW - 20 * MINUTE),
)
ZONES = tuple(Zone(probe.id, Role.LIVING, (probe,), {}) for probe in PROBES)
RULES = Rules(
    Site("farm", "Farm"), {"shed": Place("shed", "Shed")}, {"fig": Bin("fig", "Fig", (), "shed", ZONES, {})}
)
SAYING = Saying(RULES, NOW)


@st.composite
def readings(draw):
    """As they are received: what is ahead or early lies later than its arrival, everything else does not."""
    received_at = NOW - draw(st.integers(0, 400)) * MINUTE
    quality = draw(st.sampled_from([*Quality, *[Quality.GOOD] * 8]))
    apart = draw(st.integers(0, 300)) * MINUTE
    at = received_at + apart if quality in (Quality.AHEAD, Quality.EARLY) else received_at - apart % (3 * MINUTE)
    value = draw(st.sampled_from([21.0, 1500.0, 2690.0, 9000.0]))
    return Reading(draw(st.sampled_from([p.id for p in PROBES])), at, value, received_at, quality)


def said(known):
    memory = {name: one.memory for name, one in known.items()}
    return (
        {name: (value_facts(one, SAYING), doubt(one, SAYING), one.newest) for name, one in known.items()},
        [present(zone, memory, NOW) for zone in ZONES],
    )


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.lists(readings(), max_size=40))
def test_the_same_is_said_as_from_all_that_the_checks_remember(kept):
    store = MemoryStore()
    store.keep(Batch(kept))
    assert said(heard(store, PROBES)) == said(heard_now(store, PROBES, NOW))


@pytest.mark.parametrize("count", [1, 2, 50])
def test_who_only_reads_the_file_sees_the_newest_that_its_writer_sees(tmp_path, monkeypatch, count):
    """In both tables, what came late into either included."""
    moved_often(monkeypatch)
    store = SqliteStore(tmp_path / "farm.db")
    for turn, minute in enumerate((5, 9, 1, 7, 3)):
        found = [Reading(p.id, NOW - (minute + n) * MINUTE, 20.0 + turn, NOW) for n, p in enumerate(PROBES[:3])]
        store.keep(Batch(found))
    reader = SqliteStore(tmp_path / "farm.db", read_only=True)
    names = [p.id for p in PROBES]
    newest = {name: store.latest(name, count) for name in names}
    assert [min(count, 5)] * 3 + [0] == [len(found) for found in newest.values()]
    for one in (store, reader):
        assert newest == one.latest_of(names, count)
        assert {"damp": newest["damp"]} == one.latest_of(["damp"], count)
    reader.close()
    store.close()


@pytest.mark.parametrize(
    ("value", "said"),
    [(64.2299, "64.23"), (0.0123456, "0.01235"), (2137.0, "2137"), (31254.6, "31255"), (-67.0, "-67")],
)
def test_what_a_probe_without_points_sent_is_told_to_four_digits_or_the_whole_count(value, said):
    assert f"{said} as sent" == value_words(value, "as sent", Units.METRIC)
