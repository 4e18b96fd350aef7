"""Texts of the settings: units, dates, the name of changes, files to take away."""

from __future__ import annotations

ANSWER = "Weights are shown in {units}, dates like {date}, and weeks begin on {day}."
KEPT = "Changes made here are kept under the name {name}."
UNITS, DATES, WEEK, NAME = "Units", "Dates", "First day of the week", "Name kept with changes"
CHOICES = {
    "units": {"metric": "Metric: kg, °C", "us": "US: lb, °F"},
    "dates": {
        "day first": "Day first: 12 August 2026",
        "month first": "Month first: August 12, 2026",
        "year first": "Year first: 2026-08-12",
    },
    "week_starts": {"monday": "Monday", "sunday": "Sunday", "saturday": "Saturday"},
}
LABELS = {"units": UNITS, "dates": DATES, "week_starts": WEEK, "kept_as": NAME}
ABOUT = {
    "name": "Name of the orchard",
    "note": "Note on the orchard",
    "demo_as_of": "Date of the demo",
}
UNIT_WORDS = {"metric": "kilograms", "us": "pounds"}
SCOPE = (
    "Every page goes by this: sentences, pictures, tables and what you save of them, records as "
    "you see and type them, and the weeks of the forecast. What is kept stays metric and exact, "
    "and so does everything on record as one file."
)
NAME_TOLD = "Without accounts everyone’s changes are kept under this name. Blank: “dashboard”."
NAME_SIGNED = "With accounts, each person’s changes are kept under their own name."
SAVE = "Save settings"
SAVED = "Saved."
SAME = "Nothing was changed."
MAY_NOT = "You may look at the settings; changing them is for others."
TITLE_SHOWN = "How things are shown"
TITLE_FILES = "Files to take away"
FILES = (
    "Everything on record as plain tables, which any spreadsheet opens and this program takes back "
    "in; or one copy of the whole database."
)
EXPORT_CSV = "Everything as CSV files (.zip)"
EXPORT_XLSX = "Everything as Excel files (.zip)"
BACKUP = "A backup of the database"
BACKUP_TOLD = (
    "The backup holds the accounts too, with passwords nobody can read back: keep it where only "
    "you can reach it. 'harvest restore FILE' brings it back."
)
BACKUP_NOT = "A backup is for whoever looks after accounts."
IMPORT = "Bring a table in"
TITLE_HISTORY = "What was changed"
HISTORY_NONE = "These settings were never changed."
HISTORY = "{when}, {who}: {name}, from “{before}” to “{after}”"
BLANK = "none"
TITLE_PERSON = "Who you are"
NO_ACCOUNTS = (
    "Nobody has to sign in, since only this computer can reach this page. 'harvest people add' "
    "makes accounts, 'harvest dashboard --host' lets other computers in."
)
