from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.publisher.reading import BROKER, BUFFER, COMMON, KINDS, TOP, WEIGHING, find, load
from monitor.publisher.wired import Buffer, Converter, Humidity, Kernel, OneWire, Pin, Scale, Sends, Wired
from monitor.readings import MINUTE, SECOND
from monitor.settings import tree

WHOLE = Path(__file__).parents[2] / "fixtures" / "whole" / "publisher.yaml"


@pytest.fixture
def whole(tmp_path):
    (tmp_path / "publisher.yaml").write_text(WHOLE.read_text())
    (tmp_path / "broker-password").write_text("dry-straw\n")
    (tmp_path / "broker.pem").write_text("-----BEGIN CERTIFICATE-----\n")
    return load(tmp_path / "publisher.yaml", environ={})


def test_every_way_of_wiring_is_read(whole):
    assert {
        "fig-west": Wired("fig-west", OneWire("28-0316a2795b1c"), Sends.CELSIUS, "probes/fig-west", 30 * SECOND, 4),
        "shed-air": Wired(
            "shed-air", Kernel("hwmon", "sht3x", "temp1", "1-0044"), Sends.CELSIUS, "probes/shed-air", 5 * MINUTE
        ),
        "shed-damp": Wired(
            "shed-damp", Kernel("hwmon", "sht3x", "humidity1", "1-0044"), Sends.HUMIDITY, "air/damp", 5 * MINUTE
        ),
        "fig-damp": Wired("fig-damp", Kernel("iio", "ads1015", "voltage0", "1-0048"), Sends.COUNTS, "probes/fig-damp"),
        "barrel": Wired(
            "barrel", Kernel("iio", "hx711", "voltage0"), Sends.KILOGRAM, "probes/barrel", scale=Scale(8472818, -21400)
        ),
        "plum-air": Wired("plum-air", Humidity(1, 0x45, Sends.HUMIDITY), Sends.HUMIDITY, "probes/plum-air"),
        "plum-damp": Wired("plum-damp", Converter(3, 0x48, 2), Sends.COUNTS, "probes/plum-damp"),
        "long-mat": Wired(
            "long-mat", Pin(17, "/dev/gpiochip4", False, "up"), Sends.SWITCH, "plugs/long", samples=1
        ),
    } == dict(whole.probes)  # fmt: skip


def test_where_it_is_sent_and_what_is_kept(whole, tmp_path):
    assert ("shed", "orchard") == (whole.id, whole.site)
    broker = whole.broker
    assert ("broker.local", 8883, True, "shed", "5", "shed-publisher") == (
        broker.host, broker.port, broker.tls, broker.user, broker.protocol, broker.client_id,
    )  # fmt: skip
    assert ("dry-straw", str(tmp_path / "broker.pem")) == (broker.password.reveal(), broker.ca_file)
    assert Buffer(tmp_path / "held", 2_500_000, 5 * MINUTE) == whole.buffer
    assert "publishers/shed" == whole.status
    assert "vermistat/orchard/durable/fig-west" == whole.mark("fig-west")


def test_the_whole_file_holds_every_key_there_is():
    data, _, mistakes = tree.read(WHOLE)
    assert [] == mistakes
    assert set(TOP) == set(data)
    assert set(BROKER) == set(data["broker"])
    assert set(BUFFER) == set(data["buffer"])
    probes = data["probes"].values()
    for kind, keys in KINDS.items():
        assert set(keys) <= {key for probe in probes if kind in probe for key in probe}, kind
    assert {*COMMON, *WEIGHING} <= {key for probe in probes for key in probe}


def test_a_small_file_does(tmp_path):
    file = tmp_path / "publisher.yaml"
    file.write_text(
        "id: shed\nsite: orchard\nbroker: {url: mqtt://localhost}\nprobes: {fig: {onewire: 28-0316a2795b1c}}\n"
    )
    settings = load(file, environ={})
    assert Buffer(None, 4_000_000, 10 * MINUTE) == settings.buffer
    assert ("localhost", 1883, False, "auto") == (
        settings.broker.host, settings.broker.port, settings.broker.tls, settings.broker.protocol,
    )  # fmt: skip
    assert "publisher-shed" == settings.broker.client_id
    assert (MINUTE, 3) == (settings.probes["fig"].every, settings.probes["fig"].samples)


def test_where_settings_are_looked_for(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("monitor.publisher.reading.PLACES", (Path("config/publisher.yaml"), Path("other.yaml")))
    assert Path("mine.yaml") == find(Path("mine.yaml"))
    with pytest.raises(SettingsError, match="There are no settings"):
        find(None)
    Path("other.yaml").write_text("")
    assert Path("other.yaml") == find(None)


def test_every_key_says_what_it_is_and_its_example_is_accepted():
    from monitor.rules import Units

    for keys in (TOP, BROKER, BUFFER, COMMON, WEIGHING, *KINDS.values()):
        for name, key in keys.items():
            assert len(key.says) > 5, name
            if key.read is not None:
                key.read(key.example, Units.METRIC)
