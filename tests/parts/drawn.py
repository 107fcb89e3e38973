"""Random sheds for property tests: alarms, readings and settings nobody would think of."""

from dataclasses import replace

from hypothesis import strategies as st

from monitor.advice.present import Present
from monitor.checks.findings import Condition
from monitor.diary import NEEDED, Deed, Entry
from monitor.readings import HOUR
from monitor.rules import Control, JudgeBy, Level, Mat, Remedy, Units, Vessel
from parts.orchard import FIG, PLUM, alarm, by, rules

BEDS = ("fig", "fig.west", "fig.mat", "fig.east", "plum", "plum.near")
PROBES = ("fig-west", "fig-mat", "fig-east-damp", "plum-near", "shed-air")
ZONES = ("fig.west", "fig.mat", "fig.east", "plum.near")
CLIMATE = (Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET)
HOURS = st.integers(3, 23).map(lambda hour: f"{hour:02d}:10")

_beds = st.tuples(st.sampled_from(BEDS), st.sampled_from([*CLIMATE, Condition.FLOODED, Condition.UNWATCHED]))
_probes = st.tuples(
    st.sampled_from(PROBES), st.sampled_from([Condition.SILENT, Condition.FAULTY, Condition.STUCK])
)
KEYS = st.lists(st.one_of(_beds, _probes), min_size=1, max_size=6, unique=True)


@st.composite
def alarms(draw):
    """One to six alarms of the shed, each condition of a subject at most once."""
    return [
        alarm(n, name, what, draw(st.sampled_from(Level)) if what in CLIMATE else Level.COMFORT)
        for n, (name, what) in enumerate(draw(KEYS), start=1)
    ]


_present = st.builds(
    Present,
    temperature=st.none() | st.floats(-5, 45),
    moisture=st.none() | st.floats(0, 100),
    spread=st.sampled_from([0.0, 5.0]),
    air=st.none() | st.floats(-20, 45),
    humidity=st.none() | st.floats(5, 100),
)
ZONES_NOW = st.dictionaries(st.sampled_from(ZONES), _present)


VESSELS = st.builds(Vessel, floor=st.sampled_from([None, 0.3]), drains=st.sampled_from([None, True, False]))


@st.composite
def sheds(draw, people=None):
    """Rules with any plug, any remedies, any vessel."""
    beds = tuple(
        replace(
            bed,
            can=draw(st.frozensets(st.sampled_from(Remedy))),
            bedding=draw(st.sampled_from([None, 0.5, 35.0])),
            vessel=Vessel(
                floor=draw(st.sampled_from([None, 0.3])), drains=draw(st.sampled_from([None, True, False]))
            ),
            judge=draw(st.sampled_from(JudgeBy)),
            wake_for=draw(st.sampled_from(Level)),
        )
        for bed in (FIG, PLUM)
    )
    mat = by(draw(st.sampled_from(Control)), draw(st.sampled_from([None, 8.0, 20.0, 23.0, 30.0])))
    extra = {} if people is None else {"people": people}
    mats = (mat,) if draw(st.booleans()) else ()
    return rules(bins=beds, mats=mats, units=draw(st.sampled_from(Units)), **extra)


WARMED = (("fig", "west"), ("fig", "mat"), ("fig", "east"), ("plum", "near"))


@st.composite
def wired_sheds(draw):
    """Rules with up to three plugs, each warming any zones, also the same ones."""
    shed = draw(sheds())
    mats = draw(
        st.lists(
            st.builds(
                Mat,
                st.just("mat"),
                st.lists(st.sampled_from(WARMED), min_size=1, max_size=4, unique=True).map(tuple),
                st.sampled_from(Control),
                st.sampled_from([None, 20.0, 40.0]),
                st.sampled_from([None, 8.0, 20.0, 23.0, 30.0]),
            ),
            max_size=3,
        )
    )
    return replace(shed, mats={f"mat-{n}": replace(mat, id=f"mat-{n}") for n, mat in enumerate(mats)})


@st.composite
def diaries(draw, *, upto):
    """A few entries of what advice heeds, some corrected, up to a moment."""
    deeds = st.sampled_from(sorted(NEEDED))
    made = []
    for number, deed in enumerate(draw(st.lists(deeds, max_size=6)), start=1):
        at = upto - draw(st.integers(0, 60)) * HOUR
        mat = deed in (Deed.MAT_ON, Deed.MAT_OFF)
        subject = draw(
            st.sampled_from(["mat:mat-0", "mat:mat-1"] if mat else ["bin:fig", "zone:fig.east", "bin:plum"])
        )
        corrects = draw(st.none() | st.integers(1, number))
        amount = draw(st.none() | st.floats(0.1, 50))
        made.append(
            Entry(at, at, "ana", deed, subject, "", amount=amount, unit="kg", number=number, corrects=corrects)
        )
    return made
