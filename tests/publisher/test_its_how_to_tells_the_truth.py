"""config/how-to/publisher.md: its settings are accepted, and it names every key with what it is."""

import re
from pathlib import Path

import pytest

from monitor.publisher.faults import Fault
from monitor.publisher.reading import BROKER, BUFFER, COMMON, KINDS, TOP, WEIGHING, load
from papers.reading import ROOT

PAPER = (ROOT / "config" / "how-to" / "publisher.md").read_text(encoding="utf-8")


def test_its_settings_are_accepted(tmp_path):
    (block,) = re.findall(r"```publisher\n(.*?)```", PAPER, re.DOTALL)
    (tmp_path / "p.yaml").write_text(block)
    (tmp_path / "broker-password").write_text("dry-straw")
    (tmp_path / "broker.pem").write_text("-----BEGIN CERTIFICATE-----")
    settings = load(tmp_path / "p.yaml", environ={})
    assert 5 == len(settings.probes)


@pytest.mark.parametrize(
    "keys", [TOP, BROKER, BUFFER, COMMON, WEIGHING, *KINDS.values()], ids=lambda k: next(iter(k))
)
def test_every_key_stands_in_it_with_what_it_says_and_its_example(keys):
    rows = [line for line in PAPER.splitlines() if line.startswith("|")]
    for name, key in keys.items():
        assert any(f"| `{name}` |" in row and key.says in row and f"`{key.example}`" in row for row in rows), name
        (row,) = [row for row in rows if f"| `{name}` |" in row and key.says in row][:1]
        assert key.needed == ("must be there" in row) or keys is WEIGHING, name


def test_no_row_of_it_names_a_key_that_is_not_there():
    known = {name for keys in (TOP, BROKER, BUFFER, COMMON, WEIGHING, *KINDS.values()) for name in keys}
    written = set(re.findall(r"^\| (?:[^|`]*`?[^|`]*`? \| )?`(\w+)` \| ", PAPER, re.MULTILINE))
    assert known == written


def test_it_says_that_no_real_sensor_was_read_and_has_the_cautions():
    for said in ("No real sensor has been read", "4.7 kΩ", "residual-current device", "licensed", "Unplug"):
        assert said in PAPER


def test_every_fault_is_said_in_words_somewhere():
    sources = "".join(p.read_text() for p in (Path(ROOT) / "monitor" / "publisher").rglob("*.py"))
    for fault in Fault:
        assert f"Fault.{fault.name}" in sources
