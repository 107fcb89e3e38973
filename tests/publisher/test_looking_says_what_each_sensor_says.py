"""`vermistat publish --look` and `vermistat probes find --json`: their shapes, their words, and the lines for the daemon."""

import json
from pathlib import Path

import pytest

from cli.test_json_has_its_shape import fits
from monitor.cli import main
from monitor.publisher import finding, looking
from monitor.publisher.looking import LookShape, look_facts, look_text
from monitor.publisher.reading import load
from monitor.settings import load as load_site

SETTINGS = """
id: shed
site: orchard
broker: {url: mqtt://localhost}
probes:
  fig-west: {onewire: 28-0316a2795b1c}
  fig-east: {onewire: 28-0316a2796e44}
  shed-damp: {hwmon: sht3x, channel: humidity1}
  fig-damp: {iio: ads1015, channel: voltage0}
  fig-scale: {iio: hx711, channel: voltage0, zero: 84210, per_kg: 21400}
  long-mat: {pin: 17, gpio: /dev/gpiochip98, topic: plugs/long}
"""


@pytest.fixture
def root(tmp_path):
    files = {
        "bus/w1/devices/28-0316a2795b1c/w1_slave": "50 01 4b 46 7f ff 00 10 a5 : crc=a5 YES\n"
        "50 01 4b 46 7f ff 00 10 a5 t=21000\n",
        "class/hwmon/hwmon1/name": "sht3x\n",
        "class/hwmon/hwmon1/humidity1_input": "70001\n",
        "bus/iio/devices/iio:device0/name": "ads1015\n",
        "bus/iio/devices/iio:device0/in_voltage0_raw": "16384\n",
        "bus/iio/devices/iio:device1/name": "hx711\n",
        "bus/iio/devices/iio:device1/in_voltage0_raw": "833210\n",
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.fixture
def settings(tmp_path):
    (tmp_path / "publisher.yaml").write_text(SETTINGS)
    return load(tmp_path / "publisher.yaml", environ={})


def test_each_value_or_what_is_wrong_with_it_and_the_lines_for_the_daemon(settings, root):
    facts = look_facts(settings, root=root)
    fits(facts, LookShape)
    assert """\
fig-west: 21 °C
fig-east: nothing. 28-0316a2796e44 is not on the 1-wire bus: look at its plug and its wires.
shed-damp: 70.001 %
fig-damp: 16384 counts
fig-scale: 35 kg
long-mat: nothing. Line 17 of /dev/gpiochip98 is not there: look at its plug and its wires.

In the daemon's settings, below the place or zone that each is in:
  fig-west: {measures: temperature, topic: probes/fig-west, name: fig-west}
  fig-east: {measures: temperature, topic: probes/fig-east, name: fig-east}
  shed-damp: {measures: humidity, topic: probes/shed-damp, name: shed-damp}
  fig-damp: {measures: moisture, topic: probes/fig-damp, name: fig-damp, sends: counts}
  fig-scale: {measures: mass, topic: probes/fig-scale, name: fig-scale}
  state: {topic: plugs/long, name: long-mat, sends: on/off}   # of its mat""" == look_text(facts, settings)


def test_the_daemon_accepts_those_lines(settings, tmp_path):
    lines = [looking.daemon_line(wired) for wired in settings.probes.values()]
    west, east, damp, moist, scale, mat = lines
    (tmp_path / "site.yaml").write_text(
        "site: {id: orchard, timezone: Europe/Lisbon}\n"
        f"places:\n  shed:\n    probes:\n      {damp}\n"
        "bins:\n  fig:\n    species: eisenia-fetida\n    stands_in: shed\n    zones:\n"
        f"      west:\n        probes:\n          {west}\n"
        f"      east:\n        probes:\n          {east}\n          {moist}\n          {scale}\n"
        f"mats:\n  long-mat:\n    warms: fig.west\n    {mat}\n"
    )
    site = load_site([tmp_path / "site.yaml"], environ={})
    assert {"fig-west", "fig-east", "shed-damp", "fig-damp", "fig-scale"} == set(site.rules.probes())
    assert "plugs/long" == site.rules.mats["long-mat"].state.topic


def test_the_command_prints_it_and_fails_when_a_sensor_does(settings, tmp_path, capsys):
    """On a machine to which nothing is wired."""
    assert 1 == main(["publish", "--look", "--settings", str(tmp_path / "publisher.yaml")])
    assert "fig-west: nothing. " in capsys.readouterr().out
    assert 1 == main(["publish", "--look", "--json", "--settings", str(tmp_path / "publisher.yaml")])
    facts = json.loads(capsys.readouterr().out)
    fits(facts, LookShape)
    assert {"missing"} == {one["fault"] for one in facts["probes"]}


def test_what_finding_prints_has_its_shape():
    found = finding.Found([("fig-west", "28-0316a2795b1c")], ["28-0316a2796e44"])
    fits(finding.find_facts(found), finding.FoundShape)


def test_every_shape_says_what_it_is():
    for module in (looking, finding):
        for name in dir(module):
            if name.endswith("Shape"):
                assert getattr(module, name).__doc__, name
    assert Path(looking.__file__).exists()
