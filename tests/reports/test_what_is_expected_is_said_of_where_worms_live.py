"""The sentence of what is expected goes by the zones that worms live in: above the mat it is warm whenever the mat is on."""

import pytest

from monitor.reports.expecting import sentence
from monitor.reports.saying import Saying
from monitor.rules import Bin, JudgeBy, Place, Role, Rules, Site, Zone


def told(likely):
    least = {"likely": likely, "low": likely - 1, "high": likely + 1}
    first = {"hours": 12, "least_c": least, "most_c": least, "chance_below": 0.0, "chance_above": 0.0}
    return {"horizons": [first], "low_c": 15.0, "mat_answer": None, "may_alarm": True, "outdoors": None}


@pytest.mark.parametrize(
    ("judge", "where"), [(JudgeBy.REFUGE, "19.0 °C in the near"), (JudgeBy.EVERY_ZONE, "16.0 °C in the far")]
)
def test_neither_the_best_nor_the_worst_place_is_right_above_the_mat(judge, where):
    zones = (
        Zone("far", Role.LIVING, (), {}),
        Zone("near", Role.LIVING, (), {}),
        Zone("mat", Role.AT_THE_MAT, (), {}),
    )
    bed = Bin("fig", "Fig tub", ("eudrilus-eugeniae",), "shed", zones, {}, judge=judge)
    rules = Rules(Site("yard", "Yard", "UTC"), {"shed": Place("shed", "Shed")}, {"fig": bed})
    said = sentence(bed, {"far": told(16.0), "near": told(19.0), "mat": told(25.0)}, Saying(rules, 0))
    assert f"In the next 12 h down to {where} (" in said.replace("\u00a0", " ")
    alone = sentence(bed, {"near": told(19.0), "mat": told(5.0)}, Saying(rules, 0))
    assert "down to 19.0 °C (18.0 to 20.0 °C), hardly below 15 °C" in alone.replace("\u00a0", " ")
