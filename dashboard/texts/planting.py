"""Texts of the page before planting."""

from __future__ import annotations

FORM_LABEL = "Which tree, and where"
SITE = "Site"
SPECIES = "Species"
CULTIVAR = "Cultivar"
ANY_CULTIVAR = "All of the species"
ELSEWHERE = "Another place, with this site’s weather"
ELSEWHERE_NOTE = (
    "For a place near the site: its coordinates decide the length of day; trees and blooms of the "
    "site are then left out of the reckoning."
)
LATITUDE = "Latitude (degrees, south is −)"
LONGITUDE = "Longitude (degrees, west is −)"
SHOW = "Show"
BAD_COORDINATES = "Latitude and longitude have to be numbers, for example 48.2 and 16.4."
WARMER_LABEL = "The same years, warmer throughout"
WARMER = {"0": "as they were", "1": "{unit:+1 °C}", "2": "{unit:+2 °C}", "3": "{unit:+3 °C}"}
WARMED = ", each day {by} warmer"

NO_SITE = "No site is on record yet: log a site and its weather first."
ANSWER = (
    "{what} at {place}: all goes well in {share} of years (8 in 10: {low} to {high}; "
    "{years}{warmed}): chill enough, no night in bloom that kills nine flowers in ten, ripe before "
    "autumn’s cold."
)
ANSWER_UNKNOWN = "{what} at {place}: whether it will do is unknown. {why}"
UNKNOWN_CHILL = "The chill it needs is not known."
UNKNOWN_YEARS = "No whole season of weather is on record."
ANSWER_DATES = (
    "Full bloom about {bloom} (8 in 10: {bloom_span}), first ripe fruit about {ripe} ({ripe_span})."
)
ANSWER_BEST = (
    "Surest of {count} cultivars of {species} at {place}, by the share of {years}{warmed} in which "
    "chill, bloom and ripening all go well: {best}. Choose one to see its chill, frost, weeks and "
    "partners."
)
ANSWER_BEST_ONE = "{cultivar} ({share}, 8 in 10: {low} to {high})"
ANSWER_BEST_NONE = (
    "Which cultivar of {species} does best at {place} is unknown: the chill that its cultivars "
    "need is not known."
)
YEARS_ONE, YEARS_MANY = "past year", "past years"

FACTS_TITLE = "What the years say"
FACT_CHILL = "Winter chill"
CHILL_SAID = (
    "9 years in 10 give at least {portions} chill portions and {hours} hours at {unit:0 to 7.2 °C} "
    "(middle year: {median} portions). {need}"
)
NEED_PORTIONS = "Needed: {need} portions."
NEED_HOURS = "Needed: {need} hours."
NEED_BOTH = "Needed: {portions} portions, or {hours} hours in the older measure."
NEED_NONE = "Chill does not drive its bloom."
NEED_UNKNOWN = "What it needs is not known."
CHILL_MET = (
    "Enough in {share} of years by the middle of the need; {low} if the need is at its high end, "
    "{high} if at its low."
)
FACT_RIPE = "Ripe before autumn’s cold"
RIPE_SAID = (
    "In {share} of years, before the first night of {unit:−2.2 °C}. First ripe fruit {early} to "
    "{late}, about {middle}."
)
FACT_FROST = "Frost in bloom"
FROST_SAID = (
    "A night that kills one flower in ten in {tenth} of years, nine in ten in {most}, counted from "
    "the air {unit:1.5 to 2 m} up: frost hollows are colder."
)
FROST_UNKNOWN = "Unknown: no kill temperatures of this species are on record."
FACT_BLOOM = "Full bloom"
BLOOM_SAID = "{early} to {late}, about {middle}."
FACT_PARTNERS = "Partners that grow here"
PARTNERS_NONE = "None that is known to serve. Unknown pairs are not counted."
PARTNERS_ELSEWHERE = "Unknown: for other coordinates the site’s trees are left out."
PARTNERS_SPECIES = "Choose a cultivar: partners differ from one to the next."
UNKNOWN = "Unknown."
SHARE = "{share} (8 in 10: {low} to {high})"
NOTES_TITLE = "What this rests on"
PROMISE = (
    "A share of past years is no promise. Soil, slope, wind and frost hollows are not in it. Ask "
    "local growers and advisers before you buy."
)

CHILL_TITLE = "Winter chill, year by year"
CHILL_CAPTION = (
    "One mark a winter, counted for five months from {start}. The band is what {what} needs; the "
    "dashed line is what 9 winters in 10 exceed."
)
CHILL_CAPTION_NONE = (
    "One mark a winter, counted for five months from {start}; the dashed line is what 9 winters in "
    "10 exceed. How much {what} needs is not known in this measure, so no band is drawn."
)
CHILL_LABEL = "Chill of each winter in {unit}; the facts above say the same"
PORTIONS, HOURS = "chill portions", "hours at {unit:0 to 7.2 °C}"
KEY_WINTER = "A winter"
KEY_WINTER_WARMER = "The same winter, warmer"
KEY_NEED = "Needed"
KEY_SAFE = "Exceeded in 9 winters of 10"

WEEKS_TITLE = "Bloom and picking, in these years and warmer ones"
WEEKS_CAPTION = (
    "Each band holds 8 in 10 of the dates, its mark the middle. The dates of the years as they "
    "were follow what was logged or is usual; the shift with warming is the model’s."
)
WEEKS_LABEL = "Weeks of full bloom and first ripe fruit by warming; the table below says the same"
WEEK_ROWS = {
    0.0: "As the years were",
    1.0: "{unit:+1 °C}",
    2.0: "{unit:+2 °C}",
    3.0: "{unit:+3 °C}",
}
KEY_BLOOM = "Full bloom, 8 in 10"
KEY_RIPE = "First ripe fruit, 8 in 10"
KEY_MIDDLE = "Middle"
HOVER_BLOOM, HOVER_RIPE = "full bloom", "first ripe fruit"

GAPS_TITLE = "Weeks without fruit at {site}, and what would fill them"
GAPS_NONE = "Something is picked in every week of the season."
GAPS_LINE = "{weeks}: {names}"
GAPS_NOTHING = "nothing in the tables that does well here"
GAPS_WEEK, GAPS_WEEKS = "week of {first}", "{first} to {last}"
GAPS_NOTE = (
    "By when the orchard’s own trees are usually picked; fruit from store is not counted. The "
    "weeks of cultivars that do not grow here are wide: a week or more either way."
)
GAPS_SHOW = "Work out the weeks without fruit"
GAPS_FAILED = "These weeks could not be worked out: {reason}"
MOST_FILL = 6

SCENARIO_TITLE = "The same figures, years as they were and warmer"
SCENARIO_COLUMNS = {
    "warming": "Warmer by ({unit:°C})",
    "portions": "Chill portions, 9 years in 10",
    "hours": "Chill hours, 9 years in 10",
    "chill_met": "Chill enough",
    "ripens": "Ripe before cold",
    "frost_tenth": "Frost kills a tenth",
    "frost_most": "Frost kills most",
    "all_well": "All goes well",
    "bloom": "Full bloom",
    "ripe": "First ripe",
}
RANK_TITLE = "Every cultivar of {species}, the surest first"
RANK_COLUMNS = {
    "cultivar": "Cultivar",
    "all_well": "All goes well (8 in 10)",
    "need": "Chill needed",
    "chill": "Chill in 9 years of 10",
    "chill_met": "Chill enough",
    "ripens": "Ripe before cold",
    "frost_most": "Frost kills most",
    "bloom": "Full bloom",
    "ripe": "First ripe (8 in 10)",
    "partners": "Partners here",
    "sources": "Sources",
}
RANK_PRINTED = (
    "cultivar", "all_well", "chill_met", "ripens", "frost_most", "bloom", "ripe",
)  # fmt: skip
RANK_LINKS = "Look at one of the surest"
OF_SPECIES = "{species} in general"
