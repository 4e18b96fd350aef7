"""Every text of the pages in one place, ready for translation: the frame and the first pages."""

from __future__ import annotations

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July",
    "August", "September", "October", "November", "December",
)  # fmt: skip
WEEKDAYS_SHORT = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
MONTHS_SHORT = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip

# The frame round every page
APP_TITLE = "Orchard"
SKIP = "Skip to the page"
NAV_LABEL = "Pages"
PAGE_NAMES = {
    "week": "This week",
    "picking": "Picking",
    "may_i_pick": "May I pick",
    "seasons": "Seasons",
    "young": "Young trees",
    "log": "Log",
    "year": "The year",
    "bloom": "Bloom",
    "weather": "Weather",
    "planting": "Before planting",
    "plan": "Plan",
    "how_sure": "How sure",
    "records": "Records",
    "import": "Import",
    "settings": "Settings",
    "help": "Help",
}
PAGE_TITLES = {
    "week": "What is there to do this week?",
    "picking": "Which week do I pick?",
    "may_i_pick": "May I pick this tree yet?",
    "seasons": "Was this season better?",
    "young": "May this young tree carry fruit?",
    "log": "What did you see or do?",
    "year": "What does the year ask for?",
    "bloom": "Who blooms when, and who pollinates whom?",
    "weather": "How far has the season come?",
    "planting": "Will this tree do here?",
    "plan": "Where does each tree stand, and how is it doing?",
    "how_sure": "How sure are these forecasts?",
    "records": "What is on record, and is it right?",
    "import": "What does this file bring in?",
    "settings": "How are things shown here?",
    "help": "How this works, and what to be careful of",
}
NOT_FOUND_TITLE = "There is no such page"
NOT_FOUND = "The address names none of this orchard’s pages. These are all there are:"
THEME_LABEL = "Light or dark"
AS_OF_LABEL = "As known on"
DATE_FIELD = {
    "open": "Choose the day",
    "back": "Month before",
    "on": "Next month",
    "month": "Month",
    "year": "Year",
}
WEEK_BACK = "week"
WEEK_ON = "week"
WEEK_BACK_LABEL = "One week back"
WEEK_ON_LABEL = "One week on"
HOME_DATE_DEMO = "The demo’s date"
HOME_DATE = "Today"
SITE_LABEL = "Site"
SPECIES_LABEL = "Species"
CULTIVAR_LABEL = "Cultivar"
BLOCK_LABEL = "Row"
BLOCK = "Row {name}"
TREES_SHOWN = "Trees shown: {which}"
TREES_ALL = "all"
ALL_BLOCKS = "All rows"
ALL_SITES = "All sites"
ALL_SPECIES = "All species"
ALL_CULTIVARS = "All cultivars"
DEMO_NOTE = "Demo: invented, fixed on {date}."
DEMO_NOTE_MORE = " Move the date to see what was known on another day."
AS_OF_REFUSED = (
    "The address asks for “{given}”, which is not a date from 1900 to {latest} "
    "(written like 2026-08-10). Shown instead: {date}."
)
FAILED = "This page could not be made"
NO_MATCH = "No tree passes these filters. Choose “All” for site, species, cultivar or row."

# First use
EMPTY_TITLE = "There are no trees here yet"
EMPTY_KNOWN = "Nothing had been planted by {date}. Move the date on to see the orchard."
EMPTY_STEPS = (
    "Write your sites (name, latitude, longitude) into a table and import it.",
    "Write your trees (name, site, species, cultivar, date planted) and import them.",
    "Fetch or import the weather: lowest and highest temperature of each day.",
    "Log full bloom of a tree as soon as you see it: the forecast starts from there.",
)
EMPTY_COMMANDS = (
    "harvest import sites sites.csv",
    "harvest import trees trees.csv",
    "harvest import weather weather.csv",
    "harvest import stages bloom.csv",
)
EMPTY_AFTER = "Then load this page again. Any order of columns will do; the header names them."

# Picking forecast
PICK_NOW = "Being picked on {date}: {names}."
PICK_NEXT = (
    "Next to ripen: {name} ({species}, {site}), most likely in the week of {week} "
    "({chance}); 4 chances in 5 between {span}."
)
PICK_NEXT_WHEN_NONE_NOW = "Nothing is being picked on {date}."
PICK_NONE = "Nothing is forecast to ripen on what is known on {date}; the reasons are listed below."
AGENDA_TITLE = "The coming weeks"
AGENDA_NOTE = "Each under its likeliest first week, with the chance that it is that week."
AGENDA_NOW = "Being picked"
AGENDA_THIS = "This week"
AGENDA_NEXT = "Next week"
AGENDA_WEEK = "Week of"
AGENDA_NOTHING = "nothing likely"
AGENDA_PERHAPS = "perhaps, {chance}"
PICTURE_TO_COME = "To come, by date: {site}"
OVER_CAPTION = "From the first ripe date to the last pick."
PICTURE_OF_SITE = "Picture of the picking windows at {site}; the table below says the same"
PICTURE_OVER = "Picked already this season"
WINDOW_CAPTION = (
    "Each row is a {row}. The bar is when it is forecast to be ripe for picking; "
    "the grey line runs on to the usual last pick."
)
ROW_CULTIVARS = "cultivar"
ROW_TREES = "tree"
ROWS_LABEL = "One row for each"
KEY_RANGE_80 = "4 chances in 5"
KEY_RANGE_50 = "1 chance in 2"
KEY_MEDIAN = "as likely before as after"
KEY_RIPE = "ripe, logged"
KEY_PICK = "a pick, logged"
KEY_PERIOD = "usual picking time"
KEY_AS_OF = "date of this view, in its week"
WINDOW_SINCE = "since {date}"
BLOCKED_ANSWER = "Ripe or soon ripe, but may not be picked yet because of a spray: {names}. "
BLOCKED_LINK = "See which spray, and from when picking is allowed."
BLOCKED_NAME = "{name} ({when})"
BLOCKED_UNTIL = "not before {date}"
BLOCKED_UNKNOWN = "unknown: read the label"
BLOCKED_SHORT = "blocked to {date}"
BLOCKED_SHORT_UNKNOWN = "blocked: read label"
BLOCKED_SOME = "{count} of {trees} blocked"
KEY_BLOCKED = "ripe, but inside a withholding period: do not pick"
EXPAND_TITLE = "Tree by tree"
EXPAND = "{name}: {trees} trees"
SEASON_BANDS_TITLE = "The whole season: bloom, fruit growth, picking"
SEASON_BANDS_CAPTION = (
    "Each row from full bloom by way of the growing fruit to the days on which it is ripe for "
    "picking, earliest first; on top what was logged."
)
SEASON_BANDS_LABEL = "Bloom, fruit growth and picking at {site}; the table below has the dates"
KEY_BLOOM = "full bloom"
KEY_GROWTH = "fruit growing"
UNKNOWN_TITLE = "No date, and why"
UNKNOWN_REASONLESS = "no reason given"
WARNINGS_TITLE = "To bear in mind"
TABLE_TITLE = "The same as a table"
PRIOR_NAMES = {
    "own record": "its own record",
    "cultivar": "what is usual for the cultivar",
    "species": "what is usual for the species",
    "none": "nothing yet",
}
STATE_NAMES = {
    "picking": "ripe, picking",
    "to come": "to come",
    "over": "picked",
    "unknown": "not known",
}
WINDOW_COLUMNS = {
    "name": "Name",
    "species": "Species",
    "site": "Site",
    "season": "Season",
    "state": "State",
    "week": "Likeliest week, from",
    "chance": "Chance of that week",
    "low": "10 % by",
    "lower": "25 % by",
    "median": "50 % by",
    "upper": "75 % by",
    "high": "90 % by",
    "ripe": "Ripe, logged",
    "last_pick": "Last pick",
    "picks": "Picks",
    "trees": "Trees",
    "blocked": "Picking blocked",
    "basis": "Rests on",
    "warnings": "To bear in mind",
}

# Seasons compared
CROP_NAMES = {
    "picked": "picked",
    "stripped": "stripped on purpose",
    "none": "no crop",
    "not recorded": "not recorded",
}
HINDSIGHT_TITLE = "Forecast and what came"
HINDSIGHT_ANSWER = (
    "{count} past forecasts, each made 30 days after full bloom from what was known then, were "
    "off by {error} days on average; {inside} of {count} ripe dates ({share}) fell inside the "
    "80 % range{few}."
)
HINDSIGHT_FEW = ", too few to judge the range by"
HINDSIGHT_BIAS = " On average the fruit came {days} days {direction} than the middle of the range."
HINDSIGHT_WIDE = " That is more often than 4 times in 5: the ranges were wider than need be."
HINDSIGHT_NARROW = " That is less often than 4 times in 5: the ranges were too narrow to trust."
EARLIER = "earlier"
LATER = "later"
HINDSIGHT_WORKING = "Working out what would have been forecast in past seasons …"
HINDSIGHT_NONE = "No past season has both a bloom and a ripe date on record yet."
HINDSIGHT_CAPTION_ALL = (
    "Each row is a cultivar, each dot a past season of one tree: days between the middle of the "
    "forecast and the logged ripe date. The bar is the average 80 % range; a ring lies outside the "
    "range of its own season. Choose a cultivar above to see its seasons one by one."
)
HINDSIGHT_CAPTION_ONE = "Each row is one tree in one season, made 30 days after full bloom."
KEY_LOGGED_IN = "logged, inside the range"
KEY_LOGGED_OUT = "logged, outside the range"
KEY_BEYOND = "further off than the axis goes"
MISS_COLUMNS = {
    "cultivar": "Cultivar",
    "tree": "Tree",
    "site": "Site",
    "season": "Season",
    "low": "10 % by",
    "median": "50 % by",
    "high": "90 % by",
    "observed": "Ripe, logged",
    "logged": "Days from middle",
    "inside": "Inside the range",
}
YES = "yes"
NO = "no"

# Young trees
YOUNG_WHOLE = "Of {trees} {parts}."
YOUNG_PARTS = {
    "carry": "{count} may carry a crop ({names})",
    "limit": "{count} may carry some fruit ({names})",
    "strip": "{count} should carry none ({names})",
    "unknown": "{count} cannot be told yet ({names})",
}
YOUNG_ANSWER = "{todo} of {trees} still to be seen to. {next}"
YOUNG_NEXT_STRIP = "First: take all fruit off {tree} ({cultivar}, {site}, leaf {leaf}){by}."
YOUNG_NEXT_LIMIT = (
    "First: leave at most {limit} fruit on {tree} ({cultivar}, {site}, leaf {leaf}){by}."
)
YOUNG_NEXT_LIMIT_OPEN = (
    "First: leave only a few fruit on {tree} ({cultivar}, {site}, leaf {leaf}){by}."
)
YOUNG_BY = " by {date}"
YOUNG_OVERDUE_BY = ", which was due by {date}"
YOUNG_NOTHING = "None of {trees} needs anything done about its crop on {date}."
YOUNG_NONE = "No tree on record is young enough to be spared a crop."
YOUNG_UNCERTAINTY = (
    "Fruit numbers come from trunk girth and published ranges: take them as a guide, "
    "and leave fewer on a weak tree."
)
YOUNG_PICTURE = "Each tree, leaf by leaf"
YOUNG_CAPTION = (
    "Leaf 1 is the first growing season after planting. Small signs are seasons past; "
    "the large circle is this season: the fuller the circle, the more fruit may stay."
)
ADVICE_NAMES = {
    "strip": "Strip",
    "limit": "Limit",
    "carry": "Carry",
    "unknown": "Not known",
}
ADVICE_MEANING = {
    "strip": "take all fruit off",
    "limit": "leave some",
    "carry": "leave the crop",
    "unknown": "something is missing on record",
}
URGENCY_TITLES = {
    "overdue": "The date has passed",
    "due": "To do next",
    "ask": "Something is missing",
    "done": "Done this season",
    "carry": "May carry its crop",
}
LEAF = "leaf\u00a0{leaf}"
FRUIT_LIMIT = "at most {limit} fruit"
PICTURE_LIMIT = "at most {limit}"
ACT_BY = "by {date}"
WAS_DUE = "was due by {date}"
DONE_ON = "done on {date}"
SOURCES = "Sources"
IN_FULL = "Why, in full"
YOUNG_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "species": "Species",
    "site": "Site",
    "season": "Season",
    "leaf": "Leaf",
    "advice": "Advice",
    "fruit_limit": "At most [fruit]",
    "act_by": "Act by",
    "done_on": "Done on",
    "tcsa_cm2": "Trunk cross-section [{unit:cm²}]",
    "decided": "You decided",
    "asked": "Asked for",
    "reasons": "Why",
    "sources": "Sources",
}
LADDER_CAUTION = (
    "On a ladder: firm and level ground, three points of contact, nobody beneath, not alone. "
    "Most young trees can be done from the ground."
)

MORE = "More"
TREE_ONE, TREE_MANY = "tree", "trees"
CULTIVAR_ONE, CULTIVAR_MANY = "cultivar", "cultivars"
YOUNG_ONE, YOUNG_MANY = "young tree", "young trees"
AND_BETWEEN = "{first} and {last}"
MORE_ROWS = "The picture shows the first {shown} of {total} rows; the table has them all."
TABLE_HINDSIGHT = "Past forecasts as a table"
