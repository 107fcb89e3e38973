"""How the product is asked for what is poured, written down and lifted."""

import re
from dataclasses import replace

from monitor.advice.heat import weight
from monitor.checks.findings import Condition
from monitor.deeds import said
from monitor.diary import Entry
from monitor.masses import mass_of
from monitor.rules import Level, Vessel
from monitor.science import water
from parts import orchard


def dose_of(**row):
    need = water.dose(row.pop("mass"), row.pop("moisture"), **row)
    return [need.low, need.high, need.first]


def written_amount(*, words):
    found = said(orchard.rules(), words.split())
    return [found.amount, found.unit]


def weight_of_a_bin(*, floor, depth):
    return weight(replace(orchard.FIG, bedding=None, worms=None, vessel=Vessel(floor=floor, depth=depth)))


def currents(*, watts):
    """What the order to see to a mat says of all mats on one outlet."""
    mats = [replace(orchard.LONG_MAT, id=f"mat-{n}", power=power) for n, power in enumerate(watts)]
    cold = orchard.alarm(1, "fig", Condition.COLD, Level.HARM)
    orders = orchard.advise([cold], of=orchard.rules(mats=mats)).orders
    (line,) = {line for order in orders for line in order.more if "one outlet" in line}
    return [float(ampere) for ampere in re.findall(r"([\d.]+) A at", line)]


def mass_by_the_diary(*, start, lines):
    bed = replace(orchard.FIG, bedding=float(start), vessel=Vessel())
    found = [said(orchard.rules(), ["fig", *line.split()]) for line in lines]
    entries = [
        Entry(n, n, "ana", one.deed, one.subject, "", amount=one.amount, unit=one.unit, number=n)
        for n, one in enumerate(found, start=1)
    ]
    return mass_of(bed, entries, at=len(lines), tz="UTC").bedding


KEEPING = {
    "dose": dose_of,
    "written amount": written_amount,
    "weight of a bin": weight_of_a_bin,
    "currents": currents,
    "mass by the diary": mass_by_the_diary,
}
