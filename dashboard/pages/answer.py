"""Answer: where the link of a message leads. It says what was asked and takes the answer, with no signing in and no script.

The link itself is the authority: it answers its own notice, once. Opening it changes nothing, since phones and mail programs
open links by themselves; only a tap on a button does.
"""

from __future__ import annotations

import flask
from werkzeug.wrappers import Response

from collector.errors import CooldepthError, LinkError
from collector.query import Answer, Asked, SoilQueries
from dashboard import view_state
from dashboard.bare_page import HEAD

LINK, SAY = "link", "say"

_PAGE = (
    HEAD
    + """<body>
<main class="plain answer">
{% if asked %}
<p class="note">{{ asked.bed.name }}. Told {{ asked.told }}.</p>
<h1>{{ asked.call.heading if asked.call else asked.notice.title }}</h1>
{% if asked.call %}
<p>{{ asked.call.flag }}. {{ asked.call.sentence }}</p>
{% if asked.call.caution %}<p class="caution">{{ asked.call.caution }}</p>{% endif %}
{% else %}
<p>{{ asked.notice.text }}</p>
<p><strong>This is no longer asked for.</strong> There is nothing to answer.</p>
{% endif %}
{% if asked.may %}
<form method="post" action="{{ path }}">
<input type="hidden" name="link" value="{{ link }}">
{% for one in asked.may %}{% set done = one.value == 'done' %}
<p><button type="submit" name="say" value="{{ one.value }}" class="tap{{ ' solid' if done else '' }}">
{{- asked.call.button if done else one.value.capitalize() -}}
</button></p>
{% endfor %}</form>
{% endif %}
{% if form %}<p><a class="plain-link" href="{{ form }}">Write it down in the journal</a></p>{% endif %}
<p><a class="plain-link" href="{{ bed }}">See the bed</a></p>
{% else %}
<h1>{{ heading }}</h1>
<p role="status">{{ said }}</p>
<p><a class="plain-link" href="/">See what is due today</a></p>
{% endif %}
</main>
</body>
</html>"""
)


def register(server: flask.Flask, queries: SoilQueries, sheets: tuple[str, ...]) -> None:
    """Put the page on the server. `sheets` are the paths of the style sheets that a page without signing in may have."""

    def page(status: int = 200, **told: object) -> Response:
        text = flask.render_template_string(_PAGE, title="answer", sheets=sheets, path=view_state.ANSWER, **told)
        return flask.Response(text, status)

    @server.get(view_state.ANSWER, endpoint="answer")
    def show() -> Response:
        link = flask.request.args.get(LINK, "")
        try:
            asked = queries.answers.asked(link)
        except LinkError as error:
            return page(403, heading="This link does not answer.", said=str(error))
        except CooldepthError as error:
            return page(503, heading="Not now.", said=_later(error))
        return page(asked=asked, link=link, bed=view_state.bed_href(asked.bed.id), form=_form(asked))

    @server.post(view_state.ANSWER, endpoint="answer_given")
    def give() -> Response:
        try:
            say = Answer(flask.request.form.get(SAY, ""))
        except ValueError:
            return page(400, heading="That is no answer.", said="Open the link in the message again, and tap one of its buttons.")
        try:
            said = queries.answers.give(flask.request.form.get(LINK, ""), say)
        except LinkError as error:
            return page(403, heading="Nothing was written down.", said=str(error))
        except CooldepthError as error:
            return page(503, heading="Nothing was written down.", said=_later(error))
        return page(heading="Thank you.", said=said)


def _later(error: CooldepthError) -> str:
    return f"The garden computer cannot look it up just now: {error}. The link stays good; try again in a minute."


def _form(asked: Asked) -> str | None:
    """The form of the journal that answers what a tap cannot."""
    if asked.call is None or asked.call.opens is None:
        return None
    return view_state.journal_href(asked.bed.id, asked.call.opens.name)
