"""Over a real winter the chances that the running daemon issues (broker, store, rounds) are those of the science, each hour.

The weather is New York's (tests/parts/weather.py); the shed and its bed are made from it here. From the second month on a
forecast of the air outdoors comes four times a day, of the same weather and off by up to a degree. The other path goes by hand
from the readings to the forecasts, with nothing of the daemon in between.
"""

import json
import math
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from monitor.bed import living
from monitor.bed.forecast import Learned, forecast, took
from monitor.bed.hours import duty_by_plug, hour_of
from monitor.bed.mats import Watch, watch
from monitor.bed.plan import held
from monitor.bed.room import Air, Room, heard
from monitor.bed.zone import begun
from monitor.readings import HOUR, MINUTE
from monitor.science import series
from monitor.settings import load
from monitor.store.memory import MemoryStore
from parts.lived import lived
from parts.mosquitto import Mosquitto
from parts.weather import new_york

SETTINGS = """
site: {id: orchard, name: Orchard shed}
places:
  shed: {probes: {shed-air: {measures: temperature, topic: shed/all, field: /c, time: /at}}}
bins:
  fig:
    species: eudrilus-eugeniae
    stands_in: shed
    bedding: 35 kg
    vessel: {kind: tub, floor: 0.3 m2, depth: 25 cm}
    judge: every-zone
    zones:
      near: {probes: {fig-near: {measures: temperature, topic: shed/all, field: /near, time: /at}}}
      far:  {probes: {fig-far:  {measures: temperature, topic: shed/all, field: /far,  time: /at}}}
mats:
  fig-mat:
    warms: [fig.near, fig.far]
    power: 30 W
    control: thermostat
    set_to: 19 °C
    state: {topic: shed/all, field: /w, time: /at}
outdoors: {topic: weather/next, times: /hours/*/time, temperatures: /hours/*/air}
"""
QUARTER = 15 * MINUTE
FORESEEN_FROM = 30 * 24
"""The hour of the first forecast."""
DAYS = 90
AIRS = Counter()
"""How many of the forecasts made by hand are told by which air."""
LIMITS = {"near": (15.0, 32.0), "far": (15.0, 32.0)}


def outdoors():
    hours = new_york("JFK")
    return hours[hours.index >= "2013-10-01"].iloc[: (DAYS + 3) * 24]


def foreseen(n):
    """Issued at the end of hour `n`: (UTC ms, °C) of the next two days."""
    hours = outdoors()
    begins = round(hours.index[0].timestamp() * 1000)
    ahead = range(n + 1, n + 50)
    return [
        (begins + k * HOUR, round(float(hours.iloc[min(k, len(hours) - 1)]) + math.sin(k / 5 + n), 2))
        for k in ahead
    ]


def is_issued(n):
    return n >= FORESEEN_FROM and n % 6 == 0


def winter():
    """(UTC ms, °C of shed, near, far, W of the plug) each quarter of an hour from the 1st of December on."""
    hours = outdoors().iloc[: DAYS * 24]
    at, shed, near, far, on = round(hours.index[0].timestamp() * 1000), 12.0, 19.0, 17.0, False
    told = []
    for before, after in pairwise(hours.tolist()):
        for step in range(4):
            at += QUARTER
            outside = before + (after - before) * step / 4
            shed += 0.25 * ((0.4 * outside + 0.6 * 14.0) - shed) / 5
            on = near < 18.7 or (on and near < 19.3)
            heat = 0.9 * on
            near, far = (
                near + 0.25 * (0.05 * (shed - near) + 0.04 * (far - near) + heat),
                far + 0.25 * (0.06 * (shed - far) + 0.04 * (near - far) + 0.3 * heat + 0.05),
            )
            told.append((at, round(shed, 2), round(near, 2), round(far, 2), 29.0 if on else 0.0))
    return told


def messages(quarters):
    for at, shed, near, far, watts in quarters:
        when = datetime.fromtimestamp(at / 1000, UTC).isoformat()
        yield "shed/all", json.dumps({"at": when, "c": shed, "near": near, "far": far, "w": watts})


def forecasts(n):
    """What is published of the air outdoors at the end of hour `n`."""
    if is_issued(n):
        hours = [{"time": at // 1000, "air": air} for at, air in foreseen(n)]
        yield "weather/next", json.dumps({"hours": hours})


def figures(one):
    """Everything of a forecast that is told as a number."""
    if one is None:
        return None
    sides = (*one.least, *one.greatest)
    return [x for s in sides for x in (s.point, s.low, s.high, s.chance)]


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """By hour and zone: what the daemon issued."""
    folder = tmp_path_factory.mktemp("winter")
    (folder / "s.yaml").write_text(SETTINGS)
    settings = load([folder / "s.yaml"], environ={})
    quarters, found = winter(), {}
    with Mosquitto("set_tcp_nodelay true") as broker:
        settings = replace(settings, broker=replace(settings.broker, port=broker.port, host="127.0.0.1"))
        store = MemoryStore()
        with lived(settings, port=broker.port, store=store, start=quarters[0][0] - HOUR) as life:
            for first in range(0, len(quarters), 4):
                hour = quarters[first : first + 4]
                life.say(hour[-1][0] + 4 * MINUTE, *forecasts(first // 4), *messages(hour), stored=16)
                for zone, one in life.running.rounds.stands.nights.get("fig", {}).items():
                    found[one.at, zone] = figures(one.forecast)
    return found


@pytest.fixture(scope="module")
def by_hand():
    """The same without a daemon."""
    quarters = winter()
    loss = living.loss_of("tub", 0.3, 0.25)
    begin = begun(0, loss=loss, heat=35.0 * living.MOIST, watts=30.0)
    beds = {"near": Learned(begin), "far": Learned(begin)}
    room, watched, found = Room(), Watch(), {}
    read = {
        name: [(q[0], q[place]) for q in quarters]
        for place, name in enumerate(("air", "near", "far", "plug"), start=1)
    }
    at = quarters[0][0] // HOUR * HOUR
    known, issues = {}, -1
    while at + HOUR <= quarters[-1][0]:
        at += HOUR
        last = (at - quarters[0][0]) // QUARTER + 1
        lately = {name: [r for r in all_[max(0, last - 16) : last] if r[0] <= at] for name, all_ in read.items()}
        room_of = [r for r in lately["air"] if r[0] >= at - 165 * MINUTE]
        air = series.mean(series.without_outliers(room_of, floor=0.25), at - HOUR, at)
        issues += 1
        if is_issued(issues):
            known |= dict(foreseen(issues))
        outside = (known[at - HOUR] + known[at]) / 2 if at - HOUR in known and at in known else None
        room = heard(room, at, air, outdoors=outside)
        ahead = [(known[at + k * HOUR] + known[at + k * HOUR + HOUR]) / 2 for k in range(24)] if known else None
        duty = duty_by_plug([r for r in lately["plug"] if r[0] >= at - 3 * HOUR], at - HOUR, at, watts=30.0)
        plan = held(19.0)
        for zone in ("near", "far"):
            probe = [r for r in lately[zone] if r[0] >= at - 165 * MINUTE]
            hour = replace(hour_of(at, [probe], (), duty=None), duty=duty, air_c=air)
            beds[zone] = took(beds[zone], hour)
            if zone == "near":
                watched = watch(watched, beds[zone].zone, hour)
            one, beds[zone] = forecast(
                beds[zone], room, at=at, now_c=hour.end_c, limits=LIMITS[zone], plan=plan, outdoor=ahead
            )
            found[at, zone] = figures(one)
            if one is not None:
                AIRS[one.air] += 1
            if zone == "near" and one is not None:
                plan = one.duties
    return found


def test_every_number_of_every_hour_is_the_same_to_a_billionth(told, by_hand):
    assert len(told) > 2 * DAYS * 24 - 12
    worst = 0.0
    for key, expected in by_hand.items():
        if key not in told:
            continue
        assert (expected is None) == (told[key] is None), key
        worst = max([worst, *(abs(a - b) for a, b in zip(expected or (), told[key] or (), strict=True))])
    assert worst <= 1e-9
    missing = [key for key in by_hand if key not in told]
    assert len(missing) <= 4, "the first and the last hours alone"


def test_a_good_part_of_it_is_told_by_the_forecast_of_the_air_outdoors(by_hand):
    assert AIRS[Air.OUTDOORS] > 2 * 24 * 30
    assert AIRS[Air.ALIKE] > 2 * 24 * 7


def test_the_winter_is_worth_the_comparison(by_hand):
    chances = [one[3] for one in by_hand.values() if one is not None]
    assert sum(0.05 < c < 0.95 for c in chances) > 100
    assert max(chances) > 0.9
    assert min(chances) < 0.01
