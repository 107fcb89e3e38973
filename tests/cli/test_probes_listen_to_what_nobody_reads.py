"""`vermistat probes --listen`: what is published is heard beside the daemon, and nothing of it is kept or acknowledged for it."""

import json
import threading
import time

import pytest

from cli.keeping import Site
from cli.test_json_has_its_shape import fits
from monitor.cli import main
from monitor.reports import shapes
from parts.mosquitto import Mosquitto
from parts.publisher import publish


@pytest.fixture(scope="module")
def broker():
    with Mosquitto() as one:
        yield one


class Speaking:
    """Publishes the same again and again while it is listened to."""

    def __init__(self, port, messages):
        self._port, self._messages, self._stop = port, messages, threading.Event()
        self._thread = threading.Thread(target=self._run)

    def _run(self):
        while not self._stop.wait(0.1):
            publish(self._port, self._messages)

    def __enter__(self):
        self._thread.start()

    def __exit__(self, *_):
        self._stop.set()
        self._thread.join()


MESSAGES = [
    ("probes/fig-west", b"21.5"),
    ("probes/pear", json.dumps({"celsius": 19.5, "moist": 1600}).encode()),
    ("probes/door", b"open"),
    ("vermistat/orchard/alive", b"1"),
    ("plugs/long", b"40"),
]


def test_what_nobody_reads_is_shown_with_the_lines_that_would_add_it(broker, tmp_path, capsys):
    site = Site(tmp_path, port=broker.port)
    with Speaking(broker.port, MESSAGES):
        facts = site.tells(capsys, "probes", "--listen", "1")
    fits(facts, shapes.ListenShape)
    rows = {row["topic"]: row for row in facts["topics"]}
    assert {"probes/fig-west", "probes/pear", "probes/door"} == set(rows)
    assert "probes/pear" == facts["topics"][0]["topic"]
    assert [
        "pear-celsius: {measures: temperature, topic: probes/pear, field: /celsius}",
        "pear-moist: {measures: moisture, topic: probes/pear, field: /moist}",
    ] == rows["probes/pear"]["lines"]
    assert (["fig-west"], []) == (rows["probes/fig-west"]["known"], rows["probes/fig-west"]["lines"])
    assert ("open", []) == (rows["probes/door"]["last"], rows["probes/door"]["lines"])


def test_another_filter_and_sentences(broker, tmp_path, capsys):
    site = Site(tmp_path, port=broker.port)
    with Speaking(broker.port, MESSAGES):
        said = site.says(capsys, "probes", "--listen", "1", "--topics", "#")
    assert "Listened to # for 1 s: 4 topics." in said
    assert "Nobody reads these. To add one, write its line below `probes:` of a zone or a place:" in said
    assert "long: {measures: temperature, topic: plugs/long}   # or humidity, or moisture?" in said
    assert "the last 21.5; read by fig-west" in said
    assert "vermistat/orchard" not in said


def test_silence_is_told(broker, tmp_path, capsys):
    site = Site(tmp_path, port=broker.port)
    assert "Nothing was heard. Do the probes publish to this broker" in site.says(
        capsys, "probes", "--listen", "1", "--topics", "nobody/speaks"
    )


def test_a_daemons_session_is_left_alone_and_nothing_of_ours_stays(broker, tmp_path, capsys):
    site = Site(tmp_path, port=broker.port)
    before = broker.log().count("vermistat-")
    site.tells(capsys, "probes", "--listen", "1")
    log = broker.log()
    lines = [line for line in log.splitlines() if " vermistat-" in line and "connected" in line]
    assert lines
    assert all("c1" in line for line in lines if "New client connected" in line)
    assert before < log.count("vermistat-")
    assert not site.store_file.exists()
    deadline = time.monotonic() + 10
    while "disconnected" not in broker.log().splitlines()[-1] and time.monotonic() < deadline:
        time.sleep(0.05)
    assert "disconnected" in broker.log().splitlines()[-1]


def test_a_broker_that_does_not_answer_is_an_error(tmp_path, capsys):
    site = Site(tmp_path, port=9)
    assert 1 == main(["probes", "--listen", "1", "--settings", str(site.file)])
    assert "Nobody answers at 127.0.0.1:9" in capsys.readouterr().err


def test_a_broker_that_refuses_us_is_told(tmp_path, capsys):
    with Mosquitto(users={"ana": "a word"}) as closed:
        site = Site(tmp_path, port=closed.port)
        assert 1 == main(["probes", "--listen", "2", "--settings", str(site.file)])
    assert "refuses" in capsys.readouterr().err


def test_a_filter_that_is_none_is_told(broker, tmp_path, capsys):
    site = Site(tmp_path, port=broker.port)
    assert 1 == main(["probes", "--listen", "1", "--topics", "a#b", "--settings", str(site.file)])
    assert "a#b" in capsys.readouterr().err
