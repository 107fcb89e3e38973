"""Whatever stands in a place, its advice is one decision: properties over random alarms, readings and settings."""

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.advice.acts import OPPOSITES, Act
from monitor.advice.decide import decide
from monitor.advice.present import Drawn
from monitor.advice.scene import Scene, hottest_allowed
from monitor.diary import Deed, in_force
from monitor.readings import HOUR, Measures
from monitor.rules import Control
from parts.drawn import HOURS, ZONES_NOW, alarms, diaries, sheds, wired_sheds
from parts.orchard import advise, ms

MANY = settings(max_examples=200, deadline=None)
ON = {Act.MAT_ON, Act.MAT_RAISE}


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_no_two_orders_on_one_target_undo_each_other(standing, zones, shed, at):
    orders = advise(standing, zones, of=shed, at=at).orders
    for one, other in combinations(orders, 2):
        if one.target == other.target:
            assert frozenset((one.act, other.act)) not in OPPOSITES
            assert one.act is not other.act or (one.act is Act.LOOK and one.words != other.words)


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_no_bin_is_both_watered_and_told_not_to_be(standing, zones, shed, at):
    orders = advise(standing, zones, of=shed, at=at).orders
    for bed in ("fig", "plum"):
        mine = [o for o in orders if o.target == bed]
        watered = any(o.act in (Act.WATER, Act.DAMPEN) for o in mine)
        forbidden = any("no more water" in o.why or "do not water" in o.words for o in mine)
        assert not (watered and forbidden)


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_every_alarm_is_answered_and_nothing_else(standing, zones, shed, at):
    orders = advise(standing, zones, of=shed, at=at).orders
    assert {a.number for a in standing} == {number for order in orders for number in order.alarms}


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_every_order_is_short_and_says_why_with_a_number(standing, zones, shed, at):
    advice = advise(standing, zones, of=shed, at=at)
    for order in advice.orders:
        assert 0 < len(order.words) <= 60
        assert not order.words.endswith(".")
        assert any(letter.isdigit() for letter in order.why)
        assert order.why.endswith(".")
    assert ms(at) < advice.valid_until <= ms(at) + HOUR


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_what_is_urgent_comes_first(standing, zones, shed, at):
    urgent = [order.urgent for order in advise(standing, zones, of=shed, at=at).orders]
    assert sorted(urgent, reverse=True) == urgent


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_no_plug_is_switched_on_while_a_bin_on_it_is_at_its_hot_limit(standing, zones, shed, at):
    advice = advise(standing, zones, of=shed, at=at)
    if not any(order.act in ON for order in advice.orders):
        return
    for name, zone, bed in [("fig.west", 0, "fig"), ("fig.mat", 1, "fig"), ("plum.near", 0, "plum")]:
        top = hottest_allowed(shed.bins[bed].zones[zone].limits[Measures.TEMPERATURE])
        now = zones[name].temperature if name in zones else None
        assert top is not None and (now is None or now < top.value)


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_no_mat_heats_a_dry_bed_except_after_damping_under_its_thermostat(standing, zones, shed, at):
    advice = advise(standing, zones, of=shed, at=at)
    scene = Scene("shed", shed, zones, tuple(standing), ms(at))
    dry = [bed.id for bed in shed.bins.values() if bed.place == "shed" and scene.dry(bed)]
    for order in advice.orders:
        if order.act in ON and dry:
            assert Control.THERMOSTAT is shed.mats[order.target].control
            damped = [o for o in advice.orders if o.act is Act.DAMPEN]
            assert set(dry) <= {o.target for o in damped}
            assert all(advice.orders.index(o) < advice.orders.index(order) for o in damped)


@MANY
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_nothing_is_ordered_that_a_bin_cannot_do(standing, zones, shed, at):
    wanted = {Act.INSULATE: "insulate", Act.MOVE: "move", Act.SHADE: "shade", Act.AIR: "air", Act.COVER: "cover"}
    for order in advise(standing, zones, of=shed, at=at).orders:
        if order.act in wanted:
            assert wanted[order.act] in shed.bins[order.target].can


AT = ms("09:10")
PLUGS = st.dictionaries(
    st.sampled_from(["mat-0", "mat-1"]),
    st.builds(Drawn, st.booleans(), st.none() | st.floats(0, 100), st.integers(AT - 3 * HOUR, AT)),
)


@MANY
@given(alarms(), ZONES_NOW, wired_sheds(), diaries(upto=AT), PLUGS)
def test_several_plugs_and_a_diary_are_still_one_decision(standing, zones, shed, diary, plugs):
    orders = decide("shed", rules=shed, alarms=standing, zones=zones, at=AT, diary=diary, plugs=plugs).orders
    at_plugs = [o.target for o in orders if o.target in shed.mats]
    assert len(at_plugs) == len(set(at_plugs)), "one order a plug"
    heated = {bed for o in orders if o.act in ON for bed in o.bins}
    cooled = {bed for o in orders if o.act in (Act.MAT_OFF, Act.MAT_LOWER, Act.SHADE, Act.AIR) for bed in o.bins}
    dry = {a.key.subject.bed for a in standing if a.key.condition == "dry"}
    assert not heated & cooled - dry, "no bin is heated by one order and cooled by another"
    assert {a.number for a in standing} == {n for o in orders for n in o.alarms}
    assert all(0 < len(o.words) <= 60 and o.why.endswith(".") for o in orders)


@MANY
@given(alarms(), ZONES_NOW, wired_sheds(), diaries(upto=AT))
def test_no_mat_that_is_written_down_as_on_is_told_to_be_switched_on(standing, zones, shed, diary):
    orders = decide("shed", rules=shed, alarms=standing, zones=zones, at=AT, diary=diary).orders
    kept = in_force(diary, AT)
    for order in orders:
        last = next((e for e in reversed(kept) if e.subject == f"mat:{order.target}"), None)
        if last is not None and order.act is Act.MAT_ON and shed.mats[order.target].control is Control.HAND:
            assert last.deed is not Deed.MAT_ON


@MANY
@given(alarms(), ZONES_NOW, wired_sheds(), st.data())
def test_a_watered_bin_is_not_watered_again_within_hours(standing, zones, shed, data):
    diary = data.draw(diaries(upto=AT))
    orders = decide("shed", rules=shed, alarms=standing, zones=zones, at=AT, diary=diary).orders
    recent = {e.bed for e in in_force(diary, AT) if e.deed is Deed.WATERED and AT - e.at < 6 * HOUR}
    assert not {o.target for o in orders if o.act is Act.WATER} & recent


@MANY
@given(alarms(), ZONES_NOW, wired_sheds(), PLUGS)
def test_no_mat_whose_plug_draws_is_told_to_be_switched_on(standing, zones, shed, plugs):
    orders = decide("shed", rules=shed, alarms=standing, zones=zones, at=AT, plugs=plugs).orders
    by_hand = {m.id for m in shed.mats.values() if m.control is not Control.THERMOSTAT}
    told = {o.target for o in orders if o.act is Act.MAT_ON} & by_hand
    assert not told & {mat for mat, plug in plugs.items() if plug.on}
