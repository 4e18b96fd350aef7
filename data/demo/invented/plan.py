"""What is laid down by hand: the sites, the trees, the species' habits, the planned mishaps.

Nothing here is measured. The figures are round ones from memory, chosen to be plausible, and
serve only to make the demo's records; no forecast reads them.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import date

import numpy as np

SEED = 20260812
AS_OF = date(2026, 8, 12)
FIRST_DAY = date(2014, 8, 12)  # first day of the log and of the weather table
VIGOURS = ("dwarf", "semi-dwarf", "standard")


def stream(*key: object) -> np.random.Generator:
    """Random numbers of one thing only, so that a change to one tree leaves the others alone."""
    return np.random.default_rng([SEED, zlib.crc32("/".join(map(str, key)).encode())])


@dataclass(frozen=True)
class Place:
    """An invented site and the climate it is given [degC, mm]."""

    site: str
    latitude: float
    longitude: float
    elevation_m: int
    timezone: str
    note: str
    mean_c: float
    half_swing_c: float
    day_range_c: tuple[float, float]  # midwinter, midsummer
    day_sd_c: tuple[float, float]  # midwinter, midsummer
    wet_share: tuple[float, float]  # midwinter, midsummer
    rain_mm: float  # mean of a wet day
    night_floor_c: float  # softly keeps natural spring nights above this

    @property
    def south(self) -> bool:
        return self.latitude < 0


NORTH = Place(
    "Quernwell", 47.5, 16.0, 240, "Europe/Vienna",
    "Invented. Inland, cold winters, warm summers. Row 1 lies lowest and catches the cold air.",
    10.2, 10.4, (6.5, 11.5), (3.6, 2.6), (0.38, 0.36), 5.2, -0.8,
)  # fmt: skip
SOUTH = Place(
    "Saltpan Reach", -38.0, 176.5, 35, "Pacific/Auckland",
    "Invented. Mild coast, citrus hardy in most winters.",
    14.0, 4.9, (9.2, 9.8), (2.1, 1.9), (0.42, 0.27), 7.5, 0.3,
)  # fmt: skip
PLACES = {place.site: place for place in (NORTH, SOUTH)}

# Nights made cold on purpose: site, night, lowest temperature [degC].
PLANNED_FROSTS = (
    ("Quernwell", date(2021, 4, 19), -3.4),
    ("Quernwell", date(2021, 4, 20), -5.1),
    ("Quernwell", date(2021, 4, 21), -2.9),
    ("Saltpan Reach", date(2019, 9, 16), -2.4),
)
# Dry spells: site, first and last day; most rain fails and the days are warmer.
PLANNED_GALES = (("Saltpan Reach", date(2024, 5, 16), date(2024, 5, 17)),)
PLANNED_DROUGHTS = (
    ("Quernwell", date(2022, 6, 1), date(2022, 8, 20)),
    ("Saltpan Reach", date(2019, 12, 10), date(2020, 2, 25)),
)
# Days without a weather record: one gap of nine days, the rest single days drawn at random.
WEATHER_GAP = ("Quernwell", date(2018, 1, 8), 9)
# Seasons with a mishap: (site, season) -> share of the crop left, fruit size, share spoilt.
HARD_SEASONS = {
    ("Quernwell", 2018): (0.95, 1.0, 0.22),  # hail in June
    ("Quernwell", 2022): (0.78, 0.86, 0.0),  # summer drought
    ("Saltpan Reach", 2020): (0.80, 0.88, 0.0),  # summer drought
    ("Saltpan Reach", 2023): (0.92, 1.0, 0.15),  # hail in December
}


@dataclass(frozen=True)
class Species:
    """Habits of a species here: dates are (month, day), spans in days, weights in g and kg."""

    bloom_north: tuple[int, int] | None
    bloom_south: tuple[int, int] | None
    lead: int  # days of warmth before bloom, once chilled
    fruit_g: int
    fruit_range_g: tuple[int, int]
    mature_kg: tuple[float, float, float]  # dwarf, semi-dwarf, standard
    first_leaf: tuple[int, int, int]  # leaf of the first real crop
    full_leaf: tuple[int, int, int]  # leaf of the full crop
    passes: tuple[int, int]
    picking_days: int
    bloom_days: int  # from first open flowers to the last petals
    counted: float  # chance that the fruit of a pass were counted
    brix: float
    causes: tuple[str, ...]
    evergreen: bool = False


SPECIES = {
    "apple": Species((4, 26), (10, 4), 80, 165, (100, 290), (19, 48, 105), (3, 4, 6), (6, 8, 12),
                     (2, 4), 16, 17, 0.7, 12.5, ("codling moth", "scab", "bruised", "birds")),
    "european pear": Species((4, 18), (9, 24), 75, 190, (130, 290), (14, 30, 78), (4, 5, 6),
                             (7, 9, 12), (2, 3), 12, 14, 0.7, 13.0,
                             ("pear scab", "wasps", "bruised")),
    "asian pear": Species(None, (9, 19), 65, 290, (200, 390), (22, 36, 92), (3, 4, 5), (6, 7, 10),
                          (2, 4), 16, 12, 0.9, 12.0, ("birds", "stalk puncture")),
    "peach": Species((4, 8), (9, 13), 60, 160, (100, 245), (17, 32, 68), (3, 3, 3), (5, 6, 6),
                     (3, 4), 11, 13, 0.6, 11.5, ("brown rot", "split stone", "earwigs")),
    "nectarine": Species((4, 7), None, 60, 130, (80, 195), (16, 30, 66), (3, 3, 3), (5, 6, 6),
                         (3, 4), 10, 13, 0.6, 12.5, ("brown rot", "thrips", "cracked")),
    "apricot": Species((4, 1), (8, 24), 50, 55, (35, 88), (16, 28, 62), (3, 3, 4), (6, 6, 8),
                       (2, 4), 9, 11, 0.2, 13.5, ("brown rot", "cracked", "birds")),
    "european plum": Species((4, 14), None, 68, 40, (20, 76), (16, 28, 64), (4, 4, 5), (7, 8, 10),
                             (2, 4), 13, 12, 0.15, 16.0, ("plum moth", "wasps", "brown rot")),
    "japanese plum": Species(None, (8, 29), 50, 80, (50, 118), (16, 27, 52), (3, 3, 4), (6, 7, 8),
                             (2, 4), 12, 12, 0.3, 13.0, ("birds", "brown rot", "cracked")),
    "sweet cherry": Species((4, 13), None, 66, 9, (6, 14), (11, 22, 42), (4, 5, 5), (7, 9, 10),
                            (2, 3), 8, 12, 0.0, 17.0, ("birds", "cracked by rain", "fruit fly")),
    "sour cherry": Species((4, 21), None, 74, 5, (3, 7), (10, 17, 27), (3, 4, 4), (6, 7, 8),
                           (2, 2), 7, 12, 0.0, 13.0, ("birds", "shot hole")),
    "quince": Species((5, 6), None, 85, 320, (200, 560), (0, 13, 24), (3, 4, 4), (6, 7, 8),
                      (2, 2), 9, 13, 0.9, 13.0, ("brown rot", "leaf blight")),
    "mandarin": Species(None, (10, 30), 80, 105, (60, 148), (13, 32, 55), (3, 4, 4), (6, 8, 9),
                        (3, 5), 45, 24, 0.5, 10.5, ("snails", "puffed", "wind scar"), True),
    "feijoa": Species(None, (11, 24), 90, 65, (40, 118), (0, 11, 19), (3, 3, 4), (6, 7, 8),
                      (4, 5), 26, 26, 0.3, 11.0, ("bruised", "leafroller"), True),
    "persimmon": Species(None, (11, 12), 125, 205, (120, 340), (12, 24, 55), (4, 4, 5), (7, 8, 10),
                         (2, 3), 18, 12, 0.9, 16.5, ("birds", "sunburn")),
}  # fmt: skip

# Cultivar: days of bloom after the species, days from full bloom to ripe, fruit size, swing of
# the crop after a heavy or light season (0 none .. 1 alternates fully).
CULTIVARS = {
    ("apple", "Discovery"): (0, 106, 0.75, 0.15), ("apple", "Gala"): (1, 117, 0.95, 0.15),
    ("apple", "Belle de Boskoop"): (-3, 152, 1.25, 1.0), ("apple", "GoldRush"): (4, 175, 1.0, 0.35),
    ("apple", "Cripps Pink"): (-4, 196, 1.0, 0.1), ("apple", "Honeycrisp"): (0, 132, 1.25, 0.5),
    ("apple", "Gravenstein"): (-4, 113, 1.05, 0.45), ("apple", "Topaz"): (1, 147, 0.95, 0.15),
    ("apple", "Quernwell Sheepnose"): (2, 137, 0.9, 0.3),
    ("apple", "Yellow Transparent"): (-3, 84, 0.75, 0.45), ("apple", "Elstar"): (0, 128, 0.9, 0.5),
    ("apple", "James Grieve"): (-1, 117, 1.0, 0.2), ("apple", "Granny Smith"): (0, 173, 1.1, 0.2),
    ("apple", "Golden Delicious"): (2, 142, 1.0, 0.35),
    ("european pear", "Clapp's Favorite"): (0, 110, 1.05, 0.2),
    ("european pear", "Bartlett"): (1, 122, 1.0, 0.2),
    ("european pear", "Conference"): (0, 147, 0.9, 0.15),
    ("european pear", "Doyenne du Comice"): (4, 152, 1.2, 0.4),
    ("european pear", "Packham's Triumph"): (-2, 141, 1.1, 0.2),
    ("asian pear", "Nijisseiki"): (0, 147, 1.0, 0.35), ("asian pear", "Hosui"): (-1, 137, 1.1, 0.2),
    ("peach", "Redhaven"): (0, 107, 0.95, 0.15), ("peach", "Cresthaven"): (1, 132, 1.15, 0.15),
    ("peach", "Elberta"): (1, 136, 1.1, 0.15), ("peach", "O'Henry"): (0, 146, 1.2, 0.15),
    ("peach", "Flordaprince"): (-48, 84, 0.75, 0.1),
    ("nectarine", "Flavortop"): (0, 118, 1.1, 0.1), ("nectarine", "Fantasia"): (1, 136, 1.1, 0.1),
    ("apricot", "Bergeron"): (3, 109, 1.0, 0.2), ("apricot", "Harcot"): (0, 97, 1.0, 0.2),
    ("apricot", "Bulida"): (-2, 99, 1.0, 0.2), ("apricot", "Currot"): (-23, 91, 0.8, 0.2),
    ("european plum", "Opal"): (0, 107, 0.85, 0.2), ("european plum", "Czar"): (-1, 113, 0.9, 0.2),
    ("european plum", "Victoria"): (1, 127, 1.2, 0.45),
    ("european plum", "Stanley"): (1, 130, 1.0, 0.2),
    ("japanese plum", "Methley"): (-2, 94, 0.75, 0.15),
    ("japanese plum", "Beauty"): (-6, 95, 0.9, 0.2),
    ("japanese plum", "Santa Rosa"): (0, 111, 1.05, 0.2),
    ("sweet cherry", "Burlat"): (-2, 56, 0.9, 0.1), ("sweet cherry", "Kordia"): (4, 75, 1.1, 0.1),
    ("sweet cherry", "Lapins"): (-1, 80, 1.05, 0.1), ("sweet cherry", "Regina"): (5, 83, 1.1, 0.1),
    ("sour cherry", "Montmorency"): (0, 65, 1.0, 0.1),
    ("sour cherry", "Morello"): (3, 75, 1.0, 0.1),
    ("quince", "Vranja"): (0, 160, 1.15, 0.2), ("quince", "Champion"): (1, 154, 0.9, 0.2),
    ("mandarin", "Satsuma Owari"): (0, 224, 1.05, 0.25),
    ("mandarin", "Clementine"): (3, 252, 0.8, 0.6),
    ("feijoa", "Unique"): (0, 136, 0.95, 0.1), ("feijoa", "Apollo"): (2, 153, 1.2, 0.1),
    ("feijoa", "Saltpan Hedge"): (4, 162, 0.8, 0.1),
    ("persimmon", "Fuyu"): (0, 160, 0.95, 0.4),
    ("persimmon", "Rojo Brillante"): (-2, 153, 1.1, 0.4),
}  # fmt: skip

# tree | species | cultivar | planted | rootstock | vigour | form | removed | note
TREE_LIST = """
Q1-01|apple|Belle de Boskoop|2006-11-18|seedling|standard|standard||
Q1-02|apple|Gravenstein|2006-11-18|seedling|standard|standard||
Q1-03|european pear|Doyenne du Comice|2007-03-10|pear seedling|standard|half-standard||
Q1-04|sweet cherry|Kordia|2008-11-08|F 12/1|standard|half-standard||
Q1-05|european plum|Stanley|2009-03-14|myrobalan|standard|half-standard||
Q1-06|quince|Vranja|2010-03-20|own roots|standard|bush||
Q1-07|apple|Quernwell Sheepnose|2007-11-10|seedling|standard|standard||local seedling, name ours
Q2-01|apple|Discovery|2010-11-13|M.26|semi-dwarf|bush||
Q2-02|apple|James Grieve|2010-11-13|MM.106|semi-dwarf|bush||
Q2-03|apple|Yellow Transparent|2009-11-14|MM.106|semi-dwarf|bush||
Q2-04|apple|GoldRush|2012-03-17|MM.106|semi-dwarf|bush||
Q2-05|apple|Golden Delicious|2012-03-17|MM.106|semi-dwarf|bush||
Q2-06|european pear|Bartlett|2011-11-12|Quince A|semi-dwarf|espalier||
Q2-07|european pear|Clapp's Favorite|2011-11-12|Quince A|semi-dwarf|espalier||
Q2-08|european plum|Victoria|2010-03-20|St Julien A|semi-dwarf|bush||
Q2-09|european plum|Opal|2012-11-10|St Julien A|semi-dwarf|bush||
Q3-01|apple|Gala|2013-03-16|M.9|dwarf|spindle||
Q3-02|apple|Gala|2013-03-16|M.9|dwarf|spindle||
Q3-03|apple|Elstar|2012-11-17|M.9|dwarf|spindle|2022-11-19|grubbed, canker
Q3-04|apple|Cripps Pink|2015-03-21|M.9|dwarf|spindle||
Q3-05|apple|Discovery|2024-03-09|M.9|dwarf|spindle||left to carry in its third leaf
Q3-06|apple|Honeycrisp|2024-11-16|M.9|dwarf|spindle||
Q3-07|apple|Topaz|2025-11-15|M.9|dwarf|spindle||
Q3-08|apple|Honeycrisp|2019-11-16|M.9|dwarf|spindle||
Q4-01|peach|Redhaven|2013-11-16|St Julien A|semi-dwarf|fan||
Q4-02|peach|Cresthaven|2016-03-12|St Julien A|semi-dwarf|bush||
Q4-03|nectarine|Fantasia|2015-11-14|St Julien A|semi-dwarf|fan||
Q4-04|nectarine|Flavortop|2024-03-16|St Julien A|semi-dwarf|fan||
Q4-05|apricot|Bergeron|2014-11-15|myrobalan|standard|half-standard||
Q4-06|apricot|Harcot|2012-11-10|St Julien A|semi-dwarf|bush|2020-06-13|died back in June
Q4-07|sweet cherry|Burlat|2016-11-12|Gisela 5|dwarf|spindle||
Q4-08|sweet cherry|Lapins|2018-03-10|Gisela 5|dwarf|spindle||
Q4-09|sweet cherry|Regina|2026-04-04|Gisela 5|dwarf|spindle||potted, set out in spring
Q4-10|sour cherry|Montmorency|2014-03-15|Gisela 5|dwarf|bush||
Q4-11|sour cherry|Morello|2011-03-12|St Julien A|semi-dwarf|fan||
Q4-12|european pear|Conference|2025-03-15|Quince C|dwarf|bush||
Q4-13|quince|Champion|2023-11-11|Quince A|semi-dwarf|bush||
S1-01|mandarin|Satsuma Owari|2009-09-12|trifoliate orange|semi-dwarf|bush||
S1-02|mandarin|Satsuma Owari|2012-09-15|Flying Dragon|dwarf|bush||
S1-03|mandarin|Clementine|2011-09-17|trifoliate orange|semi-dwarf|bush||
S1-04|mandarin|Clementine|2025-09-20|Flying Dragon|dwarf|bush||set out in spring
S1-05|feijoa|Unique|2012-05-19|own roots|semi-dwarf|hedge||
S1-06|feijoa|Apollo|2012-05-19|own roots|semi-dwarf|hedge||
S1-07|feijoa|Saltpan Hedge|2008-06-14|own roots|standard|hedge||old hedge seedling, name ours
S2-01|peach|Elberta|2013-07-13|peach seedling|standard|bush||
S2-02|peach|Redhaven|2014-07-12|peach seedling|semi-dwarf|bush||
S2-03|peach|O'Henry|2016-07-16|peach seedling|semi-dwarf|bush|2024-05-18|lost in the wind
S2-04|peach|Flordaprince|2024-07-13|peach seedling|semi-dwarf|bush||
S2-05|japanese plum|Santa Rosa|2010-07-17|myrobalan|standard|bush||
S2-06|japanese plum|Methley|2015-07-11|myrobalan|semi-dwarf|bush||
S2-07|japanese plum|Beauty|2025-07-12|myrobalan|semi-dwarf|bush||
S2-08|apricot|Bulida|2013-07-13|myrobalan|semi-dwarf|bush||
S2-09|apricot|Currot|2025-06-21|myrobalan|semi-dwarf|bush||
S3-01|apple|Gala|2011-07-16|M.26|semi-dwarf|bush||
S3-02|apple|Granny Smith|2011-07-16|MM.106|semi-dwarf|bush||
S3-03|apple|Cripps Pink|2017-07-15|M.9|dwarf|spindle||
S3-04|asian pear|Nijisseiki|2014-07-19|pear seedling|semi-dwarf|bush||
S3-05|asian pear|Hosui|2018-07-14|pear seedling|semi-dwarf|bush||
S3-06|persimmon|Fuyu|2012-08-11|kaki seedling|semi-dwarf|bush||
S3-07|persimmon|Rojo Brillante|2026-07-18|kaki seedling|semi-dwarf|bush||planted this winter
"""


@dataclass(frozen=True)
class PlannedTree:
    """One tree of the list."""

    tree: str
    place: Place
    species: str
    cultivar: str
    planted: date
    rootstock: str
    vigour: str
    form: str
    removed: date | None
    note: str

    @property
    def first_season(self) -> int:
        """Season of the first leaf: the first spring after planting in the dormant season."""
        if self.place.south:
            return self.planted.year + 1
        return self.planted.year if self.planted.month <= 6 else self.planted.year + 1

    @property
    def row(self) -> int:
        return int(self.tree[1])

    @property
    def habit(self) -> Species:
        return SPECIES[self.species]

    @property
    def biennial(self) -> bool:
        """Alternates fully and is never thinned."""
        return CULTIVARS[self.species, self.cultivar][3] >= 1

    @property
    def size(self) -> int:
        return VIGOURS.index(self.vigour)


def planned_trees() -> list[PlannedTree]:
    trees = []
    for line in TREE_LIST.strip().splitlines():
        tree, species, cultivar, planted, root, vigour, form, removed, note = line.split("|")
        place = NORTH if tree.startswith("Q") else SOUTH
        gone = date.fromisoformat(removed) if removed else None
        trees.append(PlannedTree(tree, place, species, cultivar, date.fromisoformat(planted), root,
                                 vigour, form, gone, note))  # fmt: skip
    return trees
