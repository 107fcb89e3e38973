"""For each `what` of a source value: how the product is asked for it. Nothing here knows what is expected."""

from __future__ import annotations

from datetime import timedelta

from paho.mqtt.client import topic_matches_sub

from monitor import words
from monitor.alarms import cycle
from monitor.alarms.cycle import Event, State
from monitor.checks.delays import CLEAR, beyond, step
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.checks.watches import Statistic, watches
from monitor.intake.payloads import Decoder, exact_topic
from monitor.intake.payloads.parts import pointer as pointer_steps
from monitor.intake.payloads.parts import walk, when
from monitor.intake.payloads.senml import resolve
from monitor.intake.quality import Trust
from monitor.readings import HOUR, MINUTE, SECOND, Measures
from monitor.rules import Bin, Bound, Harm, Level, Limits, Point, Probe, Role, Source, Unit, Zone
from monitor.science import onewire, units, water, worms
from monitor.science.moisture import moisture_percent
from outside.air_runners import AIR
from outside.alarm_runners import ALARMS
from outside.feed_runners import FEED
from outside.heat_runners import HEAT
from outside.keeping_runners import KEEPING
from outside.probe_runners import PROBES
from outside.sensor_runners import SENSORS

START = 1_790_000_000_000
"""Some moment of 2026, for rows that have seconds from nowhere."""


# Water, heat and units


def moisture_after_water(*, mass, moisture, target):
    added = water.to_reach(mass, moisture, target=target)
    return water.mixed([(mass, moisture), (added, 100)])


def per_area(*, value, over):
    mass, area = over
    return units.canonical(value, mass) / units.canonical(1, area)


def kg_per_m3(*, value, mass, per):
    yard = 3 * units.canonical(1, "ft")
    m3 = {"gal": units.canonical(1, "gal") / 1000, "yd3": yard**3}[per]
    return units.canonical(value, mass) / m3


# Worms: the species' limits as the checks judge a bed by them


def bed_with(measures, limits):
    probe = Probe("p", measures, Source("t", Unit.CELSIUS), calibration=(Point(0, 0), Point(100, 100)))
    zone = Zone("z", Role.LIVING, (probe,), {measures: limits})
    return Bin("fig", "Fig", (), "shed", (zone,), {measures: limits})


def limits_watched(measures, limits):
    return [w for w in watches(bed_with(measures, limits)) if w.statistic is not Statistic.RISE]


def bed_judged(*, species, temperature=None, moisture=None, hours=24):
    worm = worms.species(species)
    heat = temperature is not None
    measures, limits = (Measures.TEMPERATURE, worm.temperature) if heat else (Measures.MOISTURE, worm.moisture)
    broken = [
        w
        for w in limits_watched(measures, limits)
        if beyond(w, temperature if heat else moisture) and w.on_delay <= hours * HOUR
    ]
    if not broken:
        return "comfortable"
    worst = max(broken, key=lambda w: w.level is Level.HARM)
    return f"{worst.level}, {worst.key.condition}"


def bed_harmed(**row):
    return bed_judged(**row).startswith(str(Level.HARM))


def bands_in_order(*, species):
    worm = worms.species(species)
    for limits, target in (
        (worm.temperature, worm.target_temperature),
        (worm.moisture, worm.target_moisture),
    ):
        cold = max(h.bound.value for h in limits.harm if h.below)
        hot = min(h.bound.value for h in limits.harm if not h.below)
        ladder = [cold, limits.low.value, *target, limits.high.value, hot]
        if ladder != sorted(set(ladder)):
            return ladder
    return True


# 1-wire chips and capacitive probes


def scratchpad(said):
    return [str(said.verdict), said.celsius]


def reading_judged(*, value, before=None, retained=False):
    probe, trust = Probe("p", Measures.TEMPERATURE, Source("t", Unit.CELSIUS), every=5 * MINUTE), Trust()
    if before is not None:
        trust.judge(probe, before, at=START - 5 * MINUTE, received_at=START - 5 * MINUTE)
    return trust.judge(probe, value, at=START, received_at=START, retained=retained).name


def two_points(*, points, counts):
    probe = Probe("p", Measures.MOISTURE, Source("t", Unit.COUNTS), calibration=tuple(Point(*p) for p in points))
    found = moisture_percent(probe, counts)
    return None if found is None else list(found)


# MQTT, JSON Pointer, SenML, time stamps

POINTED = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6, " ": 7, "m~n": 8,
}  # fmt: skip
"""The document of RFC 6901 §5."""


def pointed(*, pointer):
    steps = pointer_steps(pointer)
    try:
        return walk(POINTED, steps)
    except LookupError:  # nothing stands there
        return "refused"


def topic_of_probe(*, topic, times=1):
    taken = exact_topic(topic * times)
    return "as sent" if times > 1 and taken == topic * times else taken


def senml(*, pack, now):
    def row(record):
        at = record.at if record.at is not None else now * SECOND + record.shift
        return [record.name, record.unit, record.value, at / SECOND]

    return [row(record) for record in resolve(pack, now * SECOND)]


def senml_as_moisture(*, unit, value):
    source = Source("t", Unit.PERCENT, name="damp")
    decoder = Decoder({"p": Probe("p", Measures.MOISTURE, source)})
    payload = f'[{{"n":"damp","u":"{unit}","v":{value}}}]'.encode()
    decoded = decoder.decode("t", payload, START)
    return decoded.samples[0].value if not decoded.refusals else "refused"


def instant(*, text=None, number=None):
    return when(number if text is None else text) / SECOND


# Clock changes


def offset_minutes(moment):
    return moment.utcoffset() // timedelta(minutes=1)


def clock_change(*, zone, unix):
    return [offset_minutes(words.local((unix + after) * SECOND, zone)) for after in (-1, 0)]


# Alarms

KEY = AlarmKey(Subject(Kind.BIN, "fig", "shed"), Condition.COLD)
STATES = {
    "A": State.NORMAL,
    "B": State.UNACKNOWLEDGED,
    "C": State.ACKNOWLEDGED,
    "D": State.RETURNED,
}
LETTERS = {state: letter for letter, state in STATES.items()}


def found(level, at):
    return Finding(KEY, level, at, at, Evidence("a line of arithmetic"))


def moved(alarm, event, at, *, level=Level.HARM):
    """One alarm (None: normal) after one event of the standard."""
    if event == "acknowledge":
        if alarm is None:
            assert (State.NORMAL, Event.ACKNOWLEDGED) not in cycle.MOVES
            return None
        return cycle.acknowledge(alarm, "ana", at=at, round_at=at)[0]
    there = None if event == "returned to normal" else level
    return cycle.step(alarm, found(there, at), round_at=at, next_number=1)[0]


def state_of(alarm):
    return alarm.state if alarm else State.NORMAL


PATHS = {
    "A": [],
    "B": ["condition true"],
    "C": ["condition true", "acknowledge"],
    "D": ["condition true", "returned to normal"],
}
"""How an alarm comes to be in a state: the events from normal on."""


def alarm_state(*, event, level="harm", **start):
    alarm = None
    for at, before in enumerate(PATHS[start["from"]]):
        alarm = moved(alarm, before, at, level=Level(level))
    assert state_of(alarm) is STATES[start["from"]]
    return LETTERS[state_of(moved(alarm, event, 10, level=Level(level)))]


def steps_of(*, samples, deadband, on, off, low=None, high=None):
    """When a condition came and went, in the seconds of the samples."""
    low, high = (None if bound is None else Bound(bound, "a source", "settings") for bound in (low, high))
    limits = Limits(low, high, (), deadband=deadband, comfort_delay=on * SECOND, off_delay=off * SECOND)
    (watch,) = limits_watched(Measures.TEMPERATURE, limits)
    phase, told = CLEAR, []
    for second, value in samples:
        after = step(watch, phase, at=START + second * SECOND, value=value)
        if after.present != phase.present:
            told.append(["raised" if after.present else "cleared", second])
        phase = after
    return told


def times_raised(**row):
    return sum(event == "raised" for event, _ in steps_of(**row))


def states_by_second(*, condition, on, acknowledged):
    """One letter a second: N normal, U unacknowledged, A acknowledged, R returned unacknowledged."""
    harm = Harm(below=True, bound=Bound(10, "a source", "settings"), lasting=on * SECOND)
    (watch,) = limits_watched(Measures.TEMPERATURE, Limits(None, None, (harm,), deadband=0, off_delay=0))
    phase, alarm, said = CLEAR, None, ""
    for second, there in enumerate(condition):
        at = START + second * SECOND
        if second in acknowledged:
            alarm = moved(alarm, "acknowledge", at)
        phase = step(watch, phase, at=at, value=9.0 if there == "#" else 11.0)
        alarm = moved(alarm, "condition true" if phase.present else "returned to normal", at)
        said += {"A": "N", "B": "U", "C": "A", "D": "R"}[LETTERS[state_of(alarm)]]
    return said


RUNNERS = {
    "dry basis": water.dry_basis,
    "wet basis": water.wet_basis,
    "oven moisture": water.oven_moisture,
    "water to reach": water.to_reach,
    "moisture after water": moisture_after_water,
    "water lost": water.lost,
    "bedding to add": water.bedding_to_add,
    "mixed": lambda *, parts: water.mixed(parts),
    "heat of a bed": water.heat,
    "warm-up energy": lambda *, mass, moisture, by: water.heat(mass, moisture) * by / 3.6,
    "temperature after pouring": water.after_pouring,
    "per area": per_area,
    "kg per m3": kg_per_m3,
    "convert": units.canonical,
    "bed judged": bed_judged,
    "bed harmed": bed_harmed,
    "bands in order": bands_in_order,
    "1-wire °C": lambda *, word, bits=12: onewire.celsius(int(word, 16), bits=bits),
    "1-wire millidegrees": lambda *, word: onewire.millidegrees(int(word, 16)),
    "1-wire resolution": lambda *, config: [
        bits := onewire.resolution(int(config, 16)),
        onewire.CONVERSION_MS[bits],
    ],
    "1-wire CRC": lambda **row: f"{onewire.crc8(bytes.fromhex(row['bytes'])):02X}",
    "1-wire scratchpad": lambda **row: scratchpad(onewire.judged(bytes.fromhex(row["bytes"]))),
    "1-wire kernel text": lambda *, text: scratchpad(onewire.kernel_text(text)),
    "reading judged": reading_judged,
    "two points": two_points,
    # the client library's own matching: ours are exact topics, and a filter is refused
    "MQTT filter matches (paho-mqtt)": lambda **row: topic_matches_sub(row["filter"], row["topic"]),
    "MQTT topic of a probe": topic_of_probe,
    "JSON pointer": pointed,
    "SenML": senml,
    "SenML as moisture": senml_as_moisture,
    "instant": instant,
    "local time": lambda *, zone, unix: words.local(unix * SECOND, zone).isoformat(),
    "clock change": clock_change,
    "alarm state": alarm_state,
    "alarm raised and cleared": steps_of,
    "times raised": times_raised,
    "alarm states by second": states_by_second,
    **FEED,
    **AIR,
    **PROBES,
    **SENSORS,
    **ALARMS,
    **HEAT,
    **KEEPING,
}
"""What a source value is about → the product's own answer, from the row's `input` as named arguments."""
