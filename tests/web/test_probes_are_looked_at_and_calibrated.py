"""Probes in a real browser before a running daemon: what is the matter with each, topics that nobody reads, and each road of
calibration walked to lines that the settings take.
"""

from datetime import date

import pytest

from monitor.diary import Deed
from monitor.settings import load
from parts.browser import LOOKS, axe, sheet
from parts.paged import BINS, ENVIRON, paged

COUNTS = BINS.replace(
    '{measures: moisture, topic: probes/plum-damp, sends: "%", every: 1 min}',
    "{measures: moisture, topic: probes/plum-damp, sends: counts, every: 1 min}",
)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    assert COUNTS != BINS
    with paged(tmp_path_factory.mktemp("probes"), bins=COUNTS) as house:
        house.say("probes/fig-near", "22.5")
        house.say("probes/fig-far", "soup")
        house.until(lambda store: store.latest("fig-near"), "a reading")
        house.until(lambda store: store.refusals(), "a refusal")
        yield house


def says(house, probe, value, times):
    """A probe speaks so often, and every word is kept."""
    with house.kept() as store:
        before = len(store.latest(probe, 1000))
    house.say(f"probes/{probe}", value, times)
    house.until(lambda store: len(store.latest(probe, 1000)) >= before + times, "its words")


def pasted(house, lines, probe):
    """The settings with these lines beside what they say of the probe already, and that probe as they then know it."""
    text = house.settings.read_text()
    head, *inside = lines.splitlines()
    assert f"{probe}:" == head
    start = text.index(f"          {probe}: {{")
    before, _, rest = text[start:].partition("}\n")
    own = [
        part
        for part in before.partition("{")[2].split(", ")
        if not part.startswith(("sends", "offset", "calibration"))
    ]
    beside = [*(f"  {part}" for part in own), *inside]
    block = "\n".join(f"          {line}" for line in (f"{probe}:", *beside))
    file = house.folder / "pasted.yaml"
    file.write_text(text[:start] + block + "\n" + rest)
    return load([file], environ=ENVIRON, today=date(2100, 1, 1)).rules.probes()[probe]


@pytest.mark.parametrize("look", LOOKS)
def test_the_probes_are_fine_in_every_look(browser, yard, look):
    with sheet(browser, yard.address, look) as one:
        for path in (
            "/probes",
            "/probes/fig-near",
            "/probes/plum-damp/tubs",
            "/probes/fig-near/ice",
            "/probes/plum-damp/handfuls",
        ):
            one.open(path)
            one.is_fine(script=look != "without-script")


def test_what_was_refused_stands_there_with_its_reason_the_worst_first(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/probes")
        text = page.locator("#probe-fig-far").inner_text()
        assert "Never heard." in text and "Refused 1 message (not a number)" in text and "soup" in text
        assert "Not as they should be" == page.get_by_role("heading", level=2).first.inner_text()
        page.get_by_role("link", name="fig-near").tap()
        page.wait_for_url("**/probes/fig-near")
        assert "22.5 °C" == page.get_by_role("cell", name="22.5").first.inner_text().replace(
            "\N{NO-BREAK SPACE}", " "
        )


def test_a_topic_that_nobody_reads_shows_with_the_line_that_would_add_it(browser, yard):
    with sheet(browser, yard.address, "without-script") as one:
        page = one.open("/probes")
        page.get_by_role("button", name="Listen").click()
        page.get_by_text("Listening since").wait_for()
        for _ in range(60):
            yard.say("probes/pear", {"celsius": 20.5})
            page.reload()
            if page.get_by_text("probes/pear").count():
                break
        assert (
            "pear-celsius: {measures: temperature, topic: probes/pear, field: /celsius}"
            in page.locator("main").inner_text()
        )


def test_battery_and_signal_stand_there_where_they_are_sent(browser, tmp_path):
    told = BINS.replace("topic: probes/plum-bed,", "topic: probes/plum-bed, field: /celsius,")
    with paged(tmp_path, bins=told) as house, sheet(browser, house.address, "phone") as one:
        house.say("probes/plum-bed", {"celsius": 18.5, "battery": 81, "rssi": -67})
        house.until(lambda store: store.beside(), "what it says of itself")
        text = one.open("/probes/plum-bed").locator("dl.facts").inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert "81 as sent" in text and "−67 as sent" in text
        assert (
            "battery 81 as sent; signal −67 as sent" in one.open("/probes").locator("#probe-plum-bed").inner_text()
        )


def test_a_probe_that_is_not_there_and_a_road_that_is_not_its_own_are_not_found(browser, yard):
    with sheet(browser, yard.address) as one:
        for path in (
            "/probes/none",
            "/probes/fig-near/tubs",
            "/probes/plum-damp/ice",
            "/probes/fig-near/handfuls",
        ):
            assert 404 == one.page.goto(yard.address + path).status


@pytest.mark.parametrize("look", ["phone", "without-script"])
def test_two_tubs_end_in_lines_that_the_settings_take(browser, yard, look):
    with sheet(browser, yard.address, look) as one:
        page = one.open("/probes/plum-damp")
        page.get_by_role("link", name="Two tubs, weighed").click()
        for n, counts, wet, dry in ((1, "2700", "500", "440"), (2, "1450", "680,5", "200,5")):
            tub = page.locator(f"#tub-{n}")
            tub.get_by_role("button", name="It is in now").click()
            tub.get_by_text("In it since").wait_for()
            says(yard, "plum-damp", counts, 5)
            page.goto(f"{yard.address}/probes/plum-damp/tubs")
            tub.get_by_role("button", name="Take what it sends").click()
            tub.get_by_text(f"It sends {counts} there.").wait_for()
            tub.get_by_label("The dish with half a litre").fill(wet)
            tub.get_by_label("The empty dish").fill("80.5" if n == 2 else "0")
            tub.get_by_role("button", name=f"Keep it (tub {n} wet)").click()
            tub.get_by_text("g wet, in a dish of").wait_for()
            page.reload()
            tub.get_by_label("The same dish with the dry bedding").fill(dry)
            tub.get_by_role("button", name=f"Keep it (tub {n} dry)").click()
            tub.get_by_text(f"{dry.replace(',', '.')} g dry.").wait_for()
        one.is_fine(script=look != "without-script")
        probe = pasted(yard, page.locator("#comes .paste").inner_text(), "plum-damp")
        # wet basis by hand: 60 of 500 g is 12 %, 480 of 600 g is 80 %
        assert [(2700, 12), (1450, 80)] == [(point.counts, point.moisture) for point in probe.calibration]
        page.get_by_role("button", name="Begin anew").click()
        page.get_by_text("Nothing yet: each tub needs").wait_for()


def test_weights_that_cannot_be_are_refused_beside_their_field_and_stay_typed(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/probes/plum-damp/tubs")
        page.get_by_role("button", name="Begin anew").click()
        tub = page.locator("#tub-1")
        tub.get_by_label("The dish with half a litre").fill("100")
        tub.get_by_label("The empty dish").fill("200")
        tub.get_by_role("button", name="Keep it (tub 1 wet)").tap()
        page.get_by_role("alert").wait_for()
        assert "The dish alone weighs 200 g" in page.locator("#wrong-wet-1").inner_text()
        assert ["100", "200"] == [page.locator(f"#{name}-1").input_value() for name in ("wet", "dish")]
        assert [] == axe(page)
        tub.get_by_label("The empty dish").fill("0")
        tub.get_by_role("button", name="Keep it (tub 1 wet)").tap()
        tub.get_by_text("100 g wet").wait_for()
        tub.get_by_label("The same dish with the dry").fill("120")
        tub.get_by_role("button", name="Keep it (tub 1 dry)").tap()
        page.get_by_role("alert").wait_for()
        assert "the wrong way round" in page.locator("#wrong-dry-1").inner_text()


def test_melting_ice_ends_in_an_offset_that_the_settings_take(browser, yard):
    with sheet(browser, yard.address, "without-script") as one:
        page = one.open("/probes/fig-far")
        page.get_by_role("link", name="Melting ice").click()
        page.get_by_role("button", name="It hangs in the ice now").click()
        page.get_by_text("In the ice since").wait_for()
        assert "0 of 5" in page.locator("main").inner_text()
        says(yard, "fig-far", "0.44", 5)
        page.get_by_role("link", name="Look again").click()
        assert -0.44 == pytest.approx(pasted(yard, page.locator(".paste").inner_text(), "fig-far").offset)
        page.get_by_role("button", name="It is out of the ice").click()
        page.get_by_text("Nothing yet.").wait_for()


def test_handfuls_are_readings_at_once_and_two_of_them_make_lines(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        for counts, feel in (("2800", "makes no ball"), ("1400", "a thin stream")):
            says(yard, "plum-damp", counts, 30 if feel == "makes no ball" else 1)
            page = one.open("/probes/plum-damp/handfuls")
            page.get_by_label(feel).check()
            page.get_by_role("button", name="Write it down").tap()
            page.get_by_role("status").wait_for()
        with yard.kept() as store:
            squeezed = [e for e in store.diary(100) if e.deed is Deed.SQUEEZED]
            assert [("zone:plum.bed", "crumbles"), ("zone:plum.bed", "drips")] == [
                (e.subject, e.text) for e in squeezed
            ]
        one.is_fine()


def test_a_handful_without_its_feel_is_asked_for_it(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/probes/plum-damp/handfuls")
        page.get_by_role("button", name="Write it down").tap()
        page.get_by_role("alert").wait_for()
        assert "Choose what the handful did." == page.locator("#wrong-feel").inner_text()
