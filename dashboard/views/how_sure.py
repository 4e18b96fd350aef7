"""What past forecasts were worth at one lead, and how much of that can be concluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from dashboard.address import View
from dashboard.background import Job
from dashboard.data import Backtest, Case, EventName, LeadScores, compatible_hits
from dashboard.words import redated

Sure = Literal["right", "few", "narrow", "wide"]
# Below so many seasons little can be concluded.
FEW_SEASONS = 20
RIPE_LEADS = ("0", "15", "30", "45", "60")
BLOOM_LEADS = ("02-01", "03-01", "03-15")
USUAL_LEAD = "30"


@dataclass(frozen=True)
class Share:
    """Hits of n, as a share, beside the one that is right and the shares that chance allows."""

    nominal: float
    hits: int
    n: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share of hits."""
        return self.hits / self.n


def lead_of(view: View) -> str:
    """The lead that an address asks for."""
    asked = view.choice("lead") or USUAL_LEAD
    return asked if asked in (*RIPE_LEADS, *BLOOM_LEADS) else USUAL_LEAD


def event_of(lead: str) -> EventName:
    """Leads that are days of the year are those of bloom."""
    return "full bloom" if lead in BLOOM_LEADS else "ripe"


@dataclass(frozen=True)
class Known:
    """What is known of past forecasts so far: those of the leads whose work has ended."""

    backtest: Backtest | None
    """None while the lead that was asked for has none."""
    ended: int
    """Leads whose work has ended."""
    leads: int
    renewing: bool
    error: Exception | None
    share: float
    """Of the work on the lead that was asked for [1]."""

    @property
    def running(self) -> bool:
        """Whether there is more to come."""
        return self.ended < self.leads


def leads_of(lead: str) -> list[str]:
    """The leads of the same event, this one first."""
    every = RIPE_LEADS if lead in RIPE_LEADS else BLOOM_LEADS
    return [lead, *(each for each in every if each != lead)]


def known_of(lead: str, jobs: Mapping[str, Job[Backtest]]) -> Known:
    """What the jobs of some leads have found, put together in the order of the leads."""
    asked = jobs[lead]
    first = asked.result or asked.earlier
    cases: list[Case] = []
    for each in sorted(jobs, key=lambda name: (len(name), name)):
        found = jobs[each].result or jobs[each].earlier
        cases += found.cases if found is not None else ()
    return Known(
        backtest=None if first is None else Backtest(first.event, (), tuple(cases)),
        ended=sum(not job.running for job in jobs.values()),
        leads=len(jobs),
        renewing=asked.result is None and first is not None,
        error=asked.error,
        share=asked.done / asked.of if asked.of else 0.0,
    )


def counted(found: Backtest, view: View, as_of: date) -> Backtest:
    """The past forecasts that pass the filters and whose outcome was on record by a day, scored."""

    def keep(case: Case) -> bool:
        return case.said.observed <= as_of and bool(view.keep([case.said]))

    return found.narrowed(keep)


def scores_at(found: Backtest, lead_name: str) -> LeadScores | None:
    """The scores of one lead; None where there are none."""
    return next((each for each in found.leads if each.lead == lead_name), None)


def shares(scores: LeadScores) -> list[Share]:
    """How often the date came inside the 50 % and 80 % ranges."""
    made = []
    for each in (scores.interval_50, scores.interval_80):
        low, high = compatible_hits(scores.seasons, each.nominal)
        made.append(
            Share(each.nominal, each.hits, scores.n, low / scores.seasons, high / scores.seasons)
        )
    return made


def sure(wide: Share, seasons: int) -> Sure:
    """What the hits of the 80 % range show: its seasons count, not its dates."""
    if wide.share < wide.low:
        return "narrow"
    if wide.share > wide.high and wide.share > wide.nominal:
        return "wide"
    return "few" if seasons < FEW_SEASONS else "right"


def table_rows(found: Backtest, skills: Mapping[str, str]) -> list[dict[str, object]]:
    """Every lead's scores; `skills` names the columns of the plain rules."""
    rows = []
    for each in found.leads:
        middle, wide = each.interval_50, each.interval_80
        row: dict[str, object] = {
            "lead": redated(each.lead),
            "n": each.n,
            "seasons": each.seasons,
            "mae": round(each.mean_absolute_error_days, 1),
            "rmse": round(each.root_mean_square_error_days, 1),
            "crps": round(each.crps_days, 2),
            "within3": f"{each.within_3_days:.0%}",
            "within7": f"{each.within_7_days:.0%}",
            "hits50": f"{middle.hits} of {each.n}",
            "hits80": f"{wide.hits} of {each.n}",
            "fits80": f"{shares(each)[1].low:.0%} to {shares(each)[1].high:.0%}",
            "width50": round(middle.mean_width_days, 1),
            "width80": round(wide.mean_width_days, 1),
            "score80": round(wide.interval_score_days, 1),
        }
        for column, name in skills.items():
            skill = each.skill.get(name)
            row[column] = "" if skill is None else f"{skill:+.0%} (n {each.skill_n[name]})"
        rows.append(row)
    return rows
