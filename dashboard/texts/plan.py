"""Texts of the plan of the orchard."""

from __future__ import annotations

MEASURE_LABEL = "Show"
MEASURES = {
    "week": "Week of ripeness",
    "may": "May I pick",
    "kg": "{unit:Kilograms} this season",
    "against": "Good or poor",
    "young": "Strip, limit or carry",
}
ROW = "Row {row}"

ANSWERS = {
    "week": (
        "{now} of {trees} are ripe on {date} by their forecast or log, {soon} more are likely to "
        "be within two weeks; {unknown} have no date. Whether they may be picked, the labels "
        "decide."
    ),
    "may": (
        "{wait} of {trees} may not be picked on {date} because of a spray, and the label of a "
        "spray on {unread} more has not been read. Of the others no wait is logged; that says "
        "nothing of residues."
    ),
    "kg": (
        "The trees below gave {kg} in the season shown for each, {heavy} of {trees} the heaviest "
        "third of them; {none} gave nothing."
    ),
    "against": (
        "The last whole season was good for {good} of {trees}, usual for {usual} and poor for "
        "{poor}, held against what their age, vigour and species lead one to expect (8 seasons in "
        "10)."
    ),
    "young": (
        "{strip} of {trees} should be stripped this season and {limit} limited; {carry} may carry "
        "their crop, and of {unknown} something is missing on record."
    ),
}
LONG_ROWS = (
    "Positions {first} to {last} in each row; what does not fit is reached by scrolling sideways."
)
PLAN_NOTE = (
    "Each field is a tree, in its row and position, position 1 on the left. The sign and the word "
    "say the same as the colour."
)
NO_TREES = "No tree stands here on {date}."

WEEK_NAMES = {
    "now": "ripe",
    "soon": "ripe within two weeks",
    "later": "later",
    "over": "over, or no crop",
    "unknown": "no date",
}
MAY_NAMES = {
    "clear": "no wait logged",
    "wait": "do not pick: waiting",
    "unread": "do not pick: label not read",
}
KG_NAMES = {
    "heavy": "heaviest third",
    "middle": "middle third",
    "light": "lightest third",
    "none": "nothing",
    "unknown": "not recorded",
}
AGAINST_NAMES = {
    "good": "good",
    "usual": "usual",
    "poor": "poor",
    "early": "too early to tell",
    "unknown": "not compared",
}
YOUNG_NAMES = {
    "strip": "strip",
    "limit": "limit",
    "carry": "carry",
    "unknown": "something is missing",
}
RIPE_SINCE = "now"
OVER = "over"
WAIT_TO = "to {date}"
READ_LABEL = "read label"
NO_WAIT = "no wait"
SEASON_KG = "’{season}: {kg}"
AT_MOST = "≤ {limit}"

UNPLACED_TITLE = "Not on the plan ({count})"
UNPLACED_NOTE = (
    "These trees have no row or position on record, or share their place with another. Add row and "
    "position to their record to see them on the plan."
)
TABLE_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "species": "Species",
    "site": "Site",
    "row": "Row",
    "position": "Position",
    "state": "What it is",
    "words": "In detail",
}
REGION = "Plan of {site}"
