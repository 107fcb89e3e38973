"""`vermistat probes`: what is known of every probe, what is the matter with it, and what would calibrate it."""

import yaml

from cli.keeping import NOW, SETTINGS, Site
from monitor.readings import DAY, HOUR, MINUTE, Quality, Reading, Refusal, RefusalKind, Undated
from monitor.settings import load
from monitor.store.promises import Batch

UNCALIBRATED = SETTINGS.replace(
    "calibration: [{counts: 2700, moisture: 12 %}, {counts: 1450, moisture: 80 %}]", "sends: counts"
).replace("bedding: 35 kg", "bedding: 35 kg\n    made_of: paper")


def living(tmp_path, text=SETTINGS, units="metric"):
    return Site(tmp_path, text=text, units=units)


def speak(house, days=1.0, *, step=HOUR, **values):
    """Every probe says its value (or what it makes of the days from now) every hour, up to NOW."""
    count = int(days * DAY / step)
    readings = []
    for n in range(count + 1):
        at = NOW - (count - n) * step
        for name, value in values.items():
            shown = value((at - NOW) / DAY) if callable(value) else value + n % 3 * 0.0625
            readings.append(Reading(name.replace("_", "-"), at, shown, at))
    house.at = NOW
    house.keep(*readings)
    house.rounds.run()


ALL = dict.fromkeys(("shed_air", "fig_west", "fig_mat", "fig_east", "plum_near"), 23.0) | {"fig_damp": 1600.0}


def row(facts, probe):
    return next(r for r in facts["probes"] if r["probe"] == probe)


def test_of_each_probe_it_says_what_it_sent_how_often_and_how_well(tmp_path, noon, capsys):
    site = living(tmp_path)
    with site.lived() as house:
        speak(house, **ALL)
    facts = site.tells(capsys, "probes")
    assert 6 == len(facts["probes"])
    west = row(facts, "fig-west")
    assert ("fig.west", "temperature", "probes/fig-west") == (west["placed"], west["measures"], west["topic"])
    assert (3600, False, "good", 25, 1.0) == (
        west["every_seconds"], west["every_is_told"], west["quality"], west["readings_of_a_day"], west["good_share"],
    )  # fmt: skip
    assert (300, True) == (row(facts, "shed-air")["every_seconds"], row(facts, "shed-air")["every_is_told"])
    assert "2 points" == row(facts, "fig-damp")["calibration"]
    said = site.says(capsys, "probes")
    assert "6 probes: 6 as they should be." in said
    assert (
        "fig-west (temperature, fig.west, probes/fig-west): 23.0 °C, heard 0 s ago, every 1 h (learned); 100 % of 25 in a "
        "day good; calibration: as it speaks." in said
    )


def test_the_worst_comes_first_with_what_is_the_matter(tmp_path, noon, capsys):
    site = living(tmp_path)
    with site.lived() as house:
        speak(house, **{k: v for k, v in ALL.items() if k != "plum_near"})
        house.keep(Reading("fig-east", NOW + 1, -127.0, NOW, Quality.DISCONNECTED))
        house.store.keep(
            Batch(
                refusals=[Refusal("probes/fig-mat", "fig-mat", RefusalKind.NOT_A_NUMBER, "“warm” is no number.", b"warm", NOW)],
                undated=[Undated("fig-west", 8.0, NOW)],
            )
        )  # fmt: skip
        house.rounds.run()
    facts = site.tells(capsys, "probes")
    assert ["fig-east", "plum-near"] == [r["probe"] for r in facts["probes"][:2]]
    assert {"fig-mat", "fig-west"} == {r["probe"] for r in facts["probes"][2:4]}
    assert row(facts, "plum-near")["heard"] is None
    assert [("not a number", 1, "“warm” is no number.")] == [
        (r["kind"], r["count"], r["last"]) for r in row(facts, "fig-mat")["refused"]
    ]
    said = site.says(capsys, "probes")
    assert "6 probes: 2 as they should be." in said
    assert "plum-near (temperature, plum.near, probes/plum-near): never heard." in said
    assert "It said −127.0 °C at 12:00, what is said for a chip that is not there." in said
    assert "Refused 1 message (not a number), the last at 12:00: “warm” is no number." in said
    assert "1 value from a time nobody knows." in said


def test_one_bin_alone(tmp_path, noon, capsys):
    site = living(tmp_path)
    with site.lived() as house:
        speak(house, **ALL)
    facts = site.tells(capsys, "probes", "--bin", "plum")
    assert ("plum", ["plum-near"]) == (facts["bin"], [r["probe"] for r in facts["probes"]])
    assert "1 probe of plum: 1 as it should be." in site.says(capsys, "probes", "--bin", "plum")


def test_a_moisture_probe_without_points_says_which_way_it_goes(tmp_path, noon, capsys):
    site = living(tmp_path, UNCALIBRATED)
    with site.lived() as house:
        speak(house, 8, **(ALL | {"fig_damp": lambda day: 1600 + 15 * day + round(37 * day) % 5}))
    assert "its counts rose by " in row(site.tells(capsys, "probes"), "fig-damp")["trend"]
    assert "in a week: drier, if it is a board that reads less the wetter it is" in site.says(capsys, "probes")
    assert "none: shown, not judged" == row(site.tells(capsys, "probes"), "fig-damp")["calibration"]


def hands(house, *told):
    """Squeezes so many hours ago."""
    for hours, feel, of in told:
        body = f'{{"of": "{of}", "feel": "{feel}", "ago": {hours * HOUR}}}'
        house.store.ask(NOW, "ana", "squeeze", body=body)
    house.rounds.run()


def test_two_squeezes_far_enough_apart_propose_lines_that_are_accepted(tmp_path, noon, capsys):
    site = living(tmp_path, UNCALIBRATED)
    with site.lived() as house:
        speak(house, 3, **(ALL | {"fig_damp": lambda day: 1600 - 300 * day}))
        hands(house, (48, "breaks", "bin:fig"), (0, "drops", "zone:fig.east"), (24, "holds", "zone:fig.west"))
    lines = row(site.tells(capsys, "probes"), "fig-damp")["suggested"]
    assert [
        "sends: counts",
        "calibration:",
        "  - {counts: 2200, moisture: 55 %, taken: 2026-11-23}",
        "  - {counts: 1600, moisture: 75 %, taken: 2026-11-25}",
    ] == lines
    said = site.says(capsys, "probes")
    assert "Two handfuls lie far enough apart to calibrate it by hand, to five points at best." in said
    whole = yaml.safe_load(site.file.read_text())
    whole["bins"]["fig"]["zones"]["east"]["probes"]["fig-damp"] |= yaml.safe_load("\n".join(lines))
    site.file.write_text(yaml.safe_dump(whole, allow_unicode=True, sort_keys=False))
    probe = load([site.file], environ={}).rules.probes()["fig-damp"]
    assert [(2200, 55), (1600, 75)] == [(p.counts, p.moisture) for p in probe.calibration]


def test_a_hand_that_feels_something_else_than_a_calibrated_probe_says_so(tmp_path, noon, capsys):
    site = living(tmp_path)
    with site.lived() as house:
        speak(house, **ALL)  # 1600 is 71.8 %
        hands(house, (1, "runs", "zone:fig.east"))
    assert "A hand felt 80 to 100 % at 11:00, while it read 72 %: calibrate it again." in site.says(
        capsys, "probes"
    )
    with site.lived() as house:
        house.at = NOW + MINUTE
        hands(house, (0, "drops", "zone:fig.east"))
    assert row(site.tells(capsys, "probes"), "fig-damp")["hand"] is None


def test_a_squeeze_that_was_corrected_proposes_nothing(tmp_path, noon, capsys):
    site = living(tmp_path, UNCALIBRATED)
    with site.lived() as house:
        speak(house, 3, **(ALL | {"fig_damp": lambda day: 1600 - 300 * day}))
        hands(house, (48, "breaks", "bin:fig"), (0, "drops", "zone:fig.east"))
        number = next(e.number for e in house.store.diary() if e.text == "breaks")
        house.store.ask(NOW, "ana", "diary", note="of the plum", body=f'{{"deed": "note", "corrects": {number}}}')
        house.rounds.run()
    assert [] == row(site.tells(capsys, "probes"), "fig-damp")["suggested"]


def test_on_a_large_site_what_is_all_right_is_counted(tmp_path, noon, capsys):
    many = "".join(
        f"  bin-{n}: {{species: eisenia-fetida, zones: {{a: {{probes: {{p-{n}: {{measures: temperature, topic: p/{n}}}}}}}}}}}\n"
        for n in range(120)
    )
    site = living(
        tmp_path, "site: {id: orchard, timezone: ZONE, units: UNITS}\nstore: {path: kept.db}\nbins:\n" + many
    )
    with site.lived() as house:
        speak(house, 0.1, **{f"p_{n}": 15.0 for n in range(119)})
    facts = site.tells(capsys, "probes")
    assert {None} == {r["good_share"] for r in facts["probes"]}
    said = site.says(capsys, "probes")
    assert "120 probes: 119 as they should be." in said
    assert "The other 119 are heard and believed; `--bin BIN` shows them." in said
    assert "p-119 (temperature, bin-119.a, p/119): never heard." in said


def test_a_probe_that_was_moved_is_listed_once_where_it_stands(tmp_path, noon, capsys):
    text = SETTINGS.replace("topic: probes/fig-east}", "topic: probes/fig-east, until: 2026-11-20}").replace(
        "zones: {near: {probes: {plum-near: {measures: temperature, topic: probes/plum-near}}}}",
        "zones: {near: {probes: {plum-near: {measures: temperature, topic: probes/plum-near},"
        " fig-east: {measures: temperature, topic: probes/fig-east, since: 2026-11-20}}}}",
    )
    site = living(tmp_path, text)
    with site.lived() as house:
        speak(house, **ALL)
    listed = [(r["probe"], r["placed"]) for r in site.tells(capsys, "probes")["probes"]]
    assert [("fig-east", "plum.near")] == [pair for pair in listed if pair[0] == "fig-east"]
    zones = {
        z["id"]: [v["probe"] for v in z["values"]] for b in site.tells(capsys, "now")["bins"] for z in b["zones"]
    }
    assert (["fig-damp"], ["plum-near", "fig-east"]) == (zones["east"], zones["near"])


def test_now_says_which_way_it_goes_and_asks_for_a_hand_once_a_week(tmp_path, noon, capsys):
    site = living(tmp_path, UNCALIBRATED)
    with site.lived() as house:
        speak(house, 8, **(ALL | {"fig_damp": lambda day: 1600 + 15 * day + round(37 * day) % 5}))

    def fig():
        return next(b["sentence"] for b in site.tells(capsys, "now")["bins"] if b["id"] == "fig")

    assert "no calibration; fig-damp: its counts rose by " in fig()
    assert "squeeze a handful and say what it did: `vermistat squeeze fig`" in fig()
    with site.lived() as house:
        hands(house, (24, "holds", "zone:fig.west"))
    assert "; a hand felt 60 to 70 % at yesterday 12:00" in fig()
    assert "squeeze a handful" not in fig()


def test_a_squeeze_too_old_to_be_judged_by_is_said_to_be_and_after_a_week_another_is_asked_for(
    tmp_path, noon, capsys
):
    for days, said in ((5, "12:00, too long ago to be judged by"), (8, "`vermistat squeeze fig`")):
        folder = tmp_path / str(days)
        folder.mkdir()
        site = living(folder, UNCALIBRATED)
        with site.lived() as house:
            speak(house, **ALL)
            hands(house, (24 * days, "holds", "bin:fig"))
        assert said in site.says(capsys, "now")


def test_a_bin_without_a_moisture_probe_is_not_asked_but_says_what_a_hand_felt(tmp_path, noon, capsys):
    site = living(tmp_path)
    with site.lived() as house:
        speak(house, **ALL)
    assert "squeeze" not in site.says(capsys, "now")
    with site.lived() as house:
        hands(house, (2, "crumbles", "bin:plum"))
    said = site.says(capsys, "now")
    assert "too dry by a squeeze of the hand (alarm 1)" in said
    assert "a hand felt 0 to 55 % at 10:00" in said


def test_a_correction_is_told_in_the_sites_units_and_shown_in_the_value(tmp_path, noon, capsys):
    text = SETTINGS.replace("topic: probes/fig-west}", "topic: probes/fig-west, offset: 0.9 °F, scale: 1.02}")
    site = living(tmp_path, text, units="us")
    with site.lived() as house:
        speak(house, **ALL)
    west = row(site.tells(capsys, "probes"), "fig-west")
    assert "times 1.02, plus 0.9 °F" == west["calibration"]
    assert 23.0 * 1.02 + 0.5 == west["value"]
    assert "75.1 °F, heard 0 s ago" in site.says(capsys, "probes")
