"""What DEVELOPERS.md says is enough to add something is enough."""

from dataclasses import replace
from datetime import date

import pytest

from monitor.cli import main
from monitor.notify.send import complaint
from monitor.science import bands, worms
from monitor.settings import load


@pytest.fixture
def another_worm(monkeypatch):
    """One entry in the table of bands."""
    like = bands.BANDS["eisenia-andrei"]
    worm = replace(like, key="pontoscolex-corethrurus", latin="Pontoscolex corethrurus", common="brush-tail worm")
    for table in (bands.BANDS, worms.BANDS):
        monkeypatch.setitem(table, worm.key, worm)
    return worm


def test_one_entry_makes_a_species_known_to_settings_and_command(another_worm, tmp_path, capsys):
    file = tmp_path / "s.yaml"
    file.write_text(
        "site: {id: orchard}\n"
        f"bins: {{fig: {{species: {another_worm.key}, zones: {{w: {{probes: {{p: {{measures: temperature, topic: t}}}}}}}}}}}}\n"
    )
    rules = load([file], environ={}, today=date(2026, 11, 25)).rules
    assert another_worm.temperature == rules.bins["fig"].limits["temperature"]
    assert 0 == main(["species", another_worm.key])
    assert "Pontoscolex corethrurus" in capsys.readouterr().out


@pytest.mark.parametrize(
    "address", ["mailtos://me:x@mail.example", "jsons://my-server.example/path", "mqtts://lamp.local/siren"]
)
def test_a_channel_needs_nothing_but_an_address_that_the_sender_knows(address):
    assert complaint(address) is None
    assert complaint(address.replace("://", "x://")) is not None
