"""3,000 mutated payloads through a real Mosquitto into the real daemon: each is counted, rounds go on, and the bin
that speaks plainly among them is still judged.
"""

import math
import time
from dataclasses import replace

from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from parts.lived import lived
from parts.mangled import NOW, PROBES, payloads
from parts.mosquitto import Mosquitto
from parts.publisher import publish

SENT = 3_000
POINTS = ", calibration: [{counts: 2700, moisture: 12 %}, {counts: 1450, moisture: 80 %}]"


def plug(probe):
    """A mat whose plug says what it does, as a keeper writes it."""
    field = f", field: {probe.source.field}" if probe.source.field else ""
    return f'  {probe.id}: {{warms: fig.plain, state: {{topic: {probe.source.topic}, sends: "{probe.source.sends}"{field}}}}}\n'


def written(probe):
    """A zone of its own, as a keeper writes it."""
    source = probe.source
    said = {"measures": probe.measures, "topic": source.topic, "sends": f'"{source.sends}"'}
    said |= {key: getattr(source, key) for key in ("field", "time", "name") if getattr(source, key) is not None}
    inner = ", ".join(f"{key}: {value}" for key, value in said.items()) + (POINTS if probe.calibration else "")
    return f"      {probe.id}: {{probes: {{{probe.id}: {{{inner}}}}}}}\n"


SETTINGS = (
    "site: {id: orchard, timezone: UTC}\nbins:\n  fig:\n    species: eisenia-fetida\n    zones:\n"
    + "".join(written(probe) for probe in PROBES.values() if probe.measures != "power")
    + "  plum:\n    species: eisenia-fetida\n    limits: {temperature: {harm: [{below: 0 °C}]}}\n"
    "    zones: {near: {probes: {plum-near: {measures: temperature, topic: probes/plum-near}}}}\n"
    "mats:\n"
    + "".join(plug(probe) for probe in PROBES.values() if probe.measures == "power")
    + "people: {ana: {channels: phone}}\nchannels: {phone: {send_to: {from_env: PHONE}}}\n"
)


def arrived(running, count):
    """Wait until so many messages are durable and acknowledged."""
    until = time.monotonic() + 30
    while running.pump.counts().deliveries < count:
        assert time.monotonic() < until, running.pump.counts()
        assert running.pump.flush(30).ok
        time.sleep(0.001)


def test_none_stops_the_daemon_and_each_is_counted(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text(SETTINGS)
    settings = load([file], environ={"PHONE": "json://127.0.0.1:9/"})
    flood = [(PROBES[probe].source.topic, payload) for probe, payload in payloads(20261125, SENT, list(PROBES))]
    store = SqliteStore(tmp_path / "kept.db")
    with Mosquitto("max_queued_messages 0\nset_tcp_nodelay true") as broker:
        settings = replace(settings, broker=replace(settings.broker, host="127.0.0.1", port=broker.port))
        with lived(settings, port=broker.port, store=store, start=NOW) as life:
            running, failed = life.running, {}
            for start in range(0, SENT, 500):
                publish(broker.port, flood[start : start + 500])
                life.clock.move_to(NOW + (start + 500) * 1000)
                arrived(running, start + 500)
                failed |= running.round().failed
            publish(broker.port, [("probes/plum-near", b"-4")])
            arrived(running, SENT + 1)
            report, counts = running.round(), running.pump.counts()
            assert {} == failed | dict(report.failed)
            assert report.stored
            kept, refused = store.after(0), sum(store.refusal_counts().values())
            standing = {(a.key.subject.id, str(a.key.condition)) for a in store.load().alarms}
    assert SENT + 1 == counts.deliveries
    outcomes = counts.new + counts.same + counts.other + counts.undated + counts.refused + counts.again
    assert SENT + 1 <= outcomes <= SENT + 100  # a pack of several records is several outcomes
    assert (counts.new, counts.refused) == (len(kept), refused)
    assert [] == [reading for reading in kept if not math.isfinite(reading.value)]
    assert 500 < counts.new
    assert 500 < counts.refused
    assert ("plum", "cold") in standing
