"""`vermistat care`: food and water of every bin out of a lived store."""

import pytest

from cli.keeping import NOW, Site, to_noon
from monitor.readings import DAY


@pytest.fixture
def site(tmp_path, noon):
    found = Site(tmp_path, began="2026-11-15T12:00")
    with found.lived() as house:
        to_noon(
            house,
            every=180,
            fig_west=24.0,
            fig_east=24.0,
            fig_mat=25.0,
            fig_damp=1650,
            plum_near=18.0,
            shed_air=12.0,
        )
        house.store.ask(
            NOW - 5 * DAY,
            "ana",
            "diary",
            0,
            "melon",
            body='{"deed": "fed", "subject": "bin:fig", "amount": 1, "unit": "kg"}',
        )
        house.say(fig_west=24.0)
    return found


def test_food_and_water_stand_there_with_what_is_not_known(site, capsys):
    said = site.says(capsys, "care")
    assert "Fig:\n  food: look under the cover; if the last feed is gone, feed about " in said
    assert "  water: " in said and "dry limit of 70 %" in said
    assert "Plum:\n  food: look under the cover when you pass" in said
    assert "not known: no moisture probe speaks" in said


def test_of_one_bin_alone(site, capsys):
    facts = site.tells(capsys, "care", "fig")
    (fig,) = facts["bins"]
    assert ("fig", "look now") == (fig["bin"], fig["feed"]["due"])
    assert fig["water"]["moisture"] == pytest.approx(69.1, abs=0.2)


def test_what_is_done_with_hands_and_water_carries_its_cautions(site, capsys):
    (fig,) = site.tells(capsys, "care", "fig")["bins"]
    assert fig["cautions"][0].startswith("Unplug the mat before hands, tools or water go in")
    for words in ("below 30 °C", "Sprinkle, never pour", "never quick or hydrated lime"):
        assert any(words in one for one in fig["cautions"])
    assert "  caution: Unplug the mat" in site.says(capsys, "care", "fig")
