"""What a forecast of the air outdoors says, wherever its lists stand; and each way in which it cannot be used."""

import json

import pytest

from monitor.addresses import Outdoors, Secret
from monitor.bed.outside import KIND, TOLD, outside_of
from monitor.intake.outdoors import MOST, asides, keep, read
from monitor.intake.payloads.parts import Refused
from monitor.readings import HOUR, Refusal
from monitor.store.memory import MemoryStore
from monitor.wire.inbox import Delivery

NOW = 1_795_600_800_000
LISTS = Outdoors("/hours/time", "/hours/celsius", topic="weather/next")
ITEMS = Outdoors("/days/*/hours/*/at", "/days/*/hours/*/t", topic="weather/next", sends="degF")


def at(n):
    return NOW + n * HOUR


def lists(times, warmth):
    return json.dumps({"hours": {"time": times, "celsius": warmth}}).encode()


def test_two_lists_side_by_side():
    body = lists(["2026-11-25T10:00:00Z", "2026-11-25T12:00:00+01:00"], [3, 2.5])
    assert [(1795600800000, 3.0), (1795604400000, 2.5)] == read(body, LISTS, NOW)


def test_a_list_of_objects_in_a_list_of_days_in_fahrenheit():
    days = [
        {"hours": [{"at": NOW // 1000, "t": 32}, {"at": at(1) // 1000, "t": "50"}]},
        {"hours": [{"at": at(2), "t": 23}]},
    ]
    found = read(json.dumps({"days": days}).encode(), ITEMS, NOW)
    assert [(NOW, 0), (at(1), 10), (at(2), -5)] == [(t, pytest.approx(c)) for t, c in found]


def test_a_star_is_a_name_like_any_other_where_no_list_is():
    where = Outdoors("/*/time", "/*/t", topic="weather/next")
    assert [(at(1), 1.0)] == read(json.dumps({"*": {"time": [at(1)], "t": [1]}}).encode(), where, NOW)


def test_an_hour_without_a_temperature_is_left_out():
    assert [(at(1), 1.0), (at(3), 3.0)] == read(lists([at(1), at(2), at(3)], [1, None, 3]), LISTS, NOW)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "somebody cleared this topic"),
        (b"x" * 1_000_001, "1,000,001 bytes: a forecast of hours has a few thousand"),
        (b"{", "Not JSON: it ends too early"),
        (b'{"hours": {"time": []}}', "`temperatures: /hours/celsius` leads nowhere: at /hours there is /time"),
        (b'{"days": []}', "`times: /hours/time` leads nowhere: there is /days"),
        (b'{"hours": {"time": 5, "celsius": []}}', "`times: /hours/time` leads to “5”, and a list is needed"),
        (lists([at(1)], [1, 2]), "There are 1 times and 2 temperatures: they belong together one by one"),
        (lists([], []), "There is no hour in it"),
        (lists([at(1)], [None]), "There is no hour in it"),
        (lists([at(2), at(1)], [1, 2]), "Its times are not in order"),
        (lists([at(1), at(1)], [1, 2]), "Its times are not in order"),
        (lists([at(-2), at(-1)], [1, 2]), "All its hours lie behind us: it is an old one"),
        (lists(["soon"], [1]), "The time “soon” cannot be used"),
        (lists(["2026-11-25 10:00"], [1]), "send text like 2026-03-14T07:30:00Z, with Z or an offset"),
        (lists([at(1)], ["warm"]), "There is “warm” where a temperature is needed"),
        (lists([at(1)], [True]), "There is “true” where a temperature is needed"),
        (lists([at(1)], [280]), "“280” is no temperature of air: look at `sends`"),
        (lists([at(1)] * (MOST + 1), [1]), "leads to 1,001 items; 1,000 are the most"),
    ],
)
def test_what_cannot_be_used_is_said_with_where(body, said):
    with pytest.raises(Refused) as refused:
        read(body, LISTS, NOW)
    assert said in refused.value.reason


def test_a_temperature_below_all_cold_is_refused_in_any_unit():
    where = Outdoors("/hours/time", "/hours/celsius", topic="weather/next", sends="K")
    with pytest.raises(Refused, match="where a temperature is needed"):
        read(lists([at(1)], [-5]), where, NOW)


def delivered(body, retained=False, received=NOW):
    return Delivery(1, 1, 1, False, retained, "weather/next", body, received)


def test_a_message_is_kept_before_it_is_acknowledged_and_a_refused_one_says_why():
    store = MemoryStore()
    (aside,) = asides(LISTS, store).values()
    kept = aside(delivered(lists([at(n) for n in range(48)], [5] * 48)))
    assert {} == store.standing(KIND)
    kept()
    assert NOW == outside_of(store.standing(KIND)[TOLD]).received
    refused = aside(delivered(b"no"))
    assert isinstance(refused, Refusal)
    assert "weather/next" == refused.topic
    far = aside(delivered(lists([at(24 * 60)], [5])))
    assert "no hour of it lies in the next days" in far.reason


def test_what_the_broker_had_kept_is_no_newer_than_its_own_first_hour():
    store = MemoryStore()
    (aside,) = asides(LISTS, store).values()
    aside(delivered(lists([at(n) for n in range(-30, 48)], [5] * 78), retained=True))()
    assert at(-30) == outside_of(store.standing(KIND)[TOLD]).received


def test_what_is_kept_and_cannot_be_read_is_kept_anew():
    from monitor.store.promises import Standing

    store = MemoryStore()
    store.settle([Standing(KIND, TOLD, "nothing"), Standing(KIND, "trouble", "{}")])
    keep(store, [(at(n), 5.0) for n in range(30)], NOW)
    assert [TOLD] == list(store.standing(KIND))


def test_no_topic_no_aside():
    address = Outdoors("/a", "/b", url=Secret("https://weather.example/next"))
    assert {} == asides(address, MemoryStore())
    assert {} == asides(None, MemoryStore())
