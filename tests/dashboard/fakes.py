"""Gardens for the pages' tests: a SoilQueries that answers from memory, and beds in every state.

The numbers are invented. `bed_view(kind)` makes a bed in one state, `KINDS` names them all;
`one_bed(kind)`, `every_kind()`, `no_beds()` make a FakeQueries of such beds.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from collector.advice.another_time import as_expected, as_it_was
from collector.advice.claims import Claims
from collector.advice.state import BedState, WaterState
from collector.advice.voice import voice_of
from collector.by_hand import ByHand
from collector.calibrating import Calibrating
from collector.calibration import Calibration
from collector.calls import Call, Due, Errand, Evidence, Job, Notice
from collector.errors import LinkError, QuestionError
from collector.model import Batch, Bed, Cover, Flag, Garden, Planting, Probe, Reading, Series, Unclaimed
from collector.query import Answer, Asked, BedHistory, BedView, GardenView, Health, Heard, ProbeView, SoilQueries, WordedCall
from collector.soil.profile import Profile
from collector.units import Quantity, UnitSystem
from tests.dashboard.fake_history import history, outlook

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
# Tuesday 13 April 2027, 17:40 in Lisbon, where summer time is UTC+1.
NOW_MS = int(dt.datetime(2027, 4, 13, 16, 40, tzinfo=dt.UTC).timestamp() * 1000)

T, M = Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE


# ---------------------------------------------------------------- beds


def probe(bed_id: str, quantity: Quantity, depth_cm: float | None) -> Probe:
    letter = {T: "t", M: "m", Quantity.AIR_TEMPERATURE: "air", Quantity.BATTERY: "battery"}[quantity]
    name = f"{bed_id}-{letter}" + ("" if depth_cm is None else f"{depth_cm:g}")
    return Probe(name, bed_id, quantity, f"urn:dev:ow:{name}", None if depth_cm is None else depth_cm / 100)


def bed(
    bed_id: str = "terrace",
    name: str = "Terrace bed",
    *,
    temperatures_cm: Sequence[float] = (5, 10, 20, 30),
    moistures_cm: Sequence[float] = (15, 25),
    air: bool = True,
    covers: Sequence[Cover] = (Cover("compost", 0.05), Cover("straw", 0.09)),
    limit_c: float | None = 18.0,
    variety: str = "Porcelain",
    planted: dt.date = dt.date(2026, 10, 20),
) -> Bed:
    probes = [probe(bed_id, T, depth) for depth in temperatures_cm] + [probe(bed_id, M, depth) for depth in moistures_cm]
    if air:
        probes.append(probe(bed_id, Quantity.AIR_TEMPERATURE, None))
    return Bed(
        bed_id,
        name,
        area_m2=7.2,
        soil="sandy loam",
        field_capacity=0.23,
        wilting_point=0.11,
        cool_limit_c=limit_c,
        hose_l_min=12.0,
        covers=tuple(covers),
        plantings=(Planting(variety, 0.12, planted, plants=60),),
        probes=tuple(probes),
    )


def reading(of: Probe, value: float, age_ms: int = 2 * MINUTE_MS, flags: Flag = Flag.NONE) -> Reading:
    return Reading(of.id, NOW_MS - age_ms, value, value, NOW_MS - age_ms, flags)


def call(
    bed_id: str, job: Job, due: Due, heading: str, sentence: str, *, flag: str = "Due today", button: str | None = None
) -> WordedCall:
    """A worded call. Its texts are the test's own: what the rules say is tested with the rules."""
    above = job is Job.SHADE
    return WordedCall(
        Call(bed_id, job, due, NOW_MS - HOUR_MS, "over the line", {}, Evidence.PUBLISHED, "a printed source, p. 1"),
        flag=flag,
        heading=heading,
        sentence=sentence,
        button=button,
        why=("The first number is 1.", "The second number is 2."),
        rule="Due when the first number passes the second.",
        evidence="published",
        source="a printed source, p. 1",
        would_change="A third number would change its mind.",
        above_ground=above,
        depth_m=0.15 if job is Job.WATER else 0.12,
        caution="Buried lines: look before you push." if job is Job.LOOK else None,
    )


def shade(bed_id: str, due: Due = Due.DUE) -> WordedCall:
    return call(
        bed_id,
        Job.SHADE,
        due,
        "Lay the shade cloth",
        "The cloves were at 18.6 °C over the last day; your limit is 18 °C.",
        flag={Due.DUE: "Due today", Due.SOON: "Soon", Due.DONE: "Done at 17:31"}[due],
        button="Cloth is laid",
    )


def water(bed_id: str, due: Due = Due.DUE) -> WordedCall:
    return call(
        bed_id,
        Job.WATER,
        due,
        "Water 68 litres",
        "Six minutes of hose, or the roots run short.",
        flag={Due.DUE: "Due today", Due.SOON: "Soon", Due.DONE: "Done at 17:31"}[due],
        button="Watered",
    )


def look(bed_id: str, flag: str, heading: str, sentence: str) -> WordedCall:
    return call(bed_id, Job.LOOK, Due.NOT_KNOWN, heading, sentence, flag=flag, button="I have looked")


FINE = "Fine. The cool line is 5 cm above the cloves. The water is 4 mm short of full."
WATER_OK = WaterState(depletion_mm=4.0, taw_mm=36.0, raw_mm=10.8, p=0.30, root_depth_m=0.30)
WATER_SHORT = replace(WATER_OK, depletion_mm=11.4)
KINDS = (
    *("due", "soon", "fine", "done", "cool_all_the_way", "warm_all_the_way"),
    *("late", "not_known", "silent", "silent_lately", "behind", "never"),
    *("one_probe", "moisture_only", "no_limit", "no_planting", "no_probes"),
)


def view(
    of: Bed,
    temperatures_c: Sequence[float],
    moistures_m3_m3: Sequence[float] = (),
    *,
    air_c: float | None = 27.0,
    calls: Sequence[WordedCall] = (),
    fine: str | None = None,
    cool_line: str | None = "cool below 7 cm",
    heard: Heard = Heard.FRESH,
    age_ms: int = 2 * MINUTE_MS,
    short: WaterState | None = WATER_OK,
) -> BedView:
    """A bed whose probes said these values `age_ms` ago, shallowest first; with none of them nothing is known."""
    said = dict(zip(of.probes_of(T), temperatures_c, strict=False)) | dict(zip(of.probes_of(M), moistures_m3_m3, strict=False))
    if air_c is not None and heard is not Heard.NEVER:
        said |= dict.fromkeys(of.probes_of(Quantity.AIR_TEMPERATURE), air_c)
    known = heard in (Heard.FRESH, Heard.LATE)
    temperature = _profile(of.probes_of(T), temperatures_c) if known else None
    clove_m = of.clove_depth_m
    state = BedState(
        of,
        NOW_MS,
        temperature=temperature,
        moisture=_profile(of.probes_of(M), moistures_m3_m3) if known else None,
        clove=temperature.at(clove_m) if temperature and clove_m is not None else None,
        clove_mean_c=None,
        clove_mean_cover=0.0,
        clove_mean_before_c=None,
        water=short if known and moistures_m3_m3 else None,
        heard_ms=None if heard is Heard.NEVER else NOW_MS - age_ms,
        temperature_heard_ms=None if heard is Heard.NEVER else NOW_MS - age_ms,
        moisture_heard_ms=None if heard is Heard.NEVER else NOW_MS - age_ms,
    )
    limit_c = of.cool_limit_c
    return BedView(
        of,
        state,
        calls=tuple(calls),
        fine=fine,
        probes=tuple(
            ProbeView(each, reading(each, said[each], age_ms) if each in said else None, heard, None) for each in of.probes
        ),
        heard=heard,
        heard_ms=state.heard_ms,
        cool_line=cool_line if temperature and limit_c is not None else None,
        crossings_m=temperature.crossings(limit_c) if temperature and limit_c is not None else (),
        air_c=air_c if heard is Heard.FRESH else None,
    )


def _profile(probes: Sequence[Probe], values: Sequence[float]) -> Profile | None:
    depths_m = tuple(each.depth_m for each in probes)[: len(values)]
    return Profile(depths_m, tuple(values)) if values else None


def bed_view(kind: str, bed_id: str | None = None, name: str | None = None) -> BedView:
    """A bed in the state that `kind`, one of KINDS, names."""
    bed_id = bed_id or kind
    name = name or kind.replace("_", " ").capitalize()
    plain = bed(bed_id, name)
    cool_c, wet = (18.3, 17.6, 16.8, 16.4), (0.19, 0.21)
    match kind:
        case "due":
            return view(plain, cool_c, wet, calls=(shade(bed_id), water(bed_id)), short=WATER_SHORT)
        case "soon":
            compost = bed(bed_id, name, covers=(Cover("wood chips", 0.06),), variety="Silverskin")
            return view(
                compost, (18.6, 17.4, 16.9, 16.3), (0.17, 0.20), calls=(shade(bed_id, Due.SOON),), cool_line="cool below 8 cm"
            )
        case "fine":
            straw = bed(bed_id, name, covers=(Cover("straw", 0.12),), variety="Rocambole")
            return view(straw, (18.1, 17.2, 16.4, 16.0), (0.21, 0.225), fine=FINE, cool_line="cool below 6 cm")
        case "cool_all_the_way":
            return view(plain, (14.0, 13.6, 13.0, 12.8), wet, air_c=12.0, fine=FINE, cool_line="cool all the way down")
        case "warm_all_the_way":
            return view(
                plain,
                (27.0, 25.1, 22.8, 20.5),
                (0.12, 0.15),
                air_c=34.0,
                calls=(shade(bed_id),),
                cool_line="warm to 30 cm and below",
            )
        case "done":
            return view(plain, cool_c, wet, calls=(shade(bed_id, Due.DONE), water(bed_id, Due.DONE)))
        case "late":
            return view(plain, cool_c, wet, fine=FINE, heard=Heard.LATE, age_ms=4 * HOUR_MS)
        case "not_known" | "silent":
            asks = look(
                bed_id,
                "Not known since yesterday 19:05",
                "Look at the stake",
                "Silent for 22 hours. Last heard, the cloves were at 17.2 °C.",
            )
            return view(plain, cool_c, wet, calls=(asks,), heard=Heard.SILENT, age_ms=22 * HOUR_MS + 35 * MINUTE_MS)
        case "silent_lately":  # for too long to be warm by, and not for so long that the water has changed
            five_hours = view(plain, cool_c, wet, heard=Heard.SILENT, age_ms=5 * HOUR_MS)
            known = replace(five_hours.state, moisture=_profile(plain.probes_of(M), wet), water=WATER_OK)
            return replace(five_hours, state=known)
        case "behind":
            catching_up = view(plain, cool_c, wet, heard=Heard.BEHIND, age_ms=10 * DAY_MS)
            return replace(catching_up, behind="Catching up: readings up to 3 April are in.")
        case "no_probes":
            bare = bed(bed_id, name, temperatures_cm=(), moistures_cm=(), air=False)
            words = "Not measured. The garden file names no probe in the soil of this bed."
            return view(bare, (), air_c=None, fine=words, heard=Heard.NEVER)
        case "never":
            asks = look(
                bed_id, "Nothing heard yet", "Wake the stake", "Push it in to the ring, with the thermometers below the soil."
            )
            young = bed(bed_id, name, planted=dt.date(2027, 4, 10))
            return view(young, (), (), calls=(replace(asks, button=None),), heard=Heard.NEVER)
        case "one_probe":
            lone = bed(bed_id, name, temperatures_cm=(12,), moistures_cm=(), air=False, covers=(Cover("leaves", 0.08),))
            return view(lone, (16.9,), air_c=None, fine="Fine. The cloves are at 16.9 °C.", cool_line=None)
        case "moisture_only":
            lone = bed(bed_id, name, temperatures_cm=(), moistures_cm=(15,), air=False)
            return view(lone, (), (0.18,), air_c=None, fine="Fine. No thermometer in this bed.")
        case "no_limit":
            free = bed(bed_id, name, limit_c=None, covers=(Cover("fleece", 0.01),))
            return view(free, cool_c, wet, fine="Fine. No cool limit is set.")
        case "no_planting":
            return view(replace(plain, plantings=()), cool_c, wet, fine="Fine. Nothing is planted.")
    raise ValueError(kind)


# ---------------------------------------------------------------- gardens


def garden_view(beds: Sequence[BedView], units: UnitSystem = UnitSystem.METRIC, **changes: object) -> GardenView:
    garden = Garden(
        "Lower terrace", 37.1, -7.6, 60.0, "Europe/Lisbon", units, Path("garden.db"), tuple(view.bed for view in beds)
    )
    return replace(GardenView(garden, NOW_MS, tuple(beds), unclaimed=0, trouble=()), **changes)


class FakeQueries(SoilQueries):
    """Answers from one GardenView, which a test may replace (`shown`), and writes down what it is told."""

    def __init__(self, shown: GardenView) -> None:
        self.shown = shown
        self.done: list[tuple[str, Job]] = []
        self.undone: list[tuple[str, Job]] = []
        self.seen: list[int] = []
        self.snoozed: list[int] = []
        self.errands: list[Errand] = []
        self.told: list[Notice] = []
        self.found: list[Unclaimed] = []
        self.added: list[Probe] = []
        self.entered: list[Reading] = []
        self.curves: list[Calibration] = []
        self.keeper: FakeQueries | None = self
        self.is_well = Health("well", True, 120.0, 0, 0)
        self.histories: dict[str, BedHistory] = {}

    def garden(self) -> GardenView:
        return self.shown

    def bed(self, bed_id: str) -> BedView:
        for each in self.shown.beds:
            if each.bed.id == bed_id:
                return each
        raise QuestionError(f"no bed {bed_id!r} in this garden; its beds are {[each.bed.id for each in self.shown.beds]}")

    def history(self, bed_id: str, from_ms: int, to_ms: int) -> BedHistory:
        view = self.bed(bed_id)
        return self.histories.get(bed_id) or history(view, from_ms, to_ms, ahead=view.state.outlook)

    def bed_at(self, bed_id: str, at_ms: int) -> BedView:
        view, voice = self.bed(bed_id), voice_of(self.shown.garden)
        if at_ms > self.shown.now_ms:
            return as_expected(view, at_ms, voice)
        was = self.history(bed_id, at_ms - 12 * HOUR_MS, at_ms + HOUR_MS)
        none = np.array([], dtype=np.int64)
        said = {each.id: Series(each.id, none, none.astype(np.float64), none) for each in view.bed.probes}
        said |= {each.id: series for each, series in (*was.temperatures, *was.moistures)}
        return as_it_was(view, said, None, (), None, at_ms, voice)

    @property
    def by_hand(self) -> ByHand:
        return ByHand(self.shown.garden, self, lambda: nullcontext(self))  # type: ignore[arg-type, return-value]

    @property
    def calibrating(self) -> Calibrating:
        return Calibrating(self.shown.garden, self, self, self)  # type: ignore[arg-type]

    def calibrations(self) -> Sequence[Calibration]:
        return self.curves

    def calibrate(self, one: Calibration) -> Calibration:
        self.curves.append(replace(one, number=len(self.curves) + 1))
        return self.curves[-1]

    def strike_calibration(self, number: int, at_ms: int) -> Calibration:
        if not 0 < number <= len(self.curves):
            raise QuestionError(f"no calibration {number}")
        self.curves[number - 1] = replace(self.curves[number - 1], struck_ms=at_ms)
        return self.curves[number - 1]

    def commit(self, batch: Batch) -> None:
        self.entered += batch.beside

    @property
    def claims(self) -> Claims:
        return Claims(self.shown.garden, self, self, self.keeper)  # type: ignore[arg-type]

    def now_ms(self) -> int:
        return self.shown.now_ms

    def unclaimed(self) -> Sequence[Unclaimed]:
        return self.found[-1:]  # as a store does: the newest of the one address

    def unclaimed_since(self, from_ms: int) -> Sequence[Unclaimed]:
        return [one for one in self.found if one.measured_ms >= from_ms]

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        """What it said last, twice: nothing has moved."""
        last = next(one.last for view in self.shown.beds for one in view.probes if one.probe.id == probe_id)
        said = [] if last is None or not from_ms <= last.measured_ms < to_ms else [last.value]
        times = np.array([last.measured_ms for _ in said] if last else [], dtype=np.int64)
        return Series(probe_id, times, np.array(said), np.zeros(len(said), dtype=np.int64))

    def latest(self) -> Mapping[str, Reading]:
        return {one.probe.id: one.last for view in self.shown.beds for one in view.probes if one.last is not None}

    def add_probe(self, probe: Probe) -> None:
        self.added.append(probe)

    def notices(self, limit: int = 50) -> Sequence[Notice]:
        return self.told[:limit]

    def mark_done(self, bed_id: str, job: Job) -> None:
        self.done.append((bed_id, job))
        self._change(bed_id, job, Due.DONE, "Done at 17:40")

    def undo(self, bed_id: str, job: Job) -> None:
        self.undone.append((bed_id, job))
        self._change(bed_id, job, Due.DUE, "Due today")

    def ways(self, notices: Sequence[Notice]) -> Mapping[int, Sequence[Errand]]:
        asked = {notice.id for notice in notices}
        return {errand.notice.id: [errand] for errand in self.errands if errand.notice.id in asked}

    @property
    def answers(self) -> FakeQueries:
        return self

    def asked(self, _token: str) -> Asked:
        raise LinkError("This link is not whole.")

    def give(self, _token: str, _answer: Answer) -> str:
        raise LinkError("This link is not whole.")

    def snooze(self, notice_id: int, days: int = 1) -> None:
        self.snoozed.append((notice_id, days))

    def mark_seen(self, notice_id: int) -> None:
        self.seen.append(notice_id)
        self.told = [replace(each, seen_ms=NOW_MS) if each.id == notice_id else each for each in self.told]

    def health(self) -> Health:
        return self.is_well

    def _change(self, bed_id: str, job: Job, due: Due, flag: str) -> None:
        beds = []
        for each in self.shown.beds:
            calls = tuple(
                replace(asked, flag=flag, call=replace(asked.call, due=due, since_ms=self.shown.now_ms))
                if (each.bed.id, asked.call.job) == (bed_id, job)
                else asked
                for asked in each.calls
            )
            beds.append(replace(each, calls=calls))
        self.shown = replace(self.shown, beds=tuple(beds))


def with_outlook(of: BedView, **options: Any) -> BedView:
    """The same bed, of which something is expected."""
    return replace(of, state=replace(of.state, outlook=outlook(of, **options)))


def one_bed(kind: str, units: UnitSystem = UnitSystem.METRIC, *, ahead: bool = False) -> FakeQueries:
    only = bed_view(kind)
    return FakeQueries(garden_view([with_outlook(only) if ahead else only], units))


def every_kind(units: UnitSystem = UnitSystem.METRIC) -> FakeQueries:
    return FakeQueries(garden_view([bed_view(kind) for kind in KINDS], units))


def a_day_in_april(units: UnitSystem = UnitSystem.METRIC) -> FakeQueries:
    """Four beds as on an ordinary warm evening: two jobs on one, one soon, one fine, one silent."""
    names = {"due": "Terrace bed", "soon": "Wall bed", "fine": "Fig bed", "silent": "Gate bed"}
    return FakeQueries(garden_view([bed_view(kind, name.split()[0].lower(), name) for kind, name in names.items()], units))


def many_beds(fine: int, due: int = 2) -> FakeQueries:
    """A garden of many beds: some with a job, the rest fine."""
    asking = [bed_view("due", f"due-{n}", f"Upper bed {n}") for n in range(due)]
    resting = [bed_view("fine", f"fine-{n}", f"Lower bed {n}") for n in range(fine)]
    return FakeQueries(garden_view([*asking, *resting]))


def no_beds() -> FakeQueries:
    return FakeQueries(garden_view([]))
