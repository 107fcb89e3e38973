"""What `check` says of a file: what it will do, what it cannot do, and for want of what."""

from datetime import date
from pathlib import Path

import pytest

from monitor.science.worms import species
from monitor.settings import explain, load

TODAY = date(2026, 11, 25)
ROOT = Path(__file__).parents[2]
PROBE = "w: {measures: temperature, topic: w}"
DAMP = "d: {measures: moisture, topic: d"
POINTS = "calibration: [{counts: 2700, moisture: 12 %}, {counts: 1450, moisture: 80 %}]"
PHONE = "channels: {phone: {send_to: {from_env: PHONE}}}\n"


@pytest.fixture
def said(tmp_path):
    """The sentences about one bin `fig`, as one text."""

    def saying(*, kind="eisenia-fetida", bed="", zones=f"west: {{probes: {{{PROBE}}}}}", site="", more=""):
        file = tmp_path / "s.yaml"
        file.write_text(
            f"site: {{id: orchard, timezone: Europe/Lisbon{site}}}\n"
            f"bins: {{fig: {{species: {kind}, zones: {{{zones}}}{bed}}}}}\n" + more
        )
        return "\n".join(explain(load([file], environ={"PHONE": "json://localhost"}, today=TODAY)))

    return saying


def test_the_bands_are_told_with_their_source_and_its_mark(said):
    limits = species("eisenia-fetida").temperature
    text = said()
    for bound in (limits.low, limits.high, *(harm.bound for harm in limits.harm)):
        assert f"{bound.value:g} °C" in text
        assert f"({bound.source} [{bound.mark}])" in text


def test_what_the_keeper_wrote_is_told_with_where_it_stands(said):
    text = said(bed=", limits: {temperature: {comfort: 12..26 °C, deadband: 1 °C, comfort_delay: 45 min}}")
    assert (
        "Temperature: comfort 12 °C to 26 °C (settings: bins.fig.limits.temperature.comfort), told after 45 min "
        "outside; over when 1 °C inside it again for 1 h."
    ) in text


def test_harm_is_told_side_by_side_with_how_long(said):
    text = said(
        bed=", limits: {temperature: {harm: [{below: 4 °C, lasting: at once}, {above: 30 °C, lasting: 2 h}]}}"
    )
    assert (
        "harm at or below 4 °C at once and at or above 30 °C for 2 h (settings: bins.fig.limits.temperature.harm)."
        in text
    )


def test_us_units_are_told_in_fahrenheit_and_not_in_celsius(said):
    text = said(site=", units: us", bed=", limits: {temperature: {comfort: 60..78, harm: 40..90}}")
    assert "°F, gallons and pounds" in text
    assert "comfort 60 °F to 78 °F" in text
    assert "at or below 40 °F for 30 min and at or above 90 °F for 30 min" in text
    assert "°C" not in text


def test_who_is_told_and_who_may_be_woken(said):
    people = (
        'people: {ana: {channels: phone, evening: "21:00", up: "07:00"},\n'
        "  ben: {channels: phone, hears: fig, may: []}}\n"
    )
    text = said(more=people + PHONE)
    assert "Told: ana by phone and ben by phone. Only harm may wake." in text
    assert (
        "Person ana hears of everything by phone; sleeps from 21:00 to 07:00; may see to feed, mats and water."
        in text
    )
    assert "Person ben hears of fig by phone; told at any hour; may only look." in text
    assert "Harm and discomfort may wake." in said(bed=", wake_for: comfort", more=people + PHONE)
    assert "may wake" not in said(more="people: {ben: {channels: phone}}\n" + PHONE)


def test_that_nobody_hears_of_a_bin_is_told(said):
    assert "Beware: nobody is told of anything." in said()
    places = "places: {shed: {}, cellar: {}}\n"
    people = "people: {ben: {channels: phone, hears: cellar}}\n"
    assert "Beware: nobody hears of it." in said(bed=", stands_in: shed", more=places + people + PHONE)


def test_a_channel_that_nobody_uses_is_told(said):
    assert "Channel phone: ***, used by nobody." in said(more=PHONE)
    assert "Channel phone: ***." in said(more="people: {ben: {channels: phone}}\n" + PHONE)


def test_without_a_moisture_probe_there_is_no_word_of_dry_or_wet(said):
    text = said()
    assert "Without a moisture probe nothing is said about dry or wet but by your own hand" in text
    assert "Moisture:" not in text


def test_an_uncalibrated_probe_shows_a_trend_only(said):
    text = said(zones=f"west: {{probes: {{{PROBE}, {DAMP}}}}}}}")
    assert "d has no calibration: it shows a trend, but no dry or wet alarm and no litres." in text
    assert "Moisture:" not in text


def test_with_a_calibrated_probe_moisture_is_judged_and_only_the_mass_is_wanting(said):
    zones = f"west: {{probes: {{{PROBE}, {DAMP}, {POINTS}}}}}}}"
    text = said(zones=zones)
    assert "d: 2700 is read as 12 % moisture, 1450 as 80 %, from 2 points." in text
    assert "Moisture: comfort 65 % to 88 %" in text
    assert "over when 3 points inside it again" in text
    assert "Without `bedding` (its mass) watering is advised, but no amount." in text
    assert "Without `bedding`" not in said(zones=zones, bed=", bedding: 35 kg")


def test_without_a_living_zone_there_is_no_refuge(said):
    text = said(zones=f"west: {{role: edge, probes: {{{PROBE}}}}}")
    assert "Beware: it has no living zone, so nothing says whether the worms have a refuge." in text


def test_how_a_bin_is_judged(said):
    two = f"west: {{probes: {{{PROBE}}}}}, east: {{probes: {{e: {{measures: temperature, topic: e}}}}}}"
    assert "Judged by refuge: an alarm when west is not inside." in said()
    assert "Judged by refuge: an alarm when none of its living zones (west and east) is inside." in said(zones=two)
    assert "Judged zone by zone" in said(zones=two, bed=", judge: every-zone")
    mat = two + ", mat: {role: at-the-mat, probes: {m: {measures: temperature, topic: m}}}"
    text = said(zones=mat)
    assert "At the mat (mat) each zone is judged for itself." in text
    assert "Its own temperature: harm at or above 30 °C for 30 min" in text


def test_a_living_zone_without_a_temperature_probe_is_told(said):
    text = said(zones=f"west: {{probes: {{{DAMP}}}}}}}")
    assert "Without a temperature probe in west nothing is said about cold or heat there." in text


def test_what_can_be_done_against_cold_is_asked_for(said):
    wanting = "It has no mat and no `can:`"
    assert wanting in said()
    assert wanting not in said(bed=", can: [move]")
    assert wanting not in said(more="mats: {m: {warms: fig.west, control: thermostat}}\n")


def test_bought_red_earthworms_are_doubted(said):
    warning = species("lumbricus-rubellus").warning
    assert "Eisenia" in warning
    assert f"Beware: {warning}" in said(kind="lumbricus-rubellus")
    assert f"Beware: {warning}" in said(kind="[eisenia-fetida, lumbricus-rubellus]")
    assert "Beware: Worms" not in said()


@pytest.mark.parametrize(
    ("control", "told"),
    [
        ("timer", "on a timer"),
        ("hand", "switched by hand"),
        ("always", "always on"),
        ("unknown", "nobody says what"),
    ],
)
def test_a_mat_without_a_thermostat_is_warned_of(control, told, said):
    text = said(more=f"mats: {{m: {{power: 40 W, warms: fig.west, control: {control}}}}}\n")
    assert f"Mat m: 40 W, warms fig.west, {told}" in text
    assert "Beware: m has no thermostat." in text
    assert "no thermostat" not in said(more="mats: {m: {warms: fig.west, control: thermostat}}\n")


def test_a_thermostat_set_into_harm_and_two_mats_in_one_place_are_warned_of(said):
    hot = "mats: {m: {warms: fig.west, control: thermostat, set_to: %s}}\n"
    assert "Beware: m is set to 31 °C, and harm in fig.west begins at 31 °C." in said(more=hot % "31 °C")
    assert "Beware: m is set" not in said(more=hot % "30.9 °C")
    two = "mats: {m: {warms: fig.west, control: thermostat}, n: {warms: fig.west, control: thermostat}}\n"
    assert "Beware: m and n warm the same zone. Mats must never overlap." in said(more=two)


def test_a_broker_across_the_network_without_tls_is_warned_of(said):
    far = "broker: {url: 'mqtt://broker.example', user: me, password: {from_env: PHONE}}\n"
    text = said(more=far)
    assert "Messages come from mqtt://broker.example:1883, as me, password ***, by MQTT 5, or 3.1.1" in text
    assert "Beware: without TLS the password and every reading can be read" in text
    assert "without TLS" not in said(more=far.replace("mqtt:", "mqtts:"))
    assert "without TLS" not in said(more="broker: {url: 'mqtt://[::1]', protocol: \"5\"}\n")


def test_the_air_the_store_and_humidity_inside_a_bin_are_told(said):
    store = "store: {path: /var/lib/vermistat/orchard.db}\n"
    more = "places: {shed: {probes: {air: {measures: humidity, topic: h}}}}\n" + store
    text = said(zones=f"west: {{probes: {{{PROBE}, h: {{measures: humidity, topic: i}}}}}}", more=more)
    assert "Air of shed: air (humidity)." in text
    assert "Everything is kept in /var/lib/vermistat/orchard.db." in text
    assert "h: humidity inside a bin is kept and shown, not judged." in text


def test_what_has_no_effect_yet_is_told_in_a_sentence_each_and_only_what_is_written(said):
    assert "without effect yet" not in said()
    text = said(bed=", vessel: {cover: loose}", more="energy: {price: 0.28, currency: EUR}\n")
    _, _, rest = text.partition("Read, checked and without effect yet:\n")
    assert [
        "  bins.fig.vessel.cover: The cover is not used yet: no loss of heat or water is reckoned from it.",
    ] == rest.splitlines()


def test_the_whole_example_is_explained_in_plain_sentences():
    settings = load([ROOT / "config" / "vermistat.yaml"], environ={}, today=TODAY, need_secrets=False)
    lines = explain(settings)
    assert all(line.endswith((".", ":")) for line in lines if line)
    assert 3 == sum("config/vermistat.yaml:" in line for line in lines)
    for word in ("None", "Measures", "Limits", "frozenset", "<", "…"):
        assert word not in "\n".join(lines)


def test_the_page_says_where_it_is_and_who_may_act(tmp_path):
    def page(keys):
        (tmp_path / "page.yaml").write_text((ROOT / "config" / "one-bin.yaml").read_text() + f"\npage: {keys}\n")
        settings = load([tmp_path / "page.yaml"], environ={}, today=TODAY, need_secrets=False)
        return " ".join(line for line in explain(settings) if "page" in line or "Beware" in line)

    assert "served at http://127.0.0.1:8420; it lets whoever reaches it act." in page("{}")
    assert "Beware" not in page("{}")
    open_to_all = page("{listen: '0.0.0.0:9000', address: 'http://bins.example'}")
    assert "reached at http://bins.example" in open_to_all
    assert "anybody on that network can answer for you" in open_to_all
    assert "anybody on the way can read the page" in open_to_all
    asks = page("{listen: '0.0.0.0:9000', passphrase: {from_env: SHEET}}")
    assert "it asks for its passphrase before anything is shown or done" in asks and "anybody" not in asks
    acting = page("{passphrase: {from_env: SHEET}, asks_for: acting}")
    assert "it shows everything to whoever reaches it, and asks for its passphrase before" in acting


def test_a_probe_that_is_corrected_says_how(said):
    zones = "west: {probes: {w: {measures: temperature, topic: w, offset: -0.4 °C, scale: 1.02}}}"
    assert (
        "w is judged and shown as 1.02 times what it sends, minus 0.4 °C; what is stored stays as sent, so the past is "
        "judged anew with it." in said(zones=zones)
    )
    us = "west: {probes: {w: {measures: temperature, topic: w, offset: 0.9 °F, scale: 1.02}}}"
    assert "1.02 times what it sends (of its °C), plus 0.9 °F;" in said(zones=us, site=", units: us")
    assert "is judged and shown as" not in said()


def test_an_offset_is_a_difference_whatever_its_unit(tmp_path):
    def offset(text, units="metric", measures="temperature"):
        file = tmp_path / "s.yaml"
        file.write_text(
            f"site: {{id: orchard, timezone: Europe/Lisbon, units: {units}}}\n"
            "places: {shed: {probes: {a: {measures: "
            f"{measures}, topic: a, offset: {text}}}}}}}}}\n"
            f"bins: {{fig: {{species: eisenia-fetida, zones: {{west: {{probes: {{{PROBE}}}}}}}}}}}\n"
        )
        return load([file], environ={}, today=TODAY).rules.probes()["a"].offset

    assert pytest.approx(0.5) == offset("0.9 °F")
    assert pytest.approx(0.5) == offset("0.9", units="us")
    assert pytest.approx(-0.4) == offset("-0.4 °C", units="us")
    assert pytest.approx(-0.4) == offset("−0.4 K")
    assert pytest.approx(-3.0) == offset("-3 %", measures="humidity")
    assert pytest.approx(2.0) == offset("2", measures="humidity", units="us")


def test_what_a_squeezed_handful_is_worth_is_told_by_the_bedding(said):
    assert "Coir bedding: a few drops from a squeezed handful are 72 to 84 % moisture (our proposal" in said(
        bed=", made_of: coir"
    )
    assert "Bedding of no known kind (`made_of`): a few drops from a squeezed handful are 65 to 85 %" in said()


def test_where_readings_go_on_to_is_told_and_a_token_in_the_open_as_well(said):
    local = "database: {url: 'http://localhost:8086', bucket: worms}\n"
    far = "database: {url: 'http://farm.example:8086', bucket: worms, token: {from_env: PHONE}, here: 3 d}\n"
    told = "Readings go on to worms at http://localhost:8086 and lie there; the newest 8 days lie here as well, and while the database does not answer everything does."  # noqa: E501
    assert told in said(more=local)
    assert "token" not in said(more=local)
    assert "Anybody on the way to that database can read its token: write https:// in its address." in said(
        more=far
    )
    assert "the newest 3 days lie here as well" in said(more=far)


def test_publishers_that_are_heard_are_named_once(said):
    told = "How wired probes are is heard from shed and porch: `vermistat probes` says why one is silent."
    assert told in said(more="publishers: [shed, porch, shed]\n")
