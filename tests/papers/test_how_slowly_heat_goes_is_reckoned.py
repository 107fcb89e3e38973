"""The table of the how-to on placing, from the two numbers that its source prints.

De Vries 1963, as reprinted in Moene and van Dam 2014, table 2.2.
"""

import math
import re
from pathlib import Path

TEXT = (Path(__file__).parents[2] / "config" / "how-to" / "placing.md").read_text(encoding="utf-8")
CONDUCTIVITY, CAPACITY = 0.27, 2.13e6
"""W/m K and J/m³ K of peat with 45 % of water by volume, as printed."""
DIFFUSIVITY = CONDUCTIVITY / CAPACITY


def test_each_row_is_depth_squared_over_diffusivity():
    rows = re.findall(r"\| (\d+) cm \| (\d+) h \|", TEXT)
    assert [2, 5, 10, 15] == [int(depth) for depth, _ in rows]
    for depth, hours in rows:
        assert int(hours) == round((int(depth) / 100) ** 2 / DIFFUSIVITY / 3600)


def test_the_diffusivity_is_that_of_the_printed_numbers():
    (told,) = re.findall(r"(\d\.\d\de-7) m²/s", TEXT)
    assert f"{DIFFUSIVITY:.2e}".replace("e-07", "e-7") == told
    assert f"{CONDUCTIVITY} W/m K and {CAPACITY / 1e6} MJ/m³ K" in TEXT


def test_a_twelfth_of_a_day_is_left_fifteen_centimetres_down():
    damping = math.sqrt(2 * DIFFUSIVITY / (2 * math.pi / 86_400))
    assert abs(1 / 12 - math.exp(-0.15 / damping)) < 0.01
