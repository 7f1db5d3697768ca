"""The cloves in the days ahead: the forecast, joined to what is known of them now."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from collector.outlook import TemperatureAhead
from collector.query import BedHistory
from dashboard import theme
from dashboard.figures import ahead
from dashboard.figures.chart import Reader


@dataclass(frozen=True, slots=True, eq=False)
class CloveCourse:
    """Temperatures [°C] at the cloves over `time_ms`, with the 80 % band, and with the cloth laid if there is one to lay.

    `part` is the forecast as it was made, cut to what the chart shows; the arrays here begin
    with the last known value where that is not too old.
    """

    part: TemperatureAhead
    time_ms: NDArray[np.int64]
    cloves_c: NDArray[np.float64]
    low_c: NDArray[np.float64]
    high_c: NDArray[np.float64]
    with_cloth_c: NDArray[np.float64] | None

    @classmethod
    def of(cls, history: BedHistory) -> CloveCourse | None:
        """That of a bed; None where nothing is expected of its cloves in the days that a chart shows."""
        part = ahead.temperature(history)
        if part is None or not np.isfinite(part.cloves_c).any():
            return None
        known = (history.grid_ms, history.cloves_c)

        def run_on(values_c: NDArray[np.float64]) -> NDArray[np.float64]:
            return ahead.joined((part.time_ms, values_c), known, history.now_ms)[1]

        return cls(
            part,
            time_ms=ahead.joined((part.time_ms, part.cloves_c), known, history.now_ms)[0],
            cloves_c=run_on(part.cloves_c),
            low_c=run_on(part.low_c),
            high_c=run_on(part.high_c),
            with_cloth_c=None if part.with_cloth_c is None else run_on(part.with_cloth_c),
        )

    @property
    def all_c(self) -> tuple[NDArray[np.float64], ...]:
        """Every temperature that a chart of it shows."""
        courses = (self.cloves_c, self.low_c, self.high_c)
        return courses if self.with_cloth_c is None else (*courses, self.with_cloth_c)

    @property
    def cloth_words(self) -> str:
        """ "with the 50 % cloth", or without the number where that is not known."""
        return cloth_words(self.part)

    def in_words(self, reader: Reader) -> list[str]:
        """What a tap shows at each hour of `part`."""
        texts = []
        units, with_cloth_c = reader.units, self.part.with_cloth_c
        for place, moment in enumerate(self.part.time_ms.tolist()):
            rows = [f"<b>{reader.clock(moment)}</b>"]
            cloves_c, low_c, high_c = (float(each[place]) for each in (self.part.cloves_c, self.part.low_c, self.part.high_c))
            if np.isfinite(cloves_c):
                rows.append(f"cloves would be at {theme.temperature(cloves_c, units)},")
                low = theme.temperature_number(low_c, units)
                rows.append(f"4 times in 5 from {low:.1f} to {theme.temperature(high_c, units)}")
            if with_cloth_c is not None and np.isfinite(with_cloth_c[place]):
                rows.append(f"{self.cloth_words} {theme.temperature(float(with_cloth_c[place]), units)}")
            texts.append("<br>".join(rows if len(rows) > 1 else [*rows, "not known"]))
        return texts


def cloth_words(part: TemperatureAhead) -> str:
    """ "with the 50 % cloth", or without the number where that is not known."""
    return "with the cloth" if part.cloth_share is None else f"with the {100 * part.cloth_share:.0f} % cloth"
