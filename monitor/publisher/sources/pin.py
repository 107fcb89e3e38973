"""Whether a line of a GPIO chip is on, through the kernel's character device (libgpiod's own Python binding, version 2)."""

from __future__ import annotations

from typing import Any

from monitor.publisher.faults import Fault, Faulty, of_the_system
from monitor.publisher.wired import Pin


class PinLine:
    """One line, asked for anew at each reading, so that nothing holds it in between."""

    def __init__(self, place: Pin, library: Any = None) -> None:
        self._place = place
        self._library = library

    def read(self) -> float:
        """1.0 on, 0.0 off."""
        gpiod, place = self._library or _library(), self._place
        bias = {"up": gpiod.line.Bias.PULL_UP, "down": gpiod.line.Bias.PULL_DOWN, "none": gpiod.line.Bias.AS_IS}
        wanted = gpiod.LineSettings(
            direction=gpiod.line.Direction.INPUT, bias=bias[place.pull], active_low=not place.on_is_high
        )
        try:
            with gpiod.request_lines(place.chip, consumer="vermistat", config={place.line: wanted}) as lines:
                return float(lines.get_value(place.line) is gpiod.line.Value.ACTIVE)
        except OSError as error:
            raise of_the_system(error, f"Line {place.line} of {place.chip}") from error


def _library() -> Any:
    try:
        import gpiod
        import gpiod.line
    except ImportError:
        raise Faulty(Fault.LIBRARY, "gpiod is not installed: see the how-to of the publisher.") from None
    return gpiod
