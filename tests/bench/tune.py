"""Water and limits in one: when a bed is dry and how much it takes, and what it costs to judge the past once more.

Dry-downs as in `drying`, with a steady probe, with one that drifts by up to 3 points and with one that strays by 10; replays as
in `replay`; half-dead mats and open lids as in `watching`, thermometers that drift as in `drifting`. JSON last.
"""

from __future__ import annotations

import json

import drifting as thermometers
import drying
import watching

import replay

BARS = {"dry_ratio_to_trend": 0.6, "dose_error": 0.10, **replay.BARS}


def main() -> None:
    steady, drifting = drying.figures(0.0), drying.figures(3.0)
    past = {"bin_90_days_s": replay.timed(1, 90, times=5), "four_bins_year_s": replay.timed(4, 365, times=1)}
    found = {"dry_ratio_to_trend": steady["ratio"], "dose_error": steady["dose_error"]}
    found |= {name: figures["seconds"] for name, figures in past.items()}
    watched, beside, lone = watching.figures(), drying.strays(), thermometers.figures()
    print(f"{'':24}{'measured':>10}{'at most':>10}")
    for name, value in found.items():
        print(f"{name:24}{value:>10}{BARS[name]:>10}")
    print(
        f"with a probe that drifts: ratio {drifting['ratio']}, dose {drifting['dose_error']}, {drifting['days_off']} days off"
    )
    print(f"a probe beside what its bed loses: {', '.join(f'{name} {value}' for name, value in beside.items())}")
    print(
        f"a thermometer alone beside its bed's air: {', '.join(f'{name} {value}' for name, value in lone.items())}"
    )
    print(
        ", ".join(f"{name} {value}" for name, value in watched.items()),
        "(lids: at least 0.45 at no more than 0.15)",
    )
    print(
        json.dumps(
            {
                "bench": "tune",
                **found,
                "drifting_ratio": drifting["ratio"],
                "drifting_dose_error": drifting["dose_error"],
                **watched,
                "probe_strays": beside,
                **lone,
                "met": {name: value <= BARS[name] for name, value in found.items()}
                | {"lid": watched["lid_found"] >= 0.45 and watched["lid_false"] <= 0.15},
            }
        )
    )


if __name__ == "__main__":
    main()
