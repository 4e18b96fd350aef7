"""Texts of the page on which records are made: under the tree, on a phone."""

from __future__ import annotations

ANSWER = "{count} in the last seven days; the latest: {note}."
ANSWER_NONE = "Nothing was logged in the last seven days. Name the tree, tap what you saw, save."
ANSWER_SAFE = "Without a connection, entries wait on this device and are sent later, each once."
MAY_NOT = (
    "Your account may look, but not log: nothing sent from here would be kept. Ask whoever looks "
    "after the accounts."
)
UNITS_OR = "{first} or {second}"
ENTRY_ONE, ENTRY_MANY = "change was made here", "changes were made here"
SPRAY_LAW = (
    "The label is the law: what it says of the withholding period decides, not this program. "
    "Leave the days blank if you do not know them; the tree then counts as unknown, not as free."
)

# What can be tapped: kind of record, cells that the tap fills in, name, a word below it, and what
# is meant (BBCH codes: Meier 2001, in our own words).
ACTIONS: tuple[tuple[str, str, dict[str, str], tuple[str, str], str], ...] = (
    ("bloom61", "stages", {"bbch": "61"}, ("Bloom begins", "BBCH 61"),
     "About a tenth of the flowers are open."),
    ("bloom65", "stages", {"bbch": "65"}, ("Full bloom", "BBCH 65"),
     "At least half of the flowers are open, the first petals fall."),
    ("bloom69", "stages", {"bbch": "69"}, ("Bloom is over", "BBCH 69"),
     "All petals have fallen."),
    ("ripe87", "stages", {"bbch": "87"}, ("Ripe to pick", "BBCH 87"),
     "Its first fruit is ripe for picking."),
    ("pick", "picks", {}, ("Picked", "{weight}"), "One picking of one tree."),
    ("nocrop", "events", {"event": "no crop"}, ("No crop", "this season"),
     "The tree bears no fruit this season. Say why in the note: frost, an off-year, …"),
    ("strip", "thinnings", {"action": "strip"}, ("Stripped", "all fruit off"),
     "All fruit was taken off before it was ripe."),
    ("thin", "thinnings", {"action": "thin"}, ("Thinned", "some off"),
     "Some fruit was taken off so that the rest grows well."),
    ("girth", "girths", {}, ("Trunk girth", "{girth}"),
     "Measured round the trunk at the same mark every year."),
    ("spray", "sprays", {}, ("Sprayed", "by its label"), "What was sprayed, as its label has it."),
    ("graft", "grafts", {}, ("Grafted", "new cultivar"),
     "From this day on it is of another cultivar; what it bore before stays with the old one."),
    ("event", "events", {}, ("Damage", "frost, pest …"), "What befell the tree or the site."),
    ("stage", "stages", {}, ("Other stage", "BBCH code"), "Any other stage of growth."),
)  # fmt: skip
# What each kind asks for at once (the rest unfolds), besides what the tap has filled in.
FIRST_FIELDS = {
    "stages": ("bbch",),
    "picks": ("weight_kg", "fruit_count", "pass", "last"),
    "thinnings": ("fruit_left", "fruit_removed"),
    "girths": ("girth_cm",),
    "sprays": ("product", "withholding_days"),
    "events": ("event", "severity"),
    "grafts": ("cultivar",),
}
# For which kinds all trees of a cultivar, or a whole site, can be logged at once.
ALL_OF_KINDS = ("stages", "thinnings", "sprays", "events")
SITE_KINDS = ("sprays", "events")

FIELD_NAMES = {
    "tree": "Tree",
    "site": "Site",
    "date": "Date",
    "bbch": "Stage (BBCH code)",
    "percent_open": "Flowers open [%]",
    "observer": "Seen by",
    "note": "Note",
    "weight_kg": "Weight",
    "fruit_count": "Number of fruit",
    "pass": "Picking pass",
    "graded_out_kg": "Of it graded out",
    "cause": "Graded out because of",
    "last": "Last pick this season",
    "brix": "Soluble solids [°Brix]",
    "firmness_kg": "Firmness",
    "starch": "Starch score, 1 to 10",
    "action": "What was done",
    "fruit_removed": "Fruit taken off",
    "fruit_left": "Fruit left on",
    "girth_cm": "Girth of the trunk",
    "product": "Product, as on the label",
    "withholding_days": "Withholding period on the label [days]",
    "registration": "Registration number",
    "crop": "Crop, as on the label",
    "rate": "Rate",
    "reason": "Against what",
    "also_reached": "Also reached (other trees, or row 3)",
    "re_entry": "People may go in again",
    "event": "What happened",
    "severity": "How bad: 0 none, 1 light, 2 middling, 3 heavy",
    "latitude": "Latitude",
    "longitude": "Longitude",
    "elevation_m": "Height above sea level",
    "timezone": "Time zone",
    "row_spacing_m": "From row to row",
    "tree_spacing_m": "From place to place in a row",
    "species": "Species",
    "cultivar": "Cultivar",
    "planted": "Planted",
    "rootstock": "Rootstock",
    "vigour": "Vigour",
    "form": "Form",
    "row": "Row",
    "position": "Place in the row",
    "pollen_group": "Pollination group",
    "removed": "Removed",
}

# Said of a record that is kept.
SAID = {
    "stages": "{stage}",
    "picks": "picked {weight}",
    "thinnings": "{action}",
    "girths": "girth {girth}",
    "sprays": "sprayed with {product}, {days}",
    "events": "{event}",
    "grafts": "grafted over to {cultivar}",
}
SAID_STAGE = "{words} (BBCH {code})"
SAID_STAGE_OTHER = "stage BBCH {code}"
SAID_DAYS = "withholding period {days} days by the label as typed"
SAID_DAYS_UNKNOWN = "withholding period unknown: read the label"
SAID_ACTIONS = {"strip": "all fruit stripped", "thin": "fruit thinned"}
SAID_WHOLE = "{who}: {what}, {date}"
SAID_MORE = "{first} and {count} more"
SAID_SAME = "It was on record already; nothing was changed."
SAID_AGAIN = "It had arrived before and is on record."
PHOTO_NAME = "photo"
PHOTO_KEPT = "The photo hangs on it."
PHOTO_REFUSED = "The photo was not kept: {reason}"
PHOTO_BROKEN = "The photo did not arrive whole; take it again."
REFUSED_ID = "This entry was sent without what it needs. Load the page again."
ON_RECORD_TODO = "Nothing was logged."
ON_RECORD_PICK = "Nothing was logged. If it was a second picking on that day, fill in the pass: 2."

# What the script on the page says; {x} is filled in there.
SCRIPT = {
    "who": "Which tree?",
    "who_hint": "Begin to type its name",
    "who_hint_many": "Begin to type a tree, a cultivar or a row",
    "who_needed": "Name the tree first.",
    "who_none": "No tree fits. Saved as typed, it is looked up when it is sent.",
    "who_empty": "There is no tree on record yet.",
    "all_of": "All {name}: {count} trees",
    "all_of_chip": "All {name}",
    "all_of_row": "All that stand in it: {count} trees",
    "whole_site": "The whole of {name}",
    "more_fit": "{count} more fit; type on",
    "what": "What was it?",
    "what_needed": "Tap what it was.",
    "when": "When?",
    "today": "Today",
    "yesterday": "Yesterday",
    "another": "Another day",
    "value_needed": "A value is needed here.",
    "yes": "yes",
    "optional": "if you like",
    "unit": "Unit",
    "more": "More to say, if you like",
    "photo": "Take a photo",
    "photo_there": "Photo: {size} kB",
    "photo_drop": "Leave it out",
    "photo_failed": "This picture cannot be read here.",
    "save": "Save",
    "save_what": "Save: {what}, {who}, {when}",
    "sending": "Sending …",
    "saved": "Just logged",
    "undo": "Undo",
    "undone": "Taken back: {words}",
    "undo_failed": "Not taken back: {reason}",
    "kept_odd": "Kept, though it looks odd: {reason}.",
    "asks": "This looks odd",
    "asks_keep": "It is right, keep it",
    "asks_mend": "Mend it",
    "replace": "Correct the one on record",
    "queue": "Waiting on this device",
    "queue_told": "Not on the server yet. They are sent by themselves as soon as it answers.",
    "queue_send": "Send now",
    "queue_waiting": "waits for a connection",
    "queue_busy": "is being sent",
    "queue_refused": "was not accepted: {reason}",
    "queue_asks": "looks odd, and waits for your answer: {reason}",
    "queue_signed_out": "waits: the server asks you to sign in",
    "queue_other": "waits until {reason}, who made it, signs in",
    "queue_drop": "Throw away",
    "queue_really": "Really throw it away",
    "queue_mend": "Mend",
    "queued": "Kept on this device: {words}. It is sent when the server answers.",
    "old": "Trees as this device knew them on {when}.",
    "offline": "The server does not answer. Go on logging: entries wait here.",
    "no_store": "This browser keeps nothing for later (a private window?), and no server answers.",
    "stage_choose": "Choose the stage",
    "stage_unlisted": "For {species} type the BBCH code.",
}
