"""What is known of a bed's season at one moment: from the garden file, the journal, and months of readings.

The nouns of the season's rules. None means not known; it never stands for zero or for fine. Dates are those of the
garden's own calendar, times milliseconds since 1970-01-01 UTC.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from collector.crop.chilling import ChillStand
from collector.crop.curing import CureStand, StoreStand
from collector.crop.disease import RustWeather, WhiteRotSoil
from collector.crop.feed_plan import NitrogenStand
from collector.crop.heat_sum import HeatSum
from collector.crop.method import Method
from collector.crop.mildew import MildewWeather
from collector.crop.observed import Look, Stage
from collector.crop.ripening import LiftSigns, LiftWindow
from collector.crop.stage import StageNow
from collector.journal import Entry
from collector.model import Feed, Injector, Planting


@dataclass(frozen=True, slots=True)
class PlantingState:
    """One planting now.

    `planted` is when it went into the ground by the journal, else by the garden file; `in_ground` whether it has, and
    is not lifted. `stage` is None before, and where it is so long ago that only a look could tell. `heat` is None where no
    thermometer of the air tells. `cool_day` is from when on the soil is cool enough to plant, None where it is not within
    what is known. `long_day` is the first date on which days are long enough for bulbing, past or to come, None where none is.
    """

    planting: Planting
    planted: dt.date
    in_ground: bool
    chill: ChillStand
    cool_day: dt.date | None
    soil_c: float | None  # mean of the last day at planting depth
    heat: HeatSum | None
    heat_per_day_k_d: float | None  # what the last fortnight gathered a day
    stage: StageNow | None
    day_h: float
    long_day: dt.date | None
    leaves_by_heat: dt.date | None  # when the heat sum had come, or will come, as far as established leaves
    bulbing_expected: dt.date | None  # by the sums, where it has not begun
    looks: tuple[Look, ...]
    lift: LiftSigns
    window: LiftWindow | None
    lifted: dt.date | None
    scapes_cut: dt.date | None

    @property
    def at(self) -> Stage | None:
        """How far it is; None before it is in the ground."""
        return None if self.stage is None else self.stage.stage


@dataclass(frozen=True, slots=True)
class Feeding:
    """One feeding that was given: nitrogen is None where it was not told."""

    day: dt.date
    n_g_m2: float | None


@dataclass(frozen=True, slots=True)
class FeedState:
    """The feed plan of a bed: dates, what was given, and the dose of the next feeding [g/m² of nitrogen].

    `dose_g_m2` is None where the garden file sets no `nitrogen_g_m2` for the bed, or no feeding is left.
    """

    plan: tuple[dt.date, ...]
    given: tuple[Feeding, ...]
    next_day: dt.date | None
    stand: NitrogenStand
    dose_g_m2: float | None
    feeds: tuple[Feed, ...]
    injector: Injector | None
    tank_l: float | None


# A cloth that was laid lies until it was taken off; where that was forgotten, no longer than this. Common practice, no source.
CLOTH_LIES_MS = 120 * 24 * 3_600_000


@dataclass(frozen=True, slots=True)
class ClothState:
    """Whether the grower's cloth lies, and since when; of a cloth nothing was ever told it does not lie."""

    lies: bool
    since_ms: int | None = None


@dataclass(frozen=True, slots=True)
class TroubleState:
    """What weather and soil of the last days invite; None where no probe tells."""

    rust: RustWeather | None
    mildew: MildewWeather | None
    rot: WhiteRotSoil | None
    inspected_ms: int | None  # when the grower last looked for disease


@dataclass(frozen=True, slots=True)
class AfterState:
    """Bulbs after the lift: how the cure goes by probes in the curing place, and what its air would mean for a store.

    `hung_d` is counted from the lift. `cure` is None where no probe hangs there.
    """

    lifted_ms: int
    hung_d: float
    cure: CureStand | None
    store: StoreStand | None
    cured: dt.date | None
    stored: dt.date | None
    lately: CureStand | None = None  # as `cure`, of the last day alone


@dataclass(frozen=True, slots=True)
class SeasonState:
    """One bed's season at `today`. `plantings` are in the order of the garden file; `entries` the journal, oldest first."""

    method: Method
    today: dt.date
    entries: tuple[Entry, ...]
    plantings: tuple[PlantingState, ...]
    feed: FeedState
    cloth: ClothState
    trouble: TroubleState
    after: AfterState | None
    watering_stopped: dt.date | None
    counted: dt.date | None  # when leaves were last looked at

    @property
    def growing(self) -> tuple[PlantingState, ...]:
        """The plantings that are in the ground."""
        return tuple(one for one in self.plantings if one.in_ground)

    def named(self, plantings: tuple[PlantingState, ...]) -> str | None:
        """The varieties of some plantings, "Porcelain and Rocambole"; None where they are all that the bed has."""
        names = list(dict.fromkeys(one.planting.variety for one in plantings))
        if len(plantings) == len(self.plantings):
            return None
        return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
