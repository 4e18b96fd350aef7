"""Frost at the flowers: the nights of a season below the kill temperatures of that day's stage.

The stage of each day is read off the tree's logged first flowers (BBCH 61), full bloom (65) and
end of bloom (69); around them, and where only full bloom is logged, off the days that usually lie
between stages (common practice, no source). How many flowers a full crop needs is read: a cherry
well over half of its buds alive, apple, pear and peach may do with 10 to 15 % (Washington State
University Extension, as printed by Penn State and Michigan State University Extension).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.records import FULL_BLOOM, Records
from harvest.seasons import Dates, Floats
from harvest.thermal import share_killed, stage_row

# Days from full bloom at which a stage is usually reached (common practice, no source).
USUAL_DAYS = {51: -35, 53: -25, 54: -18, 55: -13, 57: -8, 59: -5, 61: -3, 65: 0, 67: 5, 69: 9,
              71: 15, 72: 21, 73: 28, 75: 42}  # fmt: skip
FIRST_FLOWERS, END_OF_BLOOM = 61, 69
OWN, CULTIVAR, SPECIES = "logged on it", "of its cultivar there", "of its species there"
AROUND = np.arange(-35, 36)
# A night that kills less than this share is not worth naming.
LEAST_SHARE = 0.1
# Share of the flowers that a full crop needs.
NEEDED = {"sweet cherry": 0.6, "sour cherry": 0.6, "apple": 0.15, "european pear": 0.15,
          "asian pear": 0.15, "peach": 0.15, "nectarine": 0.15}  # fmt: skip
USUALLY_NEEDED = 0.4
# A frost seldom takes quite everything: cold air lies unevenly and some flowers open late.
LEAST_LEFT = 0.05
COLUMNS = ("share", "nights", "night", "tmin_c", "stage", "kill10_c", "kill90_c", "days_known")


def bloom_days(records: Records, season: int | None = None) -> pd.DataFrame:
    """Full bloom of every tree and season of which it, or that of its like, is on record.

    Returns columns tree, season, site, species, cultivar, bloom [datetime64], own (bool) and
    `whose`: logged on the tree itself, else the median of its cultivar, else of its species, at
    the site; first and end: days from full bloom to the first flowers and to the end of bloom
    [d], nan where not logged. `season` asks for one season only.
    """
    columns = [FIRST_FLOWERS, FULL_BLOOM, END_OF_BLOOM]
    stages = records.stages[records.stages["bbch"].isin(columns)]
    if season is not None:
        stages = stages[stages["season"] == season]
    key = ["tree", "season"]
    logged = stages.pivot_table(index=key, columns="bbch", values="date", aggfunc="min")
    logged = logged.reindex(columns=columns).astype("datetime64[s]").reset_index()
    trees = records.trees[["tree", "site", "species", "cultivar"]]
    rows = logged.merge(trees, on="tree")
    kind = ["site", "species", "cultivar"]
    every = trees.merge(rows[["site", "species", "season"]].drop_duplicates(), on=kind[:2])
    every = every.merge(logged, on=key, how="left")
    every["bloom"], every["whose"] = every[FULL_BLOOM], OWN
    for like, whose in ((kind, CULTIVAR), (kind[:2], SPECIES)):
        middle = rows.groupby([*like, "season"])[FULL_BLOOM].median().dt.floor("D")
        found = every.join(middle.rename("like"), on=[*like, "season"])["like"]
        blank = every["bloom"].isna()
        every.loc[blank, "whose"] = whose
        every["bloom"] = every["bloom"].fillna(found)
    every = every[every["bloom"].notna()].reset_index(drop=True)
    every["own"] = every["whose"] == OWN
    every["first"] = (every[FIRST_FLOWERS] - every["bloom"]).dt.days.astype(float)
    every["end"] = (every[END_OF_BLOOM] - every["bloom"]).dt.days.astype(float)
    return every[["tree", "season", *kind, "bloom", "own", "whose", "first", "end"]]


def frost_damage(records: Records, blooms: pd.DataFrame, kill: pd.DataFrame) -> pd.DataFrame:
    """The worst night of each bloom, on the index of `blooms` (as from `bloom_days`).

    Parameters
    ----------
    kill : the table frost_kill.csv: species, stage_name, bbch_from, bbch_to, kill10_c, kill90_c.

    Returns
    -------
    `share` of buds, flowers or fruitlets that the worst night kills [1], nan where weather, or
    the species' kill temperatures, are not known; `nights` with at least a tenth killed, `night`,
    its `tmin_c`, `stage`, `kill10_c`, `kill90_c` [degC]; `days_known`, of the 71 days around full
    bloom those with a minimum on record.
    """
    found = pd.DataFrame(index=blooms.index, columns=list(COLUMNS), dtype=object)
    keys = ["site", "species", "bloom", "first", "end"]
    for (site, species), rows in blooms.groupby(["site", "species"]):
        table = kill[kill["species"] == species].reset_index(drop=True)
        weather = records.weather[records.weather["site"] == site]
        if table.empty or weather.empty:
            continue
        cases = rows[keys].drop_duplicates().reset_index(drop=True)
        worst = _worst_nights(cases, weather, table)
        at = rows[keys].merge(cases.assign(case=cases.index), on=keys, how="left")["case"]
        found.loc[rows.index] = worst.iloc[at.to_numpy()].to_numpy()
    numbers = ["share", "nights", "tmin_c", "kill10_c", "kill90_c", "days_known"]
    found[numbers] = found[numbers].astype(float)
    found["night"] = pd.to_datetime(found["night"])
    return found


def crop_left(damage: pd.DataFrame) -> Floats:
    """Share of a full crop [1] that the worst night leaves; 1 where its damage is not known.

    `damage`: columns species and `share`, as from `frost_damage`.
    """
    needed = damage["species"].map(NEEDED).fillna(USUALLY_NEEDED).to_numpy(dtype=float)
    left = np.clip((1 - damage["share"].to_numpy(dtype=float)) / needed, LEAST_LEFT, 1.0)
    return np.where(np.isnan(left), 1.0, left)


def crops_left(records: Records, kill: pd.DataFrame) -> pd.Series:
    """Share of a full crop [1] left by frost in each tree's seasons, where it took any of it.

    Indexed by tree and season. `kill` as for `frost_damage`.
    """
    blooms = bloom_days(records)
    blooms["left"] = crop_left(blooms.join(frost_damage(records, blooms, kill)["share"]))
    return blooms[blooms["left"] < 1].set_index(["tree", "season"])["left"]


def _worst_nights(cases: pd.DataFrame, weather: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    bloom = cases["bloom"].to_numpy().astype("datetime64[D]")
    days: Dates = bloom[:, None] + AROUND.astype("timedelta64[D]")
    night = _minima(weather, days)
    usual = [
        _stages(first, end)
        for first, end in cases[["first", "end"]].itertuples(index=False, name=None)
    ]
    row = stage_row(np.array(usual), table["bbch_from"], table["bbch_to"])
    kills = ("kill10_c", "kill90_c")
    tenth, most = (np.append(table[name].to_numpy(), np.nan)[row] for name in kills)
    share = np.where(row >= 0, share_killed(night, tenth, most), np.nan)
    # Where no temperature kills 90 % is on record, the one that kills 10 % still counts.
    share = np.where(np.isnan(share) & (night <= tenth), LEAST_SHARE, share)
    filled = np.where(np.isnan(share), -1.0, share)
    at = (np.arange(len(cases)), filled.argmax(axis=1))
    names = np.array([*table["stage_name"], None], dtype=object)
    return pd.DataFrame(
        {
            "share": np.where(filled[at] < 0, np.nan, filled[at]),
            "nights": (filled >= LEAST_SHARE).sum(axis=1),
            "night": days[at],
            "tmin_c": night[at],
            "stage": names[row[at]],
            "kill10_c": tenth[at],
            "kill90_c": most[at],
            "days_known": (~np.isnan(night)).sum(axis=1),
        }
    )


def _stages(first: float, end: float) -> Floats:
    """Growth stage (BBCH) of each day around full bloom."""
    days = dict(USUAL_DAYS)
    for stage, logged in ((FIRST_FLOWERS, first), (END_OF_BLOOM, end)):
        if not np.isnan(logged):
            shift = logged - days[stage]
            for other in days:
                if (other <= stage) if stage < FULL_BLOOM else (other >= stage):
                    days[other] = int(days[other] + shift)
    at = np.array(list(days.values()), dtype=float)
    return np.asarray(np.floor(np.interp(AROUND, np.maximum.accumulate(at), list(days))))


def _minima(weather: pd.DataFrame, days: Dates) -> Floats:
    """Lowest temperature of each day [degC], nan where it is not on record."""
    series = weather.set_index("date")["tmin_c"]
    start = weather["date"].to_numpy().astype("datetime64[D]").min()
    length = int((weather["date"].to_numpy().astype("datetime64[D]").max() - start).astype(int)) + 1
    values = np.full(length, np.nan)
    values[(series.index.to_numpy().astype("datetime64[D]") - start).astype(int)] = series
    at = (days - start).astype(int)
    inside = (at >= 0) & (at < length)
    return np.where(inside, values[np.where(inside, at, 0)], np.nan)
