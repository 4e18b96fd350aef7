"""Texts of the page on waiting periods."""

from __future__ import annotations

MAY_NOT = "{count} of {trees} may not be picked on {date}: {reasons}."
MAY_NOT_WAIT = "{names} not before {until} ({product} of {sprayed})"
MAY_NOT_UNREAD = "{names} unknown: read the label ({product} of {sprayed})"
MAY_NOT_MORE = "{count} more for other reasons, listed below"
MAY_ALL = (
    "No label logged here forbids picking any of {trees} on {date}. What was used and not logged "
    "is not counted: read its label."
)
TOO_SOON_TITLE = "Picked too soon"
TOO_SOON_TITLE_UNKNOWN = "Picked without knowing the waiting time"
PICKS_COUNTED = "The picks"
TOO_SOON_PICKS = "The picks: {picks}"
HELD_PICTURE = "Waiting and ripening on one axis"
HELD_CAPTION = (
    "Each row is a tree that may not be picked, or was picked too soon. The upper bar is the wait "
    "after a spray, counted from the label as logged; the lower bar is when its fruit is forecast "
    "to be ripe. Where the two meet, the fruit is blocked: hatched."
)
HELD_LABEL = "Picture of waiting periods and picking windows; the list below says the same"
HELD_WHY = "Why, and until when"
KEY_WAIT = "waiting, by the label as logged"
KEY_UNREAD = "unknown: read the label"
KEY_TOO_SOON = "picked inside a waiting period"
HELD_STATUS = {
    "clear": "nothing logged forbids it",
    "wait": "wait",
    "unknown": "unknown: read the label",
}
HELD_CARD = {"wait": "Wait", "unknown": "Unknown: read the label"}
CLEAR_TITLE = "Not forbidden by any label logged here ({count})"
CAUTIONS_TITLE = "Be careful"
BECAUSE = "{product}, {date}, {days}"
BECAUSE_DAYS = ("day", "days")
BECAUSE_UNKNOWN = "days not logged"
HELD_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "species": "Species",
    "site": "Site",
    "status": "May it be picked?",
    "earliest": "Earliest pick",
    "because": "Sprays that count",
    "ripe_from": "Ripe: 10 % by",
    "ripe_to": "Ripe: 90 % by",
    "chance": "Chance ripe too soon",
    "clash": "Blocked while ripe",
    "inside": "Picks made too soon",
    "unsure": "Picks after an unread label",
}

# The last day to use something before picking
LAST_TITLE = "Last day to use something before picking"
LAST_NOTE = (
    "Type the product and the withholding days that you read on its label; none are known here. "
    "This counts days, it is no advice to spray."
)
LAST_PRODUCT, LAST_DAYS, LAST_SHOW = "Product", "Withholding days on its label", "Count"
LAST_BAD = "The days on the label are a whole number from 0 to 730."
LAST_NONE = "No tree here has fruit to come whose ripe date is forecast: the last day is unknown."
LAST_LINE = "{tree} ({cultivar}): {says}"
LAST_MORE = "Shown: the {shown} soonest of {total}; the table has all."
LAST_TABLE = "By the chance that the fruit is ripe before the period ends"
LAST_GONE = "no day is left"
LAST_NO_DAY = (
    "No day is left for {trees}: ripe fruit hangs there, or may hang, or the chance that it is "
    "ripe before the period ends would be more than {chance}."
)
LAST_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "site": "Site",
    "at_5": "Last day at 5 % chance",
    "at_10": "at 10 %",
    "at_25": "at 25 %",
    "at_50": "at 50 %",
}
