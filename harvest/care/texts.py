"""Every sentence that can keep someone from harm, or do harm if it were worded carelessly.

The command line, JSON and pages take these sentences from here and nowhere else;
`tests/care/test_safety_words.py` holds the wording each must have. The definitions rest on
science that is published: a pre-harvest interval is the wait between an application and harvest
that the label prints (National Pesticide Information Center).
"""

from __future__ import annotations

from datetime import date

LABEL_IS_LAW = "The label is the law; this tool does not replace it."
PRACTICE = "Local rules and licensed practice decide what may be used, by whom and how."
COUNTED = (
    "Days are counted from what you typed off the label: 7 days, sprayed 1 June, means 8 June. "
    "Some authorities count full 24-hour days: follow the label."
)
KEEP_AWAY = "Keep people, pets and bees away while spraying and until the label lets them in again."
OPEN_FLOWERS = (
    "Never spray open flowers with an insecticide, nor flowering weeds below the trees; bees are "
    "on them."
)
CLOTHING = "Wear the protective clothing that the label names."
NOT_FOOD_SAFETY = (
    "A forecast of ripeness is no statement on food safety: it says nothing about what was sprayed."
)
SPRAY_CAUTIONS = (
    LABEL_IS_LAW,
    PRACTICE,
    COUNTED,
    KEEP_AWAY,
    OPEN_FLOWERS,
    CLOTHING,
    NOT_FOOD_SAFETY,
)

CLEAR = "Clear by the labels logged here; read the label."
NOTHING_LOGGED = (
    "No application that reached this tree is logged, so it is clear by the labels logged here; "
    "read the label of anything that was used and not logged."
)
WHAT_TO_DO = (
    "Do not eat, give away or sell this fruit; ask the product's maker or the local authority."
)
LOOK = "Look, log what you find, and ask a local adviser what is registered here."
DECIDE = (
    "A reminder to decide, not advice to spray: ask a local adviser what is registered here, and "
    "read the label."
)

LADDER = (
    "On a ladder: firm and level ground, someone near, three points of contact, never lean out."
)
WEIGHT = "Full boxes and bags are heavy: carry small loads, lift with the knees, share the weight."
FROST_WORK = (
    "Frost work is done at night and in the cold: never alone, no open fire near dry grass, "
    "straw or buildings, keep water off paths that freeze, and follow local rules on burning."
)
TOOLS = "Sharp tools: gloves, closed shoes, and never cut towards your hand or above your head."


def on(day: date) -> str:
    """A day as people write it: `8 Jun 2026`."""
    return f"{day.day} {day:%b %Y}"


def days(count: int) -> str:
    """`1 day`, `14 days`."""
    return f"{count} day{'' if count == 1 else 's'}"


def chance(share: float) -> str:
    """A probability in per cent, never rounded to certainty."""
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share:.0%}".replace("%", " %")


def wait(earliest: date, product: str, sprayed: date, period: int) -> str:
    """A withholding period that is still running."""
    return (
        f"Do not pick before {on(earliest)}: {product} of {on(sprayed)}, "
        f"{days(period)} by the label as logged."
    )


def unknown(product: str, sprayed: date, not_before: date | None) -> str:
    """An application whose withholding period was not logged."""
    also = f" Whatever it says, not before {on(not_before)}." if not_before else ""
    return (
        f"Unknown: the withholding period of {product}, used on {on(sprayed)}, is not logged. "
        f"Do not pick until you have read the label, and log the days it names.{also}"
    )


def old_unknown(product: str, sprayed: date, others: int, longest_days: int) -> str:
    """Applications without a period that lie further back than any period can reach."""
    more = f" (and {others} earlier)" if others else ""
    return (
        f"No withholding period is logged for {product} of {on(sprayed)}{more}: not counted, as it "
        f"is longer ago than the longest period that can be logged, {days(longest_days)}. Read the "
        "label."
    )


def picked_inside(picked: date, product: str, sprayed: date, period: int, earliest: date) -> str:
    """A pick that was logged inside a withholding period."""
    return (
        f"Picked on {on(picked)}, inside the withholding period: {product} of {on(sprayed)} asks "
        f"for {days(period)}, until {on(earliest)}. {WHAT_TO_DO}"
    )


def picked_unknown(product: str, sprayed: date) -> str:
    """Picks after an application whose period nobody logged."""
    return (
        f"Fruit was picked after {product} of {on(sprayed)}, whose withholding period is not "
        "logged: whether it was over is unknown. Read the label; until you know, "
        f"{WHAT_TO_DO[0].lower()}{WHAT_TO_DO[1:]}"
    )


def removed(day: date) -> str:
    """A tree that is gone, whose fruit was picked too soon or may have been."""
    return f"This tree was taken out on {on(day)}; this is about fruit that was picked before."


def ends_today(product: str, day: date) -> str:
    """A wait that is over from this day on: sites far apart have different days at one time."""
    return (
        f"The wait after {product} ends with the beginning of {on(day)}, by the calendar where the "
        "tree stands."
    )


def blocked(until: date, share: float) -> str:
    """A picking forecast that reaches into a withholding period."""
    return (
        f"Picking is blocked until {on(until)}; the chance that the fruit is ripe before then is "
        f"{chance(share)}. The forecast is shown where it is: ripe fruit may have to hang, or be "
        "lost."
    )


def blocked_unknown() -> str:
    """A picking forecast under an application of unknown period."""
    return (
        "Picking is blocked until the label has been read: the fruit is ripe or will be, and a "
        "withholding period is unknown."
    )


def crop_not_on_label(crop: str, species: str, product: str) -> str:
    """An application that reached a crop its label, as logged, does not name."""
    return (
        f"{product} was logged for {crop}; this tree is {species}. A crop that is not on the "
        "label may not be treated, and its withholding period does not apply to it: ask the "
        "product's maker or the local authority before picking."
    )


def spray_on_ripe(product: str, period: int, ripe: date | None) -> str:
    """No day is left: ripe fruit hangs, or may hang."""
    hangs = (
        "it should have been ripe some time ago, and no pick is logged, so ripe fruit may hang"
        if ripe is None
        else f"its fruit is ripe since {on(ripe)}, and the last pick is not logged"
    )
    return (
        f"No day is left for {product} with {days(period)}: {hangs}. Used now, it would forbid "
        "picking that fruit. When the tree is picked, log its last pick."
    )


def spray_by(day: date, product: str, period: int, share: float) -> str:
    """The last day for an application before picking, at a chance of being late."""
    return (
        f"Last day for {product} with {days(period)} by its label, as you gave it: {on(day)}. "
        f"Used then, there is still a chance of {chance(share)} that the fruit is ripe before the "
        "period ends."
    )
