"""How far the last watering or rain got, on a bed's own page."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from collector.calls import Due, Job
from collector.query import BedView


def wetted(view: BedView) -> list[Component]:
    """The sentence, unless a call to turn the water off says it already."""
    called = any(worded.call.job is Job.HOSE and worded.call.due is Due.DUE for worded in view.calls)
    if view.wetted is None or called:
        return []
    return [html.P(view.wetted, className="wetted")]
