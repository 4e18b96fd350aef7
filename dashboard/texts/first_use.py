"""Texts of the first minutes: from nothing to the first forecast."""

from __future__ import annotations

ANSWER_SITE = (
    "Three short forms lead from nothing to the first forecast, in about two minutes: where your "
    "trees stand, one of them, and the day it bloomed."
)
ANSWER_TREE = "{site} is on record. Now one tree that stands there; the others can follow any time."
ANSWER_BLOOM = (
    "{tree} is on record. With the day of its full bloom, its forecast can begin; the range is "
    "wide at first, and narrows with every season you log."
)
STEPS_LABEL = "Three steps"
STEP_SITE = "1. Where do the trees stand?"
STEP_TREE = "2. Which tree is the first?"
STEP_BLOOM = "3. When was it in full bloom this season?"
DONE = "done: {name}"

SITE = "Name of the place"
SITE_HINT = "Home, School garden, North field"
PLACE = "Its two numbers off a map (latitude, longitude)"
PLACE_HINT = "47.8012, 16.2345"
PLACE_TOLD = "Both numbers in one go; south of the equator and west of Greenwich with a minus."
PLACE_REFUSED = (
    "Two numbers are needed, latitude and longitude, such as 47.8012, 16.2345 or 33.9 S, 18.4 E. "
    "Nothing was saved."
)
PLACE_HOW = "How do I find these two numbers?"
PLACE_STEPS = (
    "Open the map app on your phone or computer and find your trees.",
    "Press long on the spot (or click it with the right button) until a mark and two numbers show, "
    "such as 47.8012, 16.2345.",
    "Copy both numbers and paste them here. The first says how far north, the second how far east.",
    "Three decimals are enough: they tell the place to about {unit:100 m}, finer than any weather.",
)
PLACE_WHY = (
    "The place gives the length of the days, which half of the year is spring, and which weather "
    "stations are near. It stays in your orchard's file."
)
HERE = "Use where I stand now"
HERE_FAILED = "This device does not tell where it is. Read the two numbers off a map."
SAVE_SITE = "Save the place"

TREE = "Name of the tree"
TREE_SITE = "It stands at"
TREE_HINT = "Gate apple, Row 1-03"
TREE_TOLD = "Any name that you will know it by."
SPECIES = "Species"
CULTIVAR = "Cultivar"
CULTIVAR_HINT = "begin to type"
CULTIVAR_TOLD = (
    "Known ones are offered; any other name is welcome. Write “unknown” if you do not know it."
)
PLANTED = "Planted"
SAVE_TREE = "Save the tree"

BLOOM = "Day of full bloom (BBCH 65)"
BLOOM_TOLD = (
    "At least half of its flowers were open. As near as you remember; a few days off is better "
    "than nothing."
)
SAVE_BLOOM = "Save, and show the forecast"
NOT_YET = "It has not bloomed yet, or I do not know"
ANOTHER = "Add another tree first"

TABLES = "You have tables already?"
TABLES_TOLD = "Then import them; any order of columns will do, the header names them."
"""Said above the commands that import tables."""
