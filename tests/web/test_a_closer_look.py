"""Zooming into a bin's year in a real browser: fetched only when asked for, from the keyboard alone, and back again."""

import hashlib
import json
import re
import time
import urllib.error
import urllib.request

import pytest
from playwright.sync_api import expect

from monitor.web.showing import HERE
from parts.browser import sheet
from parts.bygone import SPIKE, lived
from parts.paged import paged

DAY = 86_400_000


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paged")
    lived(folder / "kept.db", int(time.time() * 1000))
    with paged(folder) as one:
        yield one


def told(house, start, end, bed="fig"):
    with urllib.request.urlopen(
        f"{house.address}/bins/{bed}/closer.json?start={start}&end={end}", timeout=60
    ) as answer:
        return json.load(answer)


@pytest.mark.parametrize("look", ["desk", "phone", "dark", "forced"])
def test_the_library_comes_only_when_somebody_looks_closer(browser, house, look):
    with sheet(browser, house.address, look) as one:
        asked = []
        one.page.on("request", lambda request: asked.append(request.url))
        page = one.open("/bins/fig?period=year")
        page.get_by_role("button", name="Look closer").wait_for()
        assert [] == [url for url in asked if "uPlot" in url]
        page.get_by_role("button", name="Look closer").click()
        page.locator(".closer canvas").first.wait_for()
        assert 2 == len([url for url in asked if "uPlot" in url])
        assert 0 == page.locator("svg.chart[role=img]:visible").count()
        one.is_fine()
        page.get_by_role("button", name="Back to the picture").click()
        assert 1 == page.locator("svg.chart[role=img]:visible").count()
        one.is_fine()


def test_keys_alone_lead_closer_and_aside(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/bins/fig?period=year")
        page.get_by_role("button", name="Look closer").press("Enter")
        status = page.locator(".closer [role=status]")
        expect(status).to_contain_text(" to ", timeout=60_000)
        said = [status.inner_text()]
        for key in ("Closer", "Closer", "Earlier", "Later", "Wider"):
            with page.expect_response("**/closer.json?*"):
                page.get_by_role("button", name=key).press("Enter")
            before = said[-1]
            page.wait_for_function(
                "b => document.querySelector('.closer [role=status]').textContent !== b", arg=before
            )
            said.append(status.inner_text())
        assert said[2] == said[4] and said[1] == said[5]
        assert len({said[0], said[1], said[2], said[3]}) == 4
        one.is_fine()


def test_dragging_leads_closer(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/bins/fig?period=month")
        page.get_by_role("button", name="Look closer").click()
        over = page.locator(".closer .u-over").first
        over.wait_for()
        box = over.bounding_box()
        with page.expect_response("**/closer.json?*") as answer:
            page.mouse.move(box["x"] + box["width"] * 0.25, box["y"] + 50)
            page.mouse.down()
            page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 60, steps=4)
            page.mouse.up()
        start, end = map(int, re.search(r"start=(\d+)&end=(\d+)", answer.value.url).groups())
        assert 30 * DAY / 4 == pytest.approx(end - start, rel=0.03)
        one.is_fine()


def test_without_scripts_nothing_of_it_is_there(browser, house):
    with sheet(browser, house.address, "without-script") as one:
        page = one.open("/bins/fig?period=year")
        assert 0 == page.get_by_role("button", name="Look closer").count()
        assert 1 == page.locator("svg.chart[role=img]:visible").count()


def test_numbers_become_finer_and_keep_every_extreme(house):
    now = int(time.time() * 1000)
    for days in (365, 120, 101 - 99, 30):
        start = now - (101 if days < 120 else days) * DAY
        (panel,) = told(house, start, start + days * DAY)["panels"]
        far = next(line for line in panel["lines"] if line["name"] == "far")
        assert len(panel["times"]) == len(far["high"]) <= 1100
        assert SPIKE == max(v for v in far["high"] if v not in (None, "")), days
    near, far = told(house, now - 4 * DAY, now)["panels"][0]["lines"]
    assert None in far["mean"] and None not in near["mean"]


def test_what_cannot_be_looked_at_is_refused(house):
    now = int(time.time() * 1000)
    for path, code in (
        ("fig/closer.json", 400),
        (f"fig/closer.json?start={now}&end={now - 1}", 400),
        (f"fig/closer.json?start={now - 1000}&end={now}", 400),
        (f"fig/closer.json?start=0&end={now}", 400),
        ("fig/closer.json?start=x&end=1e9", 400),
        (f"fig/closer.json?start={-(10**30)}&end={10**30}", 400),
        (f"quince/closer.json?start={now - DAY}&end={now}", 404),
    ):
        with pytest.raises(urllib.error.HTTPError) as error:
            urllib.request.urlopen(f"{house.address}/bins/{path}", timeout=60)
        with error.value:
            assert code == error.value.code, path


def test_what_is_not_ours_is_what_its_paper_says():
    paper = (HERE / "static" / "VENDOR.md").read_text()
    for name in ("uPlot.iife.min.js", "uPlot.min.css"):
        sums = hashlib.sha256((HERE / "static" / name).read_bytes()).hexdigest()
        assert re.search(rf"`{re.escape(name)}`.*{sums}", paper), name
    assert "MIT" in (HERE / "static" / "uPlot.LICENSE.txt").read_text()
    script = (HERE / "static" / "uPlot.iife.min.js").read_text()
    assert "1.6.32" in script and "eval(" not in script and "new Function" not in script
