"""The view a page's address asks for: as-of date, filters, one row per cultivar or per tree."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol, TypeVar
from urllib.parse import parse_qs, urlencode

EARLIEST = date(1900, 1, 1)
# What a page may let its reader choose besides the filters, by its name in the address.
CHOICES = (
    "by", "row", "measure", "first", "second", "lead", "kind", "tree",
    "plant", "plant_cultivar", "warmer", "lat", "lon", "product", "label_days",
)  # fmt: skip


class Placed(Protocol):
    """Anything that belongs to a tree, of a cultivar of a species at a site."""

    @property
    def tree(self) -> str:
        """Name of the tree."""

    @property
    def site(self) -> str:
        """Name of the site."""

    @property
    def species(self) -> str:
        """Name of the species."""

    @property
    def cultivar(self) -> str:
        """Name of the cultivar."""


Item = TypeVar("Item", bound=Placed)


@dataclass(frozen=True)
class View:
    """What an address asks to see; `as_of` is None for the orchard's own date."""

    as_of: date | None = None
    site: str | None = None
    species: str | None = None
    cultivar: str | None = None
    block: str | None = None
    """A row of trees, or a block, by its name."""
    rows: str = "cultivars"
    choices: tuple[tuple[str, str], ...] = ()
    """Names and values of a page's own choices, those of `CHOICES` that are made."""
    refused: str | None = None
    """An as-of date that could not be read, as it was given."""
    trees: frozenset[str] | None = None
    """Trees of the block, looked up for a view that names one; the address does not hold them."""

    def keep(self, items: Iterable[Item]) -> list[Item]:
        """The items that pass the filters."""
        return [
            item
            for item in items
            if self.site in (None, item.site)
            and self.species in (None, item.species)
            and self.cultivar in (None, item.cultivar)
            and (self.trees is None or item.tree in self.trees)
        ]

    @property
    def filtered(self) -> bool:
        """Whether anything is left out."""
        return (self.site, self.species, self.cultivar, self.block) != (None,) * 4

    def choice(self, name: str) -> str | None:
        """What was chosen, None where nothing was."""
        return dict(self.choices).get(name)

    def but(self, **changes: object) -> View:
        """The same view with some things changed."""
        return replace(self, refused=None, **changes)  # type: ignore[arg-type]

    def choosing(self, **chosen: str | None) -> View:
        """The same view with some choices of the page made, or unmade where None."""
        made = {**dict(self.choices), **chosen}
        return self.but(choices=tuple((name, made[name]) for name in CHOICES if made.get(name)))

    def search(self) -> str:
        """The address's query string, empty or beginning with `?`."""
        named = {
            "as_of": self.as_of.isoformat() if self.as_of else None,
            "site": self.site,
            "species": self.species,
            "cultivar": self.cultivar,
            "block": self.block,
            "rows": self.rows if self.rows != "cultivars" else None,
            **dict(self.choices),
        }
        query = urlencode({name: value for name, value in named.items() if value})
        return f"?{query}" if query else ""


def view_of(query: Mapping[str, object], latest: date) -> View:
    """Read a view from an address's query; an as-of date that makes no sense is kept as refused.

    `latest` is the last day that anything can be known of.
    """
    as_of, refused = None, None
    given = _text(query.get("as_of"))
    if given is not None:
        as_of = _day(given)
        if as_of is None or not EARLIEST <= as_of <= latest:
            as_of, refused = None, given
    return View(
        as_of=as_of,
        site=_text(query.get("site")),
        species=_text(query.get("species")),
        cultivar=_text(query.get("cultivar")),
        block=_text(query.get("block")),
        rows="trees" if query.get("rows") == "trees" else "cultivars",
        choices=tuple((name, given) for name in CHOICES if (given := _text(query.get(name)))),
        refused=refused,
    )


def view_of_search(search: str | None, latest: date) -> View:
    """As `view_of`, from a query string."""
    pairs = parse_qs((search or "").removeprefix("?"))
    return view_of({name: values[0] for name, values in pairs.items()}, latest)


def _text(value: object) -> str | None:
    if isinstance(value, list):
        value = value[0] if value else None
    return value if isinstance(value, str) and value else None


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
