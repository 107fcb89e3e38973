import pytest

from monitor.errors import BadValue
from monitor.science.worms import names, species


@pytest.mark.parametrize("key", names())
def test_every_name_is_found_under_itself(key):
    assert key == species(key).key
    assert key == species(key).latin.lower().replace(" ", "-")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("eisenia-fetid", "eisenia-fetida"),
        ("Eisenia fetida", "eisenia-fetida"),
        ("EUDRILUS-EUGENIAE", "eudrilus-eugeniae"),
        ("eudrilus", "eudrilus-eugeniae"),
        ("African nightcrawler", "eudrilus-eugeniae"),
        ("European nightcrawlers", "dendrobaena-veneta"),
        ("red wigglers", "eisenia-fetida"),
        ("perionix-excavatus", "perionyx-excavatus"),
    ],
)
def test_a_misspelt_or_a_trade_name_is_refused_with_the_key_that_was_meant(written, meant):
    with pytest.raises(BadValue, match=f"did you mean {meant}\\?"):
        species(written)


@pytest.mark.parametrize("written", ["zebra", "", "   "])
def test_a_name_near_nothing_is_refused_with_every_key_there_is(written):
    with pytest.raises(BadValue) as refused:
        species(written)
    for key in names():
        assert key in str(refused.value)
