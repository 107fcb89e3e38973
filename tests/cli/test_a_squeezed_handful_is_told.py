"""`vermistat squeeze`: a handful is left as a request, judged by the next round, and stands in the diary."""

import json

from cli.keeping import NOW
from monitor.readings import HOUR
from monitor.store.sqlite import SqliteStore


def rounds(site):
    with site.lived() as house:
        house.at = NOW
        house.rounds.run()


def asked(site):
    store = SqliteStore(site.store_file, read_only=True)
    try:
        return store.asked()
    finally:
        store.close()


def test_it_says_what_the_handful_means_and_what_becomes_of_it(cold_site, capsys):
    said = cold_site.says(capsys, "squeeze", "plum", "drops", "by", "the", "wall", "--as", "ana")
    assert "ana squeezed a handful of Plum: a few drops, “by the wall”." in said
    assert "In bedding of no known kind that is 65 to 85 % moisture (squeeze test of paper and manure beds" in said
    assert "speaks for 3 days: too dry or too wet only when the whole of it is." in said
    assert "The next round takes it up, within about a minute." in said
    (request,) = asked(cold_site)
    assert ("ana", "squeeze", "by the wall") == (request.who, request.what, request.note)
    assert {"of": "bin:plum", "feel": "drops", "ago": 0} == json.loads(request.body)


def test_where_a_calibrated_probe_speaks_it_says_that_the_probe_is_judged(cold_site, capsys):
    assert "as long as fig-damp speaks within its points" in cold_site.says(
        capsys, "squeeze", "fig", "drops", "--as", "ana"
    )


def test_one_of_yesterday_says_when_it_was(cold_site, capsys):
    said = cold_site.says(capsys, "squeeze", "fig.west", "runs", "--at", "yesterday 18:00", "--as", "ana")
    assert "handful of Fig west yesterday 18:00: runs by itself." in said
    (request,) = asked(cold_site)
    assert 18 * HOUR == json.loads(request.body)["ago"]
    assert "zone:fig.west" == json.loads(request.body)["of"]


def test_a_dry_handful_becomes_an_alarm_with_advice_and_a_line_of_the_diary(cold_site, capsys):
    cold_site.says(capsys, "squeeze", "plum", "crumbles", "--as", "ana")
    rounds(cold_site)
    assert [] == asked(cold_site)
    alarms = {a["about"]: a for a in cold_site.tells(capsys, "alarms")["alarms"]}
    dry = next(a for about, a in alarms.items() if about.startswith("Plum: too dry"))
    why = cold_site.says(capsys, "why", str(dry["number"]))
    assert "At most 55 % moisture by a squeeze of the hand" in why
    now = cold_site.says(capsys, "now")
    assert "sprinkle a little water" in now
    (entry,) = cold_site.tells(capsys, "diary")["entries"]
    assert ("squeezed", "crumbles") == (entry["deed"], entry["text"])
    assert "Plum: squeezed" in cold_site.says(capsys, "diary")
