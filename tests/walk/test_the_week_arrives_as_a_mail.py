"""A week of two bins arrives on its Monday as a mail with a picture of each, from the round to a real SMTP server."""

import io
import math
import os
from contextlib import contextmanager
from datetime import date
from html.parser import HTMLParser

import pytest
from PIL import Image

from monitor.app import Addresses
from monitor.charts.colours import LIGHT
from monitor.charts.layout import Layout
from monitor.charts.raster import DENSITY, MAIL, PALETTE, PLACE
from monitor.clock import Patience
from monitor.diary import Deed, Entry
from monitor.notify.outbox import Outbox
from monitor.readings import HOUR, MINUTE, Reading
from monitor.reports.saying import millis
from monitor.reports.week import week_facts
from monitor.reports.week_picture import week_chart
from monitor.settings import load
from monitor.store.promises import Batch, Round, RoundRow
from monitor.store.sqlite import SqliteStore
from parts.house import House
from parts.mail import PostOffice
from parts.orchard import ms
from parts.posting import until
from parts.webhook import Webhook

SETTINGS = """
site: {id: yard, name: The back yard, timezone: Europe/Lisbon}
energy: {price: 0.25, currency: EUR}
bins:
  fig:
    name: Fig tub
    species: eisenia-fetida
    limits: {temperature: {comfort: 15..25 °C, harm: [{below: 10 °C}]}}
    zones:
      near: {probes: {fig-near: {measures: temperature, topic: probes/fig-near, every: 15 min}}}
  plum:
    name: Plum & sloe trays
    species: eisenia-fetida
    zones:
      bed: {probes: {plum-bed: {measures: temperature, topic: probes/plum-bed, every: 15 min}}}
mats:
  fig-mat: {power: 20 W, control: hand, warms: [fig.near]}
people:
  ana: {channels: [mail, hook], up: "07:00", evening: "22:00"}
  ben: {channels: letters, hears: plum, up: "08:00", evening: "22:00"}
channels:
  mail: {send_to: {from_env: MAIL}}
  hook: {send_to: {from_env: HOOK}, weekly_report: monday 07:00}
  letters: {send_to: {from_env: MAIL_AS_TEXT}}
"""
MONDAY, START = date(2026, 11, 23), ms("2026-11-23T00:00")
END = ms("2026-11-30T00:00")
COLDEST = ms("2026-11-26T05:30")


def warmth(at):
    """A day's swing, 12 to 20 °C, with one cold hour of Thursday; nothing was heard on Saturday."""
    if COLDEST <= at < COLDEST + HOUR:
        return 7.25
    return round(16 - 4 * math.cos(2 * math.pi * (at - START) / (24 * HOUR)), 4)


def heard():
    times = range(START - 2 * HOUR, END + 8 * HOUR, 15 * MINUTE)
    saturday = range(ms("2026-11-28T00:00"), ms("2026-11-29T00:00"))
    for at in times:
        if at not in saturday:
            yield Reading("fig-near", at, warmth(at), at)
        yield Reading("plum-bed", at, 19.0, at)


def done():
    told = [
        ("2026-11-24T20:00", Deed.MAT_ON, "mat:fig-mat", None, ""),
        ("2026-11-25T06:00", Deed.MAT_OFF, "mat:fig-mat", None, ""),
        ("2026-11-25T12:00", Deed.WATERED, "bin:fig", 1.5, "L"),
    ]
    return [
        Entry(ms(at), ms(at), "ana", deed, about, "", None, amount, unit, n)
        for n, (at, deed, about, amount, unit) in enumerate(told, 1)
    ]


@pytest.fixture
def kept(tmp_path):
    store = SqliteStore(tmp_path / "kept.db")
    store.keep(Batch(readings=[*heard()]))
    store.commit(Round(RoundRow(1, START - HOUR, "1", store.last_arrival()), diary=done()))
    yield store
    store.close()


@contextmanager
def sent(tmp_path, kept, office, hook, *, behind=""):
    """The round of Monday morning, and the sender; `behind` is put behind the mail's address."""
    file = tmp_path / "site.yaml"
    file.write_text(SETTINGS)
    environ = {"MAIL": office.url() + behind, "HOOK": hook.url(), "MAIL_AS_TEXT": office.url() + "&format=text"}
    settings = load([file], environ=environ)
    addresses = Addresses(settings)
    addresses.writes_weeks_from(kept)
    house = House(rules=settings.rules, store=kept, at=ms("2026-11-30T08:00"))
    house.rounds.run()
    outbox = Outbox(store=kept, send=addresses.send, now=lambda: house.at, patience=Patience(), beat=lambda: None)
    outbox.start()
    try:
        yield house
    finally:
        outbox.stop()


def letters(office, hook, tmp_path, kept):
    with sent(tmp_path, kept, office, hook) as house:
        until(lambda: not kept.waiting(), "all of it is sent")
        return house, [office.messages.get(timeout=20) for _ in range(2)]


@pytest.fixture
def post():
    with PostOffice() as office, Webhook() as hook:
        yield office, hook


def mail_of(found, whom_html):
    """The one with HTML, or the one without."""
    (one,) = [m for m in found if (m.get_content_type() == "multipart/related") is whom_html]
    return one


class Tags(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.seen = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_its_parts_are_words_html_and_a_picture_of_each_bin(tmp_path, kept, post):
    house, found = letters(*post, tmp_path, kept)
    mail = mail_of(found, True)
    assert ["multipart/alternative", "image/png", "image/png"] == [p.get_content_type() for p in mail.iter_parts()]
    words, html, *pictures = [p for p in mail.walk() if not p.is_multipart()]
    assert ["text/plain", "text/html"] == [words.get_content_type(), html.get_content_type()]
    assert mail["subject"].startswith("The back yard: the week of 23 to 29 November 2026")
    facts = week_facts(kept, house.rules, house.at, first=MONDAY)
    for part in (words, html):
        text = plain(part.get_content()).replace("&amp;", "&")
        for bed in facts["bins"]:
            assert bed["name"] in text and bed["sentence"] in text
        assert "Nobody" not in text and facts["mats"][0]["sentence"] in text
        assert "To look at next week" in text
    called = {attrs["src"] for tag, attrs in Tags(html.get_content()).seen if tag == "img"}
    assert {"cid:fig.png", "cid:plum.png"} == called
    assert {"<fig.png>", "<plum.png>"} == {p["content-id"] for p in pictures}
    assert ["inline", "inline"] == [p.get_content_disposition() for p in pictures]
    assert all(attrs["alt"] for tag, attrs in Tags(html.get_content()).seen if tag == "img")


def test_nothing_in_it_is_loaded_from_elsewhere_or_runs(tmp_path, kept, post):
    _, found = letters(*post, tmp_path, kept)
    html = mail_of(found, True).get_body(("html",)).get_content()
    tags = Tags(html).seen
    assert not {tag for tag, _ in tags} & {"script", "link", "style", "iframe", "form"}
    assert "http" not in html


def test_its_picture_shows_the_numbers_of_the_facts(tmp_path, kept, post):
    """Read off the decoded picture: the coldest and the warmest within two px, and nothing on the day without a reading."""
    house, found = letters(*post, tmp_path, kept)
    (picture,) = [p for p in mail_of(found, True).walk() if p["content-id"] == "<fig.png>"]
    with Image.open(io.BytesIO(picture.get_content())) as opened:
        opened.load()
        seen = opened.convert("RGB")
    chart = week_chart(kept, house.rules, house.rules.bins["fig"], first=MONDAY, at=ms("2026-11-30T08:00"))
    where, panel = Layout(chart, MAIL), chart.panels[0]
    assert seen.size == (round(MAIL.width * DENSITY), math.ceil(where.height * DENSITY))
    top, foot = where.panels[0]

    rows, inks = range(round(top * DENSITY), round(foot * DENSITY)), {LIGHT.lines[0], PALETTE[PLACE["spread-0"]]}

    def values(at):
        x = round(where.x(at) * DENSITY)
        dots = [y for y in rows if seen.getpixel((x, y)) in inks]
        return [panel.low + (panel.high - panel.low) * (foot - y / DENSITY) / (foot - top) for y in dots]

    facts = week_facts(kept, house.rules, house.at, first=MONDAY)
    (zone,) = next(bed for bed in facts["bins"] if bed["id"] == "fig")["zones"]
    assert (7.25, 20.0) == (zone["lowest"]["value"], zone["highest"]["value"])
    assert COLDEST == millis(zone["lowest"]["at"])
    every = [v for at in range(START, END, HOUR // 2) for v in values(at)]
    dot = (panel.high - panel.low) / ((foot - top) * DENSITY)
    assert (7.25, 20.0) == (pytest.approx(min(every), abs=4 * dot), pytest.approx(max(every), abs=4 * dot))
    assert [] == values(ms("2026-11-28T12:00"))
    assert 24.0 == pytest.approx(zone["silent"], abs=0.3)


def test_whoever_hears_of_one_bin_gets_that_one_alone_and_text_where_text_was_asked_for(tmp_path, kept, post):
    _, found = letters(*post, tmp_path, kept)
    mail = mail_of(found, False)
    assert "text/plain" == mail.get_content_type()
    text = plain(mail.get_content())
    assert "Plum & sloe trays: " in text and "Fig" not in text and "fig-mat" not in text
    assert "`vermistat week --of 2026-11-23` shows it again." in text


def test_where_no_mail_goes_the_words_go_alone(tmp_path, kept, post):
    letters(*post, tmp_path, kept)
    (told,) = [post[1].arrived.get(timeout=20)]
    assert "Fig tub: " in str(told) and "<p" not in str(told) and "cid:" not in str(told)


def test_a_mails_pictures_lie_beside_it_for_whoever_wants_to_look(tmp_path, kept, post):
    """Set VERMISTAT_LOOK to a folder: the mail is put there."""
    _, found = letters(*post, tmp_path, kept)
    mail = mail_of(found, True)
    folder = os.environ.get("VERMISTAT_LOOK", tmp_path)
    html = mail.get_body(("html",)).get_content()
    for part in mail.walk():
        if part.get_content_type() == "image/png":
            name = part.get_filename()
            with open(os.path.join(folder, name), "wb") as file:
                file.write(part.get_content())
            html = html.replace(f"cid:{name}", name)
    with open(os.path.join(folder, "mail.html"), "w") as file:
        file.write(html)
    assert "cid:" not in html
