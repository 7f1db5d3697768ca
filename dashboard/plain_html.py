"""Components as plain HTML, for a page that is to be read and tapped before dash's scripts have run, or without them. Pure."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component
from markupsafe import Markup, escape

# An element of these has no end.
_VOID = frozenset({"br", "hr", "img", "input", "link", "meta"})
_NAMES = {"className": "class", "htmlFor": "for", "tabIndex": "tabindex", "colSpan": "colspan", "rowSpan": "rowspan"}
# Told by dash alone: where a component stands among others, and what callbacks know of it.
_DASH_ONLY = frozenset({"children", "id", "key", "n_clicks", "n_clicks_timestamp", "disable_n_clicks", "setProps"})

Stand = Callable[[Component], Markup | None]


def plain(content: Any, stands_for: Stand = lambda _one: None) -> Markup:
    """A component, a text, or several of them, as HTML without ids.

    `stands_for` may give other HTML for a component, as a form for a button; None where it is to be as it is. Components of
    dash that are no elements of a page (stores, intervals) are left out; links are links.
    """
    if content is None:
        return Markup("")
    if isinstance(content, str | int | float):
        return escape(str(content))
    if not isinstance(content, Component):
        return Markup("").join(plain(one, stands_for) for one in content)
    other = stands_for(content)
    if other is not None:
        return other
    if isinstance(content, dcc.Link):
        return _element("a", content, stands_for)
    if type(content).__module__.startswith(html.__name__):
        return _element(type(content).__name__.lower(), content, stands_for)
    return Markup("")


def attribute(name: str, value: object) -> Markup:
    """One attribute; an object as JSON."""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return Markup(' {}="{}"').format(name, text)


def _element(tag: str, component: Component, stands_for: Stand) -> Markup:
    attributes = Markup("").join(_attributes(component))
    begin = Markup("<{}{}>").format(Markup(tag), attributes)
    if tag in _VOID:
        return begin
    return begin + plain(getattr(component, "children", None), stands_for) + Markup("</{}>").format(Markup(tag))


def _attributes(component: Component) -> Iterable[Markup]:
    props: Mapping[str, Any] = component.to_plotly_json()["props"]  # type: ignore[no-untyped-call]
    for name, value in props.items():
        if name in _DASH_ONLY or value is None or value is False:
            continue
        if name == "style":
            yield attribute("style", _style(value))
        elif value is True:
            yield Markup(" {}").format(name.lower())
        else:
            yield attribute(_NAMES.get(name, name), value if isinstance(value, str) else str(value))


def _style(rules: Mapping[str, object]) -> str:
    """Custom properties as they are, the others by their names in a style sheet."""
    return ";".join(f"{name if name.startswith('--') else _dashed(name)}:{value}" for name, value in rules.items())


def _dashed(name: str) -> str:
    return "".join(f"-{sign.lower()}" if sign.isupper() else sign for sign in name)
