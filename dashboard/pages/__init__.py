"""The pages, in the order of the navigation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from dash import Dash
from dash.development.base_component import Component

from dashboard import paths
from dashboard.address import View
from dashboard.pages import (
    bloom,
    help_page,
    how_sure,
    import_page,
    log,
    may_i_pick,
    picking,
    plan,
    planting,
    records,
    seasons,
    settings,
    this_week,
    weather,
    year,
    young,
)
from dashboard.source import Source

Render = Callable[[Source, View], Component]
Connect = Callable[[Dash, Source], None]


@dataclass(frozen=True)
class Page:
    """One page: its name in texts, its path below the app's, how it is made."""

    name: str
    path: str
    render: Render
    filters: bool = True
    connect: Connect | None = None
    """Hangs the page's own callbacks on the app."""


PAGES = (
    Page("week", paths.WEEK, this_week.render, connect=this_week.connect),
    Page("picking", paths.PICKING, picking.render),
    Page("may_i_pick", paths.MAY_I_PICK, may_i_pick.render),
    Page("log", paths.LOG, log.render, filters=False, connect=log.connect),
    Page("seasons", paths.SEASONS, seasons.render, connect=seasons.connect),
    Page("young", paths.YOUNG, young.render, connect=young.connect),
    Page("year", paths.YEAR, year.render, connect=year.connect),
    Page("bloom", paths.BLOOM, bloom.render),
    Page("weather", paths.WEATHER, weather.render),
    Page("planting", paths.PLANTING, planting.render, filters=False, connect=planting.connect),
    Page("plan", paths.PLAN, plan.render),
    Page("how_sure", paths.HOW_SURE, how_sure.render, connect=how_sure.connect),
    Page("records", paths.RECORDS, records.render, filters=False, connect=records.connect),
    Page("import", paths.IMPORT, import_page.render, filters=False, connect=import_page.connect),
    Page("settings", paths.SETTINGS, settings.render, filters=False, connect=settings.connect),
    Page("help", paths.HELP, help_page.render, filters=False),
)
