"""Trees that may not be picked yet: waiting periods beside the picking window, tree by tree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from dashboard.data import Withholding
from dashboard.measures import retold
from dashboard.views.windows import Window
from dashboard.words import shown

# Fruit kept cool, dried or preserved is eaten up to a year later [d]: common practice, no source.
KEPT_DAYS = 365


@dataclass(frozen=True)
class Period:
    """The wait after one application; `end` is the earliest pick, None where it is unknown."""

    product: str
    start: date
    days: int | None
    end: date | None


@dataclass(frozen=True)
class HeldTree:
    """One tree that may not be picked, or was picked too soon."""

    answer: Withholding
    until: date | None
    """Earliest pick by every label; None where one is unknown."""
    periods: tuple[Period, ...]
    window: Window | None
    """When its fruit is ripe in the running season, where that is known."""
    picked_inside: tuple[date, ...]
    told: tuple[str, ...]
    """Why, in sentences; picks made too soon are told apart."""

    @property
    def may_be_picked(self) -> bool:
        """Whether nothing that is logged forbids it now."""
        return self.answer.status == "clear"


@dataclass(frozen=True)
class Reason:
    """Trees that may not be picked for the same reason."""

    product: str
    sprayed: date
    until: date | None
    trees: tuple[str, ...]


@dataclass(frozen=True)
class TooSoon:
    """Picks made inside a period, or after one that nobody logged, told in one sentence."""

    says: str
    known: bool
    picks: tuple[tuple[str, date], ...]
    """Tree and day of each."""

    def may_be_kept(self, as_of: date) -> bool:
        """Whether some of that fruit may still be in store, dried or preserved."""
        return (as_of - max(when for _, when in self.picks)).days <= KEPT_DAYS


def held_trees(answers: Iterable[Withholding], rows: Iterable[Window]) -> list[HeldTree]:
    """Trees that may not be picked, those with ripe fruit first; then those picked too soon.

    `rows` are picking windows of single trees.
    """
    windows: dict[str, Window] = {}
    for row in rows:
        if row.state in ("picking", "to come"):
            windows.setdefault(row.trees[0], row)
    found = [
        _held(answer, windows.get(answer.tree))
        for answer in answers
        if answer.status != "clear" or any(pick.earliest_pick for pick in answer.picked_inside)
    ]
    return sorted(
        found,
        key=lambda tree: (
            tree.may_be_picked,
            not tree.answer.clashes_with_forecast,
            tree.until or date.min,
            tree.answer.tree,
        ),
    )


def reasons(answers: Iterable[Withholding]) -> list[Reason]:
    """Why trees may not be picked, the reason that concerns most trees first.

    A tree counts once: under an application of unknown period, else under the longest period.
    """
    groups: dict[tuple[bool, date, str, date], list[str]] = defaultdict(list)
    for answer in answers:
        if answer.status == "clear":
            continue
        unread = answer.status == "unknown"
        used = next(
            each
            for each in reversed(answer.because)
            if (each.withholding_days is None) == unread
            and (unread or each.earliest_pick == answer.earliest_pick)
        )
        key = (unread, answer.earliest_pick or date.min, used.product, used.date)
        groups[key].append(answer.tree)
    found = [
        Reason(product, sprayed, None if unread else until, tuple(trees))
        for (unread, until, product, sprayed), trees in groups.items()
    ]
    return sorted(found, key=lambda each: (-len(each.trees), each.until or date.min, each.product))


def too_soon(answers: Iterable[Withholding]) -> list[TooSoon]:
    """Picks made too soon, for certain first, those that may have been after them."""
    groups: dict[tuple[bool, str], list[tuple[str, date]]] = defaultdict(list)
    for answer in answers:
        for pick in answer.picked_inside:
            says = readable(pick.says, [pick.product])
            groups[pick.earliest_pick is not None, says].append((answer.tree, pick.date))
    return [
        TooSoon(says, known, tuple(picks))
        for (known, says), picks in sorted(groups.items(), key=lambda item: not item[0][0])
    ]


def grouped(trees: Sequence[HeldTree]) -> dict[tuple[str, ...], list[HeldTree]]:
    """Trees that may not be picked, by what is told of them."""
    groups: dict[tuple[str, ...], list[HeldTree]] = defaultdict(list)
    for tree in trees:
        if not tree.may_be_picked:
            groups[tree.told].append(tree)
    return dict(groups)


def told_clear(answers: Iterable[Withholding]) -> Mapping[tuple[str, ...], list[str]]:
    """Trees that nothing logged here forbids to pick, by what is told of them."""
    groups: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for answer in answers:
        if answer.status == "clear":
            groups[_told(answer)].append(answer.tree)
    return groups


def readable(sentence: str, names: Iterable[str]) -> str:
    """A sentence of the calculations as it may be shown: in the units and dates chosen, with what
    people typed, these names and any long word, made fit for it."""
    for name in names:
        sentence = sentence.replace(name, shown(name))
    return retold(" ".join(shown(word) for word in sentence.split()))


def _held(answer: Withholding, window: Window | None) -> HeldTree:
    used = {
        (each.product, each.date): Period(
            each.product, each.date, each.withholding_days, each.earliest_pick
        )
        for each in answer.because
        if answer.status != "clear"
    }
    for pick in answer.picked_inside:
        if pick.earliest_pick is not None:
            days = (pick.earliest_pick - pick.sprayed).days
            period = Period(pick.product, pick.sprayed, days, pick.earliest_pick)
            used.setdefault((pick.product, pick.sprayed), period)
    return HeldTree(
        answer=answer,
        until=answer.earliest_pick if answer.status == "wait" else None,
        periods=tuple(sorted(used.values(), key=lambda period: period.start)),
        window=window,
        picked_inside=tuple(
            sorted({pick.date for pick in answer.picked_inside if pick.earliest_pick})
        ),
        told=_told(answer),
    )


def _told(answer: Withholding) -> tuple[str, ...]:
    apart = {pick.says for pick in answer.picked_inside}
    products = [each.product for each in answer.because]
    crops = [each.crop for each in answer.because if each.crop]
    return tuple(
        readable(text, [*products, *crops, answer.species])
        for text in answer.says
        if text not in apart
    )
