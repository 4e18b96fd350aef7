"""Rules of what looks wrong in an orchard's records though it can be true: kept, and asked about.

Each rule is a function of the records (with the season of each) and of what is known of each
tree's kind; it looks at whole columns and gives one row for every record in doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from harvest.records import FULL_BLOOM, Records
from harvest.seasons import days_of_season, season_starts

# A rule's answer: which kind of record, its place in that kind's frame, what is said, and the
# value that was judged: another value is another doubt.
ANSWER = ("kind", "row", "said", "value")
DOUBTS = ("rule", "kind", "row", "tree", "date", "said", "facts")
Rule = Callable[[Records, pd.DataFrame], pd.DataFrame]

FLOWERING = (60, 69)
RIPENING_STAGE = 81
QUARTER_YEAR_DAYS = 365.25 / 4
# Between the tropics no half of the year is the wrong one for flowers [deg].
TROPIC_LATITUDE = 23.44
TIMES_THE_BEST = 10.0
# A pick typed anew may have been given the day before or after by mistake [d].
SAME_PICK_WITHIN_DAYS = 1
# So many standard deviations beyond its kind's usual time no fruit still hangs.
LATEST_SDS = 3.0


def ripe_before_bloom(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """Ripeness before the season's full bloom, and too late for the bloom before."""
    stages = records.stages[records.stages["bbch"] >= RIPENING_STAGE]
    return _before_bloom(records, traits, "stages", stages, "ripening")


def pick_before_bloom(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """A pick before the season's full bloom, and too late for the bloom before."""
    return _before_bloom(records, traits, "picks", records.picks, "picked")


def pick_too_soon_after_bloom(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """A pick sooner after full bloom than its kind can be ripe."""
    picks = records.picks
    bloom, since, _ = _between_blooms(records, traits, picks)
    early = (since > 0).to_numpy() & (picks["date"] > bloom).to_numpy()
    days = (picks["date"] - bloom).dt.days
    said = "picked {days} days after full bloom; no fruit of its kind is ripe then"
    return _answer("picks", picks[early], said, picks["weight_kg"], {"days": days})


def pick_on_a_stripped_tree(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """Fruit picked in a season in which all fruit had been taken off before."""
    del traits
    strips = records.thinnings[records.thinnings["action"] == "strip"]
    first = strips.groupby(["tree", "season"])["date"].min()
    picks = records.picks
    stripped = _of_season(first, picks["tree"], picks["season"])
    some = (picks["weight_kg"] > 0) | (picks["fruit_count"] > 0)
    after = some & (picks["date"].to_numpy() >= stripped)
    said = "picked though all fruit was stripped on {strip}"
    facts = {"strip": pd.Series(stripped, picks.index)}
    return _answer("picks", picks[after], said, picks["weight_kg"], facts)


def bloom_in_the_wrong_half_year(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """Flowers in the half of the year opposite to the usual bloom of the species there.

    Nothing is said between the tropics, where trees flower after rain or when their leaves are
    taken off (common practice, no source).
    """
    stages = records.stages[records.stages["bbch"].between(*FLOWERING)]
    latitude = _latitude(records, stages)
    day = days_of_season(stages["date"].to_numpy(), stages["season"].to_numpy(), latitude)
    usual = stages["tree"].map(traits["usual_bloom"]).to_numpy(dtype=float)
    apart = np.abs((day - usual + 182.625) % 365.25 - 182.625)
    half = pd.Series(np.where(latitude < 0, "south", "north"), stages.index)
    said = "flowers in the wrong half of the year for a tree {half} of the equator"
    wrong = stages[(apart > QUARTER_YEAR_DAYS) & (np.abs(latitude) > TROPIC_LATITUDE)]
    return _answer("stages", wrong, said, stages["bbch"], {"half": half})


def ten_times_the_trees_best(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """A pick ten times as heavy as any other of the tree: a decimal mark may be missing."""
    del traits
    picks = records.picks
    order = np.lexsort((picks["weight_kg"].to_numpy(), picks["tree"].factorize()[0]))
    ordered = picks.iloc[order]
    group = ordered.groupby("tree", sort=False)["weight_kg"]
    best_other = group.shift(1).where(group.cumcount(ascending=False) == 0).reindex(picks.index)
    heavy = (best_other > 0) & (picks["weight_kg"] >= TIMES_THE_BEST * best_other)
    said = "{weight} kg, the tree's best other pick is {best} kg"
    facts = {"weight": picks["weight_kg"], "best": best_other}
    return _answer("picks", picks[heavy], said, picks["weight_kg"], facts)


def the_same_pick_twice(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """The same weight and count of the same tree within a day: it may have been typed twice."""
    del traits
    picks = records.picks
    by = ["tree", "weight_kg", "date"]
    ordered = picks.sort_values([*by, "pass_number"], na_position="first", kind="stable")
    before = ordered.shift(1)
    close = ordered["date"] - before["date"] <= pd.Timedelta(days=SAME_PICK_WITHIN_DAYS)
    counts = ordered["fruit_count"].fillna(-1) == before["fruit_count"].fillna(-1)
    same = (ordered["tree"] == before["tree"]) & (ordered["weight_kg"] == before["weight_kg"])
    twice = ordered[same & counts & close & (ordered["weight_kg"] > 0)]
    said = "the same as the pick of {day}, typed twice perhaps"
    return _answer("picks", twice, said, picks["weight_kg"], {"day": before["date"]})


def a_girth_that_shrank(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """A girth below the one measured before: another mark, or a slip."""
    del traits
    girths = records.girths.sort_values(["tree", "date"], kind="stable")
    before = girths.groupby("tree")[["girth_cm", "date"]].shift(1)
    shrank = girths["girth_cm"] < before["girth_cm"]
    said = "{now} cm, on {day} it was {then} cm"
    facts = {"now": girths["girth_cm"], "day": before["date"], "then": before["girth_cm"]}
    return _answer("girths", girths[shrank], said, girths["girth_cm"], facts)


def picked_after_removal(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """A pick of a tree that had been taken out."""
    del traits
    removed = records.trees.set_index("tree")["removed"]
    gone = records.picks["tree"].map(removed)
    late = records.picks[(records.picks["date"] > gone).to_numpy()]
    said = "picked after the tree was removed on {gone}"
    return _answer("picks", late, said, records.picks["weight_kg"], {"gone": gone})


RULES: dict[str, Rule] = {
    "ripe before bloom": ripe_before_bloom,
    "pick before bloom": pick_before_bloom,
    "pick too soon after bloom": pick_too_soon_after_bloom,
    "pick on a stripped tree": pick_on_a_stripped_tree,
    "bloom in the wrong half-year": bloom_in_the_wrong_half_year,
    "ten times the tree's best": ten_times_the_trees_best,
    "the same pick twice": the_same_pick_twice,
    "a girth that shrank": a_girth_that_shrank,
    "picked after removal": picked_after_removal,
}


def doubts(records: Records, traits: pd.DataFrame) -> pd.DataFrame:
    """What every rule finds: columns rule, kind, row (its place in the kind's frame), tree, date,
    said, facts (what the doubt is about, in words that are the same wherever the orchard is kept).

    Parameters
    ----------
    records : with `season` in stages, picks and thinnings.
    traits : one row per tree (index: tree): usual_bloom [d], prior_days, prior_sd_days,
        window_days_high [d].
    """
    found = []
    for name, rule in RULES.items() if len(records.trees) else ():
        answer = rule(records, traits)
        if answer.empty:
            continue
        frame = getattr(records, str(answer["kind"].iloc[0]))
        own = frame.loc[answer["row"]]
        passes = own["pass_number"] if "pass_number" in own else [None] * len(own)
        facts = [
            f"{tree.casefold()}, {day:%Y-%m-%d}, {'' if pd.isna(number) else f'pass {number:g}, '}"
            f"{value:.10g}"
            for tree, day, number, value in zip(
                own["tree"], own["date"], passes, answer["value"], strict=True
            )
        ]
        known = {"rule": name, "tree": own["tree"].to_numpy(), "date": own["date"].to_numpy()}
        found.append(answer.assign(**known, facts=facts)[list(DOUBTS)])
    if not found:
        return pd.DataFrame(columns=list(DOUBTS))
    return pd.concat(found, ignore_index=True)


def _answer(
    kind: str, rows: pd.DataFrame, said: str, value: pd.Series, facts: Mapping[str, pd.Series]
) -> pd.DataFrame:
    """Rows in doubt, with what is said of each: the facts are put into the sentence."""
    own = {name: [_shown(v) for v in column.loc[rows.index]] for name, column in facts.items()}
    sentences = [
        said.format(**dict(zip(own, each, strict=True))) for each in zip(*own.values(), strict=True)
    ]
    values = value.loc[rows.index].to_numpy(dtype=float)
    return pd.DataFrame({"kind": kind, "row": rows.index, "said": sentences, "value": values})


def _shown(value: object) -> str:
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _before_bloom(
    records: Records, traits: pd.DataFrame, kind: str, rows: pd.DataFrame, what: str
) -> pd.DataFrame:
    """Rows too late for the bloom of their season and before the next."""
    bloom, since, usual = _between_blooms(records, traits, rows)
    early = (since > 0).to_numpy() & (rows["date"] <= bloom).to_numpy()
    said = what + " before the {usual}full bloom of {bloom}, {since} days after the one before"
    facts = {"bloom": bloom, "since": since, "usual": usual}
    value = rows["bbch" if kind == "stages" else "weight_kg"]
    return _answer(kind, rows[early], said, value, facts)


def _between_blooms(
    records: Records, traits: pd.DataFrame, rows: pd.DataFrame
) -> tuple[pd.Series, pd.Series, pd.Series]:
    """Of rows too late for the bloom of their season: the bloom of the season after.

    Its date (the usual one where none was logged, NaT where that is not known), the days since
    their own bloom (0 where they fit, or where the usual one, which may be weeks off, is more than
    a quarter year ahead), and `usual ` where the date is that.
    """
    stages = records.stages[records.stages["bbch"] == FULL_BLOOM]
    logged = stages.groupby(["tree", "season"])["date"].min()
    usual_day = rows["tree"].map(traits["usual_bloom"])
    own = _of_season(logged, rows["tree"], rows["season"])
    own = np.where(np.isnat(own), _usual_bloom(records, rows, usual_day.fillna(1), 0), own)
    since = (rows["date"].to_numpy() - own) / np.timedelta64(1, "D")
    latest = (
        rows["tree"].map(traits["prior_days"])
        + LATEST_SDS * rows["tree"].map(traits["prior_sd_days"])
        + rows["tree"].map(traits["window_days_high"])
    ).to_numpy(dtype=float)
    following = _of_season(logged, rows["tree"], rows["season"] + 1)
    usual = np.isnat(following)
    following = np.where(usual, _usual_bloom(records, rows, usual_day, 1), following)
    ahead = (following - rows["date"].to_numpy()) / np.timedelta64(1, "D")
    beyond = (since > latest) & (~usual | (ahead <= QUARTER_YEAR_DAYS))
    return (
        pd.Series(following, rows.index),
        pd.Series(np.where(beyond, since, 0), rows.index),
        pd.Series(np.where(usual, "usual ", ""), rows.index),
    )


def _usual_bloom(records: Records, rows: pd.DataFrame, day: pd.Series, later: int) -> np.ndarray:
    """When trees bloom as a rule, by the day of their season [1-based], some seasons later."""
    seasons = rows["season"].to_numpy(dtype=np.int64) + later
    start = season_starts(seasons, _latitude(records, rows))
    known = day.notna().to_numpy()
    days = np.round(day.fillna(1).to_numpy(dtype=float) - 1).astype("timedelta64[D]")
    return np.where(known, start + days, np.datetime64("NaT", "D")).astype("datetime64[s]")


def _of_season(dates: pd.Series, tree: pd.Series, season: pd.Series) -> np.ndarray:
    """A date by tree and season for each row, NaT where there is none."""
    if dates.empty:
        return np.full(len(tree), np.datetime64("NaT", "s"))
    wanted = pd.MultiIndex.from_arrays([tree, season])
    return dates.reindex(wanted).to_numpy().astype("datetime64[s]")


def _latitude(records: Records, rows: pd.DataFrame) -> np.ndarray:
    by_tree = records.trees.set_index("tree")["latitude"]
    return rows["tree"].map(by_tree).to_numpy(dtype=float)
