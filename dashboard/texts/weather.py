"""Texts of the page on the season's weather."""

from __future__ import annotations

ANSWER_HEAT = (
    "{site}: warmth is {standing} ({total} degree days above {base} from {first} to {last}; "
    "{years}: {least} to {most})."
)
ANSWER_HEAT_ALONE = (
    "{site}: {total} degree days above {base} were counted from {first} to {last}. Too few past "
    "years are on record ({years}) to say what is usual."
)
STANDING = {
    "ahead": "{days} ahead of the usual",
    "behind": "{days} behind the usual",
    "as usual": "about as usual",
    "early": "too little yet to compare",
}
ANSWER_CHILL = "{winter} {total} chill portions (past winters{by_then} {least} to {most})."
ANSWER_CHILL_ALONE = "{winter} {total} chill portions."
WINTER_OVER, WINTER_RUNNING = "The last winter gave", "This winter so far gave"
BY_THEN = ", by then,"
CHILL_MET = " {of} needs {need}, reached on {date}."
CHILL_NOT_YET = " {of} needs {need}: not reached yet."
CHILL_NOT_MET = " {of} needs {need}: not reached."
CHILL_PARTLY = " {of} needs {need}: the lower end was reached, the upper was not."
CHILL_UNKNOWN = " How much {species} needs is not in the tables."
CHILL_NONE_NEEDED = " {of} needs no chill."
NO_WEATHER = (
    "{site}: no weather is on record before {date}. Fetch it with “harvest weather fetch” or "
    "import it; until then forecasts count plain days."
)
ONE_DAY, MANY_DAYS = "day", "days"
ONE_YEAR, MANY_YEARS = "past year", "past years"
CHOOSE_SITE = "Pictures of {shown} of {total} sites; choose a site above to see another."
OF_KIND = (
    "Drawn for {cultivar} ({species}), {why}. Choose another cultivar above to draw its needs."
)
WHY_CHOSEN, WHY_NEXT, WHY_FIRST = "as chosen", "the next to ripen here", "as an example"

HEAT_CAPTION = (
    "Degree days since {first}, day by day. Where this season’s line enters the blue band, "
    "{cultivar} is usually ripe: from full bloom it took {low} to {high} degree days in 8 of 10 "
    "past seasons ({seasons})."
)
HEAT_CAPTION_NO_NEED = (
    "Degree days since {first}, day by day. How much warmth {cultivar} takes from bloom to ripe "
    "is not known here: that wants three past seasons with bloom, ripe date and weather."
)
HEAT_CAPTION_NO_BLOOM = (
    "Degree days since {first}, day by day. From full bloom {cultivar} took {low} to {high} degree "
    "days in 8 of 10 past seasons ({seasons}); its bloom this season is not known yet."
)
HEAT_EXPECTED_BLOOM = " Its bloom is forecast for about {date}; the band is drawn from there."
CHILL_CAPTION = (
    "Chill portions since {first}, day by day. The blue band is what {of} needs to bloom well."
)
CHILL_CAPTION_NO_NEED = "Chill portions since {first}, day by day."
DAYS_CAPTION = (
    "Each bar runs from the day’s lowest to its highest temperature [{unit:°C}]. Days without a "
    "reading or with one that cannot be trusted are taken as usual for the time of year in all "
    "sums."
)
DAYS_COUNT = "Of the last {days} days {missing} have no reading and {suspect} a doubtful one."
DAYS_AHEAD = "{count} days ahead are forecast (issued {issued})."
DAYS_NOT_AHEAD = "No weather forecast is stored; days ahead are taken from past years."

FROST_TITLE = "Frost around full bloom"
FROST_NONE = (
    "{cultivar}: no night at or below {unit:0 °C} on record from {first} to {last}, ten days "
    "either side of full bloom ({bloom}{seen})."
)
FROST_UNKNOWN = (
    "{cultivar}: unknown. No temperature is on record or forecast yet from {first} to {last}, ten "
    "days either side of full bloom ({bloom}{seen})."
)
FROST_PARTLY = " {missing} of these {days} days have no temperature, neither read nor forecast."
FROST_SOME = (
    "{cultivar}: {nights} at or below {unit:0 °C} from {first} to {last}, ten days either side of "
    "full bloom ({bloom}{seen}); the coldest {coldest} on {date}."
)
FROST_NIGHT, FROST_NIGHTS = "night", "nights"
FROST_FORECAST_BLOOM = ", forecast"
FROST_SEEN_BLOOM = ", logged"
FROST_NO_BLOOM = "Full bloom of {cultivar} is neither logged nor forecast for this season."
FROST_KILL = (
    "At full bloom {kill} for half an hour kills about a tenth of the flowers ({source}). A "
    "thermometer in a shelter reads higher than a flower under a clear sky."
)
FROST_KILL_UNKNOWN = "The frost table has no temperature for {species}."
FROST_FORETOLD = "{date}: {temperature}, forecast"
FROST_SEEN = "{date}: {temperature}"

SOURCES_TITLE = "Where the weather is from"
SOURCE_LINE = "{name}: {used} of {days} days used, {first} to {last}{fetched}."
SOURCE_NONE = "No weather is on record."
SOURCE_FETCHED = ", fetched {date}"
SOURCE_TERMS = " {attribution} ({licence})."
SOURCE_OWN = " Your own records."
STATION_LINE = "{name}, {distance} away, {share} of the days"
STALE = "The last day on record is {last}, {days} before the date of this view."
FRESH = "The record reaches {last}."
GAPS = "{missing} missing in between; longest gap: {gap}."
KEY_NOW = "this season"
KEY_NOW_WINTER = "this winter"
KEY_AHEAD = "by the weather forecast"
KEY_MEDIAN = "middle of past years"
KEY_RANGE = "least to most of past years"
KEY_NEED = "what the cultivar needs"
KEY_BLOOM = "full bloom"
KEY_VIEW = "date of this view"
KEY_DAY = "lowest to highest of a day"
KEY_FORECAST_DAY = "forecast"
KEY_SUSPECT = "reading that is not trusted"
KEY_MISSING = "no reading"
KEY_FROST = "at or below {unit:0 °C}"
TABLE_TITLE = "Warmth and chill week by week, as a table"
DAYS_TABLE_TITLE = "The last days as a table"
COLUMNS = {
    "site": "Site",
    "date": "Date",
    "heat": "Degree days [{unit:°C d}]",
    "heat_usual": "Usual [{unit:°C d}]",
    "heat_least": "Least [{unit:°C d}]",
    "heat_most": "Most [{unit:°C d}]",
    "chill": "Chill portions",
    "chill_usual": "Usual chill portions",
}
DAY_COLUMNS = {
    "site": "Site",
    "date": "Date",
    "tmin": "Lowest [{unit:°C}]",
    "tmax": "Highest [{unit:°C}]",
    "kind": "Kind",
    "note": "Why not trusted",
}
KIND_NAMES = {
    "measured": "measured",
    "suspect": "not trusted",
    "missing": "no reading",
    "forecast": "forecast",
}
PICTURES = {
    "heat": ("Warmth so far", "Degree days this season at {site} beside past years"),
    "chill": ("Chill of the winter", "Chill portions of the winter at {site} beside past winters"),
    "days": ("The last days", "Lowest and highest temperature of the last days at {site}"),
}
AXIS_HEAT = "degree days"
AXIS_CHILL = "chill portions"
NEED_RIPE = "{cultivar} ripe"
NEED_CHILL = "needed"
