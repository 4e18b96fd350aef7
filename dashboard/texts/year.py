"""Texts of the page on the year's calendar, and of marking its items."""

from __future__ import annotations

ANSWER = (
    "From {date}{whom}: {count} in the calendar to {until}, {done} of them done. Next deadline: "
    "{title} ({what}, {site}), by {by}."
)
ANSWER_NONE_DUE = "From {date}{whom}: {count} in the calendar to {until}, {done} of them done."
ITEM_ONE, ITEM_MANY = "item", "items"
UNCERTAINTY = (
    "Days come from each tree’s forecast or usual dates and move with them; the span after "
    "“8 in 10” is how far. Look at the tree before you act."
)
TREE = "Tree"
ALL_TREES = "All trees"
FOR_TREE = ", for {tree}"
PICTURE_TITLE = "The year at {site}"
CAPTION = (
    "Each kind of work in its days; paler where it may begin sooner or end later (8 in 10). Work "
    "that is done is hollow."
)
LABEL = "The year’s work at {site} by date; the months below say the same"
KEY_DAYS = "Days to do it"
KEY_SPAN = "8 in 10"
KEY_DONE = "Done"
MONTHS_TITLE = "Month by month"
MONTH = "{month} {year} ({count})"
MORE_ITEMS = "And {count} more: choose a site, a species or a tree above, or see the table below."
MORE_SITES = "Sites that are not drawn here: {count}. Choose one above to see its year."
WHEN = "{span} (8 in 10: {wide})"
WHEN_MOVED = "{span}, as you moved it"
TREES = "{count}: {names}"
HOW = "How, and why"
WHY = "Why: {why}"
SOURCE = "Source: {source}"
DONE_SIGN = "✓ done"
DONE, NOT_DONE, PUT_OFF, OFF = "Done", "Not done after all", "Put off a week", "Switch off"
OFF_KIND = "Switch off this kind here"
ON = "Switch on again"
UNDO = "Undo"
MARK_LABEL = "{do}: {title}, {what}, {site}"
SAID = {
    "done": "Marked as done: {what}.",
    "open": "Open again: {what}.",
    "later": "Put off a week: {what}.",
    "off": "Switched off: {what}.",
    "off_kind": "Switched off: {what}.",
    "on": "Switched on again: {what}.",
    "add": "Added: {what}.",
    "undo": "Taken back.",
}
REFUSED = "Not kept: {reason}"
NOTHING = "Nothing changed."
MAY_NOT = "Your account may look, but not mark anything."
OFF_TITLE = "Switched off ({count})"
OFF_AT = "{kind} at {site}"
OFF_ITEM = "a single item ({code})"
ADD_TITLE = "Add an item of your own"
ADD_SITE, ADD_WHAT, ADD_FIRST, ADD_LAST, ADD_WHY = (
    "Site", "What to do", "First day", "Last day (the first, if left out)", "Why (may be left out)",
)  # fmt: skip
ADD_FOR, ADD_ALL = "For one tree, row or kind of tree", "The whole site"
ADD_DAYS = "On certain days"
ADD_HEAT = "Or when degree days are due"
ADD_HEAT_NOTE = (
    "For a pest that keeps to warmth: when to look for it, foretold from the weather of the site. "
    "Take the sum and its thresholds from a local adviser’s table. It comes back every year."
)
ADD_SUM = "Sum of degree days [{unit:°C d}]"
ADD_BASE, ADD_UPPER = "Counted above [{unit:°C}]", "Cut off at [{unit:°C}] (may be left out)"
ADD_FROM = "Counted from this day of the year"
ADD_EVENT = "Or from the season’s first event that says (plum moth catch)"
ADD = "Add"
ADD_NEEDS = "What to do, and its first day or a sum of degree days, are needed."
ADD_EITHER = "Give either days or degree days, not both."
ADD_HEAT_NEEDS = (
    "The sum, the temperature above which it counts, and from when it is counted are needed."
)
FILE_TITLE = "For your calendar program"
FILE_NOTE = (
    "An iCalendar file of everything from last week on; taking a newer one in again updates the "
    "items, it does not double them, and cancels what you switched off or took back, and what was "
    "for a tree that is gone."
)
FILE = "Download the calendar (.ics)"
FILE_NAME = "orchard-calendar.ics"
UNKNOWN_TITLE = "What cannot be said"
CAUTIONS_TITLE = "Be careful"
NONE = "Nothing in the calendar passes these filters."
TABLE_TITLE = "The same as a table"
COLUMNS = {
    "first": "First day",
    "last": "Last day",
    "earliest": "Earliest (8 in 10)",
    "latest": "Latest (8 in 10)",
    "title": "What",
    "what": "Kind",
    "site": "Site",
    "status": "Done",
    "trees": "Trees",
    "why": "Why",
    "todo": "How",
    "source": "Source",
}
