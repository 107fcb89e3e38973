"""The bands of each composting worm: what `monitor.science.worms` looks up.

Temperatures in °C, moisture in % wet basis (water of the total mass). Every bound carries a citation a keeper
can read and its mark: seen (read at the source), memory (not re-read), common practice, or proposal (ours).
A bound marked proposal is a choice between what the sources say; the words after "from" or "near" name them.

Sources in full:
- Edwards 2004: Edwards (ed.), Earthworm Ecology, 2nd ed., CRC Press, ch. 18, Table 18.3 and the species pages.
- Kaplan et al. 1980: Kaplan, Hartenstein, Neuhauser & Malecki, Soil Biol. Biochem. 12:347-352.
- Virginia Cooperative Extension: survival of E. fetida from 35 to 100 °F, read as quoted.
- Viljoen & Reinecke 1989: S. Afr. J. Zool. 24(1):27-32. Viljoen & Reinecke 1990: S. Afr. J. Zool., moisture.
- Shagoti et al. 2001: Shagoti, Amoji, Biradar & Biradar, J. Environ. Biol. 22(3):213-217.
- FAO 2003: On-farm composting methods, Land and Water Discussion Paper 2, ch. 4.
- Dominguez & Edwards 2011: in Vermiculture Technology, ch. 3 (from memory).
- Edwards et al. 1998: Edwards, Dominguez & Neuhauser, Biol. Fertil. Soils 27:155-161.
- Edwards 1988: in Earthworms in Waste and Environmental Management (quoted without a species: doubtful).
- Hallatt et al. 1992: Hallatt, Viljoen & Reinecke, Soil Biol. Biochem. 24:1333-1340.
- Fayolle et al. 1997: Fayolle, Michaud, Cluzeau & Stawiecki, Soil Biol. Biochem. 29:747-750.
- Muyima et al. 1994: Muyima, Reinecke & Viljoen-Reinecke, Soil Biol. Biochem. 26:973-976.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.readings import HOUR, Millis
from monitor.rules import HARM_DELAY, Bound, Harm, Limits


class ColdMeans(StrEnum):
    """What being below comfort asks for: a temperate worm only eats less, a tropical one is in trouble."""

    FEED_LESS = "feed less"
    ACT = "act"


Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Species:
    """One worm, or the narrowest of several living in one bin.

    `mat_harm_hot` is its own hot harm right above a mat, None where the species' harm holds there too.
    The targets are what advice aims at, inside comfort. `warning` is told when a keeper chooses this worm.
    """

    key: str
    latin: str
    common: str
    temperature: Limits
    moisture: Limits
    target_temperature: Range
    target_moisture: Range
    mat_harm_hot: Harm | None = None
    cold_means: ColdMeans = ColdMeans.ACT
    notes: tuple[str, ...] = ()
    warning: str | None = None


MAT_DEADBAND = 1.0
"""°C, where a mat works: its own switching must not chatter an alarm (proposal)."""

AT_ONCE: Millis = 0
WET_DELAY: Millis = 6 * HOUR
"""A bed is wet when it stays so this long; just after watering it is meant to be (proposal)."""

WATER_DEADBAND = 3.0
"""Points of moisture (common practice)."""


def _ours(value: float, near: str) -> Bound:
    return Bound(value, f"our proposal, {near}", "proposal")


def _below(bound: Bound, lasting: Millis = HARM_DELAY) -> Harm:
    return Harm(True, bound, lasting)


def _above(bound: Bound, lasting: Millis = HARM_DELAY) -> Harm:
    return Harm(False, bound, lasting)


def _moisture(low: Bound, high: Bound, *, dry: Bound, wet: Bound) -> Limits:
    """Comfort, then harm; the checks judge the dry side on a 24-hour median, so it needs no long delay."""
    harm = (_below(dry), _above(wet, WET_DELAY))
    return Limits(low, high, harm, deadband=WATER_DEADBAND)


_NO_AIR = Bound(90, "trade practice (wetter beds hold no air)", "common practice")
_TIGER_TARGET = (15.0, 25.0)  # between breeding at 15-20 (Edwards 2004) and growth at 20-29 (Kaplan et al. 1980)


def _tiger(key: str, latin: str, common: str, *notes: str) -> Species:
    """Both Eisenia share their bands: the sources seldom tell them apart."""
    table = "Edwards 2004 Table 18.3"
    return Species(
        key,
        latin,
        common,
        temperature=Limits(
            _ours(10, f"inside the 4 to 30 °C of {table}"),
            _ours(28, "below the 29 °C of Kaplan et al. 1980"),
            (
                _below(_ours(1, "near the 35 °F (1.7 °C) of Virginia Cooperative Extension")),
                _above(_ours(31, f"just beyond the 30 °C limit of {table}"), 2 * HOUR),
            ),
        ),
        moisture=_moisture(
            _ours(65, f"inside the 60 to 90 % of {table}"),
            _ours(88, f"inside the 60 to 90 % of {table}"),
            dry=Bound(60, f"{table} (limits 60 to 90 %)", "seen"),
            wet=Bound(90, f"{table} (limits 60 to 90 %)", "seen"),
        ),
        target_temperature=_TIGER_TARGET,
        target_moisture=(70, 85),  # Kaplan et al. 1980, seen
        mat_harm_hot=_above(_ours(30, f"the upper limit of {table}, at the hottest spot")),
        cold_means=ColdMeans.FEED_LESS,
        notes=(
            f"Breeds best at 15 to 20 °C ({table}), gains most weight at 20 to 29 °C (Kaplan et al. 1980).",
            *notes,
        ),
    )


_NIGHTCRAWLER = Species(
    "eudrilus-eugeniae",
    "Eudrilus eugeniae",
    "African nightcrawler",
    temperature=Limits(
        Bound(21, "trade practice (70 °F)", "common practice"),
        _ours(29, "below the 30 °C tolerated in Dominguez & Edwards 2011"),
        (
            _below(_ours(15, "below the 16 °C tolerated in Dominguez & Edwards 2011"), 4 * HOUR),
            _below(_ours(12, "well above the 7 °C it cannot survive in FAO 2003"), AT_ONCE),
            _above(_ours(32, "below the 35 °C at which it never matured in Shagoti et al. 2001"), 2 * HOUR),
            _above(_ours(34, "below the 35 °C at which it never matured in Shagoti et al. 2001"), AT_ONCE),
        ),
    ),
    moisture=_moisture(
        Bound(70, "Viljoen & Reinecke 1989 (cultured at 70 to 80 %)", "seen"),
        _ours(85, "above the 80 to 82 % adults choose in Viljoen & Reinecke 1990"),
        dry=_ours(65, "below the 70 % of Viljoen & Reinecke 1989"),
        wet=_NO_AIR,
    ),
    target_temperature=(24, 28),
    target_moisture=(75, 82),
    mat_harm_hot=_above(_ours(32, "below the 35 °C at which it never matured in Shagoti et al. 2001")),
    notes=(
        "At a constant 40 °C all died within a week, at 37.5 °C within ten (Shagoti et al. 2001).",
        "Breeding at 25 °C is disputed: 1.65 cocoons a day (Viljoen & Reinecke 1989), none (Shagoti et al. 2001).",
    ),
)

_BLUE = Species(
    "perionyx-excavatus",
    "Perionyx excavatus",
    "Indian blue worm",
    temperature=Limits(
        _ours(18, "from the 15 to 30 °C tested in Edwards et al. 1998"),
        _ours(29, "below the 30 °C at which it grew best in Edwards et al. 1998"),
        (
            _below(_ours(12, "above the 9 °C quoted from Edwards 1988 (doubtful)"), 4 * HOUR),
            _above(_ours(32, "beyond the 30 °C of Edwards et al. 1998")),
        ),
    ),
    moisture=_moisture(
        _ours(70, "below the 75.2 to 83.2 % best in Hallatt et al. 1992"),
        _ours(86, "above the 75.2 to 83.2 % best in Hallatt et al. 1992"),
        dry=_ours(65, "well below the 75.2 % of Hallatt et al. 1992"),
        wet=_NO_AIR,
    ),
    target_temperature=(22, 27),
    target_moisture=(75, 83),
    notes=("Breeds most at 25 °C and grows faster up to 30 °C (Edwards et al. 1998).",),
)

_EUROPEAN = Species(
    "dendrobaena-veneta",
    "Dendrobaena veneta",
    "European nightcrawler",
    temperature=Limits(
        _ours(10, "slow, with few cocoons, at 10 °C in Fayolle et al. 1997"),
        Bound(25, "Edwards 2004 ch. 18 (prefers 15 to 25 °C)", "seen"),
        (
            _below(_ours(4, "as for Eisenia in Edwards 2004 Table 18.3")),
            _above(_ours(28, "beyond the 25 °C of Edwards 2004 ch. 18")),
        ),
    ),
    moisture=_moisture(
        _ours(67, "from the 67.4 to 84.3 % preferred in Muyima et al. 1994"),
        _ours(84, "from the 67.4 to 84.3 % preferred in Muyima et al. 1994"),
        dry=_ours(60, "below the 67.4 % of Muyima et al. 1994"),
        wet=_NO_AIR,
    ),
    target_temperature=(15, 23),
    target_moisture=(70, 80),
    cold_means=ColdMeans.FEED_LESS,
    notes=(
        "The bait trade sells this worm and Dendrobaena hortensis under one name; the same limits serve both.",
        "Bred better at 25 °C than at 20 or 15 °C (Fayolle et al. 1997), so its hot limit is cautious.",
    ),
)

_RED = Species(
    "lumbricus-rubellus",
    "Lumbricus rubellus",
    "red earthworm",
    temperature=Limits(
        _ours(8, "from memory; no source was found for this worm"),
        _ours(22, "from memory; no source was found for this worm"),
        (
            _below(_ours(3, "from memory; no source was found for this worm")),
            _above(Bound(25, "no source found; harmed above about 25 °C", "memory")),
        ),
    ),
    moisture=_moisture(
        _ours(65, "below the 70 to 85 % of trade practice"),
        _ours(86, "above the 70 to 85 % of trade practice"),
        dry=_ours(60, "well below the 70 to 85 % of trade practice"),
        wet=_NO_AIR,
    ),
    target_temperature=(12, 18),
    target_moisture=(70, 82),
    cold_means=ColdMeans.FEED_LESS,
    notes=("Every temperature limit of this worm is weak: no source was found.",),
    warning="Worms sold as Lumbricus rubellus turned out to be Eisenia on farms in the United States, Europe "
    "and Australia (Edwards 2004 ch. 18). If yours came from a worm farm, choose eisenia-fetida.",
)

BANDS: Mapping[str, Species] = {
    worm.key: worm
    for worm in (
        _tiger("eisenia-fetida", "Eisenia fetida", "red wiggler, tiger worm"),
        _tiger(
            "eisenia-andrei",
            "Eisenia andrei",
            "red tiger worm",
            "Laid most cocoons at 20 °C (van Gestel et al. 1992, Pedobiologia 36:109-120).",
        ),
        _NIGHTCRAWLER,
        _BLUE,
        _EUROPEAN,
        _RED,
    )
}
"""Every species by key, in the order they are shown."""
