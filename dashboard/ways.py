"""How this orchard is shown: its settings, read anew when the database changes, per request."""

from __future__ import annotations

from dash import Dash
from flask import Flask, g

from dashboard.data import Orchard, Settings, read_settings
from dashboard.kept import Kept
from dashboard.source import Source
from dashboard.words import WAYS, Ways

FIRST_DAYS = {"monday": 1, "sunday": 0, "saturday": 6}


def connect(app: Dash, source: Source) -> None:
    """Let every request write numbers and dates as the orchard's settings say."""
    server: Flask = app.server
    kept = Kept(1)

    @server.before_request
    def as_chosen() -> None:
        orchard = source.orchard
        settings = kept.get(orchard.stamp(), lambda: read_settings(orchard))
        WAYS.set(ways_of(settings))
        if "person_name" not in g and settings.kept_as:
            g.person_name = settings.kept_as


def choose(orchard: Orchard) -> None:
    """Write, outside of a request, as the orchard's settings say."""
    WAYS.set(ways_of(read_settings(orchard)))


def ways_of(settings: Settings) -> Ways:
    """How numbers and dates are written under some settings."""
    return Ways(settings.units, settings.dates, FIRST_DAYS[settings.week_starts])
