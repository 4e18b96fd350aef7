"""Texts of the page on how sure the forecasts are."""

from __future__ import annotations

WORKING = (
    "Past seasons are being forecast anew, each from only what was known then: {share} done. This "
    "takes a minute or so; the page fills in by itself."
)
WORKING_START = (
    "Past seasons are being forecast anew, each from only what was known then. This takes a minute "
    "or so; the page fills in by itself."
)
OTHERS_WORKING = "Other leads are still being worked out and appear here one by one."
RENEWING = "This is from before the latest records were entered; it is being worked out anew."
FAILED = "The past seasons could not be forecast anew: {error}"
NONE = (
    "No past season of these trees can be forecast anew yet: that wants a full bloom and a ripe "
    "date on record, and the seasons before it."
)
NONE_BLOOM = "No past full bloom of these trees can be forecast anew yet."
ANSWER = {
    "ripe": "Forecast {lead}, the fruit came ripe {error} days from the middle of the range on "
    "average, and in the 80 % range {hits} of {n} times ({share}).",
    "full bloom": "Forecast on {lead}, full bloom came {error} days from the middle of the range "
    "on average, and in the 80 % range {hits} of {n} times ({share}).",
}
SURE = {
    "right": "With {seasons}, anything from {low} to {high} fits ranges that are right: nothing "
    "here speaks against taking them at their word.",
    "few": "With only {seasons}, anything from {low} to {high} would fit ranges that are right: too"
    " few to show that they are.",
    "narrow": "Even with only {seasons} that is too seldom (ranges that are right would give {low} "
    "to {high}): take them as too narrow.",
    "wide": "That is more often than need be (ranges that are right would give {low} to {high} in "
    "{seasons}): they are wider than they had to be.",
}
SEASON_ONE, SEASON_MANY = "season at its site", "seasons at their sites"
EARLIER_VIEW = "Only forecasts whose outcome was on record by {date} are counted."
LEADS_LABEL = "Forecast"
EVENT_RIPE = "Ripe fruit, forecast so many days after bloom:"
EVENT_BLOOM = "Full bloom, forecast on:"
LEAD_SHORT = {
    "0": "0",
    "15": "15",
    "30": "30",
    "45": "45",
    "60": "60",
    "02-01": "1 Feb",
    "03-01": "1 Mar",
    "03-15": "15 Mar",
}
LEAD_NAMES = {
    "0": "at bloom",
    "15": "15 days after bloom",
    "30": "30 days after bloom",
    "45": "45 days after bloom",
    "60": "60 days after bloom",
    "02-01": "1 February",
    "03-01": "1 March",
    "03-15": "15 March",
}
SOUTH_NOTE = "In the south each of these days is half a year later: 1 March is read as 1 September."

RANGES_TITLE = "Did it come inside the range?"
RANGES_CAPTION = (
    "The dot is how often it came inside the range; it should lie on the line. The grey bar is what"
    " chance alone allows ranges that are right, for as many seasons as there were."
)
RANGES_LABEL = "How often the date came inside the 50 % and 80 % range"
RANGE_ROW = "{nominal} range"
RANGE_SAID = "{hits} of {n}"
RELIABILITY_TITLE = "Did chances come true?"
RELIABILITY_CAPTION = (
    "Of all days named with, say, 25 chances in 100 that it would have come by then: how often had "
    "it? Dots on the slanting line are chances that came true; the grey bars are what chance alone "
    "allows."
)
RELIABILITY_LABEL = "Chance that was forecast against the share that came"
ERROR_TITLE = "How far off, by when it was forecast"
ERROR_CAPTION = (
    "Days between the middle of the range and what came, on average, and how wide half of the 80 % "
    "range was. The later the forecast, the smaller both should be."
)
ERROR_LABEL = "Mean error in days by lead"
ERROR_SAID = "{days} days, n {n}"
SKILL_TITLE = "Better than a plain rule?"
SKILL_CAPTION = (
    "How much smaller the forecasts’ error is than that of a rule anyone could follow: 0 is no "
    "better, 50 % is half the error, below 0 is worse."
)
SKILL_LABEL = "Share by which forecasts beat plain rules"
SKILL_SAID = "{share} (n {n})"
SKILL_NONE = "No plain rule had enough earlier seasons to be compared with."
BASELINES = {
    "mean day of season": "the usual date",
    "bloom + mean interval": "bloom + usual days",
    "trend": "a trend over the years",
    "last season": "as last season",
}
CONCLUDE_TITLE = "What can be concluded, and what not"
CONCLUDE = (
    "Seasons are few, and the trees of one season err together: twenty dates of one season are "
    "hardly more than one. Of 20 seasons with ranges that are right, 12 to 19 dates fall inside an "
    "80 % range by chance alone.",
    "Each past forecast was made by the same program from only what was on record then; nothing "
    "that came later was used. Errors of a single record, logged a few days late, count as errors "
    "of the forecast.",
    "A cultivar with few past seasons is forecast with a wide range and may still err more than the"
    " average shown here. Choose site, species or cultivar above to see its own.",
)
PUBLISHED_TITLE = "Beside published forecasts"
PUBLISHED = {
    "ripe": (
        "Apricot harvest, 20 cultivars, new years: off by 5.0, 4.2 and 2.7 days on average, as "
        "told 30, 45 and 60 days after bloom (Ruml and Milatović 2021, Acta Horticulturae 1308).",
        "Peach harvest: 1 day for early to 4 days for late cultivars, with the weather of the "
        "whole time known (Marra and others 2002, Acta Horticulturae 592).",
    ),
    "full bloom": (
        "Apple and pear bloom, 1950 to 2018: off by 5.0 days, root mean square (Drepper and others "
        "2020, Agronomy 10:73).",
        "Peach bloom in Korea: off by 3.0 days, root mean square (Scientia Horticulturae, 2017).",
    ),
}
PUBLISHED_NOTE = (
    "Other trees, places and years, and most with the weather known: for the size of an error, not "
    "for a contest."
)
KEY_SHARE = "share that came"
KEY_RIGHT = "where it should lie"
KEY_CHANCE = "what chance allows"
KEY_ERROR = "mean error"
KEY_HALF = "half the 80 % range"
KEY_SKILL = "smaller error than the rule"
TABLE_TITLE = "All leads as a table"
COLUMNS = {
    "lead": "Forecast",
    "n": "Dates",
    "seasons": "Seasons",
    "mae": "Mean error [days]",
    "rmse": "Root mean square error [days]",
    "crps": "CRPS [days]",
    "within3": "Within 3 days",
    "within7": "Within 7 days",
    "hits50": "In the 50 % range",
    "hits80": "In the 80 % range",
    "fits80": "Would fit 80 %",
    "width50": "Width of 50 % [days]",
    "width80": "Width of 80 % [days]",
    "score80": "Interval score 80 % [days]",
    "skill_mean": "Skill, usual date",
    "skill_interval": "Skill, bloom + usual days",
    "skill_trend": "Skill, trend",
    "skill_last": "Skill, last season",
}
SKILL_COLUMNS = {
    "skill_mean": "mean day of season",
    "skill_interval": "bloom + mean interval",
    "skill_trend": "trend",
    "skill_last": "last season",
}
