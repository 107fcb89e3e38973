"""Takes the README's pictures of the page: a daemon with three weeks behind it, on a cold night.

PYTHONPATH=.:tests python tests/parts/portraits.py config/how-to/pictures
"""

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from PIL import Image

from monitor.readings import DAY, HOUR, MINUTE
from monitor.store.promises import Batch, Round, RoundRow
from monitor.store.sqlite import SqliteStore
from parts import bygone
from parts.browser import chromium, sheet
from parts.bygone import entries, readings, steps
from parts.paged import BINS, paged

COLD_FOR = 20 * HOUR
IMPOSSIBLE = 39.9
"""What the far side says last, so that the page has something to doubt."""
PICTURES = {
    "now": ("phone", "/"),
    "why": ("phone", "/alarms/{alarm}"),
    "bin": ("desk", "/bins/fig?period=week"),
    "week": ("phone", "/week"),
    "diary": ("phone", "/diary"),
    "probes": ("dark", "/probes"),
}
SIZES = {"phone": {"width": 360, "height": 740}, "desk": {"width": 820, "height": 900}}


def often(now, days):
    """Every five minutes, as the settings say: a week that is heard more seldom has no report."""
    return range((now - days * DAY) // HOUR * HOUR, now - MINUTE, 5 * MINUTE)


def colder(reading, now):
    """A bed whose mat has failed, hour by hour."""
    left = reading.at - (now - COLD_FOR)
    if left <= 0 or not reading.probe.startswith("fig"):
        return reading
    return replace(reading, value=round(reading.value - 12.0 * left / COLD_FOR, 2))


def lived(path, now):
    """The weeks as `parts.bygone` has them, with a cold end; the last word of each probe."""
    store = SqliteStore(path)
    found = [colder(one, now) for one in readings(now, 21)]
    store.keep(Batch(readings=found))
    store.commit(
        Round(RoundRow(1, now - 30 * DAY, "1", store.last_arrival()), transitions=steps(now), diary=entries(now))
    )
    while store.summarise(now - HOUR):
        pass
    store.close()
    return {one.probe: one.value for one in found}


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as made:
        now, bygone.times = int(time.time() * 1000), often
        last = lived(Path(made) / "kept.db", now)
        with paged(made, bins=BINS.replace("every: 1 min", "every: 5 min")) as house, chromium() as browser:
            last["fig-far"] = IMPOSSIBLE
            for probe in last:
                house.say(f"probes/{probe}", str(round(last[probe] - 0.2, 1)))
            house.until(lambda store: any(a.level == "harm" for a in store.load().alarms), "harm")
            with house.kept() as store:
                alarm = next(a.number for a in store.load().alarms if a.level == "harm")
            time.sleep(3)
            for name, (look, path) in PICTURES.items():
                size = SIZES.get(look, SIZES["desk"])
                with sheet(browser, house.address, look, viewport=size, device_scale_factor=1.5) as one:
                    page = one.open(path.format(alarm=alarm))
                    page.screenshot(path=str(folder / f"{name}.png"))
                Image.open(folder / f"{name}.png").quantize(64).save(folder / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
