"""What the pages may know of an orchard, kept by as-of date.

Records are read once for as long as the database does not change, and results are kept per as-of
date, so that the parts of one page, and the next page, share one computation.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from datetime import date
from typing import Protocol, TypeVar

from dashboard.address import View, view_of, view_of_search
from dashboard.background import Background, Job
from dashboard.data import (
    About,
    Backtest,
    BloomFrost,
    ClimateFit,
    CropAdvice,
    CropsAhead,
    Doubt,
    EventForecast,
    EventName,
    ForecastPicked,
    GapWeek,
    GroupSeason,
    Known,
    LastSprayDay,
    LatestTables,
    Orchard,
    OrchardYear,
    Overrule,
    Overview,
    PastForecast,
    Place,
    Pollination,
    Records,
    SeasonReasons,
    SeasonsCompared,
    SeasonYield,
    SiteSeason,
    StripPaid,
    ThinningPlan,
    WeekTask,
    WinterChill,
    Withholding,
    YieldPictures,
    block_names,
    is_southern,
    known_on,
    open_doubts_of,
    service,
    service_calendar,
    service_care,
    service_climate,
    service_yields,
    site_season,
    weather_status,
)
from dashboard.kept import Kept
from dashboard.words import first_weekday

KEPT = 64
DAYS_KEPT = 4  # whole records are large: of few days only
Result = TypeVar("Result")
Trees = frozenset[str] | None  # names of the trees that count, None for all
Told = Callable[[str], str]
Made = TypeVar("Made", covariant=True)


class FromKnown(Protocol[Made]):
    """A use case that can start from what is known on a day."""

    def __call__(self, orchard: Orchard, as_of: date, *, known: Known | None) -> Made:
        """Its result."""


class Source:
    """An orchard's results by as-of date, each computed once until the orchard changes.

    Parameters
    ----------
    orchard : the open orchard.
    today : gives the present date; asked anew for every view.
    as_of : date to show when an address names none; without it the demo's own date, or today.
    """

    def __init__(
        self, orchard: Orchard, today: Callable[[], date], as_of: date | None = None
    ) -> None:
        self._orchard = orchard
        self._today = today
        self._as_of = as_of
        self._kept = Kept(KEPT)
        self._days = Kept(DAYS_KEPT)
        self._background = Background()
        self._latest = LatestTables(orchard)

    @property
    def orchard(self) -> Orchard:
        """The orchard itself, for what changes it."""
        return self._orchard

    def home_date(self) -> date:
        """The as-of date when none is asked for."""
        if self._as_of is not None:
            return self._as_of
        return self._about().demo_as_of or self._today()

    def latest_date(self) -> date:
        """The last day that can be asked for."""
        return max(self._today(), self.home_date())

    def view(self, asked: str | Mapping[str, object] | None) -> View:
        """The view that an address's query asks for, as text or read; a block's trees looked up."""
        latest = self.latest_date()
        if isinstance(asked, Mapping):
            found = view_of(asked, latest)
        else:
            found = view_of_search(asked, latest)
        if found.block is None:
            return found
        trees = self.overview(found.as_of or self.home_date()).trees
        names = trees.loc[block_names(trees) == found.block, "tree"]
        return replace(found, trees=frozenset(names))

    def overview(self, as_of: date) -> Overview:
        """Name, sites, trees and seasons of the orchard."""
        return self._marked(service.overview, as_of)

    def records(self, as_of: date) -> Records:
        """All records known on the day."""
        return self.known(as_of).records

    def forecast(self, as_of: date) -> list[EventForecast]:
        """Events of the running season of every tree."""
        return self._chosen(service.forecast, as_of, first_weekday())

    def past_forecasts(self, as_of: date) -> list[PastForecast]:
        """Past seasons' ripe dates beside what would have been forecast."""
        return self._shared(service.past_forecasts, as_of)

    def yields(self, as_of: date) -> list[SeasonYield]:
        """Every tree's crop in every season."""
        return self._shared(service.yields, as_of)

    def crop_load(self, as_of: date) -> list[CropAdvice]:
        """Strip, limit or carry for every standing tree."""
        return self._shared(service.crop_load, as_of)

    def withholding(self, as_of: date) -> list[Withholding]:
        """May each standing tree be picked, by the labels as logged."""
        return self._shared(service_care.withholding, as_of)

    def calendar(self, as_of: date) -> OrchardYear:
        """Everything the running and the next season ask for, as people marked it."""
        return self._marked(service_calendar.calendar, as_of)

    def calendar_file(
        self, as_of: date, site: str | None, tree: str | None = None, told: Told = str
    ) -> bytes:
        """The calendar's items, of a site or a tree where one is named, as an iCalendar file."""
        return service_calendar.calendar_file(
            self._orchard, as_of, site=site, tree=tree, known=self.known(as_of), told=told
        )

    def switched_off(self, as_of: date) -> list[str]:
        """What is switched off in the calendar."""
        return self._once(service_calendar.switched_off, as_of)

    def spray_by(self, as_of: date, product: str, label_days: int) -> list[LastSprayDay]:
        """Last day for a product on each tree, by the days typed from its label."""
        return self._chosen(service_care.spray_by, as_of, product, label_days)

    def pollination(self, as_of: date) -> list[Pollination]:
        """Whether each tree has a partner in bloom with it, and what bees find."""
        return self._shared(service_care.pollination, as_of)

    def bloom_frost(self, as_of: date) -> list[BloomFrost]:
        """What frost does to the flowers of each species at each site."""
        return self._shared(service_care.bloom_frost, as_of)

    def week(self, as_of: date) -> list[WeekTask]:
        """What the week from the day on asks for, what cannot wait first."""
        return self._marked(service_calendar.week, as_of)

    def yields_by(self, as_of: date, by: str, of: Trees = None) -> list[GroupSeason]:
        """Seasons of trees, cultivars, sites and so on beside what was to be expected of them."""
        return self._chosen(service_yields.yields_by, as_of, by, of)

    def compare_seasons(
        self, as_of: date, seasons: tuple[int, int], by: str, of: Trees = None
    ) -> list[SeasonsCompared]:
        """Two seasons side by side."""
        return self._chosen(service_yields.compare_seasons, as_of, seasons, by, of)

    def season_reasons(self, as_of: date) -> list[SeasonReasons]:
        """What may lie behind each tree's good and poor seasons."""
        return self._shared(service_yields.reasons, as_of)

    def yield_pictures(self, as_of: date, of: Trees = None) -> YieldPictures:
        """Running totals by rootstock, and yield against trunk cross-section."""
        return self._chosen(service_yields.yield_pictures, as_of, of)

    def crops_foreseen(self, as_of: date, seasons: tuple[int, ...]) -> list[ForecastPicked]:
        """Past seasons' crops beside what would have been foreseen."""
        return self._chosen(service_yields.forecasts_and_picked, as_of, seasons)

    def crops_ahead(self, as_of: date, of: Trees = None) -> CropsAhead:
        """The crops still to come, by tree and by week."""
        return self._chosen(service_yields.crops_ahead, as_of, of, first_weekday())

    def thinning(self, as_of: date) -> list[ThinningPlan]:
        """How to thin each tree that keeps a crop."""
        return self._shared(service_yields.thinning, as_of)

    def stripping_paid(self, as_of: date) -> list[StripPaid]:
        """Whether stripping young trees paid."""
        return self._shared(service_yields.stripping_paid, as_of)

    def overrules(self, as_of: date) -> list[Overrule]:
        """Advice that was overruled, and what came of it."""
        return self._shared(service_yields.overrules_on_record, as_of)

    def site_season(self, as_of: date, kind: tuple[str, str, str]) -> SiteSeason:
        """A site's season so far, as it bears on a cultivar; `kind` is site, species, cultivar."""
        statuses = {each.site: each for each in self._once(weather_status, as_of)}
        status, known = statuses.get(kind[0]), self.known
        key = (site_season, as_of, kind, self._orchard.stamp())
        return self._kept.get(
            key,
            lambda: site_season(self._orchard, as_of, kind, status=status, known=known(as_of)),
        )

    def climate_fit(
        self, as_of: date, place: Place, species: str, cultivar: str | None
    ) -> list[ClimateFit]:
        """How a cultivar, or all of a species, would fare at a place, the surest first."""
        return self._chosen(service_climate.climate_fit, as_of, place, species, cultivar)

    def winter_chill(self, as_of: date, place: Place) -> list[WinterChill]:
        """Each winter's chill at a place, as the years were and in warmer ones."""
        return self._chosen(service_climate.winter_chill, as_of, place)

    def fill_gaps(self, as_of: date, site: str) -> list[GapWeek]:
        """Weeks without fruit at a site, and what would fill them."""
        return self._chosen(service_climate.fill_gaps, as_of, site)

    def southern(self, as_of: date, place: Place) -> bool:
        """Whether a place lies south of the equator."""
        latitude = place.latitude
        if latitude is None:
            sites = self.records(as_of).sites.set_index("site")["latitude"]
            latitude = float(sites[place.site])
        return is_southern(latitude)

    def backtest(self, event: EventName, lead: str) -> Job[Backtest]:
        """Past forecasts of an event at a lead beside what came, worked out in the background.

        `lead` as `harvest.service.parse_lead` reads it.
        """
        day = self.latest_date()
        key = (day, self._latest.stamp.now())
        leads = (service.parse_lead(lead),)

        def work(told: Callable[[int, int], None]) -> Backtest:
            known = self.known(day)
            return service.backtest(self._orchard, day, event, leads, told, known=known)

        return self._background.job((event, lead), key, work)

    def doubts(self, as_of: date) -> list[Doubt]:
        """Records that look wrong though they can be right, and that nobody has let stand."""
        return self._once(open_doubts_of, as_of)

    def prepare(self) -> None:
        """Work out what the first pages show, so that the first visitor need not wait."""
        day = self.home_date()
        for result in (self.overview, self.forecast, self.week, self.withholding, self.yields):
            result(day)

    def known(self, as_of: date) -> Known:
        """What is known on a day, and all that was worked out from it."""
        key = as_of, self._latest.stamp.now()
        return self._days.get(key, lambda: known_on(self._orchard, as_of, self._latest.read()))

    def _about(self) -> About:
        return self._kept.get(self._orchard.stamp(), lambda: service.about(self._orchard))

    def _shared(self, use_case: FromKnown[Result], as_of: date) -> Result:
        """A use case's result, from what is known on the day, which all of them share."""
        key = (use_case, as_of, self._latest.stamp.now())
        return self._kept.get(key, lambda: use_case(self._orchard, as_of, known=self.known(as_of)))

    def _marked(self, use_case: FromKnown[Result], as_of: date) -> Result:
        """As `_shared`, for a use case that also reads marks or settings."""
        key = (use_case, as_of, self._orchard.stamp())
        return self._kept.get(key, lambda: use_case(self._orchard, as_of, known=self.known(as_of)))

    def _chosen(self, use_case: Callable[..., Result], as_of: date, *given: Hashable) -> Result:
        """As `_shared`, for a use case that is told more than the day."""
        key = (use_case, as_of, given, self._latest.stamp.now())
        known = self.known
        return self._kept.get(
            key, lambda: use_case(self._orchard, as_of, *given, known=known(as_of))
        )

    def _once(self, use_case: Callable[[Orchard, date], Result], as_of: date) -> Result:
        """The result of a use case that reads for itself."""
        key = (use_case, as_of, self._orchard.stamp())
        return self._kept.get(key, lambda: use_case(self._orchard, as_of))
