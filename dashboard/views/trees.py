"""Which trees a view is about, and by what it adds them up."""

from __future__ import annotations

from datetime import date

from dashboard.address import View
from dashboard.data import GROUPINGS
from dashboard.source import Source

BY_USUALLY = "site"


def grouping(view: View) -> str:
    """By what the view adds up."""
    by = view.choice("by")
    return by if by in GROUPINGS else BY_USUALLY


def trees_kept(source: Source, view: View, as_of: date) -> frozenset[str] | None:
    """Names of the trees that pass the filters; None where all do."""
    if not view.filtered:
        return None
    trees = source.overview(as_of).trees
    for column in ("site", "species", "cultivar"):
        wanted = getattr(view, column)
        if wanted is not None:
            trees = trees[trees[column] == wanted]
    names = frozenset(trees["tree"])
    return names if view.trees is None else names & view.trees
