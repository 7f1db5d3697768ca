"""A whole invented season through the real collector on a fast clock: `python -m tests.season.replay [FIRST LAST [HOURS]]`.

What the phone is told is printed line by line, with what the grower did about it, to be read by somebody who grows the
crop. Intake, stores, watch, advice, outlook and notices are the real ones; the soil, the weather, the crop and the grower
are invented. Every so many hours the collector looks.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from collector.advice.season.record import start_of
from collector.advisor import Advisor
from collector.calls import Due, Job
from collector.forecaster import Forecaster
from collector.intake import Intake
from collector.journal import DEED_OF, Entry
from collector.lookout import Lookout
from collector.model import Envelope, Garden
from collector.notices import Notices
from collector.probe_watch import ProbeWatch
from collector.query import SoilQueries, WordedCall
from collector.settings import StoreSettings
from collector.simulate import foretold
from collector.simulate.bed import SimulatedBed
from collector.simulate.crop import SimulatedCrop
from collector.simulate.probes import SimulatedStake, pack
from collector.simulate.weather import Moment, weather
from collector.stores.season import SqliteSeason
from collector.stores.sqlite import SqliteReadings, SqliteReadingStore
from collector.weather.table_file import WeatherFile
from tests.fakes import FakeClock
from tests.season import story

HOUR_MS = 3_600_000
MORNING_H = 7  # when the grower goes round, by the garden's clock
FIRST, LAST = dt.date(2025, 10, 6), dt.date(2026, 8, 20)


class Wire:
    """A source that hands over what it is given."""

    name, can_acknowledge, trouble = "replay", False, None

    def __init__(self) -> None:
        self.waiting: list[Envelope] = []

    def say(self, payload: bytes, now_ms: int) -> None:
        self.waiting.append(Envelope("replay", payload, now_ms, len(payload)))

    def take(self, _wait_s: float) -> Sequence[Envelope]:
        taken, self.waiting = self.waiting, []
        return taken

    def acknowledge(self, envelopes: Sequence[Envelope]) -> None:
        pass

    def close(self) -> None:
        pass


class Phone:
    """Writes down what it is told."""

    channel = "PHONE"

    def __init__(self, hear: Callable[[str, str], None]) -> None:
        self.tell = hear


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the season's story."""

    at_ms: int
    who: str
    text: str
    zone: ZoneInfo
    job: Job | None = None

    def __str__(self) -> str:
        local = dt.datetime.fromtimestamp(self.at_ms / 1000, self.zone)
        return f"{local:%Y-%m-%d %H:%M}  {self.who:6}  {self.text}"


class Replay:
    """A garden whose season is played from day to day."""

    def __init__(self, folder: Path, every_h: int = 3, hear: Callable[[Line], None] = lambda _: None) -> None:
        self._story, self._every_h, self._hear = story.scenario(), every_h, hear
        path = folder / "garden.db"
        table = folder / "foretold.csv"
        table.write_text(foretold.foretold_csv(self._story), encoding="utf-8")
        self.garden: Garden = story.garden(self._story, StoreSettings(path))
        self.zone = ZoneInfo(self.garden.timezone)
        self.clock = FakeClock(start_of(self._story.first, self.zone))
        self.lines: list[Line] = []
        self._wire, store, self.season = Wire(), SqliteReadingStore(path), SqliteSeason(path)
        readings = SqliteReadings(path)
        self._intake = Intake([self._wire], store, self.garden.probes, self.clock)
        phone = Phone(lambda title, text: self._note("phone", f"{title}. {text}"))
        notices = Notices(self.garden, self.season, [phone], self.clock)
        self._watch = ProbeWatch(self.garden, readings, store, self.clock)
        self._advisor = Advisor(self.garden, readings, self.season, notices, self.clock)
        self._notices = notices
        self._lookout = Lookout(
            self.garden, readings, self.season, Forecaster(self.garden, readings, WeatherFile(table)), self.clock
        )
        self.queries = SoilQueries(self.garden, readings, self.season, self.clock)
        climate = self._story.climate
        self.beds = {bed.id: SimulatedBed(bed, climate, self._story.weather_first) for bed in self.garden.beds}
        self.crops = {bed.id: SimulatedCrop(bed.plantings[0].planted, climate) for bed in self.garden.beds}
        probes = {probe.id: probe for probe in self.garden.probes}
        self._stakes = [
            (SimulatedStake(one.topic, [probes[id_] for id_ in one.probe_ids], (), one.volts_full, one.volts_per_day), one.bed_id)
            for one in self._story.stakes
        ]

    def play(self, first: dt.date, last: dt.date) -> None:
        """From the first day on which the collector looks to the last; before that it only takes in."""
        days = (self._story.end - self._story.weather_first).days
        moments = weather(self._story.climate, self._story.weather_first, days, self._story.spells, self._story.seed).moments()
        air_c: list[float] = []
        for moment in moments:
            local = dt.datetime.fromtimestamp(moment.time_ms / 1000, self.zone)
            if local.date() > last:
                return
            for bed in self.beds.values():
                bed.pass_time(moment)
            air_c.append(moment.air_c)
            if (local.hour, local.minute) == (0, 0):
                for crop in self.crops.values():
                    crop.live(local.date(), sum(air_c) / len(air_c))
                air_c.clear()
            if local.date() < self._story.first:
                continue
            self._say(moment)
            if local.minute == 0:
                self._pass_to(moment.time_ms)
                self._intake.step(0.0)
                if local.date() >= first and local.hour % self._every_h == 0:
                    self._look(at_probes_too=local.hour == 0)
                if local.date() >= first and local.hour == MORNING_H:
                    self._go_round()

    # ------------------------------------------------------------ the collector

    def _pass_to(self, at_ms: int) -> None:
        self.clock.pass_s((at_ms - self.clock.now_ms()) / 1000)

    def _look(self, *, at_probes_too: bool) -> None:
        """As the daemon does it, but for the watch over the probes, which looks once a night: it takes long."""
        if at_probes_too:
            self._watch.look()
        self._lookout.look()
        self._advisor.look()
        self._notices.deliver()

    def _say(self, moment: Moment) -> None:
        for stake, bed_id in self._stakes:
            if records := stake.read(self.beds[bed_id], moment):
                self._wire.say(pack(records), moment.time_ms)
        if moment.time_ms % HOUR_MS == 0:
            for probe, value in (
                (story.SHED_C, moment.air_c + 2.0),
                (story.SHED_PCT, 0.85 * moment.humidity_pct),
                (story.FRIDGE_C, 5.0),
            ):
                unit = "Cel" if probe is not story.SHED_PCT else "%RH"
                said = [{"n": probe.address, "u": unit, "t": moment.time_ms // 1000, "v": round(value, 2)}]
                self._wire.say(json.dumps(said).encode(), moment.time_ms)

    # ------------------------------------------------------------ the grower

    def _go_round(self) -> None:
        """What a grower does who follows every call on the morning after it came."""
        for view in self.queries.garden().beds:
            for worded in view.calls:
                if worded.button is not None and worded.call.due in (Due.DUE, Due.SOON):
                    self._answer(view.bed.id, worded)

    def _answer(self, bed_id: str, worded: WordedCall) -> None:
        call, crop, now_ms = worded.call, self.crops[bed_id], self.clock.now_ms()
        job, due = call.job, call.due is Due.DUE
        amounts: dict[str, float] = {}
        what = None
        match job:
            case Job.COUNT:
                amounts = {"leaves": crop.leaves, "browned": crop.browned}
                if crop.bulbing_d:
                    amounts |= {
                        "bulb_to_neck": round(crop.bulb_to_neck, 1),
                        "stem_thickens": 1,
                        "scape": int(crop.scape and bed_id == "kiln"),
                    }
            case Job.WATER if due:
                amounts = {"litres": round(call.numbers["litres"])}
                self.beds[bed_id].pour(amounts["litres"])
            case Job.SHADE if due:
                self.beds[bed_id].lay_cloth(0.5)
            case Job.UNSHADE if due:
                self.beds[bed_id].lay_cloth(0.0)
            case Job.FEED if due:
                what, amounts = "Fish feed", {"n_g_m2": round(call.numbers.get("dose_g_m2", 1.25), 2)}
            case Job.RUST | Job.MILDEW | Job.ROT | Job.CURE | Job.SCAPES | Job.NO_FEED:
                pass
            case _ if due:
                pass
            case _:
                return
        deed = worded.opens or DEED_OF[job]
        self.season.write(Entry(bed_id, deed, now_ms, now_ms, what=what, amounts=amounts))
        told = ", ".join(f"{name} {value:g}" for name, value in amounts.items())
        self._note("grower", f"{bed_id}: {deed.value}{f' ({told})' if told else ''}   <- {worded.flag}: {worded.heading}", job)

    def _note(self, who: str, text: str, job: Job | None = None) -> None:
        self.lines.append(Line(self.clock.now_ms(), who, text, self.zone, job))
        self._hear(self.lines[-1])


def main(arguments: Sequence[str]) -> None:
    """Play it, and print each line as it comes."""
    logging.getLogger("cooldepth").setLevel(logging.ERROR)
    first, last = (dt.date.fromisoformat(text) for text in arguments[:2]) if len(arguments) > 1 else (FIRST, LAST)
    every_h = int(arguments[2]) if len(arguments) > 2 else 3
    with tempfile.TemporaryDirectory(prefix="season-") as name:
        Replay(Path(name), every_h, lambda line: print(line, flush=True)).play(first, last)  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
