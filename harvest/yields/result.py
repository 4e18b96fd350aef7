"""What is said of a tree's crop: the season's yield, and the advice on what it may carry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

Crop = Literal["picked", "stripped", "none", "not recorded"]
Advice = Literal["strip", "limit", "carry", "unknown"]
Verdict = Literal["good", "usual", "poor", "too early to tell", "not compared"]
ReturnBloom = Literal["low", "raised", "high", "unknown"]
PayMeasure = Literal["trunk_cm2", "weight_kg"]
PayVerdict = Literal["stripped ahead", "kept ahead", "no clear difference", "too few trees to tell"]
WeekLoad = Literal["glut", "usual", "nothing"]


@dataclass(frozen=True, slots=True)
class SeasonYield:
    """What one tree gave in one season."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    crop: Crop
    weight_kg: float | None
    fruit_count: int | None
    graded_out_kg: float | None
    passes: int
    first_pick: date | None
    last_pick: date | None
    kg_per_cm2: float | None
    """Weight by trunk cross-section [kg cm-2], girth interpolated between measurements."""
    against_own_mean: float | None
    """Share above or below the tree's mean of its other picked seasons [1]."""
    leaf: int | None = None
    """Growing season since planting, 1 the first."""
    complete: bool = True
    """False while more may be picked this season; the weight is then the weight so far."""
    tcsa_cm2: float | None = None
    """Trunk cross-section at the last pick [cm2]."""
    girth_date: date | None = None
    """Girth measurement nearest to the last pick, on which the cross-section rests."""
    mean_fruit_g: float | None = None
    """Mean fruit weight over the passes whose fruit were counted [g]."""
    fruit_counted: int | None = None
    """Fruit of the passes that were counted: fewer than were picked where fruit_count is None."""
    graded_out_noted_kg: float | None = None
    """Graded out where it was noted [kg]: a lower bound where graded_out_kg is None."""


@dataclass(frozen=True, slots=True)
class CropAdvice:
    """Whether a tree may carry its fruit this season, how many, and until when to act."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    leaf: int
    tcsa_cm2: float | None
    """Trunk cross-section [cm2]."""
    advice: Advice
    fruit_limit: int | None
    act_by: date | None
    reasons: tuple[str, ...]
    sources: tuple[str, ...]
    overruled: Advice | None = None
    """What the grower decided instead, where an overrule of this season is on record."""
    asked: tuple[str, ...] = ()
    """What is not on record of a young tree, and would make the advice surer."""


@dataclass(frozen=True, slots=True)
class CropBasis:
    """What a crop estimate rests on."""

    seasons: int
    """Past seasons with a crop of the tree's cultivar on record."""
    trees: int
    """Trees of the cultivar they were seen on."""
    alternation: float | None
    """Bearing index 0 even to 1 alternating, the tree's drawn towards its cultivar's."""
    own_seasons: int
    """Past seasons with a crop of the tree itself on record."""


@dataclass(frozen=True, slots=True)
class CropEstimate:
    """The crop expected of one tree in one season."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    kg: dict[float, float]
    """Weight that the season's crop stays below with each probability [kg]."""
    mean_kg: float
    """Expected weight [kg]; these add up over trees, the kg of a probability do not."""
    picked_so_far_kg: float
    basis: CropBasis
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WeekCrop:
    """What one week brings at a site, by its first day."""

    site: str
    start: date
    kg: dict[float, float]
    """Weight that the week stays below with probability 0.1, 0.5 and 0.9 [kg]."""
    mean_kg: float
    chance: float
    """Probability of half a kilogram or more."""
    load: WeekLoad
    """A glut is more than twice the middle one of the weeks with fruit."""
    by_cultivar: dict[str, float]
    """Expected weight of each cultivar [kg]."""


@dataclass(frozen=True, slots=True)
class CropToCome:
    """What is still to be picked at a site of one season."""

    site: str
    season: int
    trees: int
    kg: dict[float, float]
    """Weight that it stays below with probability 0.1, 0.5 and 0.9 [kg]."""


@dataclass(frozen=True, slots=True)
class GroupSeason:
    """What a tree, cultivar, species, site, row or orchard gave in one season."""

    by: str
    name: str
    season: int
    weight_kg: float | None
    fruit_count: int | None
    """None unless every pass of every tree was counted."""
    mean_fruit_g: float | None
    graded_out_kg: float | None
    """Graded out where it was noted [kg]."""
    causes: dict[str, float]
    """Graded out by cause [kg]."""
    picking_days: int
    first_pick: date | None
    last_pick: date | None
    window_days: int | None
    """Days from the first to the last pick, both counted."""
    trees_picked: int
    trees_none: int
    trees_stripped: int
    trees_not_recorded: int
    trees_bearing: int
    """Trees picked, or without a crop at an age to bear."""
    kg_per_bearing_tree: float | None
    kg_per_cm2: float | None
    """Weight by trunk cross-section, of trees with both [kg cm-2]."""
    cumulative_kg: float
    """Weight of all seasons on record up to this one."""
    expected_kg: float | None
    """Weight that age, vigour, species and other seasons lead one to expect of the same trees."""
    low_kg: float | None
    high_kg: float | None
    """Eight in ten seasons lie between them."""
    verdict: Verdict
    others: int
    """Other seasons the verdict rests on."""
    complete: bool
    """False while more may be picked."""
    compared_trees: int
    """Trees whose crop counts: picked to the end, or none at an age to bear."""
    compared_kg: float | None
    """Their weight, which the expected one and the verdict are about."""


@dataclass(frozen=True, slots=True)
class SeasonsCompared:
    """Two seasons of a group side by side, and like with like."""

    by: str
    name: str
    earlier: GroupSeason | None
    later: GroupSeason | None
    trees_in_both: int
    """Trees whose crop counts in both seasons; the weights below are theirs alone."""
    earlier_kg: float | None
    later_kg: float | None
    change: float | None
    """Later by earlier weight of those trees, less 1."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One candidate reason; a judgement of how strong its evidence is, never a proof."""

    cause: str
    strength: float
    """0 weak to 1 strong; only their order means something."""
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class SeasonReasons:
    """Why a tree's season may have been good or poor, strongest evidence first."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    verdict: Verdict
    weight_kg: float
    expected_kg: float
    reasons: tuple[Reason, ...]
    """Empty where the records support none."""


@dataclass(frozen=True, slots=True)
class FruitWeight:
    """Low, middle and high of a weight: eight in ten lie between low and high."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class ThinningPlan:
    """To how many fruit a tree is thinned, how far apart and when, and what comes of it."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    leaf: int
    target_fruit: int | None
    spacing_cm: tuple[float, float] | None
    start: date | None
    end: date | None
    fruit_g: FruitWeight | None
    """Weight of one fruit [g] at the target, or with the fruit to come if they are fewer."""
    kg: FruitWeight | None
    """Crop with as many fruit [kg]."""
    fruit_to_come: int | None
    """Fruit to expect without thinning."""
    return_bloom_risk: ReturnBloom
    """Risk of little bloom next season if nothing is thinned."""
    done: date | None
    """Day on which the tree was thinned, picked or stripped already, or found without a crop."""
    reasons: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeasonOutcome:
    """What a season brought after a decision."""

    season: int
    crop: Crop
    weight_kg: float | None
    expected_kg: float | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Overrule:
    """Advice that the grower overruled, and what came of it."""

    tree: str
    season: int
    date: date
    advice: Advice
    decision: Advice
    why: str | None
    outcome: tuple[SeasonOutcome, ...]
    tcsa_then_cm2: float | None
    tcsa_now_cm2: float | None


@dataclass(frozen=True, slots=True)
class StripPaid:
    """Stripped against unstripped trees of one planting, by one measure."""

    site: str
    cultivar: str
    rootstock: str | None
    first_season: int
    """Season of the first leaf."""
    measure: PayMeasure
    """Trunk cross-section now [cm2], or weight of all seasons on record [kg]."""
    stripped_trees: int
    kept_trees: int
    stripped_mean: float | None
    kept_mean: float | None
    difference: float | None
    """Stripped less kept."""
    low: float | None
    high: float | None
    """95 % interval of the difference; None with fewer than three trees on a side."""
    verdict: PayVerdict


@dataclass(frozen=True, slots=True)
class CumulativePoint:
    """Mean weight per tree since planting up to a leaf [kg], of one species and rootstock."""

    species: str
    rootstock: str
    leaf: int
    kg_per_tree: float
    trees: int


@dataclass(frozen=True, slots=True)
class TrunkPoint:
    """One tree's season: weight [kg] against trunk cross-section [cm2]."""

    tree: str
    species: str
    cultivar: str
    season: int
    tcsa_cm2: float
    weight_kg: float
    girth_date: date
    """The measurement that the cross-section rests on."""


@dataclass(frozen=True, slots=True)
class ForecastPicked:
    """What would have been expected of a tree's past season, and what was picked [kg]."""

    tree: str
    species: str
    cultivar: str
    season: int
    as_of: date
    kg: dict[float, float]
    picked_kg: float
    own_seasons: int
    """Crops of its own that the forecast rested on."""
    own_mean_kg: float | None
    """Mean of its crops of the seasons before: what one might have guessed. None without any."""
