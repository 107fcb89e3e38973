"""The form of notices and explanations: line 1 bin, act, by when; line 2 why; then one line each."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act, Advice, Order
from monitor.checks.findings import Condition
from monitor.notify.text import compose, explain, may, sentence
from monitor.rules import Ability, Control, Level, Units
from parts.orchard import ANA, FIG, PLUM, advise, alarm, by, ms, now_at, rules

COLD = alarm(12, "fig", Condition.COLD, Level.HARM)
NOW = now_at(fig_west=14.2, fig_east=14.8)
AT = ms("14:00")


def order(words="switch long-mat on", **changes):
    made = Order(
        Act.MAT_ON, "long-mat", words,
        "Warmest living zone 14.8 °C, harm below 15 °C; since 01:10.",
        cautions=("Unplug first.",), needs=Ability.MATS, by=AT, alarms=(12,), bins=("fig",),
        fact="west is 14.2 °C",
    )  # fmt: skip
    return replace(made, **changes)


def lines(*news, still=(), over=(), person=ANA, shed=None, place="shed"):
    return compose(news, still, over, person=person, rules=shed or rules(), place=place, now=AT).lines


def first(one, **more):
    return lines(one, **more)[0]


@pytest.mark.parametrize(
    ("words", "due", "line"),
    [
        ("switch long-mat on", "14:00", "Fig: switch long-mat on now; west is 14.2 °C"),
        ("switch long-mat on", "09:00", "Fig: switch long-mat on now; west is 14.2 °C"),  # overdue
        ("switch long-mat on", "20:00", "Fig: switch long-mat on by 20:00; west is 14.2 °C"),
        ("look at it: it is off", "20:00", "Fig: look at it by 20:00: it is off; west is 14.2 °C"),
        ("wrap it, not the mat", "14:00", "Fig: wrap it now, not the mat; west is 14.2 °C"),
    ],
)
def test_the_time_stands_where_the_act_ends(words, due, line):
    assert line == first(order(words, by=ms(due)))


def test_tomorrow_is_said():
    late = order(by=ms("2026-11-26T10:00"))
    assert "Fig: switch long-mat on by tomorrow 10:00; west is 14.2 °C" == first(late)


def test_what_does_not_hurry_has_no_time():
    assert "Fig: feed less while it is cold; west is 14.2 °C" == first(
        order("feed less while it is cold", by=None)
    )


def test_the_three_lines_are_act_why_and_one_caution():
    assert (
        "Fig: switch long-mat on now; west is 14.2 °C",
        "Warmest living zone 14.8 °C, harm below 15 °C; since 01:10.",
        "Unplug first.",
    ) == lines(order(cautions=("Unplug first.", "And the rest.")))


def test_the_reading_gives_way_when_line_one_is_full():
    long = order("look at long-mat and its thermostat and at the plug behind it")
    assert "Fig: look at long-mat and its thermostat and at the plug behind it now" == first(
        replace(long, fact="west is 14.2 °C and falling")
    )


def test_the_reading_gives_way_when_the_cut_would_hit_the_numbers_of_line_two():
    why = (
        "Warmest living zone 14.8 °C, harm for Dendrobaena veneta by your own limit at 15 °C or below for 4 h; so"
    )
    told = lines(order("raise long-mat's thermostat from 20 °C to 22 °C", why=why))
    assert "Fig: raise long-mat's thermostat from 20 °C to 22 °C now" == told[0]
    assert why.partition(";")[0] in "\n".join(told)[:160]


def test_a_bin_with_a_long_name_still_has_a_first_line_of_90():
    shed = rules(bins=(replace(FIG, name="The big bin by the north wall of the shed"), PLUM))
    told = lines(order("raise long-mat's thermostat from 20 °C to 22 °C"), shed=shed)
    assert len(told[0]) <= 90
    assert told[0].startswith("The big bin by the north wall of the shed: raise long-mat's thermostat")


def test_one_plug_for_several_bins_names_them():
    assert first(order(bins=("fig", "plum"))).startswith("Fig and Plum: ")
    assert first(order(bins=("fig", "plum", "sloe"))).startswith("Fig and 2 more: ")


def test_what_belongs_to_no_bin_is_the_places_or_the_programs():
    assert first(order(bins=())).startswith("Shed: ")
    assert first(order(bins=()), place="").startswith("Vermistat: ")


def test_further_acts_are_one_line_each_and_the_rest_is_counted():
    many = [order(f"do thing {n}") for n in range(12)]
    told = lines(*many)
    assert "Fig: do thing 1 now; west is 14.2 °C" == told[3]
    assert "And 3 things more: `vermistat now` shows all." == told[-1]
    assert "And 1 thing more: `vermistat now` shows all." == lines(*many[:10])[-1]


def test_what_a_person_may_do_comes_first_and_the_rest_says_whose_it_is():
    person = replace(ANA, may=frozenset({Ability.WATER}))
    told = lines(order(), order("wrap it in blankets", needs=None), person=person)
    assert "Fig: wrap it in blankets now; west is 14.2 °C" == told[0]
    assert "Fig: switch long-mat on now; for somebody who may see to mats" == told[-1]
    assert not may(person, order())


def test_behind_why_stand_the_readings_the_source_the_cautions_and_how_to_answer():
    advice = advise([COLD], NOW)
    said = explain(advice, rules(), ms("02:10"))
    assert "Read now: west 14.2 °C (5 min ago); east 14.8 °C (5 min ago)." in said
    assert any("The limit comes from: our proposal, below the 16 °C tolerated in" in line for line in said)
    assert any(line.startswith("Unplug the mat") and line.endswith("common practice]") for line in said)
    assert "Alarm 12: answer with `vermistat seen 12`, or `vermistat done 12` when it is done." in said
    assert len(said) == len(set(said))


def test_a_limit_of_the_keepers_own_says_so():
    own = replace(COLD, evidence=replace(COLD.evidence, mark="settings", source="config/vermistat.yaml"))
    advice = advise([own], NOW)
    assert "harm by your own limit at 15 °C or below for 4 h" in advice.orders[0].why
    said = explain(advice, rules(), ms("02:10"))
    assert "The limit comes from: config/vermistat.yaml (settings)." in said


def test_nothing_to_do_is_said():
    assert ("Nothing needs doing here.",) == explain(Advice("shed", AT, (), AT), rules(), AT)


def test_an_order_alone_is_a_sentence_for_the_page():
    assert "Fig: switch long-mat on now; west is 14.2 °C" == sentence(order(), rules(), "shed", AT)


def test_fahrenheit_all_through():
    shed = rules(units=Units.US, mats=[by(Control.THERMOSTAT, 14.0)])
    advice = advise([COLD], NOW, of=shed)
    said = [o.words + o.why + o.fact for o in advice.orders]
    assert "raise long-mat's thermostat from 57.2 °F to 60.8 °F" == advice.orders[0].words
    assert not any("°C" in line for line in said)


def test_a_bin_with_one_living_zone_is_called_the_bed():
    advice = advise([alarm(13, "plum", Condition.COLD, value=8.0)], now_at(plum_near=8.0))
    assert "the bed is 8.0 °C" == advice.orders[0].fact
    assert advice.orders[0].why.startswith("Bed 8.0 °C, comfort for E. fetida from 10 °C; since ")


def test_without_a_reading_now_what_was_measured_stands():
    order_without = advise([COLD], {}).orders[0]
    assert order_without.why.startswith("Warmest living zone was 15.0 °C, harm for E. eugeniae at 15 °C or below")
