"""Stand-ins for advice and notices: a bed of invented probes, what they say, a season in memory, a phone that may be away."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import numpy as np

from collector.advice.state import BedState, state_of
from collector.calibration import Calibration
from collector.calls import DoneMark, Errand, Job, Memory, Notice, Report, Used
from collector.errors import NotifyError
from collector.journal import DEED_OF, Entry, done_marks
from collector.model import Bed, Flag, Garden, Planting, Probe, Reading, Refusal, Series, Unclaimed
from collector.outlook import Outlook, TemperatureAhead, WaterAhead
from collector.rollup import Every, Steps, steps_of
from collector.settings import StoreSettings
from collector.units import Quantity, UnitSystem
from tests.fakes import NOW_MS

MINUTE_MS, HOUR_MS, DAY_MS = 60_000, 3_600_000, 86_400_000
T, M = Quantity.SOIL_TEMPERATURE, Quantity.SOIL_MOISTURE

# Sandy loam, the middle of FAO-56, Table 19, p. 144. With 0.30 m of roots: TAW 36 mm, RAW 10.8 mm.
FIELD_CAPACITY, WILTING_POINT = 0.23, 0.11


def probe(quantity: Quantity, depth_m: float | None, bed_id: str = "terrace") -> Probe:
    name = f"{bed_id}-{quantity}-{'' if depth_m is None else round(100 * depth_m)}"
    return Probe(name, bed_id, quantity, f"urn:{name}", depth_m)


def bed(
    *,
    thermometers_m: Sequence[float] = (0.05, 0.12, 0.20),
    moistures_m: Sequence[float] = (0.15,),
    clove_m: float | None = 0.12,
    limit_c: float | None = 18.0,
    others: Sequence[Quantity] = (),
    bed_id: str = "terrace",
    name: str = "Terrace bed",
    shade_cloth: float | None = None,
) -> Bed:
    planting = () if clove_m is None else (Planting("Porcelain", clove_m, dt.date(2025, 10, 20)),)
    probes = [probe(T, depth_m, bed_id) for depth_m in thermometers_m] + [probe(M, depth_m, bed_id) for depth_m in moistures_m]
    return Bed(
        id=bed_id,
        name=name,
        area_m2=7.2,
        soil="sandy loam",
        field_capacity=FIELD_CAPACITY,
        wilting_point=WILTING_POINT,
        cool_limit_c=limit_c,
        hose_l_min=12.0,
        leaf_count_every_d=0,
        shade_cloth=shade_cloth,
        plantings=planting,
        probes=(*probes, *(probe(quantity, None, bed_id) for quantity in others)),
    )


def garden(*beds: Bed, units: UnitSystem = UnitSystem.METRIC, path: Path = Path("garden.db"), **more: object) -> Garden:
    told = {"name": "Lower terrace", "latitude_deg": 37.1, "longitude_deg": -7.6, "elevation_m": 60, "timezone": "Europe/Lisbon"}
    return Garden(**{**told, "units": units, "store": StoreSettings(path), "beds": beds, **more})  # type: ignore[arg-type]


class FakeReadings:
    """What probes said, in memory. `say` adds to it."""

    def __init__(self) -> None:
        self.said: dict[str, dict[int, Reading]] = {}
        self.strangers: list[Unclaimed] = []
        self.refusals = 0

    def say(self, of: Probe, value: float | Callable[[int], float], *times_ms: int, flags: Flag = Flag.NONE) -> None:
        """One probe says one value, or that of a function of time, at these times."""
        for at_ms in times_ms:
            number = value(at_ms) if callable(value) else value
            self.said.setdefault(of.id, {})[at_ms] = Reading(of.id, at_ms, number, number, at_ms, flags)

    def latest(self) -> Mapping[str, Reading]:
        return {probe_id: said[max(said)] for probe_id, said in self.said.items()}

    def series(self, probe_id: str, from_ms: int, to_ms: int) -> Series:
        kept = [one for at_ms, one in sorted(self.said.get(probe_id, {}).items()) if from_ms <= at_ms < to_ms]
        return Series(
            probe_id,
            np.array([one.measured_ms for one in kept], dtype=np.int64),
            np.array([one.value for one in kept], dtype=np.float64),
            np.array([int(one.flags) for one in kept], dtype=np.int64),
        )

    def steps(self, probe_id: str, from_ms: int, to_ms: int, every: Every) -> Steps:
        begin_ms, end_ms = (-(-at_ms // every) * every for at_ms in (from_ms, to_ms))
        return steps_of(self.series(probe_id, begin_ms, end_ms), every)

    def mark(self, probe_id: str, from_ms: int, to_ms: int, flag: Flag, *, on: bool) -> None:
        said = self.said.get(probe_id, {})
        for at_ms in [one for one in said if from_ms <= one < to_ms]:
            flags = said[at_ms].flags
            said[at_ms] = msgspec.structs.replace(said[at_ms], flags=flags | flag if on else flags & ~flag)

    def readings(self, probe_ids: Sequence[str], from_ms: int, to_ms: int) -> Iterator[Reading]:
        raise NotImplementedError  # nothing in advice streams

    def refused(self) -> Iterator[Refusal]:
        raise NotImplementedError

    def unclaimed(self) -> Sequence[Unclaimed]:
        return self.strangers

    def counts(self) -> FakeCounts:
        received = [one.received_ms for said in self.said.values() for one in said.values()]
        return FakeCounts(self.refusals, max(received, default=None))


@dataclass(frozen=True)
class FakeCounts:
    refused: int
    last_received_ms: int | None
    waiting: int = 0
    refused_kept: int = 0
    unclaimed: int = 0


def every(step_ms: int, from_ms: int, to_ms: int) -> range:
    """Times from `from_ms` to `to_ms`, both included where the step meets them."""
    return range(from_ms, to_ms + 1, step_ms)


def state(of: Bed, readings: FakeReadings, now_ms: int = NOW_MS, outlook: Outlook | None = None) -> BedState:
    """The state of a bed by these readings."""
    series = {one.id: readings.series(one.id, 0, 1 << 62) for one in of.probes}
    return state_of(of, series, readings.latest(), now_ms, outlook)


def outlook(
    mean_c: Callable[[float], float] | float | None = None,
    depletion_mm: Callable[[float], float] | None = None,
    *,
    refill_mm: float = 10.8,
    cloth_k: float | None = None,
    weather: str | None = None,
    made_ms: int = NOW_MS,
    bed_id: str = "terrace",
) -> Outlook:
    """What would be expected of a bed: the mean at the cloves [°C] and the depletion [mm] by hours from `made_ms` on."""
    hours = np.arange(1, 169)
    times_ms = made_ms + HOUR_MS * hours
    temperature = water = None
    if mean_c is not None:
        means_c = np.array([mean_c(hour) if callable(mean_c) else mean_c for hour in hours.tolist()])
        with_cloth_c = None if cloth_k is None else means_c + cloth_k
        temperature = TemperatureAhead(
            times_ms, np.array([0.12]), means_c[:, None], means_c, means_c - 1, means_c + 1, means_c,
            None if cloth_k is None else 0.5, with_cloth_c, with_cloth_c,
        )  # fmt: skip
    if depletion_mm is not None:
        short_mm = np.array([depletion_mm(hour) for hour in (0, *hours.tolist())])

        def reached_ms(line_mm: float) -> int | None:
            over = np.flatnonzero(short_mm >= line_mm)
            return made_ms + HOUR_MS * int(over[0]) if over.size else None

        water = WaterAhead(
            np.concatenate([[made_ms], times_ms]), short_mm, short_mm - 1, short_mm + 1, np.full(169, refill_mm),
            reached_ms(refill_mm), reached_ms(refill_mm - 1), reached_ms(refill_mm + 1), 1.0,
        )  # fmt: skip
    return Outlook(bed_id, made_ms, temperature, water, weather)


class FakeSeason:
    """Season records in memory, with the promises of `ports.SeasonStore`."""

    def __init__(self) -> None:
        self.kept: dict[tuple[str, Job], Memory] = {}
        self.told: list[Notice] = []
        self.outbox: list[Errand] = []
        self.journal: dict[int, list[Entry]] = {}
        self.records = 0
        self.word: Report | None = None
        self.outlooks: dict[str, Outlook] = {}
        self.links_used: dict[str, Used] = {}

    def calibrations(self) -> Sequence[Calibration]:
        return ()

    def memories(self) -> Mapping[tuple[str, Job], Memory]:
        return dict(self.kept)

    def record(self, memories: Sequence[Memory], raised: Sequence[tuple[Notice, Sequence[Errand]]]) -> None:
        self.records += 1
        self.kept |= {(one.bed_id, one.job): one for one in memories}
        for notice, errands in raised:
            if notice.id:
                self.told[notice.id - 1] = replace(self.told[notice.id - 1], cleared_ms=notice.cleared_ms)
                continue
            self.told.append(replace(notice, id=len(self.told) + 1))
            self.outbox += [replace(errand, notice=self.told[-1]) for errand in errands]

    def notices(self, limit: int) -> Sequence[Notice]:
        return self.told[::-1][:limit]

    def errands(self, now_ms: int | None) -> Sequence[Errand]:
        open_ones = [one for one in self.outbox if one.delivered_ms is None and (now_ms is None or one.not_before_ms <= now_ms)]
        return [replace(one, notice=self.told[one.notice.id - 1]) for one in open_ones]

    def delivered(self, since_ms: int) -> Sequence[Errand]:
        newest = [replace(one, notice=self.told[one.notice.id - 1]) for one in self.outbox]
        return [
            one
            for one in newest
            if (one.delivered_ms or -1) >= since_ms and one.notice.cleared_ms is None and one.notice.seen_ms is None
        ]

    def ways(self, notice_ids: Sequence[int]) -> Sequence[Errand]:
        return [replace(one, notice=self.told[one.notice.id - 1]) for one in self.outbox if one.notice.id in notice_ids]

    def snooze(self, notice_id: int, until_ms: int) -> None:
        self.told[notice_id - 1] = replace(self.told[notice_id - 1], snoozed_ms=until_ms)

    def notice(self, notice_id: int) -> Notice | None:
        return next((one for one in self.told if one.id == notice_id), None)

    def link_key(self) -> bytes:
        return b"k" * 32

    def used(self, nonce: str) -> Used | None:
        return self.links_used.get(nonce)

    def use(self, nonce: str, notice_id: int, use: Used, *, done: Entry | None = None, snoozed_ms: int | None = None) -> bool:
        if nonce in self.links_used:
            return False
        self.links_used[nonce] = use
        if done is not None:
            self.write(done)
            self.see(notice_id, use.at_ms)
        if snoozed_ms is not None:
            self.snooze(notice_id, snoozed_ms)
        return True

    def settle(self, errand: Errand) -> None:
        places = [(one.notice.id, one.channel) for one in self.outbox]
        self.outbox[places.index((errand.notice.id, errand.channel))] = errand

    def write(self, entry: Entry) -> Entry:
        kept = entry if entry.number else replace(entry, number=len(self.journal) + 1)
        self.journal.setdefault(kept.number, []).append(kept)
        return kept

    def entries(self, from_ms: int, to_ms: int, *, struck: bool = False) -> Sequence[Entry]:
        current = sorted((versions[-1] for versions in self.journal.values()), key=lambda one: (one.at_ms, one.number))
        return tuple(one for one in current if from_ms <= one.at_ms < to_ms and (struck or one.struck_ms is None))

    def versions(self, number: int) -> Sequence[Entry]:
        return tuple(self.journal[number])

    def done(self, bed_id: str, job: Job, at_ms: int, litres: float | None = None) -> None:
        self.write(Entry(bed_id, DEED_OF[job], at_ms, at_ms, amounts={} if litres is None else {"litres": litres}))

    def undo(self, bed_id: str, job: Job, at_ms: int) -> None:
        of_job = [one for one in self.entries(0, 2**62) if (one.bed_id, one.deed) == (bed_id, DEED_OF[job])]
        self.write(replace(of_job[-1], struck_ms=at_ms))

    def done_marks(self, from_ms: int, to_ms: int) -> Sequence[DoneMark]:
        return done_marks(self.entries(from_ms, to_ms, struck=True))

    def see(self, notice_id: int, at_ms: int) -> None:
        self.told[notice_id - 1] = replace(self.told[notice_id - 1], seen_ms=at_ms)

    def last_report(self) -> Report | None:
        return self.word

    def keep_outlook(self, outlook: Outlook) -> None:
        self.outlooks[outlook.bed_id] = outlook

    def outlook(self, bed_id: str, not_before_ms: int) -> Outlook | None:
        kept = self.outlooks.get(bed_id)
        return kept if kept is not None and kept.made_ms >= not_before_ms else None


class FakePhone:
    """A phone that keeps what it is told; while `away` it takes nothing."""

    def __init__(self, channel: str = "COOLDEPTH_PHONE_URL") -> None:
        self.channel = channel
        self.away = False
        self.heard: list[tuple[str, str]] = []

    def tell(self, title: str, text: str) -> None:
        if self.away:
            raise NotifyError(f"{self.channel}: no network")
        self.heard.append((title, text))
