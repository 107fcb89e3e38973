"""Every order near mains, water, lifting or dust carries its caution, and each caution its source."""

import pytest
from hypothesis import given, settings

from monitor.advice import cautions
from monitor.advice.acts import Act
from monitor.advice.cautions import EVERY, HANDS_IN, LAID_ON, OF_ACT, sourced
from parts.drawn import HOURS, ZONES_NOW, alarms, sheds
from parts.orchard import advise

MARKS = {"seen", "memory", "common practice", "proposal"}
AT_A_PLUG = {Act.MAT_ON, Act.MAT_OFF, Act.MAT_RAISE, Act.MAT_LOWER, Act.MAT_CHECK}


@settings(max_examples=200, deadline=None)
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_every_order_near_a_hazard_has_its_caution(standing, zones, shed, at):
    for order in advise(standing, zones, of=shed, at=at).orders:
        said = set(order.cautions)
        near_mat = any(shed.mats_of(bed) for bed in order.bins)
        if order.act in AT_A_PLUG:
            for needed in (cautions.UNPLUG, cautions.RCD, cautions.THERMOSTAT, cautions.ELECTRICIAN):
                assert needed.words in said
        if near_mat and order.act in HANDS_IN:
            assert cautions.UNPLUG.words in said
        if near_mat and order.act in LAID_ON:
            assert cautions.NOTHING_OVER.words in said
        if order.act in (Act.WATER, Act.DAMPEN):
            assert {cautions.WATER_WARMTH.words, cautions.DUST.words} <= said
        if order.act is Act.DRY:
            assert cautions.DUST.words in said
        if order.act is Act.MOVE:
            assert cautions.LIFT.words in said


def test_every_act_has_an_entry():
    assert set(Act) == set(OF_ACT)


def test_every_caution_has_a_source_and_a_mark_and_is_one_short_line():
    for caution in EVERY:
        assert caution.mark in MARKS
        assert caution.source
        assert len(caution.words) <= 115
        assert caution.words.endswith(".")
        assert "!" not in caution.words
        assert sourced(caution.words).endswith(f"[{caution.source}; {caution.mark}]")


def test_every_caution_in_the_file_is_listed():
    here = {c for c in vars(cautions).values() if isinstance(c, cautions.Caution)}
    assert here == set(EVERY)


@pytest.mark.parametrize(
    ("caution", "word", "where"),
    [
        # BS 7671:2008+A3 section 705: socket circuits up to 32 A → 30 mA [seen]
        (cautions.RCD, "30 mA", "BS 7671"),
        # UK HSE HSG53 asks for protection factor 20 against bioaerosols, FFP3 by EN 149 [seen quotation]
        (cautions.DUST, "FFP3", "HSG53"),
        # NIOSH lifting equation: load constant 23 kg [memory]
        (cautions.LIFT, "two people or a trolley", "NIOSH"),
        # IEC 60335-2-71: heating appliances for breeding and rearing animals [memory]
        (cautions.LISTED, "listed", "60335-2-71"),
    ],
)
def test_standards_are_named_with_what_they_ask(caution, word, where):
    assert word in caution.words
    assert where in caution.source


def test_local_code_and_a_licensed_electrician_decide():
    assert (
        "Local electrical code decides; fixed wiring is work for a licensed electrician."
        == cautions.ELECTRICIAN.words
    )


def test_a_caution_nobody_knows_comes_back_as_it_is():
    assert "Mind the step." == sourced("Mind the step.")
