"""The pages, in the order of the navigation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from dash.development.base_component import Component

from dashboard.address import View
from dashboard.data import Source
from dashboard.pages import help_page, picking, seasons, young

Render = Callable[[Source, View], Component]


@dataclass(frozen=True)
class Page:
    """One page: its name in texts, its path below the app's, how it is made."""

    name: str
    path: str
    render: Render
    filters: bool = True


PAGES = (
    Page("picking", "/", picking.render),
    Page("seasons", "/seasons", seasons.render),
    Page("young", "/young-trees", young.render),
    Page("help", "/help", help_page.render, filters=False),
)
