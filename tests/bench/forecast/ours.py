"""The learned bed of `monitor.bed`, asked as the daemon asks it: hour by hour, with what stands in the settings."""

from __future__ import annotations

import math

from bench.forecast.methods import Said, SeenHour, Settings
from monitor.bed import forecast as told
from monitor.bed import mats
from monitor.bed import plan as plans
from monitor.bed import room as rooms
from monitor.bed import zone as zones
from monitor.bed.forecast import Forecast, Learned
from monitor.readings import HOUR

MOIST = 3.3
"""kJ/(kg·K)"""


def known(value: float) -> float | None:
    return None if math.isnan(value) else value


class Bed:
    def __init__(self, settings: Settings):
        self.settings = settings
        self.watts = settings.watts or None
        heat = settings.kilograms * MOIST
        begun = zones.begun(0, loss=settings.loss, heat=heat, watts=self.watts)
        self.learned = [Learned(begun), Learned(begun)]
        self.watch = mats.Watch()
        self.room = rooms.Room()
        self.ended: list[float | None] = [None, None]
        self.before: list[float | None] = [None, None]
        self.forecasts: list[Forecast | None] = [None, None]
        self.outside: tuple[float, ...] | None = None
        self.at = 0

    def hour(self, seen: SeenHour, *, asked: bool = True) -> tuple[tuple[Said, Said], bool]:
        self.at, air = (seen.number + 1) * HOUR, known(seen.room)
        self.outside = None if seen.outside is None else seen.outside[1:]
        self.room = rooms.heard(self.room, self.at, air, outdoors=seen.outside[0] if seen.outside else None)
        plan, said = self._plan(seen), []
        for side in range(2):
            now, lowest = known(seen.warmth[side]), self.before[side]
            self.before[side] = known(seen.lowest[side])
            hour = zones.Hour(
                self.at, self.ended[side], now, air, seen.duty if self.watts else None, lowest, lowest
            )
            self.ended[side] = now
            learned = self.learned[side] = told.took(self.learned[side], hour)
            if side == 0 and self.watts:
                self.watch = mats.watch(self.watch, learned.zone, hour)
            if not asked:
                said.append(Said())
                continue
            forecast, self.learned[side] = told.forecast(
                learned,
                self.room,
                at=self.at,
                now_c=now,
                limits=(self.settings.limits[side], None),
                plan=plan,
                outdoor=self.outside,
            )
            self.forecasts[side] = forecast
            said.append(_said(forecast))
            if side == 0 and forecast is not None and (self.settings.setpoint is not None or plan.by_hand):
                plan = forecast.duties
        return (said[0], said[1]), self.watch.mat_dead

    def held(self, duty: float) -> tuple[float, float]:
        return self._held(0, duty), self._held(1, duty)

    def _held(self, side: int, duty: float) -> float:
        now = self.ended[side]
        if now is None:
            return math.nan
        forecast = told.asked(
            self.learned[side],
            self.room,
            at=self.at,
            now_c=now,
            limits=(self.settings.limits[side], None),
            plan=plans.as_now(duty),
            outdoor=self.outside,
        )
        return math.nan if forecast is None or not forecast.may_alarm else forecast.least[1].chance or 0.0

    def _plan(self, seen: SeenHour) -> plans.Plan:
        if self.watts is None:
            return plans.NO_MAT
        if self.settings.setpoint is not None:
            return plans.held(self.settings.setpoint)
        if self.settings.timer is not None:
            begins, spans = self.settings.timer
            return plans.timed(begins, spans, local_hour=(seen.number + 1) % 24)
        return plans.by_hand(seen.duty)


def _said(forecast: Forecast | None) -> Said:
    if forecast is None:
        return Said()
    least, chance = forecast.least[0], forecast.alarm[0].chance
    if not forecast.may_alarm:
        return Said(minimum=least.point)
    return Said(least.point, math.nan if chance is None else chance, least.low, least.high)
