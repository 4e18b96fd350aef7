"""Texts of the page of young trees that came after its first: thinning, decisions, did it pay."""

from __future__ import annotations

ASKED_TITLE = "Asked for, to be surer"
DECIDE_LINK = "Decide otherwise, or say how it stands"
OVERRULED = {
    "strip": "You decided to strip it.",
    "limit": "You decided to leave some.",
    "carry": "You decided to let it carry.",
    "unknown": "You decided otherwise.",
}

THIN_TITLE = "Thinning the trees that keep a crop"
WORKING = "Working it out …"
THIN_NONE = "No tree that is thinned by hand keeps a crop in the season that is running."
THIN_ANSWER = (
    "{todo} of {trees} still to be thinned this season. {next}Numbers are a guide: go by the tree."
)
THIN_NEXT = "First: {tree} ({cultivar}), to {fruit}, {window}. "
THIN_NEXT_OPEN = "First: {tree} ({cultivar}), {window}. "
THIN_FRUIT = "{fruit:,} fruit"
THIN_WINDOW = "from {start} to {end}"
THIN_NO_WINDOW = "as soon as the natural drop is over"
THIN_SPACING = "one every {apart}"
THIN_TO = "to {fruit}"
THIN_LITTLE = "only clusters and crowded branches"
THIN_BY_DISTANCE = "by the distance between fruit"
THIN_COMES = "{fruit:,} fruit are to come without thinning."
THIN_BRINGS = "One fruit should then weigh {fruit}, all of them {crop} (8 chances in 10)."
THIN_RISK = {
    "low": "Risk of little bloom next season if nothing is thinned: low.",
    "raised": "Risk of little bloom next season if nothing is thinned: raised.",
    "high": "Risk of little bloom next season if nothing is thinned: high.",
    "unknown": "Risk of little bloom next season: not known.",
}
THIN_STATES = {
    "now": "To thin now",
    "soon": "Still ahead",
    "little": "Little or nothing to thin",
    "passed": "The time has passed",
    "done": "Thinned, picked or stripped",
}
THIN_MORE = "{title} ({count})"
THIN_DONE = "done on {date}"
IN_FULL = "Why, in full"
THIN_COLUMNS = {
    "tree": "Tree",
    "cultivar": "Cultivar",
    "site": "Site",
    "leaf": "Leaf",
    "state": "State",
    "target": "Leave at most [fruit]",
    "spacing": "One every [{unit:cm}]",
    "start": "From",
    "end": "To",
    "to_come": "To come unthinned [fruit]",
    "fruit_g": "One fruit then [{unit:g}]",
    "kg": "Crop then [{unit:kg}]",
    "risk": "Risk of little bloom next season",
    "reasons": "Why",
}
RISKS = {"low": "low", "raised": "raised", "high": "high", "unknown": "not known"}
THIN_CAUTION = (
    "Fruit to come and the weight of one fruit are forecasts; count a few branches before you thin "
    "a whole tree."
)

PAID_TITLE = "Did stripping pay?"
PAID_NOTHING = (
    "Too few trees to tell: no planting on record has both trees that were stripped in their "
    "first four leaves and trees that were not."
)
PAID_ROW = (
    "{cultivar} on {roots}, planted for season {season} at {site}: {measure} {stripped_mean} of "
    "{stripped} stripped, {kept_mean} of {kept} unstripped. {verdict}"
)
PAID_FEW = "Too few trees to tell."
PAID_CLEAR = "The {ahead} are ahead by {difference} (95 % interval {low} to {high})."
PAID_UNCLEAR = "No clear difference: {difference} (95 % interval {low} to {high})."
PAID_STRIPPED, PAID_KEPT = "stripped trees", "unstripped trees"
PAID_MEASURES = {"trunk_cm2": "trunk cross-section", "weight_kg": "crop since planting"}
PAID_UNITS = {"trunk_cm2": "cm²", "weight_kg": "kg"}
PAID_ROOTS_UNKNOWN = "roots not on record"
PAID_NOTE = (
    "Trees were not drawn by lot: weak ones are stripped more often, and stay behind for that. "
    "The interval does not know it."
)

OVERRULED_TITLE = "Advice you overruled, and what came of it"
OVERRULED_NONE = "No advice has been overruled."
OVERRULED_ROW = "{tree}, {date}: {decision} instead of {advice}{why}."
OVERRULED_SEASON = "season {season}: {crop}{kg}{expected}"
OVERRULED_EXPECTED = ", where {expected} was to be expected ({verdict})"
OVERRULED_TRUNK = "Trunk {then} then, {now} by the latest girth."

FORM_TITLE = "Your decision, and what you see"
FORM_NOTE = (
    "The advice stays as it is; your decision is kept beside it, with what comes of it later. What "
    "you see on a tree changes its advice at once. Everything can be undone."
)
FORM_TREE = "Tree"
FORM_TREE_PLACEHOLDER = "Choose a tree"
FORM_WHY = "Why (if you like)"
FORM_DECIDE = "I decide otherwise"
FORM_SEE = "I see"
FORM_SHOOTS = "Its shoots grew [{unit:cm}]"
FORM_SHOOTS_KEPT = "shoots {length}"
FORM_SHOOTS_SAVE = "Keep the length"
DECISIONS = {"strip": "Strip it", "limit": "Leave some", "carry": "Let it carry"}
SIGN_NAMES = {
    "weak growth": "Weak growth",
    "leaning": "Leaning or not staked",
    "drought": "Drought stress",
    "transplant": "Transplanted this winter",
    "leader": "Fruit on the leader",
    "firm": "Stands firm, grows well",
}
FORM_NEEDS_TREE = "Choose the tree first."
FORM_NEEDS_SHOOTS = "Write how many {unit:centimetres} the shoots grew."
FORM_KEPT = "Kept: {tree}, {what}, {date}."
FORM_SAME = "That was on record already: {tree}, {what}, {date}."
FORM_UNDO = "Undo"
FORM_UNDONE = "Undone: {what}."
FORM_ANEW = "Show it on the page"
