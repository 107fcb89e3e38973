"""The systemd units: systemd itself reads them and finds little that is open."""

import configparser
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from monitor.readings import MINUTE

DEPLOY = Path(__file__).parents[2] / "deploy"
UNITS = ["vermistat", "vermistat-publisher"]


class _Unit(configparser.RawConfigParser):
    """A unit file may say the same key twice; then both hold."""

    def optionxform(self, optionstr):
        return optionstr


@pytest.fixture(params=UNITS)
def text(request):
    """One of the units."""
    return (DEPLOY / f"{request.param}.service").read_text(encoding="utf-8")


@pytest.fixture
def service(text):
    unit = _Unit(strict=False, delimiters=("=",), comment_prefixes=("#", ";"))
    unit.read_string(text)
    return unit["Service"]


@pytest.fixture
def here(tmp_path, text):
    """The unit with a command that exists on this machine: `verify` looks for it."""
    copy = tmp_path / "vermistat.service"
    lines = [f"ExecStart={shutil.which('true')}" if x.startswith("ExecStart=") else x for x in text.splitlines()]
    copy.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return copy


def analyze(*args):
    return subprocess.run(["systemd-analyze", *args], capture_output=True, text=True, timeout=60, check=False)


def test_systemd_reads_it_without_a_word(here):
    done = analyze("verify", here)
    assert (0, "") == (done.returncode, done.stderr)


def test_systemd_does_notice_a_slip(here):
    here.write_text(here.read_text().replace("WatchdogSec=", "WatchdogSecs="))
    assert "WatchdogSecs" in analyze("verify", here).stderr


def test_its_exposure_is_at_most_one_and_a_half_of_ten(here):
    done = analyze("security", "--offline=true", "--threshold=15", here)
    assert 0 == done.returncode, done.stdout


def test_without_its_walls_it_would_be_refused(here):
    kept = [
        x for x in here.read_text().splitlines() if not x.startswith(("Protect", "Private", "Restrict", "System"))
    ]
    here.write_text("\n".join(kept))
    assert 0 != analyze("security", "--offline=true", "--threshold=15", here).returncode


def test_wrong_settings_and_wrong_calls_are_not_tried_again(service):
    # sysexits.h: EX_CONFIG 78, EX_USAGE 64
    # systemd.exec(5): EXIT_CREDENTIALS 243
    assert {"78", "64", "243"} == set(service["RestartPreventExitStatus"].split())
    assert "on-failure" == service["Restart"]


def test_the_watchdog_bears_one_round_that_is_late(service):
    assert "notify" == service["Type"]
    assert 2 * MINUTE == int(service["WatchdogSec"]) * 1000


def test_it_keeps_its_things_where_only_it_can_read_them(service):
    assert service["StateDirectory"] in UNITS
    assert ("0700", "yes") == (service["StateDirectoryMode"], service["DynamicUser"])
    assert f"/var/lib/{service['StateDirectory']}" == service["WorkingDirectory"]


def test_it_may_ask_whether_the_clock_is_synchronised(text):
    """ProtectClock= refuses adjtimex(2) even where it only asks (systemd issue 26413); to set anything takes CAP_SYS_TIME."""
    lines = text.splitlines()
    assert not [line for line in lines if line.startswith("ProtectClock")]
    assert "SystemCallFilter=adjtimex clock_adjtime" in lines
    assert lines.index("SystemCallFilter=adjtimex clock_adjtime") > lines.index(
        "SystemCallFilter=~@privileged @resources"
    )
    assert "CapabilityBoundingSet=" in lines


def test_the_lines_that_let_it_at_a_bus_and_at_pins_are_read_by_systemd_too(tmp_path):
    paper = (DEPLOY.parent / "config" / "how-to" / "publisher.md").read_text(encoding="utf-8")
    (lines,) = re.findall(r"```ini\n(.*?)```", paper, re.DOTALL)
    text = (DEPLOY / "vermistat-publisher.service").read_text(encoding="utf-8")
    own = [f"ExecStart={shutil.which('true')}" if x.startswith("ExecStart=") else x for x in text.splitlines()]
    unit = tmp_path / "vermistat-publisher.service"
    unit.write_text("\n".join(own) + "\n")
    beside = tmp_path / "vermistat-publisher.service.d"
    beside.mkdir()
    (beside / "override.conf").write_text(lines)
    done = analyze("verify", unit)
    assert (0, "") == (done.returncode, done.stderr)


def test_the_how_tos_buffer_lies_where_the_publisher_may_write():
    paper = (DEPLOY.parent / "config" / "how-to" / "publisher.md").read_text(encoding="utf-8")
    assert "file: /var/lib/vermistat-publisher/" in paper


def test_it_is_told_which_boot_this_is(text):
    """systemd.unit(5): `%b` is the boot's id; ProcSubset=pid hides the kernel's own file of it."""
    assert "Environment=VERMISTAT_BOOT=%b" in text.splitlines()
