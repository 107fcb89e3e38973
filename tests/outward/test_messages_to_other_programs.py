"""What other programs are told after a round, and when it is told again."""

import json
from dataclasses import replace

import pytest

from cli.test_json_has_its_shape import fits
from monitor.checks.findings import Condition
from monitor.checks.memory import ProbeMemory
from monitor.judge import Stood
from monitor.outward.messages import Message, gone
from monitor.outward.outlet import FORGOTTEN_AT, Outlet
from monitor.outward.shapes import AdviceShape, AliveShape, MatShape, StateShape
from monitor.outward.teller import Teller
from monitor.readings import HOUR, MINUTE
from monitor.rules import Control, Level
from monitor.store.memory import MemoryStore
from papers.reading import ROOT, blocks
from parts.orchard import LONG_MAT, advise, alarm, ms, rules

AT = ms("02:10")
FOLLOWED = replace(LONG_MAT, control=Control.THERMOSTAT, set_to=23.0, follow=True)
SHED = rules(mats=(FOLLOWED,))
COLD = alarm(12, "fig", Condition.COLD, Level.HARM)
SHAPES = {"alive": AliveShape, "long-mat": MatShape, "state": StateShape, "advice": AdviceShape}
GONE = {"alive": False, "at": "2026-11-25T02:10:00Z", "valid_until": None}
MAT = "vermistat/orchard/mats/long-mat"


class Desk:
    """A teller whose words are caught; the clock stands until it is moved."""

    def __init__(self, of=SHED, *, up=True, speed=1.0):
        self.at, self.up, self.said = AT, up, []
        self.teller = Teller(of, store=MemoryStore(), publish=self.publish, now=lambda: self.at, speed=speed)

    def publish(self, topic, payload, *, retain, expiry_s, kept_anyway):
        if self.up:
            self.said.append((topic, json.loads(payload) if payload else None, expiry_s, kept_anyway))
            assert retain
        return self.up

    def round(self, stood=None, **more):
        """What is said after it, by topic."""
        self.said = []
        self.teller.told(stood or stands(COLD), self.at, **more)
        return {topic: body for topic, body, *_ in self.said}


def stands(*alarms, fresh=True):
    """A shed whose zones are all at 18 °C, with its advice."""
    heard = AT if fresh else AT - 5 * HOUR
    known = ProbeMemory(last_at=heard, trusted_at=heard, heard=heard, value=18.0)
    memory = dict.fromkeys(SHED.probes(), known)
    advice = {"shed": advise(list(alarms), of=SHED)} if alarms else {}
    return Stood(memory=memory, alarms={a.key: a for a in alarms}, advice=advice)


def test_every_message_has_its_shape_with_nothing_missing_and_nothing_more():
    said = Desk().round()
    beds = {f"vermistat/orchard/{bed}/{what}" for bed in SHED.bins for what in ("state", "advice")}
    assert beds | {MAT, "vermistat/orchard/alive"} == set(said)
    for topic, body in said.items():
        fits(body, SHAPES[topic.rpartition("/")[2]])
    fits(json.loads(gone("orchard", None).body), AliveShape)


def test_what_is_said_of_a_mat_its_bin_and_its_advice():
    said = Desk().round()
    assert {
        "mat": "long-mat",
        "on": True,
        "why": "Fig is too cold (alarm 12).",
        "at": "2026-11-25T02:10:00Z",
        "valid_until": "2026-11-25T02:20:00Z",
    } == said[MAT]
    assert [12] == said["vermistat/orchard/fig/state"]["alarms"]
    assert [[12], [12]] == [o["alarms"] for o in said["vermistat/orchard/fig/advice"]["to_do"]]
    assert [] == said["vermistat/orchard/plum/advice"]["to_do"]
    assert {"alive": True, "at": "2026-11-25T02:10:00Z", "valid_until": "2026-11-25T02:20:00Z"} == said[
        "vermistat/orchard/alive"
    ]


def test_nothing_is_valid_for_longer_than_an_hour_and_the_broker_forgets_it_before():
    desk = Desk()
    desk.round()
    for topic, body, expiry, _ in desk.said:
        left = (ms(body["valid_until"].removesuffix("Z")) - AT) / 1000
        assert 0 < left <= 3600, topic
        assert int(left * FORGOTTEN_AT) == expiry < left, topic


def test_by_a_clock_that_runs_faster_the_broker_forgets_sooner():
    desk = Desk(speed=60.0)
    desk.round()
    assert [8] == [expiry for topic, _, expiry, _ in desk.said if topic == MAT]


def test_only_what_does_no_harm_is_kept_where_the_broker_forgets_nothing():
    desk = Desk()
    desk.round()
    assert {"vermistat/orchard/alive"} == {topic for topic, _, _, anyway in desk.said if anyway}


def test_what_is_no_news_is_said_again_at_half_its_time_and_news_at_once():
    desk = Desk()
    assert MAT in desk.round()
    desk.at += 4 * MINUTE
    assert {} == desk.round()
    desk.at += MINUTE
    assert {MAT, "vermistat/orchard/alive"} == desk.round().keys()
    assert not desk.round(stands())[MAT]["on"]


def test_a_bin_is_told_of_again_when_its_alarms_move_and_the_others_are_not():
    desk = Desk()
    desk.round()
    hot = alarm(13, "plum", Condition.HOT)
    said = desk.round(replace(stands(COLD), alarms={a.key: a for a in (COLD, hot)}))
    assert {MAT, "vermistat/orchard/plum/state", "vermistat/orchard/plum/advice"} == said.keys()


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"stored": False}, "This round could not be stored."),
        ({"clock_sure": False}, "What time it is, is not known."),
        ({"failed": {"fig"}}, "Fig could not be judged in this round."),
    ],
)
def test_every_mat_is_off_after_a_round_that_cannot_be_relied_on(more, why):
    desk = Desk()
    assert desk.round()[MAT]["on"]
    said = desk.round(**more)[MAT]
    assert (False, why) == (said["on"], said["why"])


def test_every_mat_is_off_when_its_zones_are_silent_or_not_believed():
    assert not Desk().round(stands(COLD, fresh=False))[MAT]["on"]
    stood = stands(COLD)
    memory = {**stood.memory, "fig-mat": replace(stood.memory["fig-mat"], untrusted_since=AT)}
    assert "What fig-mat said last is not believed." == Desk().round(replace(stood, memory=memory))[MAT]["why"]


def test_what_could_not_be_handed_over_is_said_as_soon_as_it_can():
    desk = Desk(up=False)
    assert {} == desk.round()
    desk.up = True
    assert 8 == len(desk.round())
    assert {} == desk.round()


def test_a_new_connection_is_told_all_that_holds_and_nothing_that_does_not():
    desk = Desk()
    everything = desk.round().keys()
    desk.said = []
    desk.teller.greet()
    assert everything == {topic for topic, *_ in desk.said}
    desk.at += 10 * MINUTE  # a mat's word and alive's are over, and no round was
    desk.said = []
    desk.teller.greet()
    assert everything - {MAT, "vermistat/orchard/alive"} == {topic for topic, *_ in desk.said}


def test_what_the_settings_know_no_longer_is_switched_off_and_forgotten():
    desk = Desk()
    desk.round()
    desk.said = []
    desk.teller.use(rules(bins=tuple(b for b in SHED.bins.values() if b.id != "sloe")))
    assert [(MAT, False, "No switch is to follow it any more.")] == [
        (topic, body["on"], body["why"]) for topic, body, *_ in desk.said if body
    ]
    gone = {MAT, "vermistat/orchard/sloe/state", "vermistat/orchard/sloe/advice"}
    assert gone == {topic for topic, body, *_ in desk.said if body is None}
    assert (MAT, None) == [(t, b) for t, b, *_ in desk.said if t == MAT][-1]
    assert MAT not in desk.round()


def test_who_stops_in_order_says_off_and_that_nobody_judges_and_leaves_nothing_else():
    desk = Desk()
    everything = set(desk.round())
    desk.said = []
    desk.teller.close()
    first, second, *others = desk.said
    assert (MAT, False, "Vermistat stops.") == (first[0], first[1]["on"], first[1]["why"])
    assert ("vermistat/orchard/alive", GONE, None, True) == second
    assert everything - {"vermistat/orchard/alive"} == {topic for topic, *_ in others}
    assert {None} == {body for _, body, *_ in others}
    desk.said = []
    desk.teller.greet()
    assert [] == desk.said, "a connection that comes up while we stop is told nothing"


def test_a_large_site_is_told_of_within_the_time_that_a_state_holds():
    """900 bins: no more than 400 after one round, all within three."""
    fig = SHED.bins["fig"]
    many = rules(bins=tuple(replace(fig, id=f"b{n}", zones=()) for n in range(900)), mats=())
    desk = Desk(many)
    counts = [len([t for t in desk.round(Stood()) if t.endswith("/state")]) for _ in range(4)]
    assert [400, 400, 100, 0] == counts


def test_all_is_said_anew_by_a_clock_that_was_put_back():
    """What was said holds until a time that now lies far ahead."""
    desk = Desk()
    everything = desk.round().keys()
    desk.at -= 3 * HOUR
    said = desk.round()
    assert everything == said.keys()
    assert "2026-11-24T23:20:00Z" == said[MAT]["valid_until"]


def test_whatever_goes_wrong_in_telling_others_the_round_goes_on(caplog):
    desk = Desk()
    desk.teller._outlet.say = lambda _messages: 1 / 0
    assert {} == desk.round()
    assert "other programs could not be told" in caplog.text


def test_two_messages_of_one_topic_the_later_holds():
    said = []
    outlet = Outlet(publish=lambda t, p, **_: said.append(p) or True, now=lambda: 0)
    outlet.say([Message("a", b"1", 10_000, gist=1), Message("a", b"2", 10_000, gist=2)])
    outlet.greet()
    assert [b"1", b"2", b"2"] == said


def test_the_how_to_shows_these_very_messages():
    shown = [
        json.loads(block.text)
        for block in blocks(ROOT / "config/how-to/other-programs.md")
        if block.language == "json"
    ]
    said = Desk().round()
    assert [said["vermistat/orchard/alive"], said[MAT]] == shown
