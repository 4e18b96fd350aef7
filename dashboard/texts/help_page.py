"""Texts of the help page. A pair is a word and what it means."""

from __future__ import annotations

HELP_ANSWER = (
    "A picking date here is never one day but a range: 4 times in 5 the fruit should be ripe "
    "inside it. How often that came true is shown on the page “How sure”."
)
HELP_FIND_TITLE = "Where to find what"
HELP_FIND = (
    ("Which week do I pick?", "“Picking”: the coming weeks, each cultivar’s range, the "
     "{unit:kilograms} to expect. Choose a cultivar, or “tree”, to see trees one by one."),
    ("May it be picked yet?", "“May I pick”: withholding periods as you logged them."),
    ("May this young tree carry fruit?", "“Young trees”: strip, limit or carry, by when, and why."),
    ("Was this season better?", "“Seasons”: {unit:kilograms} beside other seasons, and the "
     "reasons."),
    ("How far has the season come?", "“Weather”: warmth and chill beside past years."),
    ("How far can I trust this?", "“How sure”: past seasons forecast anew, beside what came."),
    ("Another day, site or row", "The date and the choices on top hold for every page and stand in "
     "the address: keep it as a bookmark, send it on, print it."),
)  # fmt: skip
HELP_HOW_TITLE = "How a forecast comes about"
HELP_HOW = (
    "It starts from the day you log full bloom; before that from the day it is expected, and the "
    "range is wider. From then on the season’s progress is read off several clocks: plain days, "
    "degree days over several bases, one of them cut off above, growing degree hours by several "
    "curves, and the warmth of the first month alone. Each says how many days sooner or later than "
    "usual the fruit should come; clocks that erred less in your own past seasons weigh more.",
    "Your trees are looked at together: a tree within its cultivar, the cultivar within its "
    "species, the season at its site. With few seasons on record a forecast leans on what is usual "
    "for the cultivar or the species, and its range is wider.",
    "Of the weather still to come a stored forecast counts first, for a week; after that past "
    "years at the same site. So a forecast made early has a wide range and narrows as days go by.",
    "How wide a range has to be is learned from past seasons that were left out of the reckoning, "
    "never from the fit itself.",
    "Where something needed is missing, the page says “not known” and why. It never fills in a "
    "date, a weight or a number of fruit that nobody recorded.",
    "“As known on” shows what could be said on that day: no later record or reading is used.",
)
HELP_CAUTION_TITLE = "Be careful"
HELP_CAUTIONS = (
    "A ripening date says nothing about sprays or about whether fruit is safe to eat. After any "
    "spray the withholding period on the product’s label decides when picking and eating is "
    "allowed, together with the local rules; if in doubt ask a licensed adviser.",
    "Ripe is for the eye, the hand and the mouth to judge: the forecast tells you when to go and "
    "look, not what you will find.",
    "On a ladder: firm and level ground, three points of contact, nobody beneath, and never alone. "
    "Not in wind, and not in the wet.",
    "Fruit numbers for young trees are guides. A weak tree carries less than its trunk allows.",
)
HELP_WORDS_TITLE = "What the words mean"
HELP_WORDS = (
    ("Full bloom", "About half the flowers open or more; stage 65 of the BBCH scale."),
    ("Ripe", "Ripe for picking, stage 87 of the BBCH scale; where that was not logged, the first "
     "pick."),
    ("Season", "North of the equator the year of the bloom. South of it a season runs over two "
     "years and is written 2025/26. A pick belongs to the bloom before it."),
    ("Leaf", "The growing season since planting: a tree planted last winter is in its first leaf "
     "this spring."),
    ("Strip, limit, carry", "Take all fruit off, leave only some, or leave the crop on."),
    ("4 chances in 5", "The range from the day with a 10 % to the day with a 90 % chance that the "
     "fruit is ripe by then (80 % range)."),
    ("Trunk cross-section", "Area of the trunk worked out from its girth, in {unit:cm²}; how many "
     "fruit a young tree can feed goes by it."),
    ("Degree days", "Each day’s warmth above a base temperature, added up day by day; worked out "
     "from the day’s lowest and highest temperature."),
    ("Chill portions", "A measure of winter cold that buds need before they can open well; only "
     "cool hours count, and warm ones can undo the last of them."),
    ("Pick", "One picking pass of one tree, with its weight."),
    ("Not recorded", "Nobody wrote anything down. It does not mean that there was no fruit."),
)  # fmt: skip
HELP_SOURCES_TITLE = "Sources"
HELP_SOURCES = (
    "Degree days by single sine: Baskerville, G. L. and Emin, P. (1969), Rapid estimation of heat "
    "accumulation from maximum and minimum temperatures, Ecology 50(3), 514–517.",
    "Growing degree hours: Anderson, J. L., Richardson, E. A. and Kesner, C. D. (1986), Acta "
    "Horticulturae 184, 71–78.",
    "Warmth of the first month after bloom: Ben Mimoun, M. and DeJong, T. M. (1999), Acta "
    "Horticulturae 499, 107–114.",
    "Hours of a day from its lowest and highest temperature: Linvill, D. E. (1990), HortScience "
    "25(1), 14–16.",
    "Chill portions: Fishman, S., Erez, A. and Couvillon, G. A. (1987), Journal of Theoretical "
    "Biology 124, 473–483 and 126, 309–321.",
    "Seasons, cultivars and trees taken together: Gelman, A. and others (2013), Bayesian Data "
    "Analysis, 3rd edition.",
    "Scores of past forecasts: Gneiting, T. and Raftery, A. E. (2007), Journal of the American "
    "Statistical Association 102, 359–378.",
    "Growth stages: Meier, U. (ed.), Growth stages of mono- and dicotyledonous plants: BBCH "
    "Monograph.",
    "Base temperatures, crop loads and rules for young trees carry their source in the tables that "
    "come with the program; each piece of advice names its own.",
    "Colours that most colour-blind people can tell apart: Okabe, M. and Ito, K. (2008), Color "
    "universal design.",
)
