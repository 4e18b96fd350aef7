from __future__ import annotations

from datetime import date, timedelta

from dashboard.figures.season_bands import BLOOM_DAYS, bloom_span, growth_span, season_figure
from dashboard.views.windows import HIGH, LOW, Window, windows
from tests.dashboard.made_up import AS_OF, HOSTILE, LATITUDES, event, range_round

BLOOM = date(2026, 4, 25)


def rows_of(*events: object, picks: tuple[tuple[str, int, date], ...] = ()) -> list[Window]:
    return windows(events, picks, LATITUDES, AS_OF)  # type: ignore[arg-type]


def test_a_logged_bloom_begins_the_band_and_fruit_grows_to_the_first_ripe_day() -> None:
    ripe = event("A1", day=date(2026, 8, 26))
    (row,) = rows_of(event("A1", "full bloom", "observed", day=BLOOM), ripe)
    assert row.blooms == (BLOOM,)
    assert bloom_span(row) == (BLOOM - BLOOM_DAYS, BLOOM + BLOOM_DAYS)
    assert growth_span(row) == (BLOOM + BLOOM_DAYS, row.quantiles[LOW])


def test_a_bloom_to_come_is_drawn_as_its_range() -> None:
    middle = date(2026, 9, 5)
    bloom = event("S1", "full bloom", site="Southfield", season=2027, day=middle)
    ripe = event("S1", site="Southfield", season=2027, day=date(2027, 1, 20))
    (row,) = rows_of(bloom, ripe)
    told = range_round(middle)
    assert row.blooms == ()
    assert bloom_span(row) == row.bloom_range == (told[LOW], told[HIGH])


def test_what_was_picked_lies_on_top_and_fruit_grew_until_it_was_ripe() -> None:
    ripe_on = date(2026, 8, 1)
    events = (
        event("A1", "full bloom", "observed", day=BLOOM),
        event("A1", status="observed", day=ripe_on),
    )
    picks = (("A1", 2026, ripe_on), ("A1", 2026, ripe_on + timedelta(days=6)))
    (row,) = rows_of(*events, picks=picks)
    assert growth_span(row) == (BLOOM + BLOOM_DAYS, ripe_on)
    drawn = {trace.name: trace for trace in season_figure([row], AS_OF).data}
    assert len(drawn["pick"].x) == 2
    assert len(drawn["ripe"].x) == 1


def test_a_tree_without_bloom_has_only_its_picking_days() -> None:
    (row,) = rows_of(event("A1"))
    assert bloom_span(row) is None
    assert growth_span(row) is None
    drawn = {trace.name: trace for trace in season_figure([row], AS_OF).data}
    assert len(drawn["80 %"].base) == 1
    assert list(drawn["growth"].x or ()) == []


def test_a_thousand_trees_are_drawn_as_their_cultivars_and_names_do_no_harm() -> None:
    events = [
        event(f"T{n}", cultivar=f"{HOSTILE[n % 3]} {n % 40}", day=AS_OF + timedelta(days=n % 60))
        for n in range(1000)
    ]
    rows = rows_of(*events)
    assert len(rows) == 120
    figure = season_figure(rows, AS_OF)
    assert figure.layout.height < 4000
    assert not any("<script" in name for name in figure.layout.yaxis.ticktext)
