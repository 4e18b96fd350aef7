"""What people type who never saw a table: a place off a map, a year instead of a day."""

from __future__ import annotations

import re
from collections.abc import Mapping

from dashboard.texts import records as record_texts

PLACE = "place"
_NUMBER = r"\d+(?:[.,]\d+)?"
# 47.8012, -16.2345 or 47,8012; 16,2345 or 47.8 N 16.2 E or N 47.8 E 16.2
_DECIMAL = re.compile(
    rf"\s*([NS])?\s*([+-]?{_NUMBER})\s*°?\s*([NS])?\s*[,;\s]\s*([EW])?\s*([+-]?{_NUMBER})\s*°?\s*([EW])?\s*",
    re.IGNORECASE,
)  # fmt: skip
# 47°48'04.3"N 16°14'04.2"E
_PART = rf"({_NUMBER})\s*°\s*(?:({_NUMBER})\s*['′’]\s*)?(?:({_NUMBER})\s*(?:\"|″|”|'')\s*)?([NSEW])"
_SEXAGESIMAL = re.compile(rf"\s*{_PART}\s*[,;]?\s*{_PART}\s*", re.IGNORECASE)
SOUTH_OR_WEST = ("S", "W")


def coordinates(text: str) -> tuple[float, float] | None:
    """Latitude and longitude [deg] from what a map shows, or None where it is not clear.

    Decimal degrees with signs or letters, or degrees, minutes and seconds with letters; the
    latitude comes first, as maps have it.
    """
    found = _SEXAGESIMAL.fullmatch(text)
    if found:
        parts = found.groups()
        if parts[3].upper() not in "NS" or parts[7].upper() in "NS":
            return None
        return _degrees(parts[:4]), _degrees(parts[4:])
    found = _DECIMAL.fullmatch(text)
    if not found:
        return None
    before, north, after, east_before, east, east_after = found.groups()
    if _unclear(text):
        return None
    return (
        _signed(north, before or after),
        _signed(east, east_before or east_after),
    )


def _unclear(text: str) -> bool:
    """Whether a comma could part the two numbers as well as the decimals of one."""
    tight = text.strip()
    return bool(re.fullmatch(r"[^;\s]+", tight)) and "." not in tight and tight.count(",") in (1, 2)


def _degrees(parts: tuple[str, ...]) -> float:
    degrees, minutes, seconds = (float((part or "0").replace(",", ".")) for part in parts[:3])
    value = round(degrees + minutes / 60 + seconds / 3600, 6)
    return -value if parts[3].upper() in SOUTH_OR_WEST else value


def _signed(number: str, letter: str | None) -> float:
    value = float(number.replace(",", "."))
    return -abs(value) if letter and letter.upper() in SOUTH_OR_WEST else value


def site_cells(cells: Mapping[str, str]) -> dict[str, str]:
    """A site's cells with its place as latitude and longitude; one not understood stays."""
    out = dict(cells)
    if PLACE not in out:
        return out
    found = coordinates(out[PLACE])
    if found is not None:
        del out[PLACE]
        out["latitude"], out["longitude"] = (f"{value:g}" for value in found)
    return out


def tree_cells(cells: Mapping[str, str], south: bool) -> dict[str, str]:
    """A tree's cells with a year alone as the winter before that year's spring, and a note of it.

    `south` is whether the tree stands south of the equator, where spring comes in September.
    """
    out = dict(cells)
    year = out.get("planted", "").strip()
    if re.fullmatch(r"\d{4}", year):
        out["planted"] = f"{year}-07-01" if south else f"{year}-01-01"
        note = record_texts.PLANTED_NOTE.format(year=year)
        out["note"] = f"{out['note']}; {note}" if out.get("note") else note
    return out
