"""How far the last watering or rain got, on a bed's own page."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from collector.calls import Due, Job
from collector.journal import Deed
from collector.query import BedView
from dashboard import view_state


def wetted(view: BedView) -> list[Component]:
    """The sentence, unless a call to turn the water off says it already."""
    called = any(worded.call.job is Job.HOSE and worded.call.due is Due.DUE for worded in view.calls)
    if view.wetted is None or called:
        return []
    if view.unsaid_watering_ms is None:
        return [html.P(view.wetted, className="wetted")]
    href = view_state.journal_href(view.bed.id, Deed.WATERED.name, view.unsaid_watering_ms)
    asked = dcc.Link("Was that a watering? Write it down", href=href, className="plain-link")
    return [html.P(view.wetted, className="wetted"), html.P(asked)]
