"""What the chart of water shows, in words: how the roots stand to the refill line, and when they would reach it."""

from __future__ import annotations

import numpy as np

from collector.outlook import WaterAhead
from collector.query import BedHistory
from collector.units import UnitSystem
from dashboard import theme
from dashboard.figures import ahead
from dashboard.figures.chart import Finding, Reader
from dashboard.figures.daily import is_in_days


def water_finding(history: BedHistory, reader: Reader, refill_mm: float | None) -> Finding:
    """What the chart shows, by the newest known value and by what is to come if nobody waters."""
    to_come = ahead.water(history)
    note = _note(history, to_come, reader)
    known = np.flatnonzero(np.isfinite(history.depletion_mm))
    if known.size == 0:
        return Finding("The water in the root zone is not known.", note)
    last = int(known[-1])
    short_mm = float(history.depletion_mm[last])
    if last + 1 < history.depletion_mm.size - 1 and not history.is_past:
        said = [series.trusted().time_ms[-1:].tolist() for _, series in history.moistures]
        heard = reader.clock(max((at_ms for times in said for at_ms in times), default=int(history.grid_ms[last])))
        return Finding(f"Last heard {heard}: then {amount(short_mm, reader)} short of full.", note)
    if history.is_past:
        return Finding(f"At the end of these days the roots were {amount(short_mm, reader)} short of full.", note)
    if refill_mm is None:
        return Finding(f"The roots are {amount(short_mm, reader)} short of full.", note)
    if short_mm < refill_mm and amount(refill_mm - short_mm, reader) == amount(0.0, reader):
        return Finding("The roots are at the refill line.", note)
    if short_mm < refill_mm:
        return Finding(_well(history, to_come, refill_mm - short_mm, reader), note)
    dry = history.depletion_mm >= refill_mm
    wet_before = np.flatnonzero(~dry[: last + 1] & np.isfinite(history.depletion_mm[: last + 1]))
    if wet_before.size == 0:
        return Finding("The roots were short of water all this time.", note)
    since = float(history.grid_ms[int(wet_before[-1]) + 1])
    return Finding(f"The roots ran short of water {reader.day(since, history.now_ms)}.", note)


def _well(history: BedHistory, to_come: WaterAhead | None, left_mm: float, reader: Reader) -> str:
    if to_come is None:
        return f"The roots are well, {amount(left_mm, reader)} from the refill line."
    if to_come.refill_ms is None:
        return f"The roots are well, and would be {ahead.for_days(history, to_come)}."
    if to_come.refill_ms <= history.now_ms:
        return "The roots are at the refill line."
    return f"The roots would reach the refill line {reader.moment(to_come.refill_ms, history.now_ms)}."


def _note(history: BedHistory, to_come: WaterAhead | None, reader: Reader) -> str:
    root = theme.depth(history.bed.root_depth_m, reader.units)
    unit = "Inches of water" if reader.units is UnitSystem.US else "Litres"
    area = "" if reader.units is UnitSystem.US else " per square metre"
    means = ", means of 24 hours" if is_in_days(history) else ""
    parts = [f"{unit} short of full{area}, down to {root}{means}.{_on_this_bed(history, reader)} Triangles: you watered."]
    if to_come is not None:
        parts.append("Dashed: if nobody waters. The band holds 4 times in 5.")
        if history.outlook is not None and history.outlook.weather is not None:
            parts.append(ahead.whose_weather(history))
        if to_come.refill_ms is not None and to_come.refill_ms > history.now_ms:
            parts.append(_when(history, to_come, reader))
    elif history.moistures:
        parts.append(ahead.why_not(history))
    return " ".join(part for part in parts if part)


def _on_this_bed(history: BedHistory, reader: Reader) -> str:
    """What a unit of the chart is on the whole bed: calls ask for the water of that."""
    area_m2 = history.bed.area_m2
    if not np.isfinite(area_m2):
        return ""
    one, of_it_mm = ("a tenth of an inch", 2.54) if reader.units is UnitSystem.US else ("1 litre per m²", 1.0)
    litres = theme.volume(of_it_mm * area_m2, reader.units)
    return f" On this bed of {theme.area(area_m2, reader.units)}, {one} is {litres}."


def _when(history: BedHistory, to_come: WaterAhead, reader: Reader) -> str:
    """Between which moments the refill line would be reached, 4 times in 5."""
    early_ms, late_ms = to_come.early_ms, to_come.late_ms
    early = None if early_ms is None else reader.moment(max(early_ms, history.now_ms), history.now_ms)
    late = None if late_ms is None else reader.moment(late_ms, history.now_ms)
    if early is None or early == late:
        return ""
    if late is None:
        return f"The refill line: not before {early}."
    return f"The refill line: between {early} and {late}."


def amount(water_mm: float, reader: Reader) -> str:
    """A depth of water in words: one litre per square metre is one millimetre."""
    if reader.units is UnitSystem.US:
        return theme.water_depth(water_mm, reader.units)
    litres = f"{water_mm:.0f}"
    return f"{litres} litre{'' if litres == '1' else 's'} per m²"
