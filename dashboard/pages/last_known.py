"""Last known: what is due, as plain text that a phone keeps, and shows with its age while the garden computer is out of reach.

The service worker (`assets/service-worker.js`) fetches this page now and then and puts it in the place of any page that
cannot be had. It needs no dash and no drawing.
"""

from __future__ import annotations

from pathlib import Path

import flask
from werkzeug.wrappers import Response

from collector.errors import CooldepthError
from collector.query import SoilQueries
from dashboard import theme, view_state
from dashboard.bare_page import HEAD
from dashboard.components import bed_heading

WORKER = "/service-worker.js"
_ASSETS = Path(__file__).parent.parent / "assets"

_PAGE = (
    HEAD
    + """<body>
<main class="plain last-known">
<p class="strip" role="status" id="as-of" data-as-of-ms="{{ now_ms }}" data-said="{{ said }}">As of {{ said }}.</p>
<h1>{{ garden.name }}</h1>
{% for bed in beds %}<section>
<h2>{{ bed.bed.name }}</h2>
<p class="note">{{ facts(bed) }}</p>
{% for call in bed.calls %}<p><strong>{{ call.flag }}. {{ call.heading }}.</strong> {{ call.sentence }}</p>
{% endfor %}{% if bed.fine %}<p>{{ bed.fine }}</p>
{% endif %}</section>
{% else %}<p>The garden file names no bed.</p>
{% endfor %}
<p><a class="plain-link" href="/">Try again</a></p>
</main>
<script src="/assets/last-known.js" defer></script>
</body>
</html>"""
)


def register(server: flask.Flask, queries: SoilQueries, sheets: tuple[str, ...]) -> None:
    """Put the page and the service worker that keeps it on the server."""

    @server.get(view_state.LAST_KNOWN, endpoint="last_known")
    def show() -> Response:
        try:
            view = queries.garden()
        except CooldepthError as error:
            return flask.Response(str(error), 503, mimetype="text/plain")
        words = view.garden
        said = f"{theme.day_words(view.now_ms, words.timezone)}, {theme.clock_words(view.now_ms, words.timezone, words.units)}"
        text = flask.render_template_string(
            _PAGE,
            title="last known",
            sheets=sheets,
            garden=words,
            beds=view.beds,
            facts=lambda bed: bed_heading.facts(bed, view),
            now_ms=view.now_ms,
            said=said,
        )
        return flask.Response(text)

    @server.get(WORKER, endpoint="service_worker")
    def worker() -> Response:
        # From the root, so that it may stand in for every page.
        script = (_ASSETS / "service-worker.js").read_text(encoding="utf-8")
        return flask.Response(script, mimetype="text/javascript", headers={"Cache-Control": "no-cache"})
