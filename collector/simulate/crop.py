"""How the simulated garlic looks to somebody who bends down: leaves, bulb, scape. Invented."""

from __future__ import annotations

import datetime as dt

from collector.crop import daylength
from collector.simulate.weather import Climate

# Heat over 4 °C, each day at most 26 K. Invented, so that a mild winter makes ten leaves by April.
FIRST_LEAF_K_D, LEAF_K_D, MOST_LEAVES = 120.0, 110.0, 10.0
BULBING_K_D, BULBING_H = 1150.0, 13.2
SCAPE_D, BROWN_FROM_D, BROWN_EVERY_D = 18, 35, 4
NECK_RATIO, RATIO_A_DAY = 1.2, 0.09


class SimulatedCrop:
    """The crop of one bed, day by day."""

    def __init__(self, planted: dt.date, climate: Climate) -> None:
        self._planted = planted
        self._place = (climate.latitude_deg, climate.longitude_deg)
        self._heat_k_d = 0.0
        self.bulbing_d = 0  # days since it began to bulb

    def live(self, day: dt.date, air_c: float) -> None:
        """Grow through one day with this mean of the air."""
        if day < self._planted:
            return
        self._heat_k_d += min(max(air_c - 4.0, 0.0), 26.0)
        long = daylength.daylength_h(day, *self._place, daylength.Definition.GEOMETRIC) >= BULBING_H
        if self.bulbing_d or (long and self._heat_k_d > BULBING_K_D):
            self.bulbing_d += 1

    @property
    def leaves(self) -> int:
        """All leaves, the browned too."""
        return int(min(max(self._heat_k_d - FIRST_LEAF_K_D, 0.0) / LEAF_K_D, MOST_LEAVES))

    @property
    def browned(self) -> int:
        """Leaves that are yellow or brown."""
        return min(max(self.bulbing_d - BROWN_FROM_D, 0) // BROWN_EVERY_D, self.leaves)

    @property
    def bulb_to_neck(self) -> float:
        """Of a lifted sample [ratio]."""
        return NECK_RATIO + RATIO_A_DAY * self.bulbing_d

    @property
    def scape(self) -> bool:
        """A hardneck's flower stem shows."""
        return self.bulbing_d > SCAPE_D
