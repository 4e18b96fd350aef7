"""A browser's part of the talk with the app: fetching pages, posting callbacks."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from typing import Any

from dash import Dash

from dashboard.app import create_app
from dashboard.components.plain import PARTS
from harvest.store.orchard import Orchard
from tests.dashboard.made_up import AS_OF


def app_of(orchard: Orchard, today: Callable[[], date] = lambda: AS_OF, **options: Any) -> Dash:
    """An app on an orchard."""
    return create_app(orchard, today=today, **options)


class Client:
    """Asks an app as a browser would, without one."""

    def __init__(self, app: Dash, prefix: str = "/") -> None:
        self._client = app.server.test_client()
        self._prefix = prefix
        self.dependencies = self.json("_dash-dependencies")

    def get(self, path: str) -> str:
        """A document's text."""
        answer = self._client.get(self._prefix + path)
        assert answer.status_code == 200, answer.status
        return answer.get_data(as_text=True)

    def json(self, path: str) -> Any:
        """A document read as JSON."""
        return json.loads(self.get(path))

    def callback(self, part: str, changed: str, **values: Any) -> dict[str, Any]:
        """Post the callback with an output on `part`; `values` by `id.property`."""
        found = [each for each in self.dependencies if part in each["output"]]
        assert len(found) == 1, [each["output"] for each in found]
        asked = found[0]
        outputs = [
            dict(zip(("id", "property"), name.rsplit(".", 1), strict=True))
            for name in asked["output"].strip(".").split("...")
        ]
        inputs, state = (
            [{**each, "value": values.get(f"{each['id']}.{each['property']}")} for each in kind]
            for kind in (asked["inputs"], asked["state"])
        )
        answer = self._client.post(
            self._prefix + "_dash-update-component",
            json={
                "output": asked["output"],
                "outputs": outputs if len(outputs) > 1 else outputs[0],
                "inputs": inputs,
                "changedPropIds": [changed],
                "state": state,
            },
        )
        assert answer.status_code == 200, answer.get_data(as_text=True)[:2000]
        response: dict[str, Any] = answer.get_json()["response"]
        return response

    def page(self, path: str, search: str = "") -> Any:
        """The content of a page, as the browser gets it."""
        values = {"_pages_location.pathname": path, "_pages_location.search": search}
        posted = self.callback("_pages_content", "_pages_location.pathname", **values)
        return posted["_pages_content"]["children"]


def all_text(node: Any) -> str:
    """Every text of a component tree, in order."""
    return " ".join(_texts(node))


def _texts(node: Any) -> list[str]:
    if isinstance(node, str):
        return [node]
    if isinstance(node, list):
        return [text for child in node for text in _texts(child)]
    if isinstance(node, dict):
        props = node.get("props", {})
        return [*_texts(props.get("children")), *_plain_texts(json.loads(props.get(PARTS, "[]")))]
    return []


def _plain_texts(parts: list[Any]) -> list[str]:
    """Texts of parts that were sent as data (`dashboard.components.plain`)."""
    return [
        text
        for part in parts
        for text in ([part] if isinstance(part, str) else _plain_texts(part[2]))
    ]


def find(node: Any, part: str) -> Any:
    """The component with an id; None where there is none."""
    if isinstance(node, list):
        hits = (find(child, part) for child in node)
        return next((hit for hit in hits if hit is not None), None)
    if not isinstance(node, dict):
        return None
    props = node.get("props", {})
    return node if props.get("id") == part else find(props.get("children"), part)


def ids_of(node: Any) -> set[str]:
    """Every id of a component tree."""
    return set(re.findall(r'"id": "([^"]+)"', json.dumps(node)))
