"""A real year at three stations through a real broker into the real daemon: every episode once, and no other.

The episodes are computed anew in pandas (episodes.py) from the words of the rules. Data: see tests/parts/weather.py.
"""

from collections import Counter
from dataclasses import replace

import pandas as pd
import pytest

from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from parts.lived import lived
from parts.mosquitto import Mosquitto
from parts.weather import GLITCH, miami, new_york
from walk.episodes import Limit, silences, steps

HOUR = pd.Timedelta("1h")
SILENCE = 3 * HOUR
STATIONS = ("jfk", "ewr", "miami")
SETTINGS = """
site: {id: airfields, name: Airfields}
bins:
""" + "".join(
    f"""
  {name}:
    species: eisenia-fetida
    zones: {{only: {{probes: {{{name}-air: {{measures: temperature, topic: air/{name}, every: 1 h}}}}}}}}
    limits:
      temperature:
        comfort: 5..28 °C
        harm: [{{below: 0 °C, lasting: 3 h}}, {{below: -6 °C}}, {{above: 31 °C, lasting: 2 h}}, {{above: 35 °C}}]
        deadband: 1 °C
"""
    for name in STATIONS
)
COLD = (Limit(True, 5, HOUR, 1, HOUR), [Limit(True, 0, 3 * HOUR, 1, HOUR), Limit(True, -6, 0 * HOUR, 1, HOUR)])
HOT = (Limit(False, 28, HOUR, 1, HOUR), [Limit(False, 31, 2 * HOUR, 1, HOUR), Limit(False, 35, 0 * HOUR, 1, HOUR)])


@pytest.fixture(scope="module")
def series():
    jfk, ewr = new_york("JFK"), new_york("EWR")
    return {"jfk": jfk, "ewr": ewr, "miami": miami(2013)[jfk.index[0] : jfk.index[-1]]}


@pytest.fixture(scope="module")
def lived_year(series, tmp_path_factory):
    folder = tmp_path_factory.mktemp("year")
    (folder / "s.yaml").write_text(SETTINGS)
    settings = load([folder / "s.yaml"], environ={})
    together = pd.DataFrame(series)
    store = SqliteStore(folder / "year.db")
    with Mosquitto("set_tcp_nodelay true") as broker:
        settings = replace(settings, broker=replace(settings.broker, port=broker.port, host="127.0.0.1"))
        began = int(together.index[0].timestamp() * 1000)
        with lived(settings, port=broker.port, store=store, start=began) as life:
            for at, row in together.iterrows():
                said = [(f"air/{name}", f"{value:.4f}") for name, value in row.dropna().items()]
                life.say(int(at.timestamp() * 1000), *said)
            return store.transitions(limit=100_000), store.counted()


def taken(transitions, station, condition):
    return [
        (pd.Timestamp(t.at, unit="ms", tz="UTC").isoformat(), str(t.event))
        for t in transitions
        if t.key.subject.id == station and t.key.condition == condition and t.event != "acknowledged"
    ]


def test_the_data_is_what_it_is_said_to_be(series):
    assert (-11.1, 36.7, 8706) == (
        round(series["jfk"].min(), 1),
        round(series["jfk"].max(), 1),
        len(series["jfk"]),
    )
    assert (3.3, 33.9, 8760) == (miami().min(), miami().max(), len(miami()))
    assert -10.5 == round(series["jfk"][GLITCH], 1)


def test_every_reading_is_stored(series, lived_year):
    assert sum(len(s) for s in series.values()) == lived_year[1]


@pytest.mark.parametrize("station", STATIONS)
@pytest.mark.parametrize(("condition", "limits"), [("cold", COLD), ("hot", HOT)])
def test_every_episode_is_alarmed_once_and_no_other(series, lived_year, station, condition, limits):
    true = series[station].drop(GLITCH) if station == "jfk" else series[station]
    expected = steps(true.round(4), *limits, silence=SILENCE)
    assert expected == taken(lived_year[0], station, condition)
    assert len(expected) > (0 if (station, condition) == ("miami", "cold") else 20)


def test_miami_never_comes_to_harm_by_cold(lived_year):
    assert not [
        t for t in lived_year[0] if t.key.subject.id == "miami" and t.key.condition == "cold" and t.level == "harm"
    ]


def test_the_real_glitch_raises_nothing(series, lived_year):
    around = [
        t for t in lived_year[0] if abs(pd.Timestamp(t.at, unit="ms", tz="UTC") - GLITCH) < pd.Timedelta("6h")
    ]
    assert not [t for t in around if t.key.subject.id.startswith("jfk")]
    # the control: without the rule for jumps the value lies far beyond an at-once limit
    assert series["jfk"][GLITCH] < -6


def test_a_gap_longer_than_the_silence_is_told_once_and_nothing_else_is_about_the_probes(series, lived_year):
    found = Counter(
        (t.key.subject.id, str(t.key.condition))
        for t in lived_year[0]
        if t.event == "raised" and t.key.subject.kind == "probe"
    )
    expected = {(f"{name}-air", "silent"): silences(s, SILENCE) for name, s in series.items()}
    assert {k: n for k, n in expected.items() if n} == dict(found)
