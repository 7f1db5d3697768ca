"""Today as plain HTML, in the page that is sent first: there to be read and tapped before dash has come, or where it cannot run.

What taps say goes by a form then. `assets/today-at-first.js` takes it off as soon as dash shows the same.
"""

from __future__ import annotations

from typing import Any

import flask
from dash import html
from dash.development.base_component import Component
from markupsafe import Markup
from werkzeug.wrappers import Response

from collector.calls import Job
from collector.errors import CooldepthError
from collector.model import Garden
from collector.query import SoilQueries
from dashboard import ids, shell, sign_in, view_state
from dashboard.components import calls
from dashboard.pages import today
from dashboard.plain_html import attribute, plain

# What a tap tells: whether a job is done or not after all, in which bed, which job.
_TOLD = ("type", "bed", "job")


class AtFirst:
    """Makes what stands at first on the page of today."""

    def __init__(self, queries: SoilQueries, garden: Garden, *, may_sign_out: bool) -> None:
        self._queries = queries
        self._garden = garden
        self._may_sign_out = may_sign_out

    def register(self, server: flask.Flask) -> None:
        """The address of its forms."""

        @server.post(view_state.TAPPED, endpoint="tapped")
        def tapped() -> Response:
            told = {name: flask.request.form.get(name, "") for name in _TOLD}
            if told["type"] not in (ids.DONE, ids.UNDO) or told["job"] not in list(Job):
                return flask.Response("This tap says nothing that can be done.", 400, mimetype="text/plain")
            calls.heed(self._queries, told, 1)
            return flask.redirect(view_state.TODAY, 303)

    def page(self) -> Markup:
        """The page of today, or nothing on other pages and where it cannot be told now."""
        if flask.request.path != view_state.TODAY:
            return Markup("")
        may_write = sign_in.may_write()
        try:
            now = today.layout(self._queries)
        except CooldepthError:
            return Markup("")  # dash says so when it has come
        frame = shell.frame(self._garden, may_sign_out=self._may_sign_out, may_write=may_write, inside=now)
        return plain(html.Div(frame, className="at-first"), _stands_for)


def _stands_for(component: Component) -> Markup | None:
    """A form for a button that says something, and for a picture what draws it."""
    id_ = getattr(component, "id", None)
    if not isinstance(id_, dict):
        return None
    match id_["type"]:
        case ids.DONE | ids.UNDO:
            return _form(component, id_)
        case ids.CUT_NOW:
            return Markup("<template{}></template>").format(attribute("data-cut", component.data))  # type: ignore[attr-defined]
        case _:
            return None


def _form(button: Component, told: dict[str, Any]) -> Markup:
    fields = Markup("").join(Markup('<input type="hidden" name="{}" value="{}">').format(name, told[name]) for name in _TOLD)
    tap = Markup('<button type="submit" class="{}">{}</button>').format(button.className, button.children)  # type: ignore[attr-defined]
    return Markup('<form method="post" action="{}" class="tap-form">{}{}</form>').format(view_state.TAPPED, fields, tap)
