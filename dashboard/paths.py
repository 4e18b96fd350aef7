"""Where each page lives below the app's own path, and links from one page to another."""

from __future__ import annotations

from dashboard.address import View

WEEK = "/"
PICKING = "/picking"
MAY_I_PICK = "/may-i-pick"
SEASONS = "/seasons"
YOUNG = "/young-trees"
YEAR = "/the-year"
BLOOM = "/bloom"
WEATHER = "/weather"
PLANTING = "/before-planting"
PLAN = "/plan"
HOW_SURE = "/how-sure"
LOG = "/log"
RECORDS = "/records"
SETTINGS = "/settings"
IMPORT = "/import"
HELP = "/help"


def link(path: str, view: View) -> str:
    """Address of another page that keeps the view.

    It is relative, so that it holds wherever the app lives: every page is one step below it.
    """
    return (path.lstrip("/") or "./") + view.search()
