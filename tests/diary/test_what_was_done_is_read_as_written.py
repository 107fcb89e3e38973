"""The words of an entry: whom it is about, what was done, how much, and the rest."""

from contextlib import suppress

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.deeds import MEANT, UNITS, WAYS, said
from monitor.diary import Deed
from monitor.errors import RequestError
from monitor.rules import Units
from monitor.science.units import POUND
from parts.orchard import rules

METRIC, US = rules(), rules(units=Units.US)


def read(text, of=METRIC):
    found = said(of, text.split())
    return found.subject, found.deed, found.amount, found.unit, found.text


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("fig fed 1.5 kg kitchen scraps", ("bin:fig", Deed.FED, 1.5, "kg", "kitchen scraps")),
        ("Fig fed 1.5kg", ("bin:fig", Deed.FED, 1.5, "kg", "")),
        ("fig fed scraps", ("bin:fig", Deed.FED, None, "", "scraps")),
        ("fig fed", ("bin:fig", Deed.FED, None, "", "")),
        ("fig fed 800 g", ("bin:fig", Deed.FED, 0.8, "kg", "")),
        ("fig fed 2 L", ("bin:fig", Deed.FED, 2.0, "L", "")),
        ("fig.east watered 2 litres of rain", ("zone:fig.east", Deed.WATERED, 2.0, "L", "of rain")),
        ("fig watered 2", ("bin:fig", Deed.WATERED, 2.0, "L", "")),
        ("fig bedding 4 kg leaves", ("bin:fig", Deed.BEDDING, 4.0, "kg", "leaves")),
        ("fig drained 2 L", ("bin:fig", Deed.DRAINED, 2.0, "L", "")),
        ("fig drained tray", ("bin:fig", Deed.DRAINED, None, "", "tray")),
        ("fig harvested 6 kg", ("bin:fig", Deed.HARVESTED, 6.0, "kg", "")),
        ("fig weighed 31 kg", ("bin:fig", Deed.WEIGHED, 31.0, "kg", "")),
        ("plum worms 250 g", ("bin:plum", Deed.WORMS_ADDED, 0.25, "kg", "")),
        ("fig split 1 kg to plum", ("bin:fig", Deed.WORMS_TAKEN, 1.0, "kg", "to plum")),
        ("long-mat on", ("mat:long-mat", Deed.MAT_ON, None, "", "")),
        ("long-mat on 40 W", ("mat:long-mat", Deed.MAT_ON, 40.0, "W", "")),
        ("long-mat off for the day", ("mat:long-mat", Deed.MAT_OFF, None, "", "for the day")),
        ("fig cover 2 blankets", ("bin:fig", Deed.COVER, None, "", "2 blankets")),
        ("fig moved to the porch", ("bin:fig", Deed.MOVED, None, "", "to the porch")),
        ("fig-east lifted and put back", ("probe:fig-east", Deed.PROBE_LIFTED, None, "", "and put back")),
        ("fig looked all well", ("bin:fig", Deed.LOOKED, None, "", "all well")),
        ("fig note 3 dead ones", ("bin:fig", Deed.NOTE, None, "", "3 dead ones")),
        ("site note power cut", ("", Deed.NOTE, None, "", "power cut")),
    ],
)
def test_what_is_written_is_what_is_kept(written, meant):
    assert meant == read(written)


def test_a_bare_number_is_in_the_sites_own_units():
    assert 1.5 == read("fig fed 1.5")[2]
    assert round(1.5 * POUND, 9) == read("fig fed 1.5", US)[2]
    assert 3.785411784 == read("fig watered 1", US)[2]
    assert 0.946352946 == read("fig watered ¼ gal", US)[2]
    assert round(1.5 * 3.785411784, 9) == read("fig watered 1½ gallons", US)[2]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("fig", "say whom it is about and what was done, as in `vermistat diary fig fed 1.5 kg`"),
        ("fed fig", "say whom it is about first, as in `vermistat diary fig fed 1.5 kg`"),
        ("add fig fed 2 kg", "begin with fig, as in `vermistat diary fig fed 1.5 kg`"),
        ("fig emptied 2 L", "the diary knows no emptied; did you mean drained?"),
        ("fig feed 2 kg", "the diary knows no feed; did you mean fed?"),
        ("fig wattered 2 L", "the diary knows no wattered; did you mean watered?"),
        ("fig xyzzy", "the diary knows no xyzzy; known are fed, watered, bedding"),
        ("figs fed 2 kg", "the settings know nothing called figs; did you mean fig?"),
        ("zzz fed 2 kg", "the settings know nothing called zzz; known are fig, plum and sloe"),
        ("fig on", "fig cannot be switched on; that is for long-mat"),
        ("long-mat fed 2 kg", "long-mat cannot be fed; that is for fig, plum and sloe"),
        (
            "fig lifted",
            "fig cannot be lifted; that is for shed-air, shed-damp, fig-west, fig-mat, fig-east and 5 more",
        ),
        (
            "fig fed 2 apples",
            "“2 apples” is no amount here: write it as in fed 1.5 kg or 2 L, further words behind it",
        ),
        ("fig fed 1,5 kg", "“1,5 kg” is no amount here"),
        ("fig fed -2 kg", "“-2 kg” is no amount here"),
        ("fig watered 2 kg", "“2 kg” is no amount here: write it as in watered 2 L"),
        ("fig fed 0 kg", "0 kg cannot be: write an amount above 0 and up to 10000 kg"),
        ("fig fed 20000 kg", "20000 kg cannot be"),
        ("fig weighed", "weighed says nothing without an amount: write it as in weighed 1.5 kg"),
        ("fig weighed heavy", "“heavy” is no amount here"),
    ],
)
def test_whatever_else_is_refused_with_what_would_be_understood(written, words):
    with pytest.raises(RequestError) as refused:
        read(written)
    assert words in str(refused.value)


def test_a_site_in_pounds_is_answered_in_pounds():
    with pytest.raises(RequestError, match="as in fed 3 lb or ½ gal"):
        read("fig fed 2 apples", US)


def test_every_deed_without_a_command_of_its_own_has_its_word_and_every_slip_leads_to_one():
    by_command = {Deed.DONE, Deed.WORKING, Deed.WORKED, Deed.SQUEEZED, Deed.LEARNS_ANEW}
    by_command |= {Deed.LIMITS_CHANGED, Deed.USEFUL, Deed.NEEDLESS}
    assert set(Deed) - by_command == {way.deed for way in WAYS.values()}
    assert set(MEANT.values()) <= set(WAYS)
    assert not set(MEANT) & set(WAYS)


def test_units_agree_with_the_reference_library():
    """Against pint: the customary measures, kilograms and litres."""
    ureg = pint.UnitRegistry()
    names = {"lbs": "lb", "gal": "gallon", "gallons": "gallon", "cups": "cup", "qt": "quart", "litres": "litre",
             "l": "L", "ml": "mL", "oz": "ounce"}  # fmt: skip
    for unit, (symbol, factor) in UNITS.items():
        assert ureg.Quantity(1, names.get(unit, unit)).to(symbol).magnitude == pytest.approx(factor, rel=1e-12)


@settings(max_examples=500, deadline=None)
@given(st.lists(st.one_of(st.text(max_size=8), st.sampled_from(["fig", "fed", "2", "kg", "½", "on", "long-mat"])),
                max_size=6))  # fmt: skip
def test_no_words_break_it(words):
    with suppress(RequestError):
        found = said(METRIC, words)
        assert found.amount is None or found.amount > 0
