"""Fruit to take off young trees by a date, as calendar items."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from harvest.care import texts
from harvest.care.calendar_items import CODE_LENGTH, CalendarItem, uid_of
from harvest.seasons import season_label

# How long before the last sensible day the item is shown [d]: common practice, no source.
LEAD_DAYS = 21


@dataclass(frozen=True, slots=True)
class CropDue:
    """What is advised for one tree's crop, and until when to act."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    latitude: float
    strip: bool
    fruit_limit: int | None
    act_by: date
    why: str
    sources: tuple[str, ...]


def crop_items(due: Sequence[CropDue]) -> list[CalendarItem]:
    """One item for each tree whose fruit are to come off."""
    out = []
    for each in due:
        item = "strip" if each.strip else "limit"
        uid = uid_of(item, each.site, each.tree, each.season)
        if each.strip:
            title = "Take all fruit off a young tree"
        elif each.fruit_limit is None:
            title = "Leave only as many fruit as it may bear"
        else:
            title = f"Leave at most {each.fruit_limit} fruit"
        first = each.act_by - timedelta(days=LEAD_DAYS)
        out.append(
            CalendarItem(
                uid=uid,
                code=uid[:CODE_LENGTH],
                item=item,
                title=title,
                site=each.site,
                what=f"{each.species} {each.cultivar}",
                what_species=each.species,
                season=each.season,
                season_shown=season_label(each.season, each.latitude),
                first_day=first,
                last_day=each.act_by,
                earliest=first,
                latest=each.act_by,
                trees=(each.tree,),
                todo=f"{title}; log it as a thinning",
                why=each.why,
                source="; ".join(each.sources),
                urgency=2,
                cautions=(texts.LADDER,),
                notes=("You know the tree and decide.",),
            )
        )
    return out
