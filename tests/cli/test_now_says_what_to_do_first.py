"""`vermistat now`: sentences with what to do first, then every bin in numbers, then whatever else is to be known.

The numbers expected are reckoned by hand from what the probes said and the limits of `science.bands`: E. eugeniae
comfort 21 to 29 °C, harm at 12 °C at once; E. fetida comfort 10 to 28 °C. °F = °C × 9/5 + 32, a difference × 9/5.
"""

import pytest

from cli.keeping import NOW, SETTINGS, Site, cold, part, to_noon
from monitor.checks.findings import Condition
from monitor.readings import DAY, HOUR, MINUTE, Quality, Reading, Refusal, RefusalKind, Undated
from monitor.store.promises import Batch
from parts import kept

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}


def lines(text):
    return [line.strip() for line in text.splitlines() if line.strip()]


def test_where_all_is_well_it_says_so_and_gives_every_bin(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
    said = site.says(capsys, "now")
    assert ["Orchard shed at 12:00. Last judged 0 s ago.", "Nothing needs doing.", "The bins"] == lines(said)[:3]
    bins = part(said, "The bins")
    assert "Fig: 23.0 to 24.0 °C is all right (comfort 21 to 29 °C)" in bins
    assert (
        "west 24.0 °C, 0 s ago; mat (at the mat) 26.0 °C, 0 s ago; east 23.0 °C and 77 % moisture, 0 s ago" in bins
    )
    assert "Plum: 18.0 °C is all right (comfort 10 to 28 °C)" in bins
    assert "  shed: 3.0 °C, 0 s ago\n" == part(said, "The air")
    assert "Also" not in said


def test_what_is_urgent_stands_before_what_is_not_and_before_the_bins(site, capsys):
    with site.lived() as house:
        cold(house, plum_near=29.0)
    said, orders = site.says(capsys, "now"), site.tells(capsys, "now")["to_do"]
    titles = [line for line in said.splitlines() if line and line[0] != " "]
    assert ["Urgent", "To do", "The bins", "The mats", "The air"] == [t for t in titles if not t.endswith(".")]
    assert [True, False] == list(dict.fromkeys(order["urgent"] for order in orders))
    for urgent, title in ((True, "Urgent"), (False, "To do")):
        mine = [order for order in orders if order["urgent"] is urgent]
        assert [o["sentence"] for o in mine] == [
            line.strip().partition(" (alarm")[0] for line in part(said, title).splitlines() if line[2] != " "
        ]
        assert mine == sorted(mine, key=lambda order: order["by"] or "never")
    assert orders[0]["sentence"].startswith("Fig: ")
    assert orders[0]["sentence"].endswith("; west is 11.4 °C")


def test_an_order_comes_with_its_reason_and_the_first_of_its_cautions(cold_site, capsys):
    order = cold_site.tells(capsys, "now")["to_do"][0]
    said = lines(part(cold_site.says(capsys, "now"), "Urgent"))
    assert [f"{order['sentence']} (alarm 1)", order["why"], order["cautions"][0]] == said[:3]


def test_a_bin_out_of_comfort_says_what_it_lacks_in_numbers(cold_site, capsys):
    fig = cold_site.tells(capsys, "now")["bins"][0]
    assert [{
        "subject": "bin:fig", "zone": "west", "condition": "cold", "level": "harm", "value": 11.4, "limit": 21.0,
        "apart": 9.6, "unit": "°C", "alarm": 1, "alarm_at": None,
    }] == fig["outside"]  # fmt: skip
    assert fig["sentence"].startswith(
        "too cold by 9.6 °C: warmest living zone, west, 11.4 °C, comfort 21 to 29 °C, harm at 12 °C or below"
        " (alarm 1, harm)"
    )


def test_a_site_in_us_units_reads_fahrenheit_and_its_own_clock(tmp_path, noon, capsys):
    site = Site(tmp_path, units="us", zone="America/New_York")
    with site.lived() as house:
        cold(house)
    said = site.says(capsys, "now")
    assert "Orchard shed at 07:00." in said
    assert "too cold by 17.3 °F: warmest living zone, west, 52.5 °F, comfort 69.8 to 84.2 °F" in said
    assert "harm at 53.6 °F or below" in said
    assert "west 52.5 °F" in said
    assert "°C" not in said
    # JSON stays canonical, but for its sentences
    assert 11.4 == site.tells(capsys, "now")["bins"][0]["outside"][0]["value"]


def test_a_limit_that_is_met_but_not_for_long_enough_says_when_it_will_be_an_alarm(site, capsys):
    with site.lived() as house:
        house.at = NOW - 30 * MINUTE
        to_noon(house, **{**WELL, "plum_near": 33.0})
    plum = site.tells(capsys, "now")["bins"][1]
    assert (None, "2026-11-25T12:30:00Z") == (plum["outside"][0]["alarm"], plum["outside"][0]["alarm_at"])
    assert "too hot by 5 °C: 33.0 °C, comfort 10 to 28 °C" in plum["sentence"]
    assert "(an alarm at 12:30 if it lasts)" in plum["sentence"]


def test_an_alarm_of_comfort_says_when_it_would_be_harm(site, capsys):
    with site.lived() as house:
        house.at = NOW - 2 * HOUR
        to_noon(house, **{**WELL, "fig_west": 14.8, "fig_east": 14.0})
    # comfort was left at 10:00, told at 11:00; harm at 15 °C lasts 4 h, so it is full at 14:00
    fig = site.tells(capsys, "now")["bins"][0]
    assert (1, "2026-11-25T14:00:00Z") == (fig["outside"][0]["alarm"], fig["outside"][0]["alarm_at"])
    assert "harm at 15 °C or below (alarm 1; harm at 14:00 if it lasts)" in fig["sentence"]


def test_at_the_limit_counts_as_outside(site, capsys):
    with site.lived() as house:
        to_noon(house, **{**WELL, "fig_west": 21.0, "fig_east": 20.0})
    sentence = site.tells(capsys, "now")["bins"][0]["sentence"]
    assert sentence.startswith("too cold at the limit: warmest living zone, west, 21.0 °C")


def test_a_bin_back_inside_whose_alarm_has_not_ended_says_both(site, capsys):
    with site.lived() as house:
        house.at = NOW - 4 * HOUR
        cold(house)
        house.at = NOW - 10 * MINUTE
    with site.lived() as house:
        house.at = NOW + MINUTE
        house.say(**WELL)
    sentence = site.tells(capsys, "now")["bins"][0]["sentence"]
    assert "23.0 to 24.0 °C is all right" in sentence
    assert "alarm 1 (too cold, harm) has still to end" in sentence


def test_a_probe_that_is_too_old_to_judge_by_is_said_so_and_counts_for_nothing(site, capsys):
    with site.lived() as house:
        house.at = NOW - 3 * HOUR
        house.say(**WELL)
        house.at = NOW
        house.say(fig_west=24.5, plum_near=18.0)
    facts, said = site.tells(capsys, "now"), site.says(capsys, "now")
    east = facts["bins"][0]["zones"][2]["values"][0]
    assert (False, 3 * 60 * 60) == (east["fresh"], east["age_seconds"])
    assert "east 23.0 °C and 77 % moisture, 3 h ago, TOO OLD TO JUDGE BY" in said
    assert "Fig: 24.5 °C is all right" in said


def test_a_bin_of_which_nothing_good_is_known_is_not_called_well(site, capsys):
    with site.lived() as house:
        house.at = NOW
        house.say(fig_mat=25.0)
    bins = site.tells(capsys, "now")["bins"]
    assert "nobody knows how warm it is" in bins[0]["sentence"]
    assert "nobody knows how warm it is." == bins[1]["sentence"]
    assert "all right" not in bins[0]["sentence"] + bins[1]["sentence"]
    assert "near temperature not known" in site.says(capsys, "now")


@pytest.mark.parametrize(
    ("quality", "value", "words", "kind"),
    [
        (Quality.DISCONNECTED, -127.0, "said −127.0 °C at 12:00, what is said for a chip", "not believed"),
        (Quality.POWER_ON, 85.0, "said 85.0 °C at 12:00, what a chip says that has just", "not believed"),
        (Quality.JUMP, 40.0, "said 40.0 °C at 12:00, further from the value before", "not believed"),
        (Quality.STUCK, 24.0, "said 24.0 °C at 12:00, the same to the last digit", "not believed"),
        (Quality.AHEAD, 24.1, "said 24.1 °C at 12:00, dated in the future", "not believed"),
        (Quality.OUT_OF_RANGE, 900.0, "said 900.0 °C at 12:00, which is impossible", "not believed"),
        (Quality.RETAINED, 24.2, "said 24.2 °C, kept by the broker and of unknown age", "kept by the broker"),
    ],
)  # fmt: skip
def test_a_newest_value_that_is_not_judged_is_shown_with_the_reason(site, capsys, quality, value, words, kind):
    with site.lived() as house:
        house.at = NOW - 5 * MINUTE
        house.say(**WELL)
        house.at = NOW
        ahead = 3 * HOUR if quality is Quality.AHEAD else 0
        house.keep(Reading("fig-west", NOW + ahead, value, NOW, quality))
        house.rounds.run()
    facts = site.tells(capsys, "now")
    west = facts["bins"][0]["zones"][0]["values"][0]
    assert (24.0, 300) == (west["value"], west["age_seconds"])
    assert west["doubt"].startswith(words)
    assert [kind] == [n["kind"] for n in facts["notes"]]
    assert f"fig-west {west['doubt']}: shown, not judged." in part(site.says(capsys, "now"), "Also")


def test_moisture_is_given_by_its_points_and_outside_them_with_a_doubt(site, capsys):
    with site.lived() as house:
        house.at = NOW
        house.say(**{**WELL, "fig_damp": 1500.5})
    # 12 + (2700 − 1500.5) / (2700 − 1450) × (80 − 12) = 77.2528 %
    value = site.tells(capsys, "now")["bins"][0]["zones"][2]["values"][1]
    assert (77.25, "%", None) == (value["value"], value["unit"], value["doubt"])
    assert "moisture 77 % is all right (comfort 70 to 85 %)" in site.says(capsys, "now")
    with site.lived() as house:
        house.at = NOW + 1
        house.say(**{**WELL, "fig_damp": 3300})
    facts = site.tells(capsys, "now")
    assert "reads outside its calibration" in facts["bins"][0]["zones"][2]["values"][1]["doubt"]
    assert ["not believed"] == [note["kind"] for note in facts["notes"]]
    assert "nobody knows how moist it is" in facts["bins"][0]["sentence"]


def test_a_moisture_probe_without_points_shows_what_it_sends_and_is_never_called_dry(tmp_path, noon, capsys):
    text = SETTINGS.replace(
        "calibration: [{counts: 2700, moisture: 12 %}, {counts: 1450, moisture: 80 %}]", "every: 1 h"
    )
    site = Site(tmp_path, text=text)
    with site.lived() as house:
        house.at = NOW
        house.say(**{**WELL, "fig_damp": 41})
    said = site.says(capsys, "now")
    assert "moisture 41 as sent" in said
    assert "moisture is shown, not judged: no calibration" in said
    assert [] == site.tells(capsys, "now")["bins"][0]["outside"]


def test_values_of_unknown_time_are_shown_with_how_many_and_never_as_now(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
        house.store.keep(Batch(undated=[Undated("plum-near", 9.0, NOW), Undated("plum-near", 8.5, NOW)]))
        house.store.keep(Batch(undated=[Undated("plum-near", 1.0, NOW - 2 * DAY)]))
    facts = site.tells(capsys, "now")
    assert [("time unknown", "plum-near", 2)] == [(n["kind"], n["about"], n["count"]) for n in facts["notes"]]
    note = facts["notes"][0]["sentence"]
    assert "2 values of plum-near came in at 12:00 from a time nobody knows, the last 8.5 °C" in note
    assert 18.0 == facts["bins"][1]["zones"][0]["values"][0]["value"]


def refusal(at, topic="probes/fig-damp", probe="fig-damp", reason="“warm” is not a number: send digits."):
    return Refusal(topic, probe, RefusalKind.NOT_A_NUMBER, reason, b"warm", at)


def test_messages_that_were_refused_are_counted_with_topic_reason_and_time(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
        house.store.keep(Batch(refusals=[refusal(NOW - 5 * MINUTE), refusal(NOW - MINUTE)]))
        house.store.keep(Batch(refusals=[refusal(NOW - 3 * DAY, topic="probes/long-ago")]))
    facts = site.tells(capsys, "now")
    assert [("refused", "probes/fig-damp", 2, "2026-11-25T11:59:00Z")] == [
        (n["kind"], n["about"], n["count"], n["at"]) for n in facts["notes"]
    ]
    said = part(site.says(capsys, "now"), "Also")
    assert (
        "probes/fig-damp (for fig-damp): refused 2 times so far, the last at 11:59. “warm” is not a number" in said
    )


def test_a_probe_that_contradicts_itself_is_named(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
        house.store.keep(Batch(readings=[Reading("fig-west", NOW, 25.5, NOW)]))
    notes = site.tells(capsys, "now")["notes"]
    assert [("contradicted", "fig-west", 1)] == [(n["kind"], n["about"], n["count"]) for n in notes]


def test_nothing_that_anybody_publishes_reaches_the_terminal_as_a_command_to_it(site, capsys):
    evil = "\x1b[2J\x07“\x9b31m”\nOrchard shed at 12:00. Nothing needs doing."
    with site.lived() as house:
        to_noon(house, **WELL)
        house.store.keep(Batch(refusals=[refusal(NOW, reason=evil)]))
    said = site.says(capsys, "now")
    assert not [c for c in said if c != "\n" and not c.isprintable()]
    assert 1 == sum(line.startswith("Orchard shed") for line in said.splitlines())
    assert 1 == len(part(said, "Also").splitlines())


def test_without_a_recent_round_it_says_that_nobody_watches(site, capsys):
    with site.lived() as house:
        house.at = NOW - 3 * HOUR
        house.say(**WELL)
    said, facts = site.says(capsys, "now"), site.tells(capsys, "now")
    assert "NOBODY WATCHES: last judged 3 h ago, at 09:00. Start `vermistat run`" in said
    assert "Nothing needs doing." not in said
    assert (False, "2026-11-25T09:00:00Z") == (facts["watching"], facts["last_round"])


@pytest.mark.parametrize(("minutes", "watching"), [(0, True), (5, True), (6, False)])
def test_a_few_minutes_without_a_round_are_nothing_yet(site, capsys, minutes, watching):
    with site.lived() as house:
        house.at = NOW - minutes * MINUTE
        house.say(**WELL)
    assert watching is site.tells(capsys, "now")["watching"]


def test_a_store_that_no_round_ever_judged_says_so(site, capsys):
    with site.lived():
        pass
    facts = site.tells(capsys, "now")
    assert (None, False, []) == (facts["last_round"], facts["watching"], facts["to_do"])
    assert "no round was ever judged here. Start `vermistat run`" in site.says(capsys, "now")


def test_a_notice_that_does_not_go_out_is_said_with_what_the_channel_answered(cold_site, capsys):
    with cold_site.lived() as house:
        house.store.failed(1, "mail", NOW + 10 * MINUTE, "the server said 451, \x1btry later")
    notes = cold_site.tells(capsys, "now")["notes"]
    assert [("notice waits", "mail", 1)] == [(n["kind"], n["about"], n["count"]) for n in notes]
    assert "By mail not out yet after 1 try: notice 1 to ana." in notes[0]["sentence"]
    with cold_site.lived() as house:
        house.store.give_up(1, "mail", "the server said 550")
    assert ["notice given up"] == [n["kind"] for n in cold_site.tells(capsys, "now")["notes"]]


def test_an_answer_that_waits_for_the_next_round_is_shown(cold_site, capsys):
    cold_site.says(capsys, "seen", "1", "--as", "ana")
    facts = cold_site.tells(capsys, "now")
    assert [("answer waits", "1")] == [(n["kind"], n["about"]) for n in facts["notes"]]
    assert "ana said `seen` of alarm 1 at 12:00: the next round takes it up." == facts["notes"][0]["sentence"]
    assert [False] == list({o["seen"] for o in facts["to_do"]})
    with cold_site.lived() as house:
        house.at = NOW
        house.later(1).say(fig_west=11.3)
    facts = cold_site.tells(capsys, "now")
    assert [] == facts["notes"]
    assert [True] == list({o["seen"] for o in facts["to_do"]})
    assert "(alarm 1, seen)" in cold_site.says(capsys, "now")


def test_an_alarm_that_no_order_answers_is_never_passed_over(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
        alarm = kept.alarm(7, key=kept.key("plum.near", Condition.HOT), cause=None)
        house.store.commit(kept.round_(1000, alarms=[alarm]))
    said, facts = site.says(capsys, "now"), site.tells(capsys, "now")
    assert [("no advice", "7")] == [(n["kind"], n["about"]) for n in facts["notes"]]
    assert "Alarm 7 (Plum near: too hot, harm) stands without advice" in part(said, "Also")
    assert "Nothing" not in said


def test_advice_for_what_stands_no_longer_is_not_shown(site, capsys):
    with site.lived() as house:
        to_noon(house, **WELL)
        house.store.commit(kept.round_(1000, advice=[kept.advice(number=7)]))
    assert [] == site.tells(capsys, "now")["to_do"]
    assert "Nothing was to do when last looked at." in site.says(capsys, "now")
