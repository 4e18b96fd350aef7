"""Texts of the page on what to do this week."""

from __future__ import annotations

ANSWER = (
    "{week}: {things}, {pressing} that cannot wait. First: {title}, {what} ({trees}), {site}{by}."
)
ANSWER_CALM = "{week}: {things}, none of which presses. Next: {title}, {what}, {site}{by}."
ANSWER_NONE = "{week}: nothing is asked for by forecasts, labels or the year’s calendar."
UNCERTAINTY = (
    "Days come from each tree’s forecast and move with it; look at the tree before you act."
)
THING_ONE, THING_MANY = "thing to see to", "things to see to"
BY = ", by {date}"
BY_SHORT = "by {date}"
WAS_DUE = ", which was due by {date}"
WAS_DUE_SHORT = "was due by {date}"
NOT_BEFORE = ", not before {date}, and not before you have read the label"
NOT_BEFORE_SHORT = "not before {date}; read the label"
RANKS = {
    0: "First of all: someone could come to harm",
    1: "Cannot wait: a lost day does harm",
    2: "Has a last day",
    3: "This week",
    4: "When there is time",
}
SIGNS = {0: "!", 1: "1", 2: "2", 3: "3", 4: "4"}
HELD = "Do not pick or taste yet: {trees}"
HOW = "How, and why"
SOURCE = "Source: {source}"
TO_PICKING = "See the picking forecast"
TO_MAY_I_PICK = "See waiting periods"
TO_YOUNG = "See young trees"
CAUTIONS = "Be careful"
OTHERS = "Ask further"
COLUMNS = {
    "rank": "How pressing",
    "by": "By",
    "not_before": "Not before",
    "title": "What",
    "what": "Kind",
    "site": "Site",
    "trees": "Trees",
    "says": "How, and why",
    "source": "Source",
}
