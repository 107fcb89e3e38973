"""End to end: a real broker, the daemon as one process, the keeper's commands as others beside it."""

import json
import signal
import time
from datetime import datetime

import pytest

from cli.keeping import SETTINGS, Site
from cli.running import begun, daemon, until, vermistat
from parts.mosquitto import Mosquitto
from parts.publisher import publish


@pytest.fixture
def broker():
    with Mosquitto() as running:
        yield running


def facts(site, *words):
    done = vermistat(words[0], "--settings", site.file, *words[1:], "--json")
    assert (0, "") == (done.returncode, done.stderr)
    return json.loads(done.stdout)


def state(site, number):
    return {alarm["number"]: alarm["state"] for alarm in facts(site, "alarms")["alarms"]}.get(number)


def test_seen_and_done_are_taken_up_by_the_daemon_while_it_holds_the_store(tmp_path, broker):
    site = Site(tmp_path, port=broker.port)
    with daemon(site.file) as running:
        publish(
            broker.port, [("probes/fig-west", b"11.4"), ("probes/fig-east", b"11.1"), ("probes/plum-near", b"18")]
        )
        until(lambda: state(site, 1) == "unacknowledged")
        now = facts(site, "now")
        assert now["watching"]
        assert "too cold by 9.6 °C" in now["bins"][0]["sentence"]
        assert [1] == now["to_do"][0]["alarms"]

        seen = vermistat("seen", "--settings", site.file, "1", "--as", "ana")
        assert (0, "") == (seen.returncode, seen.stderr)
        assert "ana says: alarm 1 (Fig: too cold, harm) is seen." in seen.stdout
        until(lambda: state(site, 1) == "acknowledged")

        done = vermistat("done", "--settings", site.file, "1", "two", "blankets", "--as", "ana")
        assert (0, "") == (done.returncode, done.stderr)
        diary = until(lambda: facts(site, "why", "1")["diary"])
        assert [("ana", "done", "two blankets")] == [(e["who"], e["deed"], e["text"]) for e in diary]
        assert ["raised", "acknowledged"] == [s["event"] for s in facts(site, "why", "1")["steps"]]
        assert running.process.poll() is None
    # what the daemon kept is there without it
    assert "acknowledged" == state(site, 1)


def test_a_second_daemon_is_refused_and_the_first_goes_on(tmp_path, broker):
    site = Site(tmp_path, port=broker.port)
    with daemon(site.file) as running:
        second = vermistat("run", "--settings", site.file)
        assert 1 == second.returncode
        assert f"is held by process {running.process.pid}: two daemons cannot share it" in second.stderr
        assert "Traceback" not in second.stderr
        assert running.process.poll() is None


def test_run_without_its_secret_is_refused_with_78_and_its_reading_commands_are_not(tmp_path, broker):
    site = Site(tmp_path, port=broker.port)
    with site.lived():
        pass
    (tmp_path / "mail-url").unlink()
    run = vermistat("run", "--settings", site.file)
    assert (78, True) == (run.returncode, "The file named here is not there." in run.stderr)
    for command in ("now", "alarms", "check"):
        assert 0 == vermistat(command, "--settings", site.file).returncode


def test_run_watches_until_it_is_interrupted(tmp_path, broker):
    site = Site(tmp_path, port=broker.port)
    process = begun("run", "--settings", site.file)
    line = next(line for line in process.stderr if "watching 2 bins with 6 probes" in line)
    assert line
    process.send_signal(2)
    _, errors = process.communicate(timeout=20)
    assert 0 == process.returncode
    assert "Traceback" not in errors


def test_a_button_beside_the_bins_says_that_somebody_works_there(tmp_path, broker):
    site = Site(tmp_path, port=broker.port)
    topic = "vermistat/orchard/fig/working"
    publish(broker.port, [(topic, b"90")], retain=True)
    with daemon(site.file):
        publish(broker.port, [("probes/plum-near", b"18")])
        until(lambda: facts(site, "now")["watching"])
        # what the broker had kept says nothing of now, and that is told
        until(lambda: [n for n in facts(site, "now")["notes"] if n["kind"] == "refused" and n["about"] == topic])
        assert [] == facts(site, "alarms")["works"]

        publish(broker.port, [(topic, b'{"for": 90, "who": "ana", "note": "turning"}')])
        (work,) = until(lambda: facts(site, "alarms")["works"])
        assert ("fig", "ana", "turning") == (work["bin"], work["who"], work["note"])
        publish(broker.port, [("probes/fig-west", b"11.4"), ("probes/fig-east", b"11.1")])
        (alarm,) = until(lambda: facts(site, "alarms")["alarms"])
        assert ("harm", "ana") == (alarm["level"], alarm["out_of_service"]["who"])
        assert {"not told"} == {told["verdict"] for told in facts(site, "why", "1")["told"]}

        publish(broker.port, [(topic, b"0")])
        until(lambda: not facts(site, "alarms")["works"])
        told = until(lambda: [t for t in facts(site, "why", "1")["told"] if t["verdict"] == "told"])
        assert {"back in service"} == {t["event"] for t in told}


def test_a_dated_message_outlives_a_daemon_that_is_killed_with_it_in_hand(tmp_path, broker):
    """It is acknowledged only as a durable request: whichever was first, the kill or the request, the work is known."""
    site = Site(tmp_path, port=broker.port)
    said = {"for": 90, "who": "ana", "at": time.time()}
    with daemon(site.file) as running:
        publish(broker.port, [("vermistat/orchard/fig/working", json.dumps(said).encode())])
        running.end(signal.SIGKILL)
    with daemon(site.file):
        (work,) = until(lambda: facts(site, "alarms")["works"])
        assert ("fig", "ana") == (work["bin"], work["who"])
        begun_at, ends_at = (datetime.fromisoformat(work[key]).timestamp() for key in ("since", "until"))
        assert (int(said["at"]), 90 * 60) == (begun_at, ends_at - begun_at)


def test_what_a_plug_draws_is_kept_and_shown(tmp_path, broker):
    plugged = SETTINGS.replace("control: hand}", "control: hand, state: {topic: plugs/long, field: /watts}}")
    site = Site(tmp_path, port=broker.port, text=plugged)
    with daemon(site.file):
        publish(broker.port, [("plugs/long", b'{"watts": 38.5}'), ("probes/plum-near", b"18")])
        (mat,) = until(lambda: [mat for mat in facts(site, "now")["mats"] if mat["on"]])
        assert ("long-mat", 38.5, "plug") == (mat["id"], mat["watts"], mat["told_by"])
    (mat,) = facts(site, "now")["mats"]
    assert 38.5 == mat["watts"]
