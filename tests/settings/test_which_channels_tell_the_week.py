"""Mail tells the week on Mondays, other channels where they say a time; `never` is never."""

from datetime import time

import pytest

from monitor.rules import Weekly
from monitor.settings import load
from monitor.settings.explaining import explain

SITE = """
site: {{id: yard, timezone: Europe/Lisbon}}
bins:
  fig:
    species: eisenia-fetida
    zones: {{bed: {{probes: {{fig-bed: {{measures: temperature, topic: probes/fig-bed}}}}}}}}
people: {{ana: {{channels: post}}}}
channels: {{post: {{send_to: {{from_env: POST}}{more}}}}}
"""
MAIL, SECURE, HOOK = (
    "mailto://u:p@mail.example?to=a@mail.example",
    " MailtoS://u:p@mail.example?to=a@mail.example",
    "json://hook.example",
)


def loaded(tmp_path, address, more="", **how):
    file = tmp_path / "site.yaml"
    file.write_text(SITE.format(more=more))
    return load([file], environ={"POST": address} if address else {}, **how)


@pytest.mark.parametrize("address", [MAIL, SECURE])
def test_mail_tells_it_on_monday_when_its_person_gets_up(tmp_path, address):
    assert {"post": Weekly(0, None)} == loaded(tmp_path, address).rules.weekly


def test_any_other_channel_tells_none(tmp_path):
    assert {} == loaded(tmp_path, HOOK).rules.weekly


@pytest.mark.parametrize("address", [MAIL, HOOK])
def test_a_time_of_its_own_holds_for_every_channel(tmp_path, address):
    rules = loaded(tmp_path, address, ", weekly_report: Sunday 20:15").rules
    assert {"post": Weekly(6, time(20, 15))} == rules.weekly


@pytest.mark.parametrize("address", [MAIL, HOOK])
def test_never_is_never(tmp_path, address):
    assert {} == loaded(tmp_path, address, ", weekly_report: never").rules.weekly


def test_where_the_address_may_not_be_read_a_written_time_is_known_all_the_same(tmp_path):
    assert {} == loaded(tmp_path, "", need_secrets=False).rules.weekly
    more = ", weekly_report: friday 18:00"
    assert {"post": Weekly(4, time(18))} == loaded(tmp_path, "", more, need_secrets=False).rules.weekly


def test_the_hour_of_the_week_makes_no_other_version_of_what_is_judged_by(tmp_path):
    assert loaded(tmp_path, MAIL).rules.version == loaded(tmp_path, MAIL, ", weekly_report: never").rules.version


def test_check_says_when(tmp_path):
    said = list(explain(loaded(tmp_path, MAIL)))
    assert "  The week is told there on Monday at `up`, or at 07:30 without one." in said
    said = list(explain(loaded(tmp_path, HOOK, ", weekly_report: sunday 20:15")))
    assert "  The week is told there on Sunday at 20:15." in said
    assert not any("The week" in line for line in explain(loaded(tmp_path, HOOK)))
