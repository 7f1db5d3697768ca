"""A page without dash, for whoever has not signed in: its head. No script, and nothing but our own style sheets."""

from __future__ import annotations

# A template of Jinja; it wants `title` and `sheets`, the paths of the style sheets.
HEAD = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="UTF-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>Cooldepth: {{ title }}</title>
<link rel="icon" type="image/svg+xml" href="/assets/mark.svg">
{% for sheet in sheets %}<link rel="stylesheet" href="{{ sheet }}">
{% endfor %}</head>
"""
