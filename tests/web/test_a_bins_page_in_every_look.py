"""A bin's page of a running daemon in a real browser: every period and look, its files, its strip."""

import csv
import gzip
import io
import json
import re
import time
import urllib.error
import urllib.request
import xml.etree.ElementTree as ET

import pytest
from PIL import Image

from monitor.charts.colours import sheet as chart_sheet
from monitor.web.showing import HERE
from parts.browser import LOOKS, sheet
from parts.bygone import SPIKE, lived
from parts.paged import paged

PERIODS = ("day", "week", "month", "year")


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paged")
    lived(folder / "kept.db", int(time.time() * 1000))
    with paged(folder) as one:
        yield one


def fetched(house, path):
    with urllib.request.urlopen(house.address + path, timeout=60) as answer:
        return answer.read(), answer.headers


def refused(house, path):
    with pytest.raises(urllib.error.HTTPError) as error:
        urllib.request.urlopen(house.address + path, timeout=60)
    with error.value as answer:
        return answer.code, answer.read().decode()


@pytest.mark.parametrize("look", LOOKS)
def test_the_page_is_fine_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/bins/fig")
        assert "Fig tub" == page.get_by_role("heading", level=1).inner_text()
        # One picture is there for eyes and for ears: the other size is neither shown nor read out.
        assert 1 == page.locator("svg.chart[role=img]:visible").count()
        assert 1 == page.get_by_role("img", name=re.compile("Fig tub: ")).count()
        one.is_fine(script=look != "without-script")


@pytest.mark.parametrize("look", ["desk", "phone"])
def test_periods_are_walked_by_links(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/bins/fig")
        for period in PERIODS:
            page.get_by_role("navigation", name="How much is shown").get_by_role(
                "link", name=period.capitalize()
            ).click()
            page.wait_for_url(f"**/bins/fig?period={period}*")
            assert period.capitalize() == page.locator(".periods a[aria-current]").inner_text()
            one.is_fine()
        page.get_by_role("link", name="Earlier year").click()
        page.wait_for_url("**from=*")
        one.is_fine()
        page.get_by_role("link", name="Later year").click()
        page.wait_for_url("**from=*")
        page.get_by_role("link", name="Up to now").click()
        page.wait_for_url("**/bins/fig?period=year")
        one.is_fine()


def test_the_table_says_what_the_picture_shows(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/bins/fig?period=year")
        cells = page.get_by_role("region", name="Temperature, °C").locator("td").all_inner_texts()
        highest = max(float(number) for cell in cells for number in re.findall(r"to (-?[\d.]+)", cell))
        assert SPIKE == pytest.approx(highest, abs=0.05)
        assert f"to {SPIKE:.1f} °C" in page.locator("figcaption").inner_text().replace("\xa0", " ")
        assert '<b>"mites"</b>' not in page.locator(".happened").inner_html()


def test_keys_alone_lead_to_every_period(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/bins/fig")
        page.locator("body").press("Tab")
        for _ in range(30):
            if page.evaluate("document.activeElement.textContent") == "Month":
                break
            page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_url("**period=month*")


@pytest.mark.parametrize("period", PERIODS)
def test_files_hold_the_same_numbers(house, period):
    body, headers = fetched(house, f"/bins/fig/numbers.csv?period={period}")
    assert headers["Content-Type"].startswith("text/csv") and f"fig-{period}-" in headers["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(body.decode())))
    assert {"near", "far"} == {row["zone"] for row in rows}
    highest = max(float(row["highest"]) for row in rows)
    drawn, headers = fetched(house, f"/bins/fig/chart.svg?period={period}")
    assert headers["Content-Type"].startswith("image/svg+xml")
    assert "script" not in headers["Content-Security-Policy"]
    told = ET.fromstring(drawn).find("{http://www.w3.org/2000/svg}desc").text
    assert highest == pytest.approx(max(map(float, re.findall(r"to ([\d.]+) °C", told))), abs=0.06)
    if period == "year":
        assert SPIKE == highest
    png, headers = fetched(house, f"/bins/fig/chart.png?period={period}")
    with Image.open(io.BytesIO(png)) as picture:
        picture.load()
        assert 1080 == picture.width
    assert headers["Content-Type"] == "image/png"


def test_what_is_not_there_is_said(house):
    assert (404, True) == ((found := refused(house, "/bins/quince"))[0], "no bin called quince" in found[1])
    assert 400 == refused(house, "/bins/fig?period=decade")[0]
    code, said = refused(house, "/bins/fig?from=%3Cscript%3E")
    assert (400, False) == (code, "<script>" in said.replace("<script defer", ""))
    assert 404 == refused(house, "/bins/fig/chart.gif")[0]


def test_the_week_stands_beside_each_bin_on_the_sheet(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/")
        strips = page.locator("figure.strip svg")
        assert 2 == strips.count()
        page.get_by_role("link", name="Plum trays").click()
        page.wait_for_url("**/bins/plum")
        one.is_fine()


def test_a_picture_of_its_own_is_drawn_in_its_own_light(browser, house):
    papers = {}
    for look in ("desk", "dark"):
        with sheet(browser, house.address, look) as one:
            page = one.open("/bins/fig/chart.svg")
            papers[look] = page.evaluate("getComputedStyle(document.querySelector('.paper')).fill")
            assert [] == one.complaints
    assert {"desk": "rgb(255, 253, 246)", "dark": "rgb(36, 33, 27)"} == papers


def test_the_pages_style_sheet_has_the_computed_colours():
    told = (HERE / "static" / "sheet.css").read_text()
    assert chart_sheet() in told, "write monitor.charts.colours.sheet() into sheet.css"
    assert json.dumps(told).count("--c-line-0:") == 3


def test_a_page_travels_packed_and_a_live_page_does_not(house):
    request = urllib.request.Request(house.address + "/bins/fig?period=year", headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        assert "gzip" == answer.headers["Content-Encoding"]
        packed = answer.read()
    assert len(packed) < 60_000
    assert b"Fig tub" in gzip.decompress(packed)
    request = urllib.request.Request(house.address + "/events", headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        assert None is answer.headers["Content-Encoding"]
        assert answer.readline()
