"""Texts of the help page. A pair is a word and what it means."""

from __future__ import annotations

HELP_ANSWER = (
    "A picking date here is never one day but a range: 4 times in 5 the fruit should be ripe "
    "inside it. How often that came true is shown on the page “Seasons”."
)
HELP_HOW_TITLE = "How a forecast comes about"
HELP_HOW = (
    "It starts from the day you log full bloom; before that from the day it is expected, and the "
    "range is wider. Every day after bloom adds warmth: degree days, worked out from the day’s "
    "lowest and highest temperature above a base that suits the species.",
    "From your own past seasons it knows how much warmth each cultivar needed until it was ripe. "
    "With few seasons on record it leans on what is usual for the cultivar or the species, "
    "and the range is wider.",
    "The weather still to come is taken from past years at the same site, so a forecast made early "
    "in the season has a wide range and narrows as the days go by.",
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
    ("Trunk cross-section", "Area of the trunk worked out from its girth, in cm²; how many fruit a "
     "young tree can feed goes by it."),
    ("Pick", "One picking pass of one tree, with its weight."),
    ("Not recorded", "Nobody wrote anything down. It does not mean that there was no fruit."),
)  # fmt: skip
HELP_SOURCES_TITLE = "Sources"
HELP_SOURCES = (
    "Degree days by single sine: Baskerville, G. L. and Emin, P. (1969), Rapid estimation of heat "
    "accumulation from maximum and minimum temperatures, Ecology 50(3), 514–517.",
    "Growth stages: Meier, U. (ed.), Growth stages of mono- and dicotyledonous plants: BBCH "
    "Monograph.",
    "Base temperatures, crop loads and rules for young trees carry their source in the tables that "
    "come with the program; each piece of advice names its own.",
    "Colours that most colour-blind people can tell apart: Okabe, M. and Ito, K. (2008), Color "
    "universal design.",
)
