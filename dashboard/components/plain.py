"""Parts of a page that only show, sent as data and put in place by `assets/plain.js`.

Dash watches every component of a page, and where one is given new children it goes through all
that are there for each new one. A list of hundreds of items, thousands of components, stood still
for a minute after each press of a button. As data it is one component.
"""

from __future__ import annotations

from typing import Any

import orjson
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.components.pieces import Node, data

PARTS = "data-parts"
HTML = "dash_html_components"
Part = str | list[Any]


def plain(*parts: Node | None, **properties: Any) -> Component:
    """The parts as one component, a Div with these properties.

    Folds that have a name (`data-fold`) stay as they were opened or closed by hand when the parts
    are told anew. Raises TypeError for components other than those of HTML and links, and for
    properties that are no text.
    """
    told = [_part(part) for part in parts if part is not None]
    return html.Div(**properties, **data(parts=orjson.dumps(told).decode()))


def _part(node: Node) -> Part:
    """Text, or tag, attributes and the parts inside."""
    if isinstance(node, str):
        return node
    told: dict[str, Any] = node.to_plotly_json()  # type: ignore[no-untyped-call]
    link = isinstance(node, dcc.Link)
    if told["namespace"] != HTML and not link:
        raise TypeError(f"{node!r} is more than HTML")
    known = {name: value for name, value in told["props"].items() if value is not None}
    inside = known.pop("children", [])
    if "className" in known:
        known["class"] = known.pop("className")
    if not all(isinstance(value, str | bool) for value in known.values()):
        raise TypeError(f"properties of {node!r} are more than text")
    inside = inside if isinstance(inside, list | tuple) else [inside]
    tag = "a" if link else told["type"].lower()
    return [tag, known, [_part(each) for each in inside if each is not None]]
