"""Whether a mat is on, by plug or diary, whichever is newer; and what several on one outlet add up to."""

from dataclasses import replace

import pytest

from monitor.advice.plugs import _load
from monitor.advice.present import Drawn
from monitor.advice.scene import Scene, named
from monitor.diary import Deed, Entry
from parts.orchard import LONG_MAT, ms, rules

AT = ms("02:10")


def switched(plug, *wrote):
    plugs = {} if plug is None else {LONG_MAT.id: plug}
    return Scene("shed", rules(), {}, (), AT, diary=wrote, plugs=plugs).switched(LONG_MAT)


def entry(at, deed=Deed.MAT_ON, mat=LONG_MAT.id):
    return Entry(at, at, "ana", deed, f"mat:{mat}", "")


@pytest.mark.parametrize(
    ("plug", "wrote", "known"),
    [
        (None, (), None),
        (None, (entry(5),), (True, 5)),
        (None, (entry(5), entry(6, Deed.MAT_OFF)), (False, 6)),
        (None, (entry(5, mat="another"),), None),
        (Drawn(True, None, 9), (), (True, None)),
        (Drawn(True, None, 9), (entry(5),), (True, 5)),  # both say on: the diary knows since when
        (Drawn(False, None, 9), (entry(5),), (False, None)),
        (Drawn(False, None, 9), (entry(9),), (False, None)),  # of the same moment the plug counts
        (Drawn(False, None, 9), (entry(10),), (True, 10)),
    ],
)
def test_the_newer_of_plug_and_diary_counts(plug, wrote, known):
    found = switched(plug, *wrote)
    assert known == (None if found is None else (found.on, found.since))


def test_the_watts_of_several_mats_on_one_outlet_add_up_and_one_alone_says_nothing():
    # current = power / voltage, at 230 V and at 120 V
    other = replace(LONG_MAT, id="second", power=20.0)
    unknown = replace(LONG_MAT, id="third", power=None)
    assert () == _load([replace(LONG_MAT, power=40.0)])
    assert () == _load([replace(LONG_MAT, power=40.0), unknown])
    (line,) = _load([replace(LONG_MAT, power=40.0), other, unknown])
    assert "long-mat 40 W and second 20 W: 60 W, 0.3 A at 230 V, 0.5 A at 120 V" in line


@pytest.mark.parametrize(("id_", "expected"), [("m" * 16, "m" * 16), ("m" * 17, "the mat")])
def test_a_mat_is_called_by_its_id_while_that_leaves_room_for_what_to_do(id_, expected):
    assert expected == named(replace(LONG_MAT, id=id_))
