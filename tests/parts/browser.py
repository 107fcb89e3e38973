"""A real browser: Debian's Chromium without a screen, in the looks in which a keeper may see a page."""

import os
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from urllib.parse import urlsplit

import axe_playwright_python
from playwright.sync_api import sync_playwright

CHROMIUM = os.environ.get("VERMISTAT_CHROMIUM", "/usr/bin/chromium")
ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]  # fmt: skip
DESK = {"viewport": {"width": 1100, "height": 800}}
PHONE = {
    "viewport": {"width": 360, "height": 740},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}
LOOKS = {
    "desk": DESK,
    "phone": PHONE,
    "dark": DESK | {"color_scheme": "dark"},
    "forced": DESK | {"forced_colors": "active"},
    "reduced": DESK | {"reduced_motion": "reduce"},
    "without-script": PHONE | {"java_script_enabled": False},
}
NARROW = "document.documentElement.scrollWidth <= window.innerWidth"


@cache
def axe_script():
    return next(Path(axe_playwright_python.__file__).parent.glob("**/axe.min.js")).read_text()


@contextmanager
def chromium():
    """Debian's, which must be there."""
    assert Path(CHROMIUM).exists(), f"no browser at {CHROMIUM}: sudo apt-get install chromium fonts-dejavu-core"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        try:
            yield browser
        finally:
            browser.close()


def axe(page):
    """What axe-core finds wrong, as (rule, where). It is run from outside, so our own policy does not stop it. Style sheets and
    media are not fetched a second time for it: that is for two rules on turned screens and on sound, of which a page has none.
    """
    page.evaluate(axe_script())
    found = page.evaluate(
        "async () => (await axe.run(document, {resultTypes: ['violations'], preload: false, iframes: false})).violations"
    )
    return [(one["id"], [node["target"] for node in one["nodes"]]) for one in found]


CALLED = """(() => { const a = document.activeElement, one = s => (s || "").replace(/\\s+/g, " ").trim();
    return [one(a.textContent), one(a.getAttribute("aria-label")), one(a.labels?.[0]?.innerText), a.id]; })()"""


def reached(page, name):
    """Tab from where the focus is to what is called so, or has this id. Not reached is a failure."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if name in page.evaluate(CALLED):
            return
    raise AssertionError(f"{name} is not reached")


class Sheet:
    """One page of a browser in a look. Whatever its console complains of and whatever it asks of others is noted."""

    def __init__(self, page, address):
        self.page, self.address = page, address
        self.complaints, self.strangers = [], []
        here = urlsplit(address).netloc
        page.on("console", lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda r: self._asked(r.url, here))

    def _asked(self, url, here):
        parts = urlsplit(url)
        if parts.scheme != "data" and parts.netloc != here:
            self.strangers.append(url)

    def open(self, path="/"):
        answer = self.page.goto(self.address + path, wait_until="load")
        assert answer.status == 200, (path, answer.status)
        return self.page

    def is_fine(self, *, script=True):
        """Nothing complained, nothing was asked of others, nothing is wider than the screen, and axe finds nothing."""
        assert [] == self.complaints
        assert [] == self.strangers
        if script:
            assert self.page.evaluate(NARROW), "wider than the screen"
            assert [] == axe(self.page)

    def picture(self, file):
        self.page.screenshot(path=str(file), full_page=True)


_visits = {}
"""By browser and look: a visit costs half a second, and without its cookies it is as new."""


@contextmanager
def sheet(browser, address, look="desk", **more):
    """A fresh visit in one of the LOOKS; `more` are further options of the browser's context."""
    shared = not more
    context = _visits.pop((browser, look), None) if shared else None
    context = context or browser.new_context(**(LOOKS[look] | more))
    page = context.new_page()
    try:
        yield Sheet(page, address)
    finally:
        if shared and (browser, look) not in _visits:
            page.close()
            context.clear_cookies()
            _visits[browser, look] = context
        else:
            context.close()
