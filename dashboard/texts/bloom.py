"""Texts of the page on bloom and partners."""

from __future__ import annotations

ANSWER = "On {date}: {now}. {partners}."
NOW_NONE = "no tree is in bloom"
NOW = "in bloom {names}"
NEXT = ", next {name} ({site}) from about {date}{give}"
GIVE = ", give or take {days} days (8 in 10)"
PARTNERS = "Of {trees}, by pollination partner: {counts}"
COUNTS = {
    "no partner": "none {n} ({names})",
    "partner, but little overlap": "little overlap {n} ({names})",
    "partner, but far": "far away {n} ({names})",
    "unknown": "not known {n} ({names})",
    "partner in bloom": "in bloom together {n}",
    "no partner needed": "needs none {n}",
}
NONE_KNOWN = "No bloom is logged or forecast on what is known on {date}."

PICTURE_TITLE = "Who blooms when: {site}"
CAPTION = (
    "From first open flowers (BBCH 61) to fading (67), by date. Thin ends: 8 in 10, how far a "
    "forecast may be off. On the right whether a partner blooms with it."
)
LABEL = "Bloom of the trees at {site} by date; the table below says the same"
KEY_LOGGED = "Logged"
KEY_FORECAST = "Forecast"
KEY_GIVE = "8 in 10"
KEY_AROUND = "Full bloom logged, ends reckoned"
HOVER = "{name}: {first} – {last} ({basis}{give})"
BASIS = {
    "logged": "logged",
    "around the logged full bloom": "full bloom logged, ends reckoned",
    "forecast": "forecast",
}
SHORT = {
    "partner in bloom": "✓ partner",
    "partner, but little overlap": "! little overlap",
    "partner, but far": "! far away",
    "no partner": "✗ no partner",
    "unknown": "? unknown",
    "no partner needed": "needs none",
}
SIGNS = {
    "partner in bloom": "✓",
    "partner, but little overlap": "!",
    "partner, but far": "!",
    "no partner": "✗",
    "unknown": "?",
    "no partner needed": "–",
}
MORE_ROWS = "Shown: the {shown} that bloom first, of {total}. Filters narrow it down."

VERDICTS_TITLE = "Does each tree get pollen?"
VERDICTS = {
    "no partner": "No partner in bloom with it",
    "unknown": "Unknown",
    "partner, but little overlap": "A partner, but little overlap",
    "partner, but far": "A partner in bloom with it, but far away",
    "partner in bloom": "A partner in bloom with it",
    "no partner needed": "Needs no partner",
}
VERDICT_NOTE = {
    "no partner": "A grafted branch or a planted partner of another cultivar would serve.",
    "unknown": "Not known is not the same as no: what is lacking stands with each.",
    "partner, but little overlap": "Under three days together; a cool spring may move them apart.",
    "partner, but far": (
        "Bees work from tree to tree: the nearer a partner, the more fruit set. A grafted branch "
        "or a nearer tree would serve better."
    ),
    "partner in bloom": "",
    "no partner needed": "It sets fruit with its own pollen; some set more with a partner.",
}
PARTNERS_OF = "Partners ({count})"
PARTNER_LINE = "{tree} ({cultivar}): {serves}; {days}{apart}. {why}."
SERVES = {"yes": "serves", "no": "does not serve", "unknown": "unknown whether it serves"}
TOGETHER = "{days} days together ({share} of its bloom){give}"
TOGETHER_UNKNOWN = "days together unknown"
TOGETHER_GIVE = ", give or take {days}"
PAST = ", {days:.1f} in {seasons} past seasons"
APART = ", {rows} rows and {places} places apart"
APART_UNKNOWN = ", distance unknown: no row or place on record"
MOST_PARTNERS = 12
METRES = ", about {distance} away"
METRES_FAR = ", about {distance} away, which is far"
MORE_LISTED = "Shown: {shown} of {total}. Filters narrow it down; the table has all."
DISTANCE_NOTE = (
    "Distances are straight lines, by the row and place of each tree and the spacing of the site."
)
TO_SPACING = "See or enter the spacing of your sites"

BEES_TITLE = "Weather for bees during bloom"
BEES_NOTE = (
    "Daylight hours of {unit:13 °C} and more on days with under {unit:1 mm} of rain, as a share of "
    "the daylight of the days of bloom that are measured; calm where the day’s mean wind was at "
    "most {unit:24 km/h}, though single hours may have been windier."
)
BEES_LINE = (
    "{name}: {share} of daylight ({hours} hours) in {days} of {of} days of bloom{rain}{wind}."
)
BEES_RAIN = "; rain is not on record, so wet hours are among them"
BEES_WIND = "; calm as well: {share} of daylight ({hours} hours)"
BEES_WIND_SOME = "; calm as well: {share} of daylight ({hours} hours) in {days} days of known wind"
BEES_RANGE = "From {low} of daylight ({least}) to {high} was warm and dry enough for bees."
BEES_CALM = "Warm, dry and calm enough was from {low} of daylight ({least}) to {high}."
BEES_NO_WIND = "Wind is not on record: calm hours are unknown."
BEES_WIND_PART = "Of {few} of {all} cultivars the wind is not on record: calm hours are unknown."
BEES_NONE = "Unknown: no day of bloom is measured yet."
BEES_EACH = "Each cultivar ({count})"
BEES_UNKNOWN = "{names}: unknown, no day of bloom is measured yet."

FROST_TITLE = "Frost at bloom"
FROST_WHEN = {
    "now": "now, until {last}",
    "to come": "nights that count: about {first} to {last}",
    "over": "over since {last}",
}
FROST_STAGE = "Stage: {stage}, logged {date}."
FROST_STAGE_NONE = "Shown for {stage}: no stage of theirs is logged for these days."
FROST_KILL = (
    "{kill10} in the air for half an hour kills about a tenth of the flowers or buds{most}."
)
FROST_MOST = ", {kill90} about nine tenths"
FROST_SHELTER = (
    "A thermometer in a shelter reads higher than a bud under a clear sky, and hollows are colder: "
    "read one at the height of the flowers."
)
FROST_SOURCE = "Source: {source}."
FROST_OVER = "Over for this season ({count})"
FROST_NONE = "No kill temperatures are on record for these species: unknown."
CAUTIONS_TITLE = "Cautions"

TABLE_TITLE = "The same as a table"
COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "species": "Species",
    "site": "Site",
    "first": "First flowers (61)",
    "last": "Fading (67)",
    "give": "Give or take (days, 8 in 10)",
    "basis": "From",
    "verdict": "Partner",
    "nearest": "Nearest partner in bloom [{unit:m}]",
    "reasons": "Why",
    "bees": "Warm and dry for bees (share of daylight)",
    "calm": "And calm (share of daylight)",
}
UNKNOWN = "unknown"
SOURCES = "Source"
