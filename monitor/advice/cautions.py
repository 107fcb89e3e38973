"""The cautions that stand beside advice: one sentence each, with its standard and mark. Data, not decisions.

Marks: seen (read at its source or as quoted), memory (not re-read), common practice, proposal (ours). Local codes
rule everywhere; the program advises and is never the only safety.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.advice.acts import Act


@dataclass(frozen=True, slots=True)
class Caution:
    """One sentence a keeper can act on, where it comes from, and the mark of that."""

    words: str
    source: str
    mark: str


UNPLUG = Caution(
    "Unplug the mat before hands, tools or water go in, and before lifting.",
    "safe working practice around mains heat in damp bedding",
    "common practice",
)
NO_THERMOSTAT = Caution(
    "Nothing stops a mat without its own thermostat: look again within 4 hours.",
    "IEC 60335-1 with 60335-2-71, heating appliances for rearing animals; the 4 hours are ours",
    "memory",
)
THERMOSTAT = Caution(
    "Every mat needs a hardware thermostat of its own in the line; this program is never the only safety.",
    "a relay welded shut is the normal failure of a switch",
    "common practice",
)
RCD = Caution(
    "Every mat behind a 30 mA residual-current device (GFCI); if it trips, find the fault, don't just reset it.",
    "BS 7671:2008+A3 section 705, IEC 60364-7-705: socket circuits to 32 A; for GFCI UL 943, from memory",
    "seen",
)
NOTHING_OVER = Caution(
    "No blanket, foam or dry bedding over a mat, its thermostat or a power brick: covered heat smoulders.",
    "dry peat conducts 0.04 W/m K, a tenth of damp peat: de Vries 1963",
    "seen",
)
LISTED = Caution(
    "Only listed mats, never overlapping, folded or cut; add up the watts on one outlet.",
    "IEC 60335-1 with 60335-2-71, heating appliances for rearing animals",
    "memory",
)
DRY_AND_HOT = Caution(
    "A dry bed over a warm mat can smoulder: damp it and look underneath before the mat heats again.",
    "fire practice around heat in dry bedding; the order of steps is our proposal",
    "common practice",
)
ELECTRICIAN = Caution(
    "Local electrical code decides; fixed wiring is work for a licensed electrician.",
    "local electrical code",
    "common practice",
)
WARM_SLOWLY = Caution(
    "Warm a chilled bed by at most 1 °C (2 °F) an hour.",
    "our proposal; no source was found for composting worms",
    "proposal",
)
AIR_HOLES = Caution("Leave the air holes free: worms breathe.", "trade practice", "common practice")
NO_FLAMES = Caution(
    "No heater that burns, no candle and no generator indoors.",
    "carbon monoxide and fire practice",
    "common practice",
)
LIFT = Caution(
    "Wet bedding weighs 500 to 700 kg/m³ (4 to 6 lb a gallon): two people or a trolley, nobody alone.",
    "load constant 23 kg of the NIOSH lifting equation; splitting above 15 kg is our proposal",
    "memory",
)
NO_FLOOD = Caution(
    "Never flood a hot bed: warm mud holds no air.",
    "trade practice",
    "common practice",
)
BOTTLES = Caution(
    "Frozen bottles only wrapped in cloth and at one end, so that worms can move away.",
    "trade practice",
    "common practice",
)
WATER_WARMTH = Caution(
    "Water within 3 °C (5 °F) of the bed and below 30 °C (86 °F); none on plugs, thermostats or power bricks.",
    "our proposal: 4 L at 8 °C take a bed of 35 kg from 22 to 20.3 °C by the balance of heat",
    "proposal",
)
SPRINKLE = Caution(
    "Sprinkle, never pour in one place; look under the bin, and stop when anything drips.",
    "trade practice",
    "common practice",
)
DUST = Caution(
    "Dry bedding dusts: damp it before turning, wear an FFP3 mask; with asthma or weak lungs let others turn it.",
    "UK HSE HSG53 asks for protection factor 20 against bioaerosols, which is FFP3 (EN 149)",
    "seen",
)
TRAY = Caution(
    "Tip tray water away, never back in; keep it off plugs and off food plants.",
    "trade practice: leachate is no safe fertiliser as it is",
    "common practice",
)
GLOVES = Caution("Gloves on, cuts covered, hands washed after.", "hygiene practice", "common practice")
NO_SPOILT_FOOD = Caution(
    "Take out food that is still there: it heats and sours when worms slow down.",
    "trade practice",
    "common practice",
)
SEALED = Caution(
    "Only a sealed probe may get wet, to above where its wire leaves it.",
    "trade practice",
    "common practice",
)
LOW_VOLTAGE = Caution(
    "It hangs on its low-voltage wire only: nothing on mains comes near water.",
    "safe working practice around water",
    "common practice",
)
ICE_WATER = (SEALED, LOW_VOLTAGE)
"""Wherever a probe is to be held into ice water."""
FAN = Caution(
    "A fan only over a damp cover and only in dry air; its plug and cable stay out of the wet.",
    "trade practice",
    "common practice",
)
NO_POWDERS = Caution(
    "Ground limestone or shell only, never quick or hydrated lime; no insecticide, no diatomaceous earth.",
    "trade practice: burnt lime and dusts against insects harm worms through the skin",
    "common practice",
)

_MAINS = (RCD, NOTHING_OVER, LISTED, ELECTRICIAN)

OF_ACT: Mapping[Act, tuple[Caution, ...]] = {
    Act.MAT_ON: (UNPLUG, THERMOSTAT, WARM_SLOWLY, *_MAINS),
    Act.MAT_OFF: (UNPLUG, THERMOSTAT, *_MAINS),
    Act.MAT_RAISE: (WARM_SLOWLY, UNPLUG, THERMOSTAT, *_MAINS),
    Act.MAT_LOWER: (UNPLUG, THERMOSTAT, *_MAINS),
    Act.MAT_CHECK: (UNPLUG, RCD, THERMOSTAT, NOTHING_OVER, LISTED, ELECTRICIAN),
    Act.INSULATE: (AIR_HOLES, NO_FLAMES),
    Act.COVER: (AIR_HOLES,),
    Act.SHADE: (NO_FLOOD, AIR_HOLES),
    Act.AIR: (FAN,),
    Act.MOVE: (LIFT,),
    Act.WATER: (WATER_WARMTH, SPRINKLE, DUST),
    Act.DAMPEN: (WATER_WARMTH, SPRINKLE, DUST),
    Act.DRAIN: (TRAY, GLOVES),
    Act.DRY: (DUST, GLOVES, NO_POWDERS),
    Act.FEED_LESS: (NO_SPOILT_FOOD, NO_POWDERS),
    Act.LOOK: (),
    Act.PROBE_CHECK: (),
    Act.SYSTEM_CHECK: (),
}
"""What belongs to an act wherever it is advised; the first is the one a short notice has room for."""

HANDS_IN: frozenset[Act] = frozenset(
    {Act.MOVE, Act.WATER, Act.DAMPEN, Act.DRAIN, Act.DRY, Act.FEED_LESS, Act.LOOK, Act.PROBE_CHECK}
)
"""Acts that bring hands, tools, water or lifting to a bin: where a mat lies in it, it is unplugged first."""

LAID_ON: frozenset[Act] = frozenset({Act.INSULATE, Act.COVER, Act.SHADE, Act.DRY})
"""Acts that lay something on or around a bin: none of it over a mat."""

EVERY: tuple[Caution, ...] = (
    UNPLUG, NO_THERMOSTAT, THERMOSTAT, RCD, NOTHING_OVER, LISTED, DRY_AND_HOT, ELECTRICIAN, WARM_SLOWLY, AIR_HOLES,
    NO_FLAMES, LIFT, NO_FLOOD, BOTTLES, WATER_WARMTH, SPRINKLE, DUST, TRAY, GLOVES, NO_SPOILT_FOOD, FAN,
    NO_POWDERS, *ICE_WATER,
)  # fmt: skip
_BY_WORDS = {caution.words: caution for caution in EVERY}


def that_belong(
    act: Act, *, mat: bool, first: tuple[Caution, ...] = (), last: tuple[Caution, ...] = ()
) -> tuple[str, ...]:
    """The cautions of an act, most fitting first. `mat`: whether a mat lies in the bin it is done to."""
    unplugged = (UNPLUG,) if mat and act in HANDS_IN else ()
    near_mat = (*unplugged, *((NOTHING_OVER,) if mat and act in LAID_ON else ()))
    mains = (RCD, ELECTRICIAN) if near_mat else ()
    return tuple(dict.fromkeys(c.words for c in (*first, *near_mat, *OF_ACT[act], *last, *mains)))


def sourced(words: str) -> str:
    """A caution with where it comes from and its mark. Words that are none come back as they are."""
    caution = _BY_WORDS.get(words)
    return words if caution is None else f"{words} [{caution.source}; {caution.mark}]"
