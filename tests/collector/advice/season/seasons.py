"""Season states for tests of rules: a garlic bed in spring of which everything is known, to be changed by `replace`."""

import datetime as dt

from collector.advice.season.state import ClothState, FeedState, PlantingState, SeasonState, TroubleState
from collector.crop.chilling import DAY_S, ChillStand
from collector.crop.feed_plan import nitrogen_stand
from collector.crop.heat_sum import HeatSum
from collector.crop.method import USUAL
from collector.crop.observed import Look, Mover, Stage
from collector.crop.ripening import lift_signs
from collector.crop.stage import Reason, StageNow
from collector.model import Feed, Injector, Planting

PLANTED, TODAY = dt.date(2025, 10, 20), dt.date(2026, 3, 10)


def planting_state(
    stage: Stage | None = Stage.LEAVES, variety: str = "Porcelain", kind: str = "hardneck", **changes
) -> PlantingState:
    """A planting at some stage, said by the grower; of None it is not planted yet."""
    moved = Reason(stage, Mover.SAID, met=True, day=TODAY) if stage else None
    known = {
        "planting": Planting(variety, 0.12, PLANTED, kind, 60, 60.0, 5.0),
        "planted": PLANTED,
        "in_ground": stage is not None and stage.place < Stage.LIFTED.place,
        "chill": ChillStand(60 * DAY_S, 56 * DAY_S, 0.0),
        "cool_day": None,
        "soil_c": 14.0,
        "heat": HeatSum(900.0, 140 * DAY_S, 0.0),
        "heat_per_day_k_d": 9.0,
        "stage": StageNow(stage, (moved,), ()) if stage and moved else None,
        "day_h": 11.7,
        "long_day": dt.date(2026, 5, 1),
        "leaves_by_heat": dt.date(2026, 1, 20),
        "bulbing_expected": dt.date(2026, 5, 1),
        "looks": (Look(TODAY - dt.timedelta(days=3), leaves=6, browned=0),),
        "lift": lift_signs(None),
        "window": None,
        "lifted": None,
        "scapes_cut": None,
    }
    return PlantingState(**(known | changes))


def season_state(*plantings: PlantingState, **changes) -> SeasonState:
    """The season of a bed with these plantings, one in leaves if none is given."""
    known = {
        "method": USUAL,
        "today": TODAY,
        "entries": (),
        "plantings": plantings or (planting_state(),),
        "feed": FeedState(
            (), (), None, nitrogen_stand(0.0, 0.0), None, (Feed("Fish feed", 4.0, 1.0, 3.0, 1.15),), Injector(16.0), 10.0
        ),
        "cloth": ClothState(lies=False),
        "trouble": TroubleState(None, None, None, None),
        "after": None,
        "watering_stopped": None,
        "counted": TODAY - dt.timedelta(days=3),
    }
    return SeasonState(**(known | changes))
