"""Which files are read, how several become one, and the number of a version."""

import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from monitor.addresses import Broker, Secret
from monitor.errors import SettingsError
from monitor.rules import Unit, Vessel
from monitor.settings import find_settings, load

TODAY = date(2026, 11, 25)
SITE = "site: {id: orchard}\n"
FIG = (
    "bins:\n"
    "  fig: {species: eisenia-fetida, zones: {west: {probes: {fig-west: {measures: temperature, topic: a}}}}}\n"
)
PLUM = FIG.replace("fig", "plum").replace("topic: a", "topic: b")


@pytest.fixture
def read(tmp_path):
    def reading(*texts, environ=None, **more):
        files = []
        for number, text in enumerate(texts):
            files.append(tmp_path / f"{number}.yaml")
            files[-1].write_text(text)
        return load(files, environ=environ or {}, today=TODAY, **more)

    return reading


def mistakes(read, *texts):
    """What the files are refused with, without the folder they stand in."""
    with pytest.raises(SettingsError) as refused:
        read(*texts)
    return [re.sub(r"[^ (]*/", "", mistake) for mistake in refused.value.mistakes]


def places(read, *texts):
    return [mistake.partition(": ")[0] for mistake in mistakes(read, *texts)]


# --- finding ---


def test_a_named_file_is_taken_whether_or_not_it_is_there():
    assert Path("a/b.yaml") == find_settings("a/b.yaml") == find_settings(Path("a/b.yaml"))


def test_without_a_name_the_file_in_config_comes_before_the_one_in_etc(tmp_path, monkeypatch):
    etc = tmp_path / "etc.yaml"
    monkeypatch.setattr("monitor.settings.places.PLACES", (Path("config/vermistat.yaml"), etc))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(
        SettingsError, match=r"^config/vermistat.yaml:1:1: There are no settings. .+--settings FILE.$"
    ):
        find_settings()
    etc.write_text(SITE)
    assert etc == find_settings()
    Path("config").mkdir()
    Path("config/vermistat.yaml").write_text(SITE)
    assert Path("config/vermistat.yaml") == find_settings()


def test_the_places_are_those_that_the_keeper_is_told():
    from monitor.settings.places import PLACES

    assert (Path("config/vermistat.yaml"), Path("/etc/vermistat/vermistat.yaml")) == PLACES


# --- several files ---


def test_several_files_are_one(read):
    settings = read(SITE, FIG, PLUM)
    assert {"fig", "plum"} == set(settings.rules.bins)
    assert ["0.yaml", "1.yaml", "2.yaml"] == [file.name for file in settings.files]


def test_it_does_not_matter_in_which_file_a_thing_stands(read):
    assert read(SITE, FIG, PLUM).rules == read(PLUM, SITE + FIG).rules


def test_a_folder_stands_for_its_files(tmp_path, read):
    read(SITE, FIG)
    (tmp_path / "notes.txt").write_text("not: settings")
    assert read(SITE, FIG).rules == load([tmp_path], environ={}, today=TODAY).rules


def test_each_id_and_each_section_stands_in_one_file(read):
    assert ["1.yaml:2:3: 'fig' is written in two files (first in 0.yaml, line 3). Keep one of them."] == mistakes(
        read, SITE + FIG, FIG
    )
    assert ["1.yaml:1:1: 'site' is written in two files (first in 0.yaml, line 1). Keep one of them."] == mistakes(
        read, SITE + FIG, SITE
    )


def test_a_bin_may_be_called_like_a_section(read):
    one = FIG.replace("  fig:", "  people:")
    assert {"people", "plum"} == set(read(SITE + one, PLUM).rules.bins)
    assert ["1.yaml:2:3"] == places(read, SITE + one, one)


def test_mistakes_of_all_files_are_told_file_by_file(read):
    faulty = (SITE + "colour: red\n", FIG.replace("species", "specis"))
    assert ["0.yaml:2:1", "1.yaml:2:9"] == places(read, *faulty)


def test_while_one_file_cannot_be_read_nothing_is_compared(read):
    assert ["1.yaml:1:4"] == places(read, SITE + "colour: red\n", "a: [x")


def test_all_files_that_cannot_be_read_are_told(tmp_path):
    (tmp_path / "a.yaml").write_text("a: [x")
    with pytest.raises(SettingsError) as refused:
        load([tmp_path / "a.yaml", tmp_path / "b.yaml"], environ={}, today=TODAY)
    assert ["a.yaml:1:4", "b.yaml:1:1"] == [
        mistake.rpartition("/")[2].partition(": ")[0] for mistake in refused.value.mistakes
    ]


# --- what small keys become ---


def test_paths_are_relative_to_the_file_they_are_written_in(read, tmp_path):
    (tmp_path / "ca.crt").write_text("a certificate")
    more = "store: {path: kept/worms.db}\nbroker: {url: 'mqtts://[::1]', ca_file: ca.crt}\n"
    settings = read(SITE + FIG + more)
    assert tmp_path / "kept/worms.db" == settings.store
    assert Broker("::1", 8883, tls=True, ca_file=str(tmp_path / "ca.crt")) == settings.broker
    assert Path("/var/lib/worms.db") == read(SITE + FIG + "store: {path: /var/lib/worms.db}\n").store
    assert read(SITE + FIG).store is None


@pytest.mark.parametrize(
    ("url", "host", "port", "tls"),
    [
        ("mqtt://localhost", "localhost", 1883, False),
        ("mqtts://broker.example/", "broker.example", 8883, True),
        ("mqtt://10.0.0.7:1884", "10.0.0.7", 1884, False),
        ("MQTTS://localhost:9", "localhost", 9, True),
    ],
)
def test_a_brokers_url_without_a_port_has_the_registered_one(url, host, port, tls, read):
    """1883 and 8883: IANA service names mqtt and secure-mqtt [memory]."""
    broker = read(SITE + FIG + f"broker: {{url: '{url}'}}\n").broker
    assert (host, port, tls) == (broker.host, broker.port, broker.tls)


def test_a_broker_with_a_login(read):
    more = "broker: {user: vermistat, password: {from_env: PASSWORD}, protocol: 3.1.1, client_id: shed}\n"
    broker = read(SITE + FIG + more, environ={"PASSWORD": "swordfish"}).broker
    assert ("vermistat", Secret("swordfish"), "3.1.1", "shed") == (
        broker.user, broker.password, broker.protocol, broker.client_id,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("vessel", "expected"),
    [
        ("{floor: 0.3 m2, depth: 25 cm}", Vessel("tub", 0.3, 0.25)),
        ("{holds: 75 L, depth: 25 cm}", Vessel("tub", 0.3, 0.25)),
        ("{holds: 75 L, floor: 0.3 m2}", Vessel("tub", 0.3, 0.25)),
        ("{kind: trays, cover: tight, drains: false}", Vessel("trays", None, None, False, "tight")),
    ],
)
def test_of_floor_depth_and_what_it_holds_two_give_the_third(vessel, expected, read):
    made = read(SITE + FIG.replace("species", f"vessel: {vessel}, species")).rules.bins["fig"].vessel
    assert (expected.kind, expected.drains, expected.cover) == (made.kind, made.drains, made.cover)
    assert (expected.floor, expected.depth) == (pytest.approx(made.floor), pytest.approx(made.depth))


@pytest.mark.parametrize(
    ("measures", "expected"),
    [
        ("temperature", Unit.CELSIUS),
        ("humidity", Unit.HUMIDITY),
        ("moisture", Unit.PERCENT),
        ("moisture, calibration: [{counts: 3000, moisture: 10}, {counts: 1000, moisture: 80}]", Unit.COUNTS),
        ("temperature, sends: degF", Unit.FAHRENHEIT),
        ("temperature, sends: K", Unit.KELVIN),
        ("humidity, sends: /", Unit.RATIO),
        ('humidity, sends: "%"', Unit.PERCENT),
        ("moisture, sends: counts", Unit.COUNTS),
        ("mass", Unit.KILOGRAM),
        ("mass, sends: lb", Unit.POUND),
    ],
)
def test_what_a_probe_sends_when_nothing_else_is_written(measures, expected, read):
    (probe,) = read(SITE + FIG.replace("temperature", measures)).rules.probes().values()
    assert expected is probe.source.sends


def test_a_bin_stands_in_the_only_place_there_is(read):
    assert "shed" == read(SITE + "places: {shed: {name: The shed}}\n" + FIG).rules.bins["fig"].place
    assert "orchard" == read(SITE + FIG).rules.bins["fig"].place
    two = "places: {shed: {}, cellar: {}}\n"
    assert (
        "cellar" == read(SITE + two + FIG.replace("species", "stands_in: cellar, species")).rules.bins["fig"].place
    )


def test_who_hears_what(read):
    people = (
        "people:\n"
        "  ana: {channels: [phone, phone], hears: [orchard]}\n"
        "  ben: {channels: phone, hears: fig, may: []}\n"
        "  eva: {channels: phone}\n"
        "channels: {phone: {send_to: {from_env: PHONE}}}\n"
    )
    ana, ben, eva = read(SITE + FIG + people, environ={"PHONE": "x"}).rules.people.values()
    assert (("phone",), frozenset({"orchard"})) == (ana.channels, ana.hears)
    assert (frozenset({"fig"}), frozenset()) == (ben.hears, ben.may)
    assert (None, 3) == (eva.hears, len(eva.may))


# --- versions ---


def test_a_version_is_ten_hexadecimal_digits_of_what_is_judged_by(read):
    version = read(SITE + FIG).rules.version
    assert 10 == len(bytes.fromhex(version)) * 2
    same = "# a comment\nsite:\n    id: 'orchard'\n    units: metric\n" + FIG
    assert version == read(same).rules.version
    assert version == read(SITE + FIG + "energy: {price: 1, currency: EUR}\n").rules.version
    assert version == read(SITE.replace("site: {", "site: {clock: 12-hour, ") + FIG).rules.version
    assert read(SITE + FIG + PLUM.removeprefix("bins:\n")).rules.version == (
        read(SITE + PLUM + FIG.removeprefix("bins:\n")).rules.version
    )


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("orchard", "orchard, name: Orchard"),
        ("eisenia-fetida", "eisenia-andrei"),
        ("eisenia-fetida", "eisenia-fetida, limits: {temperature: {off_delay: 61 min}}"),
        ("eisenia-fetida", "eisenia-fetida, limits: {temperature: {comfort: 10..27 °C}}"),
        ("topic: a", "topic: c"),
        ("topic: a", "topic: a, every: 5 min"),
        ("zones", "can: [move], zones"),
    ],
)
def test_a_version_changes_with_whatever_is_judged_by(old, new, read):
    text = SITE + FIG
    assert text != text.replace(old, new)
    assert read(text).rules.version != read(text.replace(old, new)).rules.version


def test_a_version_is_the_same_in_another_process(tmp_path):
    """Sets have another order in every run of Python."""
    file = tmp_path / "s.yaml"
    file.write_text(SITE + FIG.replace("species", "can: [insulate, move, shade, air, cover], species"))
    code = (
        "import sys, pathlib, datetime; from monitor.settings import load;"
        "print(load([pathlib.Path(sys.argv[1])], environ={}, today=datetime.date(2026, 11, 25)).rules.version)"
    )
    versions = {
        subprocess.run(
            [sys.executable, "-c", code, str(file)],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parents[2])},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }  # fmt: skip
    assert 1 == len(versions)


def test_without_a_calendar_no_day_is_called_to_come(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text(SITE + FIG.replace("species", "started: 2999-01-01, species"))
    assert date(2999, 1, 1) == load([file], environ={}).rules.bins["fig"].started
    with pytest.raises(SettingsError, match="has not come yet"):
        load([file], environ={}, today=TODAY)
