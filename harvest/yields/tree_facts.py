"""What the records say of each standing tree in one season: trunk, bloom, growth, crop so far."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import (
    ONE_DAY,
    Dates,
    Floats,
    Ints,
    calendar_seasons,
    date_of,
    days_of_season,
    season_starts,
)
from harvest.tree_years import full_blooms
from harvest.yields.tree_seasons import Bools, first_seasons, last_seasons
from harvest.yields.trunk import trunk_cross_section

# A girth is taken each winter; one that is older than this missed a winter, and a young trunk may
# have grown by half since [d, judgement].
GIRTH_VALID_DAYS = 450
# Seasons with a logged bloom that tell when a kind usually blooms at a site: ours.
LEAST_BLOOMS = 3
# What befell a tree counts from the middle of the growing season before [d before the season].
LOOK_BACK_DAYS = 180

_NOT_DENIED = r"(?<!\bno )(?<!\bnot )(?<!\bno longer )(?<!\bnever )"
# What a grower may have written in an event's note, and how we speak of it.
SIGNS_IN_NOTES = {
    "weak growth": r"\b(?:weak|poor|stunted) (?:shoot )?growth|\bgrow(?:s|ing)? (?:weak|poor)ly",
    "leaning": r"\blean(?:s|ing)\b|\bunstaked\b|\bnot staked\b|\bloose in the ground\b",
    "transplant": r"\btransplant(?:ed)?\b|\breplanted\b",
    "leader carrying fruit": r"\bleader\b.*\b(?:fruit|bend|bent)|\bfruit\b.*\bleader\b",
}
# What says that a tree stands well, so that it need not be asked.
FIRM_IN_NOTE = r"\bstaked\b|\bstands? firm\b|\bfirm in the ground\b"
SHOOT_IN_NOTE = r"\bshoots?\b[^0-9]{0,20}(\d+(?:\.\d+)?) ?cm\b"


class Noted(NamedTuple):
    """Something logged and its day."""

    what: str
    day: date


@dataclass(frozen=True, slots=True)
class Trunk:
    """Latest girth [cm] and its date; cross-section [cm2] unless it is too old to go by."""

    girth_cm: float
    measured: date
    tcsa_cm2: float | None


@dataclass(frozen=True, slots=True)
class Bloom:
    """Full bloom of the season: as logged, or the usual one of the species there."""

    day: date
    logged: bool


@dataclass(frozen=True, slots=True)
class CropSoFar:
    """What has been done to, or become of, this season's crop."""

    stripped: date | None = None
    thinned: date | None = None
    fruit_left: int | None = None
    no_crop: date | None = None
    picked: date | None = None


@dataclass(frozen=True, slots=True)
class TreeFacts:
    """One standing tree in one season, as known on `day`."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    planted: date
    grafted: bool
    """Whether it was grafted over on the day it is `planted`, and is older below."""
    leaf: int
    vigour: str | None
    day: date
    running: bool
    """Whether the season is the one running on the as-of day, or still to come."""
    trunk: Trunk | None
    bloom: Bloom | None
    signs: tuple[Noted, ...]
    shoot_cm: float | None
    stand_known: bool
    """Whether it was noted since last summer that it stands firm, or that it does not."""
    crop: CropSoFar


def tree_facts(records: Records, season: int | None, usual_bloom: pd.Series) -> list[TreeFacts]:
    """Facts of every tree that stands in a season, in the order of the trees.

    Parameters
    ----------
    records : with a `season` column in stages, picks, thinnings and events.
    season : the season asked for; None is the one running at each tree's site on the as-of day.
    usual_bloom : usual day of season of full bloom [d], index: tree; used where fewer than
        `LEAST_BLOOMS` seasons of its kind are logged at its site.

    Nothing logged after the season's end counts. A tree removed in a season stands until the
    season before it.
    """
    trees = standing_trees(records, season)
    if trees.empty:
        return []
    bloom = _blooms(records, trees, usual_bloom)
    trunk = _trunks(records.girths, trees)
    signs, shoots, firm = _growth(records.events, trees)
    crop = _crops(records, trees)
    return [
        TreeFacts(
            tree=row.tree,
            site=row.site,
            species=row.species,
            cultivar=row.cultivar,
            season=row.season,
            planted=row.planted,
            grafted=row.grafted,
            leaf=row.leaf,
            vigour=row.vigour if isinstance(row.vigour, str) else None,
            day=row.day,
            running=row.running,
            trunk=trunk.get(row.tree),
            bloom=bloom.get(row.tree),
            signs=tuple(signs.get(row.tree, ())),
            shoot_cm=shoots.get(row.tree),
            stand_known=row.tree in firm
            or any(noted.what == "leaning" for noted in signs.get(row.tree, ())),
            crop=crop.get(row.tree, CropSoFar()),
        )
        for row in _as_plain(trees)
    ]


class _Row(NamedTuple):
    tree: str
    site: str
    species: str
    cultivar: str
    vigour: object
    planted: date
    grafted: bool
    season: int
    leaf: int
    day: date
    running: bool


def _as_plain(trees: pd.DataFrame) -> list[_Row]:
    columns = []
    for name in _Row._fields:
        values = trees[name].to_numpy()
        dates = values.dtype.kind == "M"
        columns.append((values.astype("datetime64[D]") if dates else values).tolist())
    return [_Row(*row) for row in zip(*columns, strict=True)]


def standing_trees(records: Records, season: int | None) -> pd.DataFrame:
    """Trees that stand in the season, with season, leaf, day of the advice, first day of signs."""
    trees = records.trees
    latitude = trees["latitude"].to_numpy(dtype=float)
    as_of = np.datetime64(records.as_of, "D")
    now = calendar_seasons(np.full(len(trees), as_of), latitude)
    wanted: Ints = now if season is None else np.full(len(trees), season, dtype=np.int64)
    end: Dates = season_starts(wanted + 1, latitude) - ONE_DAY
    leaf = wanted - first_seasons(trees) + 1
    stands: Bools = trees["removed"].isna().to_numpy() | (wanted < last_seasons(records))
    table = trees.assign(
        grafted=trees["grafted"].notna() if "grafted" in trees else False,
        season=wanted,
        leaf=leaf,
        running=wanted >= now,
        day=np.minimum(end, as_of),
        since=season_starts(wanted, latitude) - LOOK_BACK_DAYS * ONE_DAY,
    )
    return table[stands & (leaf >= 1)].reset_index(drop=True)


def _of_season(rows: pd.DataFrame, trees: pd.DataFrame) -> pd.DataFrame:
    """Rows of the trees' season."""
    season = rows["tree"].map(trees.set_index("tree")["season"])
    return rows[(rows["season"] == season).to_numpy()]


def _days(rows: pd.DataFrame, column: str = "date") -> dict[str, date]:
    """Latest day of each tree's rows."""
    latest = rows.groupby("tree")[column].max()
    days = latest.to_numpy().astype("datetime64[D]").tolist()
    return dict(zip(latest.index.tolist(), days, strict=True))


def _blooms(records: Records, trees: pd.DataFrame, usual: pd.Series) -> dict[str, Bloom]:
    logged = _days(_of_season(full_blooms(records.stages), trees), "bloom")
    found = {tree: Bloom(day, logged=True) for tree, day in logged.items()}
    expected = _usual_here(records, trees, usual)
    known = ~np.isnan(expected)
    for tree, season, latitude, day in zip(
        trees["tree"][known].tolist(),
        trees["season"][known].tolist(),
        trees["latitude"][known].tolist(),
        expected[known].tolist(),
        strict=True,
    ):
        found.setdefault(tree, Bloom(date_of(day, season, latitude), logged=False))
    return found


def _usual_here(records: Records, trees: pd.DataFrame, usual: pd.Series) -> Floats:
    """Usual day of season of full bloom of each tree [d]: of its cultivar at its site by the
    seasons logged there, else of its species by those, else as known beforehand."""
    places = ["site", "species", "cultivar"]
    blooms = full_blooms(records.stages).merge(
        records.trees[["tree", *places, "latitude"]], on="tree"
    )
    blooms["day"] = days_of_season(blooms["bloom"], blooms["season"], blooms["latitude"])
    expected = trees["tree"].map(usual).to_numpy(dtype=float)
    for keys in (places[:2], places):
        yearly = blooms.groupby([*keys, "season"])["day"].mean().groupby(level=keys)
        own = yearly.mean()[yearly.size() >= LEAST_BLOOMS]
        found = own.reindex(pd.MultiIndex.from_frame(trees[keys])).to_numpy(dtype=float)
        expected = np.where(np.isnan(found), expected, found)
    return expected


def _trunks(girths: pd.DataFrame, trees: pd.DataFrame) -> dict[str, Trunk]:
    """Latest girth of each tree up to its day."""
    until = girths["tree"].map(trees.set_index("tree")["day"])
    last = girths[(girths["date"] <= until).to_numpy()].sort_values("date")
    last = last.drop_duplicates("tree", keep="last")
    measured = last["date"].to_numpy().astype("datetime64[D]")
    girth = last["girth_cm"].to_numpy(dtype=float)
    day = last["tree"].map(trees.set_index("tree")["day"]).to_numpy().astype("datetime64[D]")
    area = trunk_cross_section(girth)
    area[(day - measured) / ONE_DAY > GIRTH_VALID_DAYS] = np.nan
    return {
        tree: Trunk(cm, when, None if cm2 != cm2 else cm2)
        for tree, cm, when, cm2 in zip(
            last["tree"].tolist(), girth.tolist(), measured.tolist(), area.tolist(), strict=True
        )
    }


def _growth(
    events: pd.DataFrame, trees: pd.DataFrame
) -> tuple[dict[str, list[Noted]], dict[str, float], set[str]]:
    """Signs of poor growth or stand, shoot length [cm] where noted, trees noted to stand firm."""
    columns = ["tree", "date", "event", "severity", "note"]
    own = events[events["tree"].notna()].merge(trees[["tree", "since", "day"]], on="tree")
    shared = events[events["tree"].isna()].drop(columns="tree")
    shared = shared.merge(trees[["tree", "site", "since", "day"]], on="site")
    both = pd.concat([own, shared[shared["event"] == "drought"]], ignore_index=True)
    within = (both["date"] >= both["since"]) & (both["date"] <= both["day"])
    both = both.loc[within & ~(both["severity"] == 0), columns].sort_values("date")
    notes = [note.casefold() if isinstance(note, str) else "" for note in both["note"]]
    found = {"drought": (both["event"] == "drought").to_numpy()} | {
        sign: _matching(notes, _NOT_DENIED + f"(?:{pattern})")
        for sign, pattern in SIGNS_IN_NOTES.items()
    }
    signs: dict[str, list[Noted]] = {}
    for sign, where in found.items():
        for tree, day in _days(both[where]).items():
            signs.setdefault(tree, []).append(Noted(sign, day))
    lengths = [re.search(SHOOT_IN_NOTE, note) for note in notes]
    shoots = {
        tree: float(length[1])
        for tree, length in zip(both["tree"].tolist(), lengths, strict=True)
        if length is not None
    }
    firm = _matching(notes, _NOT_DENIED + f"(?:{FIRM_IN_NOTE})")
    return signs, shoots, set(both.loc[firm, "tree"])


def _matching(notes: list[str], pattern: str) -> Bools:
    return np.array([re.search(pattern, note) is not None for note in notes], dtype=bool)


def _crops(records: Records, trees: pd.DataFrame) -> dict[str, CropSoFar]:
    thinnings = _of_season(records.thinnings, trees)
    thinned = thinnings[thinnings["action"] == "thin"].sort_values("date")
    left = thinned.dropna(subset="fruit_left").drop_duplicates("tree", keep="last")
    fruit_left = dict(zip(left["tree"].tolist(), left["fruit_left"].tolist(), strict=True))
    barren = _barren(records.events, trees)
    picks = _of_season(records.picks, trees)
    stripped_on = _days(thinnings[thinnings["action"] == "strip"])
    thinned_on = _days(thinned)
    barren_on = _days(_of_season(barren, trees))
    picked_on = _days(picks[picks["weight_kg"] > 0])
    found = {*stripped_on, *thinned_on, *barren_on, *picked_on}
    return {
        tree: CropSoFar(
            stripped=stripped_on.get(tree),
            thinned=thinned_on.get(tree),
            fruit_left=int(fruit_left[tree]) if tree in fruit_left else None,
            no_crop=barren_on.get(tree),
            picked=picked_on.get(tree),
        )
        for tree in found
    }


def _barren(events: pd.DataFrame, trees: pd.DataFrame) -> pd.DataFrame:
    """Events of a season without a crop, those of a whole site given to each of its trees."""
    barren = events[events["event"] == "no crop"]
    shared = barren[barren["tree"].isna()].drop(columns="tree")
    shared = shared.merge(trees[["tree", "site"]], on="site")
    columns = ["tree", "date", "season"]
    return pd.concat([barren.loc[barren["tree"].notna(), columns], shared[columns]])
