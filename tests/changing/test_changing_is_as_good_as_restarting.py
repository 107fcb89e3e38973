"""Whatever changes while it runs: everything that stands is what a daemon would find that was restarted with it."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.names import Names
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Bound, Harm, Point
from parts.house import House
from parts.kept import taking
from parts.orchard import FIG, rules

HEAT, DAMP = Measures.TEMPERATURE, Measures.MOISTURE


def limited(bed, measure, **more):
    return replace(bed, limits={**bed.limits, measure: replace(bed.limits[measure], **more)})


def bound(value):
    return Bound(value, "settings", "settings")


def probes_changed(bed, **more):
    zones = [replace(z, probes=tuple(replace(p, **more.get(p.id.replace("-", "_"), {})) for p in z.probes))
             for z in bed.zones]  # fmt: skip
    return replace(bed, zones=tuple(zones))


def with_fig(bed):
    whole = rules()
    return replace(whole, bins={**whole.bins, "fig": bed})


PLAIN = rules()
RULES = {
    "as they were": PLAIN,
    "warmer": with_fig(limited(FIG, HEAT, low=bound(24.0))),
    "easier": with_fig(limited(FIG, HEAT, low=bound(5.0), harm=(Harm(True, bound(2.0), 0),))),
    "slower": with_fig(limited(FIG, HEAT, comfort_delay=3 * HOUR, off_delay=2 * HOUR)),
    "other points": with_fig(
        probes_changed(FIG, fig_east_damp={"calibration": (Point(3000, 10), Point(1000, 90))})
    ),
    "often": with_fig(probes_changed(FIG, fig_west={"every": 5 * MINUTE})),
    "without the west": with_fig(replace(FIG, zones=FIG.zones[1:])),
    "without the plum": replace(PLAIN, bins={k: v for k, v in PLAIN.bins.items() if k != "plum"}, mats={}),
    "without the fig": replace(PLAIN, bins={k: v for k, v in PLAIN.bins.items() if k != "fig"}, mats={}),
}
RULES = {key: replace(value, version=key) for key, value in RULES.items()}

CELSIUS = st.sampled_from([10.0, 13.0, 20.0, 22.5, 25.0, 33.0, 35.0])
said = st.fixed_dictionaries(
    {},
    optional={
        "fig_west": CELSIUS,
        "fig_east": CELSIUS,
        "fig_mat": CELSIUS,
        "plum_near": CELSIUS,
        "fig_east_damp": st.sampled_from([1300.0, 1500.0, 2600.0]),
    },
)
steps = st.lists(
    st.tuples(st.sampled_from([1, 20, 45, 90, 300]), said, st.none() | st.sampled_from(sorted(RULES))),
    min_size=1,
    max_size=8,
)


def lived(days, *, restarts):
    house = House(rules=PLAIN)
    for minutes, values, changed in days:
        if changed is not None and restarts:
            house.restart(RULES[changed])
        elif changed is not None:
            house.rounds.use(RULES[changed])
        house.later(minutes).say(**values)
    return house


def outcome(house):
    # what was told of the night ahead is of one hour: who was restarted hears it with the next, and until then what
    # stands because of it stands on
    return (
        replace(house.rounds.stands, nights={}),
        house.store.load(),
        house.store.transitions(),
        house.store.past_episodes(),
    )


@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
def test_used_while_running_or_found_at_the_start(days):
    assert outcome(lived(days, restarts=True)) == outcome(lived(days, restarts=False))


RENAMED = Names(bins={"fig": "pear"}, zones={"fig.west": "pear.lee"}, probes={"fig-west": "pear-lee"})


def renamed_rules():
    west = FIG.zones[0]
    lee = replace(west, id="lee", probes=tuple(replace(p, id="pear-lee") for p in west.probes))
    pear = replace(FIG, id="pear", zones=(lee, *FIG.zones[1:]))
    others = {k: v for k, v in PLAIN.bins.items() if k != "fig"}
    mats = {
        k: replace(
            m, warms=tuple(("pear", "lee" if z == "west" else z) if b == "fig" else (b, z) for b, z in m.warms)
        )
        for k, m in PLAIN.mats.items()
    }
    return replace(PLAIN, bins={"pear": pear, **others}, mats=mats, version="renamed")


def called(values, *, now):
    return {("pear_lee" if now and key == "fig_west" else key): value for key, value in values.items()}


def told(house, renamed):
    """What was decided, by the ids of today."""
    names = RENAMED if renamed else Names()
    return [(names.anything(t.key.subject.id), t.key.condition, t.event, t.at, t.number)
            for t in house.store.transitions() if t.event != "renamed"]  # fmt: skip


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from([1, 20, 45, 90]), said), min_size=2, max_size=8), st.data())
def test_another_name_changes_no_judgement(days, data):
    """One house changes its ids at some moment, while running or by a restart; the other never does."""
    at, restarts = data.draw(st.integers(0, len(days) - 1)), data.draw(st.booleans())
    plain, other = House(rules=PLAIN), House(rules=PLAIN)
    for number, (minutes, values) in enumerate(days):
        if number == at:
            other.store.take_up(taking(names=RENAMED))
            other.rules = renamed_rules()
            if restarts:
                other.restart()
            else:
                other.rounds.use(other.rules, anew=True)
        plain.later(minutes).say(**values)
        other.later(minutes).say(**called(values, now=number >= at))
    assert told(plain, True) == told(other, False)
    assert {RENAMED.anything(k[0]) for k in plain.standing()} == {k[0] for k in other.standing()}
