"""Seasons of other orchards: written, taken in, leaned on, and taken away again."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest import service
from harvest.errors import FileFormatError, InputError, UnknownNameError
from harvest.phenology.experience import cultivar_intervals
from harvest.service_experience import (
    drop_experience,
    give_experience,
    list_experience,
    take_experience,
)
from harvest.service_records import Signature, undo_batch
from harvest.store.orchard import Orchard
from harvest.store.priors import Elsewhere, Evidence, with_elsewhere
from tests.orchards import put

ADA = Signature("Ada", None)
TODAY, LATEST = date(2026, 11, 26), date(2027, 6, 1)
HEADER = (
    "orchard,species,cultivar,latitude,seasons,trees,days_mean,days_sd,first_season,last_season\n"
)
GALA = "Far Field,apple,Gala,47,20,6,150,4,2001,2024\n"


def planted(orchard: Orchard, folder: Path) -> Orchard:
    """Two apples in bloom: one cultivar that the tables know, one that nobody knows."""
    tree = {"site": "Yard", "species": "apple", "planted": "2015-11-01"}
    rows = {
        "sites": [{"site": "Yard", "latitude": 47.5, "longitude": 8}],
        "trees": [
            {**tree, "tree": "G1", "cultivar": "Gala"},
            {**tree, "tree": "Z1", "cultivar": "Unheard Of"},
        ],
        "stages": [{"tree": tree, "date": "2027-04-25", "bbch": 65} for tree in ("G1", "Z1")],
    }
    for kind, each in rows.items():
        assert put(orchard, kind, each, folder, today=LATEST).new == len(each)
    return orchard


def written(folder: Path, *lines: str) -> Path:
    path = folder / "others.csv"
    path.write_text(HEADER + "".join(lines), encoding="utf-8")
    return path


def width_and_middle(orchard: Orchard, tree: str) -> tuple[int, int]:
    """Days of the 8-in-10 span, and from bloom to the even chance."""
    told = next(e for e in service.forecast(orchard, date(2027, 5, 10))
                if e.tree == tree and e.event == "ripe")  # fmt: skip
    span = told.quantiles[0.9] - told.quantiles[0.1]
    return span.days, (told.quantiles[0.5] - date(2027, 4, 25)).days


def test_a_normal_mean_with_known_variance_is_as_the_textbook_has_it() -> None:
    """Gelman et al. 2013, Bayesian Data Analysis, eq. 2.12: precisions add (from memory)."""
    known = Evidence(100.0, 8.0, "a list")
    found = with_elsewhere(known, [Elsewhere(112.0, 6.0, 9)])
    place = 0.07 * 100
    own = place**2 + 6.0**2 / 9
    precision = 1 / 8.0**2 + 1 / own
    assert found.sd == pytest.approx(precision**-0.5)
    assert found.mean == pytest.approx((100 / 8.0**2 + 112 / own) / precision)
    assert with_elsewhere(known, []) == known


def test_forecasts_lean_on_other_orchards_and_say_so(orchard: Orchard, tmp_path: Path) -> None:
    planted(orchard, tmp_path)
    before = {tree: width_and_middle(orchard, tree) for tree in ("G1", "Z1")}
    unheard = "Far Field,apple,unheard of,47,12,3,150,4,2001,2024\n"
    done = take_experience(orchard, written(tmp_path, GALA, unheard), today=TODAY, signed=ADA)
    assert (done.new, done.refused) == (2, ())
    for tree in ("G1", "Z1"):
        width, middle = width_and_middle(orchard, tree)
        assert width <= before[tree][0]
        assert abs(middle - 150) < abs(before[tree][1] - 150)
    told = next(e for e in service.forecast(orchard, date(2027, 5, 10)) if e.tree == "Z1"
                and e.event == "ripe")  # fmt: skip
    assert told.basis.prior == "cultivar"
    assert any("12 seasons of other orchards" in said for said in told.warnings)


def test_a_day_before_it_was_taken_in_does_not_know_it(orchard: Orchard, tmp_path: Path) -> None:
    planted(orchard, tmp_path)
    before = width_and_middle(orchard, "G1")
    later = date(2027, 5, 11)
    take_experience(orchard, written(tmp_path, GALA), today=later, signed=ADA)
    assert width_and_middle(orchard, "G1") == before


def test_the_same_file_again_changes_nothing_and_undo_takes_it_back(
    orchard: Orchard, tmp_path: Path
) -> None:
    path = written(tmp_path, GALA)
    assert take_experience(orchard, path, today=TODAY, signed=ADA, dry_run=True).new == 1
    assert list_experience(orchard) == []
    take_experience(orchard, path, today=TODAY, signed=ADA)
    again = take_experience(orchard, path, today=TODAY, signed=ADA)
    assert (again.new, again.same, again.changed, again.number) == (0, 1, 0, None)
    changed = written(tmp_path, GALA.replace("150", "149"))
    assert take_experience(orchard, changed, today=TODAY, signed=ADA).changed == 1
    assert [row.days_mean for row in list_experience(orchard)] == [149.0]
    undo_batch(orchard, None, ADA)
    assert [row.days_mean for row in list_experience(orchard)] == [150.0]
    assert drop_experience(orchard, "far field", signed=ADA) == 1
    assert list_experience(orchard) == []
    undo_batch(orchard, None, ADA)
    assert len(list_experience(orchard)) == 1
    with pytest.raises(UnknownNameError, match="Far Field"):
        drop_experience(orchard, "Far Feld", signed=ADA)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (GALA.replace("apple", "aple"), "Did you mean 'apple'"),
        (GALA.replace(",20,", ",40,"), "40 seasons from 2001 to 2024"),
        (GALA.replace("150", "a lot"), "days_mean is a number from 20 to 500"),
        (GALA.replace(",47,", ",147,"), "latitude is a number from -90 to 90"),
        (GALA.replace("Gala", ""), "cultivar is needed"),
    ],
)
def test_a_bad_line_is_refused_with_its_reason_and_the_good_ones_go_in(
    orchard: Orchard, tmp_path: Path, line: str, why: str
) -> None:
    path = written(tmp_path, line, GALA.replace("Gala", "Elstar"))
    done = take_experience(orchard, path, today=TODAY, signed=ADA)
    assert done.new == 1
    assert [each.line for each in done.refused] == [2]
    assert why in done.refused[0].why


def test_a_file_without_the_columns_is_refused(orchard: Orchard, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("species,cultivar\napple,Gala\n", encoding="utf-8")
    with pytest.raises(FileFormatError, match="without orchard"):
        take_experience(orchard, path, today=TODAY, signed=ADA)


def test_what_one_orchard_gives_another_takes(
    demo_template: Path, orchard: Orchard, tmp_path: Path
) -> None:
    demo = service.open_orchard(str(demo_template))
    path = tmp_path / "given.csv"
    count = give_experience(demo, date(2026, 8, 12), "Half-Year", path)
    assert count > 30
    text = path.read_text(encoding="utf-8")
    trees = service.overview(demo, date(2026, 8, 12)).trees["tree"]
    assert not any(tree in text for tree in trees)
    done = take_experience(orchard, path, today=TODAY, signed=ADA)
    assert (done.new, done.refused) == (count, ())
    with pytest.raises(InputError, match="new file"):
        give_experience(demo, date(2026, 8, 12), "Half-Year", path)
    with pytest.raises(InputError, match="past season"):
        give_experience(orchard, TODAY, "Empty", tmp_path / "none.csv")


def test_a_season_counts_once_however_many_trees() -> None:
    past = pd.DataFrame(
        {"species": "apple", "cultivar_key": "apple|gala", "cultivar": "Gala", "latitude": 47.4,
         "tree": ["a", "b", "a"], "season": [2020, 2020, 2021],
         "interval": [140.0, 150.0, 131.0]}
    )  # fmt: skip
    row = cultivar_intervals(past).iloc[0]
    assert (row["seasons"], row["trees"], row["latitude"]) == (2, 2, 47.0)
    assert row["days_mean"] == pytest.approx(np.mean([145.0, 131.0]))
    assert row["days_sd"] == pytest.approx(np.std([145.0, 131.0], ddof=1), abs=0.01)
