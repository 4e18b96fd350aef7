"""Texts of the page of records, and of the forms that records are typed into."""

from __future__ import annotations

ANSWER = "{count}: {kinds}."
ANSWER_NONE = "Nothing is on record yet. Begin with a site, then its trees."
ANSWER_TRUST = (
    "Every change keeps who, when and what was there before, and can be taken back; nothing is "
    "ever deleted without a trace."
)
RECORD_ONE, RECORD_MANY = "record", "records"
KIND_NAMES = {
    "sites": "Sites",
    "trees": "Trees",
    "grafts": "Grafts",
    "stages": "Stages",
    "picks": "Picks",
    "thinnings": "Thinnings",
    "girths": "Girths",
    "sprays": "Sprays",
    "events": "Events",
}
KIND_COUNTS = {
    "sites": ("site", "sites"),
    "trees": ("tree", "trees"),
    "grafts": ("graft", "grafts"),
    "stages": ("stage", "stages"),
    "picks": ("pick", "picks"),
    "thinnings": ("thinning", "thinnings"),
    "girths": ("girth", "girths"),
    "sprays": ("spray", "sprays"),
    "events": ("event", "events"),
    "attachments": ("file", "files"),
}
UNITS = {
    "weight_kg": "Weight [{unit:kg}]",
    "graded_out_kg": "Graded out [{unit:kg}]",
    "girth_cm": "Girth [{unit:cm}]",
    "firmness_kg": "Firmness [{unit:kg}]",
    "elevation_m": "Height above sea level [{unit:m}]",
    "row_spacing_m": "From row to row [{unit:m}]",
    "tree_spacing_m": "From place to place in a row [{unit:m}]",
    "bbch": "Stage (BBCH)",
    "severity": "Severity, 0 to 3",
    "also_reached": "Also reached",
    "product": "Product",
    "withholding_days": "Withholding [days]",
}
SWITCH = "Kind of record"
ONE_TREE = "Only of {tree}."
ALL_TREES = "Show all trees"
HOW = (
    "Tap a cell twice, or press Enter, to correct it. A column’s filter finds a tree, a month "
    "(Aug 2026) or a value; dates may be typed as they are shown. Newest first."
)
GRID_LABEL = "Table of {kind}"
HISTORY = "History of the tree"
REMOVE = "Remove the record"
COPY = "Copy for a spreadsheet"
COPIED = "{count} copied: paste them into a spreadsheet."
COPIED_SOME = "The first {count} of {total} copied: narrow the filter for the rest."
COPY_FAILED = "This browser does not let a page copy. Mark the cells and copy them by hand."
CHOOSE_ROW = "Tap a row first."
CHANGED = "Changed: {record}, {what}."
CHANGED_CELL = "{column} from {before} to {after}"
UNCHANGED = "It was so already; nothing was changed."
MAY_NOT = "Not changed: your account may look and log, but not correct. Ask whoever manages it."
REFUSED = "Not changed: {reason}"
REMOVED = "Removed: {record}. The history keeps it."
GONE = "It is not there any more: somebody else removed it meanwhile."
NOTHING = "blank"
UNDO = "Undo"
UNDO_IMPORT = "Undo the whole import"

CONFLICT_TITLE = "Somebody else changed this record meanwhile"
CONFLICT_TOLD = "Nothing was overwritten. Both versions of {record}:"
CONFLICT_COLUMNS = ("", "You saw", "You typed", "There now")
KEEP_MINE = "Write mine over it"
KEEP_THEIRS = "Leave what is there"

CHECK_TITLE = "Records that look wrong ({count})"
CHECKING = "Looking for records that look wrong …"
CHECK_NONE = "No record looks wrong."
CHECK_TOLD = "Each can be right. Correct it above, or let it stand."
CHECK_LINE = "{tree}, {date}: {said}."
CHECK_MORE = "{count} more come after these."
LET_STAND = "It is right"
STANDS = "It stands, and is not asked about again."
LOOK = "Look at it"

LATELY_TITLE = "What was done lately"
LATELY_LINE = "{when}, by {who}: {action} {note} ({counts})"
LATELY_UNDONE = "taken back"
COUNTS = ("{n} new", "{n} changed", "{n} removed")
ACTIONS = {
    "fetch": "fetched weather for",
    "trust": "set which weather counts first at",
    "confirm": "confirmed weather at",
    "fill gaps": "chose how missing days are filled:",
    "setting": "chose",
    "let stand": "let stand",
    "log": "logged",
    "import": "imported",
    "edit": "changed",
    "remove": "removed",
    "undo": "took back",
    "graft": "grafted",
    "attach": "attached",
    "detach": "took off",
    "mark": "in the calendar,",
    "take experience": "took in seasons of other orchards from",
    "drop experience": "dropped the seasons from",
}
# What the program itself notes of these, days among it.
DATED = ("fetch", "let stand")
TREE_TITLE = "History of {tree}"
TREE_OLDER = "{count} older changes"
TREE_NONE = "Nothing is known of its history."
TREE_LINE = "{when}, by {who}: {action} {kind} {record}"
TREE_WHAT = "{line}: {what}"
TREE_CELL = "{column} {before} → {after}"
TREE_NEW = "{column} {after}"
WHEN = "{day}, {time} UTC"
WHEN_UNKNOWN = "At a time not kept"

PHOTOS_TITLE = "Photos and notes of {tree}"
PHOTO_LINE = "{kind}, {date}, {who}"
ADD_TITLE = "Add to {kind}"
ADD_SAVE = "Save"
ADD_SAVED = "Saved: {words}"
ADD_KEEP = "It is right, keep it"
NEEDED = "needed"
PLANTED_HINT = "2015-11-14, or 2015"
PLANTED_TOLD = "With a year alone it counts as planted before the spring of that year."
PLANTED_NOTE = "planted: only the year {year} is known"
"""Kept as the tree's note where no day was given."""
WORDS_SITE = "site {name}"
WORDS_TREE = "tree {name}"
FORM = {
    "waiting": "Saving …",
    "no_answer": "The server does not answer. Nothing was saved; try again.",
}
