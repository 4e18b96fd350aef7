"""Texts of bringing a file in, step by step."""

from __future__ import annotations

ANSWER = (
    "Drop a table here to see what it would bring in; nothing is kept before you say so, and it "
    "can be taken back afterwards."
)
ANSWER_MORE = "A header row on top, one record a row, or a notebook’s table with a column a season."
DROP = "Drop a CSV or Excel (.xlsx) file here, or press to choose one"
LIMIT = (
    "At most {most} MB. Dates are written like 2026-04-27 or with the month by its name; others "
    "are read where they can mean one day only."
)
KIND = "Kind of record"
GUESSED = "{file}: {rows} with {columns}. It looks like {kind}; choose another kind if it is not."
ROW_ONE, ROW_MANY = "row", "rows"
COLUMN_ONE, COLUMN_MANY = "column", "columns"
STEP_COLUMNS = "What is in each column"
COLUMN = "“{name}”, for instance {example}"
NO_EXAMPLE = "nothing"
LEAVE_OUT = "Leave out"
STEP_LOOSE = "A notebook’s table"
LOOSE_TOLD = (
    "The first column names the trees, the columns {columns} are seasons or dates. Say what their "
    "cells are."
)
HOLDS, ON, ALWAYS = "What the cells are", "Day to book a season on", "The same for every cell"
ON_TOLD, ALWAYS_TOLD = "Month and day, as 09-15", "As bbch=65; several with commas"
CELLS_ARE_DATES = "dates"
PREVIEW = "Show what would happen"
STEP_PREVIEW = "What would happen"
STEP_DONE = "What happened"
COUNTS = {"new": "new", "same": "already on record", "changed": "changed", "refused": "refused"}
REFUSED = "Refused rows"
MORE_REFUSED = "Shown are the first {shown} of {total}; the others have reasons of their own."
REFUSED_COLUMNS = {
    "line": "Line",
    "column": "Column",
    "value": "Value",
    "reason": "Reason",
    "todo": "What to do",
}
WARNINGS = "Kept, but look again"
IGNORED = "Left out: {columns}."
UNITS_TAKEN = (
    "No unit is named, so {taken}. If that is wrong, say so in the choice of columns above."
)
ORDER_TAKEN = "{taken}. If that is wrong, write the dates in the file as 2026-04-27."
CONFIRM = "Bring {count} in"
NOTHING = "Nothing in this file would change what is on record."
DONE = "{file}: {new} new, {changed} changed, {refused} refused."
UNDO = "Take the whole import back"
UNDONE = "Taken back: everything is as it was before."
RECORD_ONE, RECORD_MANY = "record", "records"
MAY_NOT = "Bringing files in is for those who may change records."
WEATHER = "Weather"
