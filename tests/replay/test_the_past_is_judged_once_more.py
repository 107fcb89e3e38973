"""A replay by the limits in force gives the daemon's own steps, all of them; passing over what cannot move changes nothing."""

from dataclasses import replace

import pytest

from monitor.checks.findings import Kind
from monitor.readings import MINUTE
from monitor.replay import Lived, only, replay
from parts import orchard
from parts.house import with_limit
from parts.pasts import Pasts

ROUGH = [{"seed": seed, "days": 1} for seed in range(5)]
EACH_MINUTE = [
    {
        "seed": 11,
        "days": 0.4,
        "rounds_every": MINUTE,
        "wander": 0.2,
        "seldom": ("fig-west", "sloe-top-damp", "sloe-top"),
    },
    # a probe that speaks and is not believed: no good thermometer speaks for its bed, and no reading says when
    {"seed": 121, "days": 0.4, "rounds_every": MINUTE, "wander": 0.1, "seldom": ("plum-near", "fig-mat")},
]
CALM = [{"seed": seed, "days": 2, "faults": False, "changes": seed % 2 == 0, "wander": 0.05} for seed in range(4)]


def step(t):
    """A step without its number: troubles of the daemon, which no replay has, take numbers as well."""
    return replace(t, number=0)


def of_beds(transitions):
    return [step(t) for t in transitions if t.key.subject.kind in (Kind.BIN, Kind.ZONE)]


@pytest.fixture(
    scope="module", params=[*ROUGH, *EACH_MINUTE, *CALM], ids=lambda how: f"{how['seed']}-{how['days']:g}d"
)
def past(request):
    return Pasts(**request.param)


def test_by_the_limits_in_force_it_gives_the_daemons_own_steps(past):
    again = replay(past.lived(), past.rules.__getitem__)
    told = past.house.store.transitions(limit=1_000_000)
    assert of_beds(told) == of_beds(again.transitions)
    assert set(map(repr, past.house.store.past_episodes(1_000_000))) == set(map(repr, again.past))
    posts = past.house.store.notices(1_000_000)
    assert {p.notice.number for p in posts} <= {n.number for n in again.notices}


def test_what_is_passed_over_could_move_nothing(past):
    quick = replay(past.lived(), past.rules.__getitem__)
    whole = replay(past.lived(), past.rules.__getitem__, every_round=True)
    assert whole.transitions == quick.transitions
    assert whole.past == quick.past
    assert whole.notices == quick.notices
    assert quick.judged <= whole.judged == len(past.lived().rounds)


def test_the_lives_are_worth_the_comparison():
    rough = [Pasts(**how) for how in ROUGH]
    events = {t.event for p in rough for t in p.house.store.transitions(limit=1_000_000)}
    assert {"raised", "rose", "fell", "returned", "acknowledged", "shelved", "out of service"} <= events
    assert any(p.house.store.past_episodes(1) for p in rough)
    assert any(len(p.rules) > 1 for p in rough)
    calm = [Pasts(**how) for how in CALM]
    shares = [replay(p.lived(), p.rules.__getitem__).judged / len(p.lived().rounds) for p in calm]
    assert min(shares) < 0.3


def test_of_one_bin_alone_it_gives_that_bins_steps():
    past = Pasts(seed=3, days=1.5, changes=False)
    alone = replay(past.lived(), lambda version: only(past.rules[version], ["fig"]))
    whole = [t for t in past.house.store.transitions(limit=1_000_000) if t.key.subject.bed == "fig"]
    assert whole
    assert of_beds(whole) == of_beds(alone.transitions)


def test_other_limits_raise_other_alarms():
    past = Pasts(seed=2, days=1.5, changes=False, people=False, faults=False)
    strict = replace(past.rules["1"], bins={**past.rules["1"].bins, "fig": with_limit(orchard.FIG, 39.0)})
    before = replay(past.lived(), past.rules.__getitem__)
    after = replay(past.lived(), lambda _: strict)
    assert of_beds(before.transitions) != of_beds(after.transitions)
    assert any(t.key.subject.id == "fig" and t.event == "raised" for t in after.transitions)


def test_nothing_lived_gives_nothing():
    again = replay(Lived((), ()), {}.__getitem__)
    assert ((), (), (), 0) == (again.transitions, again.past, again.notices, again.judged)
