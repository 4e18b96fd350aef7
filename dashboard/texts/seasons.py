"""Texts of the page of seasons compared."""

from __future__ import annotations

SO_FAR = " so far"
VERDICT_SHORT = {
    "good": "good",
    "usual": "usual",
    "poor": "poor",
    "too early to tell": "too early to tell",
}
VERDICT_WORDS = {
    "good": "a good season",
    "usual": "a usual season",
    "poor": "a poor season",
}

ANSWER = "{name}, season {season}: {verdict}. {weight} from {trees}; {low} to {high} was to be "
ANSWER += "expected of these trees at their age (8 seasons in 10)."
ANSWER_SO_FAR = "{name}, season {season} so far: {weight} from {trees}. "
ANSWER_DONE = (
    "{name}, season {season} so far: {verdict}. The {done} whose season is over gave {kg}; {low} "
    "to {high} was to be expected of them at their age (8 seasons in 10){others}."
)
ANSWER_OTHERS = ". With the others so far it is {weight} from {trees}"
ANSWER_EARLY = (
    "{name}, season {season}: {weight} from {trees}. Whether that is good is too early to tell: "
    "it takes three other seasons on record, and there {are}."
)
ANSWER_BARE = "{name}, season {season}: {weight} from {trees}; nothing can be compared yet."
NOTHING_DONE = "No tree’s season is over yet, so nothing can be compared."
EARLY_DONE = "Too early to tell whether that is good: three other seasons are needed."
OTHERS = {0: "is none", 1: "is one", 2: "are two"}
BEFORE = " The whole season before, {season}: {verdict}, {weight}."
WHY_SHORT = " Possible reasons, strongest evidence first: {causes}."
WHY_NONE_SHORT = " The records hold no reason for it."
CAUSE_SHORT = "{cause} ({trees} of {of} {verdict} trees)"
NO_YIELDS = "No pick has been logged by {date}, so no season can be compared yet."

BY_LABEL = "Add up by"
BY_NAMES = {
    "site": "Site",
    "species": "Species",
    "cultivar": "Cultivar",
    "row": "Row",
    "tree": "Tree",
    "orchard": "All",
}
CROPS_TITLE = "{unit:Kilograms} per season"
CROPS_CAPTION = (
    "Each row is a {group}, drawn to its own scale. The brown bar is what was picked. The pale box "
    "behind it is what was to be expected of these trees: by their age, vigour and species, and by "
    "their other seasons; 8 seasons in 10 end inside it. Above it is good (▲), below it poor (▼)."
)
CROPS_OLDER = " Seasons before {season} are in the table."
GROUP_NAMES = {
    "site": "site",
    "species": "species",
    "cultivar": "cultivar",
    "row": "row of a site",
    "tree": "tree",
    "orchard": "season of the whole orchard",
}
KEY_PICKED = "picked"
KEY_EXPECTED = "to be expected, 8 seasons in 10"
KEY_RUNNING = "so far, not over"
KEY_PARTLY = "picked, a fifth or more of the trees not recorded"
KEY_GOOD = "good: above what was to be expected"
KEY_POOR = "poor: below it"
TABLE_CROPS = "{unit:Kilograms} as a table"
CROP_COLUMNS = {
    "name": "What",
    "season": "Season",
    "verdict": "Season was",
    "weight_kg": "Picked [{unit:kg}]",
    "compared_kg": "Compared [{unit:kg}]",
    "low_kg": "Expected, from [{unit:kg}]",
    "high_kg": "Expected, to [{unit:kg}]",
    "picked": "Trees picked",
    "none": "Trees without a crop",
    "stripped": "Trees stripped",
    "missing": "Trees not recorded",
    "per_tree_kg": "Per tree in bearing [{unit:kg}]",
    "per_cm2": "Per trunk cross-section [{unit:kg/cm²}]",
    "fruit": "Fruit counted",
    "fruit_g": "Mean fruit [{unit:g}]",
    "graded_kg": "Graded out [{unit:kg}]",
    "causes": "Graded out because of",
    "days": "Picking days",
    "first": "First pick",
    "last": "Last pick",
    "window": "Window [days]",
    "cumulative_kg": "Since the first record [{unit:kg}]",
    "others": "Other seasons it rests on",
}
VERDICT_TABLE = {
    "good": "good",
    "usual": "usual",
    "poor": "poor",
    "too early to tell": "too early to tell",
    "not compared": "not compared",
}

WHY_TITLE = "Good and poor seasons, and what may lie behind them"
WHY_NOTE = (
    "Possible reasons that the records support, the best supported first. None is a proof: several "
    "may have worked together, and what was not logged cannot be named."
)
WHY_NOTHING = "No season on record was good or poor: all were as was to be expected."
WHY_CARD = {"good": "Good", "poor": "Poor"}
WHY_WEIGHT = "{kg} from {trees}, where {low} to {high} was to be expected."
WHY_CAUSE = "{cause}: {trees} of {of}. "
WHY_EXAMPLE = "{tree}: {text}"
WHY_NO_REASON = "The records hold no reason."
WHY_NO_TREE = "No single tree was far from what was to be expected, so no reason stands out."
WHY_MORE = "Earlier ones ({count})"
CAUSES = {
    "frost": "Frost",
    "hail": "Hail",
    "drought": "Drought",
    "wind": "Wind",
    "pest": "Pests",
    "disease": "Disease",
    "animal": "Animals",
    "winter chill": "Too little winter chill",
    "cold bloom": "A cold bloom",
    "wet bloom": "A wet bloom",
    "warm bloom": "A warm bloom",
    "heavy crop before": "A heavy crop the season before",
    "light crop before": "A light crop the season before",
    "rested": "Rested the season before",
    "stripped": "Stripped",
    "thinned": "Thinned",
    "late thinning before": "Late thinning the season before",
    "no pollination partner": "No pollination partner in bloom",
}

MORE_TITLE = "More about the seasons"
WORKING = "Working it out …"
NOTHING = "Nothing of this is on record yet."
SIDE_TITLE = "Two seasons side by side"
SIDE_CAPTION = (
    "Only trees whose crop is on record in both seasons, like with like; each row has its own "
    "scale. On the right: how much more or less, and of how many trees."
)
SIDE_FIRST, SIDE_SECOND = "Season", "beside season"
NO_TREE_IN_BOTH = "no tree in both"
KEY_EARLIER, KEY_LATER = "the earlier season", "the later season"
SIDE_COLUMNS = {
    "name": "What",
    "earlier": "Earlier season [{unit:kg}]",
    "later": "Later season [{unit:kg}]",
    "earlier_verdict": "Earlier was",
    "later_verdict": "Later was",
    "trees": "Trees in both",
    "earlier_kg": "Theirs, earlier [{unit:kg}]",
    "later_kg": "Theirs, later [{unit:kg}]",
    "change": "Change",
}
SINCE_TITLE = "Since planting, by rootstock"
SINCE_CAPTION = (
    "Mean {unit:kilograms} per tree, added up since planting. Each row is a species on one "
    "rootstock, rows of a species to one scale. Trees with a season not recorded are left out, so "
    "a point can rest on fewer trees than the one before it."
)
SINCE_COLUMNS = {
    "species": "Species",
    "rootstock": "Rootstock",
    "leaf": "Leaf",
    "kg": "Since planting [{unit:kg} per tree]",
    "trees": "Trees",
}
SINCE_ROOTS_UNKNOWN = "rootstock not on record"
TRUNK_TITLE = "{unit:Kilograms} by trunk"
TRUNK_CAPTION = (
    "Each sign is one tree in one season: {unit:kilograms} by the cross-section of its trunk, "
    "worked out from the girth. Along a grey line the trunk bears the same: the further up and to "
    "the left, the more per {unit:cm²}. Both scales grow tenfold from step to step."
)
KEY_TRUNK_NOW, KEY_TRUNK_THEN = "the latest season", "earlier seasons"
KEY_TRUNK_LINE = "{lines} {unit:kg/cm²}"
TRUNK_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "season": "Season",
    "tcsa_cm2": "Trunk cross-section [{unit:cm²}]",
    "weight_kg": "Picked [{unit:kg}]",
    "per_cm2": "Per trunk cross-section [{unit:kg/cm²}]",
    "girth_date": "By the girth of",
}
GRADED_TITLE = "Graded out, and why"
GRADED_CAPTION = (
    "{unit:Kilograms} graded out in season {season}{so_far} by cause; the ring is the mean of the "
    "{others} other seasons in which anything was graded out."
)
GRADED_CAPTION_ONE = "{unit:Kilograms} graded out in season {season}{so_far} by cause."
KEY_GRADED_MEAN = "mean of the other seasons"
GRADED_COLUMNS = {"season": "Season", "cause": "Cause", "kg": "Graded out [{unit:kg}]"}
DATES_TITLE = "When picking began and ended"
DATES_CAPTION = (
    "The brown bar runs from the first to the last pick of the latest season with a pick; the pale "
    "box behind it from the middle first to the middle last pick of the seasons before."
)
DATES_CAPTION_ONE = "Each row is a season, from its first to its last pick."
KEY_DATES_NOW, KEY_DATES_USUAL = "first to last pick", "the middle of the seasons before"
DATES_COLUMNS = {
    "name": "What",
    "site": "Site",
    "season": "Season",
    "first": "First pick",
    "last": "Last pick",
    "window": "Window [days]",
    "days": "Picking days",
}
FRUIT_TITLE = "Weight of one fruit"
FRUIT_CAPTION = (
    "Mean weight of one fruit in {unit:grams}, from the passes whose fruit were counted. Full: the "
    "latest season with a count; open: earlier ones. The scale grows tenfold from step to step."
)
KEY_FRUIT_NOW, KEY_FRUIT_THEN = "the latest season", "earlier seasons"
FRUIT_COLUMNS = {
    "name": "What",
    "season": "Season",
    "fruit_g": "Mean fruit [{unit:g}]",
    "fruit": "Fruit counted",
    "whole": "All picks counted",
}
FORESEEN_TITLE = "Crop foreseen, and crop picked"
FORESEEN_ANSWER = (
    "Of {crops} in {seasons}, each foreseen at the start of its season from what was known then, "
    "{inside} ({share}) came out inside the 80 % range{range_was}"
)
CROP_ONE, CROP_MANY = "crop", "crops"
FORESEEN_SEASON, FORESEEN_SEASONS = "season {first}", "seasons {first} to {last}"
FORESEEN_RANGE = {
    "few": "; 8 in 10 should, and so few cannot show whether they do.",
    "narrow": ": fewer than the 8 in 10 that should, so take such ranges as too narrow.",
    "wide": ": more than the 8 in 10 that should, so the ranges were wider than they had to be.",
    "right": "; 8 in 10 should.",
}
FORESEEN_MISSED = (
    " In half of them the middle of the range missed what was picked by {missed} or less{guess}."
)
FORESEEN_GUESS = " (the mean of the tree’s crops until then, taken as a guess: {missed})"
FORESEEN_MIDDLE = {
    "low": " That middle lay too low: {above} of {count} crops were larger.",
    "high": " That middle lay too high: only {above} of {count} crops were larger.",
}
FORESEEN_NOTE = (
    "Foreseen before bloom, frost and thinning could be known, from the crops of up to twelve "
    "seasons before: the tree’s own, and those of its planting, cultivar and site. A tree with few "
    "crops of its own has a wide range. The trees of one season err together, so one good or poor "
    "season for all moves these shares a lot."
)
FORESEEN_CAPTION = (
    "Each sign is one tree’s season: what was picked by the middle of what had been foreseen. On "
    "the line it came out as foreseen, above it more was picked; a ring lies outside the 80 % "
    "range of its own forecast. Both scales are the same; small crops show as clearly as large."
)
FORESEEN_ZERO = " Where nothing was picked or foreseen, only the table tells: {count}."
FORESEEN_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "season": "Season",
    "low": "10 % below [{unit:kg}]",
    "median": "50 % below [{unit:kg}]",
    "high": "90 % below [{unit:kg}]",
    "picked": "Picked [{unit:kg}]",
    "inside": "Inside the range",
    "own": "Own crops known then",
    "own_mean": "Mean of its crops until then [{unit:kg}]",
    "as_of": "Foreseen on",
}
KEY_FORESEEN_IN, KEY_FORESEEN_OUT = "inside the 80 % range", "outside it"
KEY_FORESEEN_LINE = "picked as foreseen"

AHEAD_TITLE = "The crop still to come"
AHEAD_SITE = (
    "Season {season}: some {kg} still to come from {trees}, 8 chances in 10 between {low} and "
    "{high}."
)
AHEAD_GLUT = " Most at once in the week of {week}: about {kg}."
AHEAD_EMPTY = " Nothing to pick: {weeks}."
AHEAD_NONE = (
    "No week can be given kilograms: no tree that may still bear in the seasons that are running "
    "has a ripe date to come."
)
AHEAD_CAPTION = (
    "{unit:Kilograms} to pick in each week to come: expected crops spread over the forecast "
    "picking windows. The bar is 8 chances in 10, the line in it the middle. ● marks a week of "
    "glut, more than twice the usual one; ○ a week with nothing between weeks with fruit."
)
KEY_WEEK_SPAN, KEY_WEEK_MIDDLE = "8 chances in 10", "as likely more as less"
KEY_GLUT, KEY_EMPTY = "glut", "nothing to pick"
TABLE_WEEKS = "The weeks as a table"
TABLE_TREES = "Every tree’s crop as a table"
WEEK_COLUMNS = {
    "site": "Site",
    "week": "Week, from",
    "low": "10 % below [{unit:kg}]",
    "middle": "50 % below [{unit:kg}]",
    "high": "90 % below [{unit:kg}]",
    "load": "Load",
    "what": "Mostly [{unit:kg}]",
}
LOADS = {"glut": "glut", "usual": "", "nothing": "nothing to pick"}
TREE_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "site": "Site",
    "season": "Season",
    "low": "10 % below [{unit:kg}]",
    "middle": "50 % below [{unit:kg}]",
    "high": "90 % below [{unit:kg}]",
    "picked": "Picked so far [{unit:kg}]",
    "seasons": "Seasons it rests on",
    "trees": "Trees it rests on",
    "alternation": "Bearing index (0 even, 1 alternating)",
    "warnings": "To bear in mind",
}
