"""One line a day for whoever wants it: all is well, or what stands, and what cannot be judged."""

from dataclasses import replace
from datetime import date, time

from parts.nights import COLD, COOL, shed
from parts.orchard import ANA, BEN

WANTS = replace(ANA, sign_of_life=time(8))


def lines(house):
    return [
        (at, n.lines)
        for n, (at, slot, _) in zip(house.post(), house.told(), strict=True)
        if slot == "sign of life"
    ]


def test_all_is_well():
    house = shed(WANTS).until("08:00").until("12:00")
    assert [("08:00", ("All is well: 2 bins inside their limits.", "Fig 24.0 °C, Plum 18.0 °C."))] == lines(house)


def test_it_comes_once_a_day_over_a_restart_and_only_to_whom_it_was_asked_for():
    house = shed(WANTS, BEN).until("08:00")
    house.restart()
    house.until("08:15").until("12:00").until("08:00").until("12:00")
    assert ["08:00", "08:00"] == [at for at, _ in lines(house)]
    assert {"ana"} == {n.person for n in house.post()}


def test_it_says_what_stands():
    house = shed(WANTS).until("08:00", **COOL)
    assert "Fig too cold. 1 of 2 bins well." == lines(house)[0][1][0]
    harm = shed(WANTS).until("08:00", **COLD)
    assert "Fig too cold (harm). 1 of 2 bins well." == lines(harm)[0][1][0]


def test_it_says_what_cannot_be_judged():
    house = shed(WANTS)
    while (house.at // 3_600_000) % 24 != 8:
        house.later(15).say(fig_west=24.0, fig_east=24.0)
    assert "plum-near silent; Plum cannot be judged. 1 of 2 bins well." == lines(house)[0][1][0]
    assert "Plum not measured" in lines(house)[0][1][1]


def test_whoever_is_away_gets_none():
    away = replace(WANTS, away=((date(2026, 11, 24), date(2026, 11, 26)),))
    assert [] == lines(shed(away, BEN).until("08:00").until("12:00"))
