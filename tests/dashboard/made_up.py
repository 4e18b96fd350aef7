"""Results made by hand for the tests of the pages. Every tree, date and weight is invented."""

from __future__ import annotations

from datetime import date, timedelta

from dashboard.data import (
    Basis,
    Crop,
    CropAdvice,
    EventForecast,
    PastForecast,
    SeasonYield,
    WeekShare,
    Withholding,
)
from harvest.care.applications import Application
from harvest.care.withholding import PickedInside

AS_OF = date(2026, 8, 12)
LATITUDES = {"Northfield": 47.0, "Southfield": -38.0}
LEVELS = {0.05: -9, 0.1: -7, 0.25: -3, 0.5: 0, 0.75: 3, 0.9: 7, 0.95: 9}
BASIS = Basis("heat", 6, 2, "own record", date(2026, 8, 11), 0)
HOSTILE = (
    "<script>document.title='owned'</script>",
    "<b onmouseover=alert(1)>bold</b>",
    "x" * 10_000,
    "🍎🍐 emoji",
    "תפוח עץ",
    "left\u202egnp.exe",
    "line\nbreak\ttab\x07bell",
    "{% raw %} {{ 7*7 }} %s {name}",
)


def range_round(middle: date) -> dict[float, date]:
    """Quantiles about a middle date."""
    return {level: middle + timedelta(days=by) for level, by in LEVELS.items()}


def event(
    tree: str = "A1",
    event: str = "ripe",
    status: str = "forecast",
    *,
    cultivar: str = "Testapple",
    site: str = "Northfield",
    season: int = 2026,
    day: date = date(2026, 8, 26),
    weeks: tuple[tuple[date, float], ...] = (),
    warnings: tuple[str, ...] = (),
) -> EventForecast:
    """One event, a forecast about `day` or logged on it."""
    return EventForecast(
        tree=tree,
        site=site,
        species="apple",
        cultivar=cultivar,
        season=season,
        event=event,  # type: ignore[arg-type]
        status=status,  # type: ignore[arg-type]
        observed=day if status == "observed" else None,
        quantiles=range_round(day) if status == "forecast" else {},
        weeks=tuple(WeekShare(*week) for week in weeks),
        basis=BASIS,
        warnings=warnings,
    )


def past(logged_later: int, season: int = 2024, tree: str = "A1", **names: str) -> PastForecast:
    """A past forecast, and a ripe date so many days after its middle."""
    middle = date(season, 8, 20)
    return PastForecast(
        tree=tree,
        site=names.get("site", "Northfield"),
        species="apple",
        cultivar=names.get("cultivar", "Testapple"),
        season=season,
        as_of=date(season, 5, 25),
        quantiles=range_round(middle),
        observed=middle + timedelta(days=logged_later),
    )


def crop(
    season: int,
    crop: Crop = "picked",
    weight_kg: float | None = None,
    *,
    tree: str = "A1",
    against: float | None = None,
    complete: bool = True,
    cultivar: str = "Testapple",
) -> SeasonYield:
    """A tree's season."""
    return SeasonYield(
        tree=tree,
        site="Northfield",
        species="apple",
        cultivar=cultivar,
        season=season,
        crop=crop,
        weight_kg=weight_kg,
        fruit_count=None,
        graded_out_kg=None,
        passes=1,
        first_pick=None,
        last_pick=None,
        kg_per_cm2=None,
        against_own_mean=against,
        complete=complete,
    )


def advice(
    tree: str,
    advice: str = "strip",
    leaf: int = 2,
    *,
    act_by: date | None = None,
    fruit_limit: int | None = None,
    cultivar: str = "Testapple",
) -> CropAdvice:
    """Advice for a tree."""
    return CropAdvice(
        tree=tree,
        site="Northfield",
        species="apple",
        cultivar=cultivar,
        season=2026,
        leaf=leaf,
        tcsa_cm2=3.14,
        advice=advice,  # type: ignore[arg-type]
        fruit_limit=fruit_limit,
        act_by=act_by,
        reasons=("Invented reason.",),
        sources=("Invented source.",),
    )


def withheld(
    tree: str = "A1",
    status: str = "wait",
    *used: Application,
    clash: bool = True,
    picked: tuple[PickedInside, ...] = (),
    says: tuple[str, ...] = ("Invented reason.",),
) -> Withholding:
    """Whether a tree may be picked, by what was used on it."""
    known = [each.earliest_pick for each in used if each.earliest_pick]
    earliest = max(known, default=None)
    return Withholding(
        tree=tree,
        status=status,  # type: ignore[arg-type]
        earliest_pick=None if status == "unknown" else earliest,
        because=used,
        clashes_with_forecast=clash,
        site="Northfield",
        species="apple",
        cultivar="Testapple",
        not_before=earliest if status == "unknown" else None,
        chance_ripe_before=0.4 if clash else None,
        ripe_from=None,
        ripe_to=None,
        picked_inside=picked,
        says=(*(pick.says for pick in picked), *says),
    )
