from __future__ import annotations

import json

import pytest
from dash import dcc, html

from dashboard.components.pieces import aria, data
from dashboard.components.plain import PARTS, plain


def test_parts_are_told_as_tags_attributes_and_what_is_inside() -> None:
    made = plain(
        html.Details(
            [html.Summary("more"), None, html.P(["a ", html.Strong("<b>")], className="why")],
            open=True,
            **data(fold="one"),
        ),
        None,
        dcc.Link("there", href="there?x=1"),
        html.Button("Done", type="button", **aria(label="Done: it")),
        className="list",
    ).to_plotly_json()["props"]
    assert made["className"] == "list"
    assert json.loads(made[PARTS]) == [
        ["details", {"open": True, "data-fold": "one"}, [
            ["summary", {}, ["more"]],
            ["p", {"class": "why"}, ["a ", ["strong", {}, ["<b>"]]]],
        ]],
        ["a", {"href": "there?x=1"}, ["there"]],
        ["button", {"type": "button", "aria-label": "Done: it"}, ["Done"]],
    ]  # fmt: skip


@pytest.mark.parametrize(
    "more",
    [dcc.Graph(), html.P("wide", style={"width": "9px"}), html.Div(html.P(dcc.Store(id="kept")))],
)
def test_what_needs_watching_is_refused(more: html.Div) -> None:
    with pytest.raises(TypeError, match="more than"):
        plain(html.Ul([html.Li(more)]))
