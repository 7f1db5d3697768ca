"""A bed as it was at an earlier moment, or as it is expected to be at a later one if nothing is done. Pure.

Both answer as a bed of now does, so that whatever draws one draws the other. Calls are of now alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from collector.advice.cut_depths import cut_depths_m
from collector.advice.follow import Track
from collector.advice.grids import profile_now
from collector.advice.heard import Heard, heard
from collector.advice.season.built import cloth_of
from collector.advice.state import MOISTURE_PATIENCE_MS, BedState, grid_of, water_in
from collector.advice.temperatures import MEASURED_MS, at_the_clove
from collector.advice.views import BedView, ProbeView
from collector.advice.voice import Voice
from collector.advice.wording import cool_line
from collector.errors import QuestionError
from collector.journal import Entry
from collector.model import Bed, Flag, Reading, Series
from collector.soil.arrays import Array
from collector.soil.estimate.column import REACH_M
from collector.soil.profile import Estimate, Profile, profile_of
from collector.units import Quantity


def as_it_was(
    view: BedView,
    series: Mapping[str, Series],
    track: Track | None,
    entries: Sequence[Entry],
    air_c: float | None,
    at_ms: int,
    voice: Voice,
) -> BedView:
    """The bed at a moment that is over.

    Args:
        view: the bed as it is now.
        series: what its probes said, from half a day before that moment to some hours after it.
        track: how its temperatures came about, as `grid_of` has it; None where that is not known.
        entries: what its journal told up to that moment.
        air_c: the air then [°C]; None where no thermometer told.
        at_ms: the moment [ms since 1970-01-01 UTC].
        voice: the grower's units and clock.
    """
    bed, depths_m = view.bed, cut_depths_m(view.bed)
    grid = grid_of(bed, series, np.array([at_ms], dtype=np.int64), depths_m, track)
    temperature = _known(depths_m, grid.profile_c[0], 0.0)
    moisture = profile_now(bed.probes_of(Quantity.SOIL_MOISTURE), series, at_ms, MOISTURE_PATIENCE_MS)
    last = {probe.id: last_of(series[probe.id], at_ms) for probe in bed.probes}
    clove_c = float(grid.cloves_c[0])
    state = replace(
        _with_cloth(view.state, entries, at_ms),
        now_ms=at_ms,
        temperature=temperature,
        moisture=moisture,
        clove=Estimate(clove_c, _read_at_clove(bed, last, at_ms)) if np.isfinite(clove_c) else None,
        water=water_in(bed, moisture),
    )
    probes = tuple(
        ProbeView(probe, last[probe.id], _heard_then(last[probe.id], series[probe.id], at_ms), None) for probe in bed.probes
    )
    return _shown(view, state, probes, air_c, voice)


def as_expected(view: BedView, at_ms: int, voice: Voice) -> BedView:
    """The bed at a moment to come, if nothing is done.

    Water stands evenly in the root zone then: only what that lacks as a whole is foreseen.

    Args:
        view: the bed as it is now, with its outlook.
        at_ms: the moment [ms since 1970-01-01 UTC].
        voice: the grower's units and clock.

    Raises:
        QuestionError: a moment that is not foreseen.

    Source: for the water, Allen et al. 1998, FAO-56, eq. 87, p. 170.
    """
    outlook = view.state.outlook
    soil, water = (None, None) if outlook is None else (outlook.temperature, outlook.water)
    if soil is None or at_ms > soil.time_ms[-1]:
        raise QuestionError(f"{view.bed.id} at {at_ms} ms: not foreseen; want a moment within its outlook")

    def then(values: Array) -> float:
        return float(np.interp(at_ms, soil.time_ms, values))

    temperature = _known(soil.depths_m, np.array([then(column) for column in soil.profile_c.T]), REACH_M)
    clove_c, half_band_k = then(soil.cloves_c), then(soil.high_c - soil.low_c) / 2
    moisture = None
    if water is not None and at_ms <= water.time_ms[-1]:
        moisture = _evenly(view.bed, float(np.interp(at_ms, water.time_ms, water.depletion_mm)))
    state = replace(
        view.state,
        now_ms=at_ms,
        temperature=temperature,
        moisture=moisture,
        clove=Estimate(clove_c, measured=False, band=half_band_k) if np.isfinite(clove_c) else None,
        water=water_in(view.bed, moisture),
    )
    silent = tuple(ProbeView(each.probe, None, Heard.NEVER, None) for each in view.probes)
    return replace(_shown(view, state, silent, None, voice), expected=True)


def last_of(series: Series, at_ms: int) -> Reading | None:
    """The last thing a probe said up to a moment [ms since 1970-01-01 UTC]; None where it said nothing."""
    newest = int(np.searchsorted(series.time_ms, at_ms, side="right")) - 1
    if newest < 0:
        return None
    said_ms, value = int(series.time_ms[newest]), float(series.value[newest])
    return Reading(series.probe_id, said_ms, value, value, said_ms, Flag(int(series.flags[newest])))


def _read_at_clove(bed: Bed, last: Mapping[str, Reading | None], at_ms: int) -> bool:
    """Whether a thermometer in the clove's place had spoken lately then."""
    if bed.clove_depth_m is None:
        return False
    there = [
        last[probe.id]
        for probe in bed.probes_of(Quantity.SOIL_TEMPERATURE)
        if probe.depth_m is not None and at_the_clove(probe.depth_m, bed.clove_depth_m)
    ]
    return any(said is not None and said.trusted and at_ms - said.measured_ms <= MEASURED_MS for said in there)


def _heard_then(last: Reading | None, series: Series, at_ms: int) -> Heard:
    """How lately a probe had spoken then; nothing of the half day before is silence, for it may have spoken earlier."""
    return Heard.SILENT if last is None else heard(last, series.within(0, at_ms + 1), at_ms)


def _shown(view: BedView, state: BedState, probes: tuple[ProbeView, ...], air_c: float | None, voice: Voice) -> BedView:
    """The bed in another state. One thermometer knows of no line."""
    temperature, limit_c = state.temperature, view.bed.cool_limit_c
    lone = len(view.bed.probes_of(Quantity.SOIL_TEMPERATURE)) < 2
    return replace(
        view,
        state=state,
        calls=(),
        fine=None,
        probes=probes,
        heard=Heard.FRESH,
        cool_line=None if lone else cool_line(state, voice),
        crossings_m=() if lone or temperature is None or limit_c is None else temperature.crossings(limit_c),
        air_c=air_c,
        behind=None,
        wetted=None,
        unsaid_watering_ms=None,
    )


def _with_cloth(state: BedState, entries: Sequence[Entry], at_ms: int) -> BedState:
    """The same with the cloth as it lay then."""
    return state if state.season is None else replace(state, season=replace(state.season, cloth=cloth_of(entries, at_ms)))


def _known(depths_m: Array, values_c: Array, reach_m: float) -> Profile | None:
    """Temperatures by depth, without those that are not known; the outermost hold so far beyond."""
    known = np.isfinite(values_c)
    return profile_of(list(zip(depths_m[known].tolist(), values_c[known].tolist(), strict=True)), reach_m)


def _evenly(bed: Bed, depletion_mm: float) -> Profile | None:
    """Moisture [m³/m³] of a root zone that lacks so much [mm], as if it lacked it everywhere alike; None where not known."""
    if not np.isfinite(depletion_mm):
        return None
    moisture = bed.field_capacity - depletion_mm / (1000 * bed.root_depth_m)
    return Profile((0.0, bed.root_depth_m), (moisture, moisture), reach_m=0.0)
