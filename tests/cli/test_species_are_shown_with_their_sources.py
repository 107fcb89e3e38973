"""`vermistat species`: every worm that is known, and each limit of one with its source and mark."""

import pytest

from cli.keeping import Site
from monitor.cli import main
from monitor.science.worms import names, species


@pytest.fixture
def anywhere(tmp_path, monkeypatch):
    """No settings, no store."""
    monkeypatch.chdir(tmp_path)
    return object.__new__(Site)


def test_all_of_them_are_listed_with_where_they_are_at_home(anywhere, capsys):
    said = anywhere.says(capsys, "species")
    for key in names():
        assert f"{key}: {species(key).latin} ({species(key).common})\n" in said
    # 21 × 9/5 + 32 = 69.8, 29 × 9/5 + 32 = 84.2
    assert "at home at 21 to 29 °C (69.8 to 84.2 °F), 70 to 85 % moisture" in said
    assert list(names()) == [worm["key"] for worm in anywhere.tells(capsys, "species")["species"]]


@pytest.mark.parametrize("key", names())
def test_every_limit_of_one_stands_there_with_its_source_and_mark(anywhere, capsys, key):
    said, worm = anywhere.says(capsys, "species", key), species(key)
    for limits, unit in ((worm.temperature, "°C"), (worm.moisture, "%")):
        for bound in (limits.low, limits.high, *(harm.bound for harm in limits.harm)):
            line = next(li for li in said.splitlines() if f"{bound.value:g} {unit}" in li and bound.source in li)
            assert line.endswith(f"[{bound.mark}]")
    assert worm.warning is None or f"Beware: {worm.warning}" in said


def test_wet_bedding_is_said_to_be_told_as_late_as_it_is(anywhere, capsys):
    # checks.watches: wet after 6 h, dry by a 24-h median
    said = anywhere.says(capsys, "species", "eudrilus-eugeniae")
    assert "comfort up to 85 %, told after 6 h outside:" in said
    assert "comfort from 70 %, told after 1 h outside, by the median of a day:" in said


@pytest.mark.parametrize(
    ("key", "said"),
    [("eisenia-foetida", "did you mean eisenia-fetida?"), ("tiger worm", "did you mean"), ("xyz", "known are")],
)
def test_one_that_is_not_known_is_refused_with_the_nearest(capsys, key, said):
    assert 1 == main(["species", key])
    out, errors = capsys.readouterr()
    assert ("", True) == (out, said in errors)
