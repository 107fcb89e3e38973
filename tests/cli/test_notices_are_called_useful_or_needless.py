"""`vermistat needless` and `useful`, and the one change a month that would have spared the needless."""

import html
import os

import pytest
from starlette.testclient import TestClient

from cli.keeping import NOW, Site
from monitor.addresses import Page
from monitor.diary import Deed, Entry
from monitor.readings import DAY, HOUR
from monitor.reports.verdicts import Verdict, verdict_facts, verdicts_in
from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from monitor.web.desk import Desk
from monitor.web.pages import limits
from monitor.web.site import site as pages
from parts.orchard import ms

NIGHTS = 4
NIGHT = {"fig_mat": 24.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 12.0}


TOLD = 3
"""The fourth night like it is no news: a habit."""


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """Four October nights that end below comfort for three hours, lived once."""
    found = Site(tmp_path_factory.mktemp("nights"), began="2026-10-20T12:00")
    with found.lived() as house:
        begin = house.at
        while house.at < begin + NIGHTS * DAY:
            cool = 12 * HOUR <= (house.at - begin) % DAY < 15 * HOUR
            house.say(fig_west=20.0 if cool else 23.0, fig_east=20.2 if cool else 23.0, **NIGHT)
            house.later(30)
        notices = [p.notice for p in house.store.notices(1000) if p.notice.alarms]
    return (
        found.store_file.read_bytes(),
        sorted({n.number for n in notices}),
        {a for n in notices for a in n.alarms},
        house.at,
    )


@pytest.fixture
def site(tmp_path, noon, once):
    found = Site(tmp_path)
    kept, found.notices, found.alarms, found.at = once
    found.store_file.write_bytes(kept)
    return found


def called(site, word):
    """Every notice about an alarm, as by the command, and the round that takes it up."""
    store = SqliteStore(site.store_file)
    from monitor.verdicts import call

    for number in site.notices:
        call(store, site.rules, notice=number, useful=word == "useful", who="ana", note="we slept", at=site.at)
    store.close()
    with site.lived() as house:
        house.at = site.at
        house.restart(site.rules)
        house.say(fig_west=23.0, **NIGHT)


def test_the_diary_says_what_a_notice_was_called_and_of_which_alarm(site, capsys):
    called(site, "needless")
    store = SqliteStore(site.store_file, read_only=True)
    entries = [e for e in store.diary(100) if e.deed is Deed.NEEDLESS]
    store.close()
    assert {"bin:fig"} == {e.subject for e in entries}
    assert TOLD == len(site.alarms)
    assert site.alarms == {e.alarm for e in entries}
    assert all(e.text.startswith("cold: notice ") and e.text.endswith("; we slept") for e in entries)


def facts_of(site):
    store = SqliteStore(site.store_file, read_only=True)
    try:
        return verdict_facts(store, load([site.file], environ={}), NOW, environ=os.environ)
    finally:
        store.close()


def test_once_a_month_one_change_is_told_with_what_it_would_have_spared_and_missed(site, capsys):
    called(site, "needless")
    change = facts_of(site)["change"]
    assert (TOLD, TOLD, 0) == (change["spared"], change["of"], change["missed"])
    assert "fig.temperature.comfort_delay=4 h" == change["set"]
    said = site.says(capsys, "verdicts")
    assert "The one change of this month: fig.temperature.comfort_delay=4 h would have spared 3 of 3" in said
    assert "`vermistat replay --set 'fig.temperature.comfort_delay=4 h'`" in said


def test_the_page_of_limits_tells_it_and_leads_to_where_it_is_tried_and_reckons_it_once(site, monkeypatch):
    called(site, "needless")
    change, reckoned = facts_of(site)["change"], []
    monkeypatch.setattr(limits, "verdict_facts", lambda *a, **k: reckoned.append(1) or verdict_facts(*a, **k))
    store = SqliteStore(site.store_file)
    desk = Desk(load([site.file], environ={}), store=store, now=lambda: NOW)
    client = TestClient(pages(desk, Page(), key=bytes(32)), base_url="http://127.0.0.1")
    text = " ".join(html.unescape(client.get("/limits").text).replace("\N{NO-BREAK SPACE}", " ").split())
    text = text.replace("<wbr>", "")
    client.get("/limits")
    store.close()
    assert [1] == reckoned
    assert "No notice was called either in the last 30 days." in text, "that was a month ago"
    assert f"The one change of this month: {change['set']} would have spared 3 of 3" in text
    assert (
        '<a href="/limits/try?limit=fig.temperature.comfort_delay&value=4+h&days=30">See it before you take it</a>'
        in text
    )


def test_what_was_called_useful_is_never_proposed_away(site):
    called(site, "useful")
    assert facts_of(site)["change"] is None


def test_too_few_are_no_ground_for_a_change(site):
    site.notices = site.notices[:2]
    called(site, "needless")
    assert facts_of(site)["change"] is None


def test_it_is_the_same_all_month(site):
    called(site, "needless")
    first = facts_of(site)
    store = SqliteStore(site.store_file, read_only=True)
    later = verdict_facts(store, load([site.file], environ={}), ms("2026-11-03T09:00"), environ=os.environ)
    store.close()
    assert first["change"] == later["change"]
    assert "2026-11" == first["month"] == later["month"]


def test_the_newest_word_about_an_alarm_counts():
    def entry(minute, deed, text="cold: notice 3"):
        return Entry(minute, minute, "ana", deed, "bin:fig", text, 7, number=minute)

    assert [Verdict(2, "fig", "cold", 7, True)] == verdicts_in([entry(1, Deed.NEEDLESS), entry(2, Deed.USEFUL)])
    assert [] == verdicts_in([Entry(1, 1, "ana", Deed.NOTE, "bin:fig", "cold: notice 3", 7)])


def test_it_is_called_so_by_the_command(cold_site, capsys):
    said = cold_site.says(capsys, "needless", "1", "--as", "ana", "it", "was", "the", "door")
    assert said.startswith("Notice 1 is called needless by ana: ")
    store = SqliteStore(cold_site.store_file, read_only=True)
    (asked,) = store.asked()
    store.close()
    assert ("verdict", "ana", "it was the door") == (asked.what, asked.who, asked.note)
