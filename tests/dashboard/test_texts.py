"""No page, part or picture holds words of its own: all of them are in dashboard/texts."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "dashboard"
FILES = sorted(
    path for part in ("pages", "components", "figures") for path in (ROOT / part).glob("*.py")
)
# What the browser or a library reads, by the argument that it is given as.
FOR_MACHINES = {
    "className", "class_name", "href", "id", "style", "type", "name", "textposition", "kind",
    "required", "given", "todo", "where", "columnSize", "clsName",
}  # fmt: skip
# Words that stand for something in results, in styles or in scripts, and are never shown as such.
VALUES = {
    "to come", "not recorded", "not compared", "too early to tell", "no clear difference",
    "stripped ahead", "no partner", "partner, but little overlap", "around the logged full bloom",
    "not on record", "as it was", "middle right", "middle left", "top right", "top center",
    "bottom left", "advice strip", "D MMMM YYYY", "MMMM D, YYYY", "Test for ripeness",
    "Picked inside a withholding period", "Take all fruit off a young tree", "Thin the fruit",
}  # fmt: skip
SCRIPT = re.compile(r"^\s*(?:\(?function|\(.*=>)|sans-serif")
MARKUP = re.compile(r"<[^>]*>|%\{[^}]*\}|%-?[a-zA-Z]")
WORDS = re.compile(r"[A-Za-z]{2,}[,.:;]? +[A-Za-z(]|^,? [a-z]{3,}|[a-z]{3,}:? $")


def told(path: Path) -> list[str]:
    """Texts in a file's code that look as if somebody were to read them."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr | ast.Assert | ast.Raise):
            silent |= {id(each) for each in ast.walk(node) if _says_itself(node)}
        if isinstance(node, ast.keyword) and node.arg in FOR_MACHINES:
            silent |= {id(each) for each in ast.walk(node.value)}
    return [
        f"{path.name}:{line} {text!r}"
        for line, text in texts_of(tree, silent)
        if text not in VALUES
        and not SCRIPT.search(text)
        and WORDS.search(MARKUP.sub("", text))
        and not _style_classes(text)
    ]


def texts_of(
    tree: ast.AST, silent: set[int] | frozenset[int] = frozenset()
) -> list[tuple[int, str]]:
    """Line and text of every text in code; `silent` are the ids of nodes that do not count."""
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent
    ]


def _says_itself(node: ast.AST) -> bool:
    """A docstring, an assertion, an error's text: none of them is part of a page's own words."""
    return not isinstance(node, ast.Expr) or isinstance(node.value, ast.Constant)


CLASSES = {
    word
    for path in (ROOT / "assets").glob("*.css")
    for word in re.findall(r"\.([a-z][\w-]*)", path.read_text(encoding="utf-8"))
}


def _style_classes(text: str) -> bool:
    return all(word in CLASSES for word in text.split())


def test_the_search_finds_a_text() -> None:
    tree = 'x = html.P("Pick it now")\ny = f"week of {day}"\n'
    found = [text for _, text in texts_of(ast.parse(tree)) if WORDS.search(MARKUP.sub("", text))]
    assert found == ["Pick it now", "week of "]


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_words_to_be_read_are_in_the_texts(path: Path) -> None:
    assert told(path) == []
