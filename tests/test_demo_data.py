"""The demo orchard's files: what its README promises, and that its script writes them again."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "data" / "demo"
KINDS = (
    "sites",
    "trees",
    "weather",
    "stages",
    "picks",
    "thinnings",
    "girths",
    "sprays",
    "events",
)
TRAITS = ["site", "species", "cultivar", "planted", "removed"]
AS_OF = pd.Timestamp("2026-08-12")
BAD_LINE = 1000
SOUTH = "Saltpan Reach"
NORTH = "Quernwell"


def table(kind: str) -> pd.DataFrame:
    frame = pd.read_csv(DEMO / f"{kind}.csv")
    for column in ("date", "planted", "removed"):
        if column in frame:
            frame[column] = pd.to_datetime(frame[column], format="%Y-%m-%d")
    return frame


@pytest.fixture(scope="module")
def trees() -> pd.DataFrame:
    return table("trees").set_index("tree")


@pytest.fixture(scope="module")
def species() -> pd.DataFrame:
    return pd.read_csv(ROOT / "data" / "reference" / "species.csv").set_index("species")


def logged(kind: str, trees: pd.DataFrame) -> pd.DataFrame:
    frame = table(kind).drop(columns="site", errors="ignore").join(trees[TRAITS], on="tree")
    if kind == "picks":
        frame = frame[frame["weight_kg"] >= 0]
    return frame


@pytest.fixture(scope="module")
def picks(trees: pd.DataFrame) -> pd.DataFrame:
    """Picks with the full bloom (logged) before them and the season of that bloom."""
    frame = logged("picks", trees).sort_values("date")
    bloom = logged("stages", trees).query("bbch == 65")[["tree", "date"]]
    bloom = bloom.assign(bloom=bloom["date"]).sort_values("date")
    frame = pd.merge_asof(frame, bloom, on="date", by="tree")
    frame["after"] = (frame["date"] - frame["bloom"]).dt.days
    frame["season"] = frame["bloom"].dt.year + (frame["site"] == SOUTH)
    return frame[(frame["after"] > 40) & (frame["after"] < 340)]


def test_running_the_script_again_writes_the_same_bytes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(DEMO / "make_demo.py"), str(tmp_path)], check=True)
    for name in [f"{kind}.csv" for kind in KINDS] + ["demo.json"]:
        assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes(), name


def test_the_script_takes_nothing_from_the_package() -> None:
    for source in DEMO.rglob("*.py"):
        text = source.read_text(encoding="utf-8")
        assert "import harvest" not in text, source.name
        assert "from harvest" not in text, source.name


def test_it_says_that_it_is_invented_and_when_it_is() -> None:
    about = json.loads((DEMO / "demo.json").read_text(encoding="utf-8"))
    assert about["as_of"] == AS_OF.date().isoformat()
    assert "invented" in about["name"]
    assert "invented" in (DEMO / "README.md").read_text(encoding="utf-8").splitlines()[0]


def test_the_orchard_has_the_promised_trees(trees: pd.DataFrame) -> None:
    assert len(trees) == 60
    assert trees["species"].nunique() == 14
    assert (trees.groupby("species")["cultivar"].nunique() >= 2).sum() >= 8
    assert set(trees["vigour"]) == {"dwarf", "semi-dwarf", "standard"}
    assert (trees["planted"].max() - trees["planted"].min()).days > 19 * 365
    assert trees["removed"].notna().sum() == 3
    latitude = table("sites").set_index("site")["latitude"]
    assert latitude[NORTH] > 45
    assert -42 < latitude[SOUTH] < -36


def test_a_dozen_trees_are_in_their_first_three_leaves(trees: pd.DataFrame) -> None:
    # Leaf 1 is the first spring after planting: same year up to June in the north, the season
    # that is named after the next year in the south.
    planted, south = trees["planted"].dt, trees["site"] == SOUTH
    first = planted.year + np.where(south, 1, planted.month > 6)
    leaf = np.where(south, 2027, 2026) - first + 1
    assert leaf.between(1, 3).sum() == 12
    assert set(trees.loc[leaf.between(1, 3), "site"]) == {NORTH, SOUTH}


def test_species_and_most_cultivars_are_in_the_reference_tables(
    trees: pd.DataFrame, species: pd.DataFrame
) -> None:
    known = pd.read_csv(ROOT / "data" / "reference" / "cultivars.csv")
    names = set(zip(known["species"], known["cultivar"], strict=True))
    assert set(trees["species"]) <= set(species.index)
    unknown = set(zip(trees["species"], trees["cultivar"], strict=True)) - names
    assert unknown == {("apple", "Quernwell Sheepnose"), ("feijoa", "Saltpan Hedge")}


@pytest.mark.parametrize("kind", ["stages", "picks", "thinnings", "girths", "sprays", "events"])
def test_every_record_lies_within_the_log_and_the_life_of_its_tree(
    kind: str, trees: pd.DataFrame
) -> None:
    frame = table(kind)
    assert frame["date"].between("2014-08-12", AS_OF).all()
    owned = frame[frame["tree"].notna()].join(trees[TRAITS[1:]], on="tree")
    assert owned["planted"].notna().all()
    assert (owned["date"] >= owned["planted"]).all()
    assert (owned["removed"].isna() | (owned["date"] <= owned["removed"])).all()
    if "site" in frame:
        assert (frame["tree"].notna() ^ frame["site"].notna()).all()


def test_weather_is_daily_with_the_stated_gaps_only() -> None:
    weather = table("weather")
    assert 8600 < len(weather) < 8900
    assert (weather["tmin_c"] < weather["tmax_c"]).all()
    assert (weather["precip_mm"].dropna() >= 0).all()
    for site, longest in ((NORTH, 9), (SOUTH, 1)):
        days = weather.loc[weather["site"] == site, "date"]
        steps = days.diff().dt.days.dropna()
        assert steps.max() == longest + 1
        assert (steps > 2).sum() == (longest > 1)
        assert days.min() == pd.Timestamp("2014-08-12")
        assert days.max() == AS_OF - pd.Timedelta(days=1)


def test_weather_is_plausible_for_the_latitude() -> None:
    weather = table("weather")
    weather["mean"] = (weather["tmin_c"] + weather["tmax_c"]) / 2
    month = weather.groupby(["site", weather["date"].dt.month])["mean"].mean()
    # common practice, no source: an inland site near 47 N, a mild coast near 38 S
    assert -2 < month[NORTH, 1] < 2.5
    assert 19 < month[NORTH, 7] < 23
    assert 17 < month[SOUTH, 1] < 20.5
    assert 8.5 < month[SOUTH, 7] < 11
    for _, daily in weather.groupby("site"):
        anomaly = daily["mean"] - daily.groupby(daily["date"].dt.month)["mean"].transform("mean")
        assert 0.5 < anomaly.autocorr(1) < 0.9
        yearly = daily.groupby(daily["date"].dt.year)["mean"].mean().loc[2015:2025]
        assert 0.25 < yearly.std() < 1.0
        swing = daily["tmax_c"] - daily["tmin_c"]
        wet = daily["precip_mm"] > 0
        assert swing[wet].mean() < 0.8 * swing[~wet].mean()


def test_the_killing_frost_takes_the_northern_crop(picks: pd.DataFrame) -> None:
    nights = table("weather").set_index(["site", "date"])["tmin_c"]
    # 90 % kill of pear in full bloom: -4.4 degC (WSU bulletins as printed by Penn State and MSU)
    assert nights[NORTH, pd.Timestamp("2021-04-20")] < -4.4
    north = picks[picks["site"] == NORTH]
    crop = north.pivot_table(values="weight_kg", index="tree", columns="season", aggfunc="sum")
    crop = crop.drop(index="Q1-06").fillna(0.0)  # the quince blooms later
    assert (crop[2021] < 0.3 * crop[[2019, 2020, 2022, 2023]].mean(axis=1)).mean() > 0.9
    events = table("events")
    assert (events.query("event == 'no crop'")["date"].dt.year == 2021).sum() >= 8
    assert {"frost", "hail", "drought", "no crop"} <= set(events["event"])


def test_the_biennial_apple_alternates(picks: pd.DataFrame) -> None:
    own = picks[picks["tree"] == "Q1-01"].groupby("season")["weight_kg"].sum()
    # Index of Hoblyn et al. (1936): mean of |difference| over sum of successive crops.
    index = (own.diff().abs() / (own + own.shift())).mean()
    assert index > 0.5
    even = picks[picks["tree"] == "S3-02"].groupby("season")["weight_kg"].sum().loc[2017:]
    assert (even.diff().abs() / (even + even.shift())).mean() < 0.3


def test_stripped_seasons_have_no_picks(trees: pd.DataFrame, picks: pd.DataFrame) -> None:
    thinnings = logged("thinnings", trees)
    assert set(thinnings["action"]) == {"strip", "thin"}
    stripped = thinnings[thinnings["action"] == "strip"]
    season = stripped["date"].dt.year + (stripped["site"] == SOUTH)
    pairs = set(zip(stripped["tree"], season, strict=True))
    assert len(pairs) > 20
    assert not pairs & set(zip(picks["tree"], picks["season"], strict=True))
    assert stripped.groupby("tree").size().max() >= 3


def test_one_pick_and_only_one_must_be_refused() -> None:
    lines = (DEMO / "picks.csv").read_text(encoding="utf-8").splitlines()
    header = lines[0].split(",")
    weights = [float(line.split(",")[header.index("weight_kg")]) for line in lines[1:]]
    assert [number for number, w in enumerate(weights, start=2) if w <= 0] == [BAD_LINE]
    assert f"line {BAD_LINE}" in (DEMO / "README.md").read_text(encoding="utf-8")


def test_days_from_bloom_lie_in_the_species_range(
    picks: pd.DataFrame, species: pd.DataFrame
) -> None:
    first = picks.groupby(["tree", "season"]).agg(
        after=("after", "min"), species=("species", "first")
    )
    first = first.join(species[["days_from_bloom_low", "days_from_bloom_high"]], on="species")
    inside = first["after"].between(
        first["days_from_bloom_low"] - 7, first["days_from_bloom_high"] + 14
    )
    assert inside.mean() > 0.97


def test_fruit_weights_lie_in_the_species_range(picks: pd.DataFrame, species: pd.DataFrame) -> None:
    counted = picks.dropna(subset="fruit_count").query("fruit_count >= 20")
    grams = 1000 * counted["weight_kg"] / counted["fruit_count"]
    limits = species.loc[counted["species"]]
    low, high = limits["fruit_weight_g_low"].to_numpy(), limits["fruit_weight_g_high"].to_numpy()
    assert ((grams > 0.9 * low) & (grams < 1.1 * high)).all()
    assert (picks["graded_out_kg"].fillna(0) <= picks["weight_kg"]).all()


def test_crops_stay_below_what_the_species_can_bear(
    picks: pd.DataFrame, trees: pd.DataFrame, species: pd.DataFrame
) -> None:
    crops = picks.groupby(["tree", "season"])["weight_kg"].sum().reset_index("season")
    crops = crops.join(trees[["species", "vigour"]])
    names = "yield_kg_" + crops["vigour"].str.replace("-", "_") + "_high"
    most = [species.loc[s, n] for s, n in zip(crops["species"], names, strict=True)]
    assert (crops["weight_kg"] < 1.1 * np.array(most, dtype=float)).all()


def test_picking_passes_are_numbered_and_end_once(picks: pd.DataFrame) -> None:
    for _, crop in picks.groupby(["tree", "season"]):
        assert crop["date"].is_monotonic_increasing
        assert crop["pass"].tolist() == list(range(1, len(crop) + 1))
        assert len(crop) <= 5
        assert not (crop["last"].iloc[:-1] == "yes").any()
    weekend = picks["date"].dt.day_name().isin(["Saturday", "Sunday"])
    assert 0.75 < weekend.mean() < 0.98


def test_picks_cross_the_calendar(picks: pd.DataFrame) -> None:
    months = {
        tree: set(picks.loc[picks["tree"] == tree, "date"].dt.month)
        for tree in ("Q3-04", "S2-01", "S1-01", "S1-03")
    }
    assert 11 in months["Q3-04"]
    assert months["S2-01"] <= {1, 2}
    peach = picks[picks["tree"] == "S2-01"]
    assert set(peach["bloom"].dt.month) <= {8, 9}
    for tree in ("S1-01", "S1-03"):
        assert {6, 7} <= months[tree]


def test_the_as_of_date_finds_work_to_do(trees: pd.DataFrame, picks: pd.DataFrame) -> None:
    season = picks[(picks["site"] == NORTH) & (picks["season"] == 2026)]
    latest = season.sort_values("date").groupby("tree").tail(1).set_index("tree")
    assert (latest["last"] == "yes").sum() >= 4
    assert (latest["last"] == "no").sum() >= 1
    blooming = table("stages").query("bbch == 65 and date > '2026-04-01'")["tree"]
    waiting = set(blooming) - set(season["tree"])
    assert len(waiting) >= 12
    sprays = table("sprays")
    end = sprays["date"] + pd.to_timedelta(sprays["withholding_days"], unit="D")
    assert set(sprays.loc[end > AS_OF, "tree"]) & waiting
    assert sprays["withholding_days"].isna().sum() > 3
    young = table("stages").query("date > '2026-07-25'")["tree"].unique()
    assert (trees.loc[young, "planted"] > "2024-06-30").any()


def test_no_logged_pick_falls_within_a_known_waiting_period(
    trees: pd.DataFrame, picks: pd.DataFrame
) -> None:
    for row in table("sprays").dropna(subset="withholding_days").itertuples():
        theirs = (
            picks["tree"] == row.tree if isinstance(row.tree, str) else picks["site"] == row.site
        )
        days = (picks.loc[theirs, "date"] - row.date).dt.days
        assert not days.between(0, row.withholding_days - 1).any(), row


def test_some_seasons_went_unrecorded(trees: pd.DataFrame) -> None:
    stages, picked = logged("stages", trees), logged("picks", trees)
    south = stages[stages["tree"].str.startswith("S3-")]
    assert south["date"].between("2020-07-01", "2021-06-30").sum() == 0
    north = pd.concat([stages, picked]).query("tree.str.startswith('Q1-')")
    assert (north["date"].dt.year == 2016).sum() == 0


def test_girths_grow(trees: pd.DataFrame) -> None:
    girths = table("girths").sort_values("date")
    assert set(girths["tree"]) == set(trees.index)
    assert (girths.groupby("tree")["girth_cm"].diff().dropna() > 0).all()
    assert girths["girth_cm"].between(3, 130).all()


def test_the_files_stay_small() -> None:
    assert sum(path.stat().st_size for path in DEMO.glob("*.csv")) < 1_500_000
    assert date.fromisoformat(json.loads((DEMO / "demo.json").read_text())["as_of"]).year == 2026
