"""`vermistat notices`: the post, one notice with why it was written, and a test that is really sent."""

import json

from cli.keeping import ADDRESS
from cli.test_json_has_its_shape import fits
from monitor.reports import post_shapes
from parts.webhook import Webhook, refuse, take


def test_the_post_is_listed_with_what_became_of_it(cold_site, capsys):
    said = cold_site.says(capsys, "notices")
    first = said.splitlines()[0]
    assert "to ana (at once): Fig: " in first
    assert any(line.startswith("   waiting on mail after 0 tries") for line in said.splitlines())


def test_only_one_persons_post(cold_site, capsys):
    assert [] == [
        n for n in cold_site.tells(capsys, "notices", "--person", "ben")["notices"] if n["person"] != "ben"
    ]
    assert cold_site.tells(capsys, "notices", "--person", "ana")["notices"]


def test_nothing_written_is_said(site, capsys):
    with site.lived():
        pass
    assert "Nobody was written to in that time.\n" == site.says(capsys, "notices")


def test_one_notice_says_why_it_was_written(cold_site, capsys):
    last = cold_site.tells(capsys, "notices")["notices"][-1]["number"]
    said = cold_site.says(capsys, "notices", str(last))
    assert "Why it was written:" in said
    assert "ana is awake." in said
    assert "What stands behind it:" in said


def test_why_not_is_said_of_one_person(cold_site, capsys):
    told = cold_site.tells(capsys, "why", "1", "--person", "ben")["told"]
    assert {"ben"} == {one["person"] for one in told}
    assert {"ben hears only of plum."} == {one["reason"] for one in told}


def test_a_notice_that_is_not_there_is_refused(cold_site, capsys):
    assert (1, "vermistat: no notice has the number 99; `vermistat notices` lists them\n") == cold_site.refuses(
        capsys, "notices", "99"
    )


def test_what_is_no_notice_is_a_wrong_call(cold_site, capsys):
    code, errors = cold_site.refuses(capsys, "notices", "tset")
    assert 64 == code
    assert "a notice's number is a whole number from 1 on, not 'tset'; or say test" in errors
    code, errors = cold_site.refuses(capsys, "notices", "test", "--to", "anna")
    assert (1, "vermistat: 'anna' is neither a person nor a channel of the settings\n") == (code, errors)
    assert 1 == cold_site.refuses(capsys, "notices", "--to", "ana")[0]


def test_a_test_is_really_sent_and_says_so(site, capsys):
    with Webhook(take) as hook:
        (site.folder / "mail-url").write_text(f"json://127.0.0.1:{hook.port}/x")
        said = site.says(capsys, "notices", "test", "--to", "ana")
        arrived = hook.arrived.get(timeout=20)
    assert "mail: delivered. Look whether it has come to ana and ben.\n" == said
    assert "Vermistat: a test from Orchard shed" in arrived
    assert "Nothing is the matter." in arrived


def test_a_test_that_does_not_arrive_ends_with_1_and_shows_no_address(site, capsys):
    with Webhook(refuse(500)) as hook:
        (site.folder / "mail-url").write_text(f"json://127.0.0.1:{hook.port}/the-word-nobody-reads")
        capsys.readouterr()
        assert 1 == site.call("notices", "test", "--json")
        out, _ = capsys.readouterr()
    facts = json.loads(out)
    fits(facts, post_shapes.TestShape)
    assert [("mail", False)] == [(one["channel"], one["delivered"]) for one in facts["tried"]]
    assert "the-word-nobody-reads" not in out
    assert "the-word-nobody-reads" in ADDRESS
