"""What is sent ends with the number by which it can be answered; what is cut short has lost only that."""

from dataclasses import replace

import pytest

from parts.kept import notice


@pytest.mark.parametrize(
    ("alarms", "last"),
    [
        ((12,), "Alarm 12: `vermistat seen 12`; why: `vermistat why 12`."),
        ((12, 13), "Alarms 12, 13: `vermistat seen NUMBER`; why: `vermistat why NUMBER`."),
        ((12, 12), "Alarm 12: `vermistat seen 12`; why: `vermistat why 12`."),
    ],
)
def test_the_last_line_says_which_alarm_and_how(alarms, last):
    one = replace(notice(), alarms=alarms)
    assert (*one.lines[1:], last) == tuple(one.body.splitlines())


def test_what_is_about_no_alarm_asks_for_no_answer():
    one = replace(notice(), alarms=())
    assert one.lines[1:] == tuple(one.body.splitlines())


def test_a_message_cut_at_160_characters_still_says_what_and_why():
    one = replace(notice(), alarms=(12,))
    assert f"{one.title}\n{one.body}"[:160].startswith("\n".join(one.lines[:2]))
