"""What a roll-out is set right by: how far it falls, and how its last hours' words went, weighed as the zone's own past says.

The end of a horizon that is told is the one rolled out plus w · x, where x holds 1, the fall (or rise) that was rolled out, and
how much warmer it is now than was told 3, 6 and 12 hours ago. w is learned by recursive least squares of what came, as `zone`
does, and begins at nothing: output statistics updated as one goes (Glahn & Lowry 1972, J. Appl. Meteorol. 11:1203-1211; memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

AGO = (3, 6, 12)
"""Hours whose words are looked back at (chosen on simulated beds)."""
MANY = 2 + len(AGO)
FORGETS = 0.999
"""Of what was learned an hour before stays so much: about six weeks (proposal)."""
OPEN = 0.1
"""Of each weight at the beginning, in K⁻² of one error's own spread: it takes about ten clear cases to move (proposal)."""
CLIP = 1.0
"""K of surprise that teaches at most: a hand at the switch, cold water and a lid are not the bed (proposal)."""

Weights = tuple[float, ...]
NONE: Weights = (0.0,) * MANY
WIDE: Weights = tuple(OPEN * (row == column) for row in range(MANY) for column in range(MANY))
"""A matrix, row by row."""


def right(weights: Sequence[float], signs: Sequence[float]) -> float:
    """K to add."""
    added: float = sum(map(mul, weights, signs))
    return added


def taught(weights: Weights, spread: Weights, signs: Sequence[float], came: float) -> tuple[Weights, Weights]:
    """After `came` K more than was rolled out under `signs`. Nothing is forgotten while nothing is learned."""
    rows = [spread[begins : begins + MANY] for begins in range(0, MANY * MANY, MANY)]
    moved = [right(row, signs) for row in rows]
    total = FORGETS + right(moved, signs)
    wrong = min(CLIP, max(-CLIP, came - right(weights, signs))) / total
    learned = tuple([weight + gain * wrong for weight, gain in zip(weights, moved, strict=True)])
    after = []
    for row, gain in zip(rows, moved, strict=True):
        share = gain / total
        after += [(one - share * other) / FORGETS for one, other in zip(row, moved, strict=True)]
    return learned, spread if sum(after[:: MANY + 1]) > OPEN * MANY else tuple(after)
