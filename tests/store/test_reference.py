"""The reference tables against their own rules and against the publications they name."""

from __future__ import annotations

import math
import re
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError, StoreError, UnknownNameError
from harvest.store import priors, reference
from harvest.store.reference import (
    bloom_prior,
    resolve_cultivar,
    resolve_species,
    ripening_prior,
)

LOADERS = {
    "species": (reference.species_table, ["species"]),
    "cultivars": (reference.cultivar_table, ["species", "cultivar"]),
    "cherry_offsets": (reference.cherry_offsets, ["cultivar"]),
    "crop_load": (reference.crop_load_table, ["species", "habit", "leaf_low"]),
    "young_trees": (reference.young_tree_table, ["species_group", "vigour", "leaf_low"]),
    "bearing_curves": (reference.bearing_curve_table, ["species", "vigour"]),
    "bbch": (reference.bbch_table, ["species_group", "code"]),
    "calendar": (reference.calendar_table, ["item", "kinds"]),
    "watch": (reference.watch_table, ["watch", "stage"]),
    "pollination": (reference.pollination_table, ["species", "partner_species"]),
    "frost_kill": (reference.frost_kill_table, ["species", "stage_name"]),
}
FOLDER = reference.data_folder() / "reference"
# The frost table is checked from the day it is there.
if not (FOLDER / "frost_kill.csv").is_file():
    del LOADERS["frost_kill"]
SPECIES = sorted(reference.species_table()["species"])
WENDEN = "Wenden et al. 2016"


def cultivar(species: str, name: str) -> pd.Series:
    table = reference.cultivar_table().set_index(["species", "cultivar"])
    return table.loc[(species, name)]


def species_row(name: str) -> pd.Series:
    return reference.species_table().set_index("species").loc[name]


# Every table


def test_no_name_belongs_to_two_cultivars_of_a_species() -> None:
    table = pd.concat(
        [reference.cultivar_table(), reference.cherry_offsets().assign(species="sweet cherry")]
    )
    for species, name, also in table[["species", "cultivar", "also_called"]].to_numpy():
        for other in [name, *filter(None, also.split("; "))]:
            assert resolve_cultivar(species, other) == name, (species, other)


def test_every_table_in_the_folder_has_a_loader() -> None:
    assert {path.stem for path in FOLDER.glob("*.csv")} == set(LOADERS)


@pytest.mark.parametrize("name", LOADERS)
def test_keys_are_unique_and_filled(name: str) -> None:
    load, key = LOADERS[name]
    table = load()
    assert len(table) > 5
    assert not table.duplicated(key).any()
    assert not table[key].isin([""]).any().any()


@pytest.mark.parametrize("name", LOADERS)
def test_every_row_names_its_source(name: str) -> None:
    assert (LOADERS[name][0]()["source"].str.len() > 10).all()


@pytest.mark.parametrize("name", LOADERS)
def test_low_is_never_above_high(name: str) -> None:
    table = LOADERS[name][0]()
    pairs = [column for column in table.columns if re.search(r"_low(?=_|$)", column)]
    for low in pairs:
        high = re.sub(r"_low(?=_|$)", "_high", low)
        assert not (table[low] > table[high]).any(), low


@pytest.mark.parametrize("name", LOADERS)
def test_no_firm_address_or_hearsay_in_any_cell(name: str) -> None:
    trace = re.compile(
        r"nurser(y|ies)|\bfarms?\b|\bltd\b|\binc\b\.|\bcorp\b|\bllc\b|\bgmbh\b|www\.|https?:"
        r"|\.(com|org|net)\b|\bblog|\bforum\b|@|shared/|zespri",
        re.IGNORECASE,
    )
    words = LOADERS[name][0]().select_dtypes(include="str").to_numpy().ravel()
    assert [cell for cell in words if trace.search(cell)] == []


@pytest.mark.parametrize("name", LOADERS)
def test_changing_a_table_does_not_change_the_next_one(name: str) -> None:
    load = LOADERS[name][0]
    first = load()
    kept = first.copy()
    first.iloc[:, :] = first.iloc[::-1].to_numpy()
    first["added"] = 1
    pd.testing.assert_frame_equal(load(), kept)


def test_basis_words_are_the_ones_explained() -> None:
    words = {"", "read", "derived", "trade list", "memory", "reference"}
    for load, _ in LOADERS.values():
        table = load()
        for column in table.columns[table.columns.str.endswith("basis")]:
            assert set(table[column]) <= words, column


def test_a_number_and_its_basis_stand_together() -> None:
    table = reference.cultivar_table()
    for stem in ("days_from_bloom", "chill_portions", "chill_hours"):
        assert (table[f"{stem}_low"].notna() == (table[f"{stem}_basis"] != "")).all()
    assert (table["ripens_offset_days"].notna() == (table["ripens_offset_basis"] != "")).all()


def test_every_species_named_is_known() -> None:
    for load, key in LOADERS.values():
        if "species" in key:
            assert set(load()["species"]) <= set(SPECIES)


def test_every_reference_cultivar_is_in_the_table() -> None:
    table = reference.cultivar_table()
    named = set(table["ripens_relative_to"]) - {""}
    assert named <= set(table["cultivar"])


# Facts, each against its source


def test_redhaven_days_as_published() -> None:
    # J. Am. Pomol. Soc., October 2018, p. 234: five sites, four years, from 92 (New York 2015)
    # to 126 (Idaho 2015) days from bloom to harvest.
    row = cultivar("peach", "Redhaven")
    assert (row["days_from_bloom_low"], row["days_from_bloom_high"]) == (92, 126)
    assert row["days_from_bloom_basis"] == "read"
    # The expected range of 20 normal values is 3.735 standard deviations (d2 of control charts).
    prior = ripening_prior("peach", "Redhaven")
    assert prior.mean_days == pytest.approx(109, abs=3)
    assert prior.sd_days == pytest.approx(34 / 3.735, rel=0.25)


def test_conference_heat_base_and_days_as_published() -> None:
    # Łysiak 2022, Agriculture 12:1803: base 0 with the least error, 2469 degree days from full
    # bloom; at a season's mean of 17 degC that is 145 days.
    assert species_row("european pear")["heat_base_c"] == 0.0
    prior = ripening_prior("pear", "Conference")
    assert abs(prior.mean_days - 2469 / 17) < prior.sd_days


def test_delicious_days_as_published() -> None:
    # Beaudry et al. 1993, HortTechnology: 143 days, Delicious, bloom to first storage pick.
    prior = ripening_prior("apple", "Delicious")
    assert abs(prior.mean_days - 143) < prior.sd_days / 2


def test_peach_heat_limits_as_published() -> None:
    # Marra et al. 2002, Acta Hortic. 592: base 7, upper 35 degC.
    row = species_row("peach")
    assert (row["heat_base_c"], row["heat_upper_c"]) == (7.0, 35.0)


@pytest.mark.parametrize(
    ("species", "name", "portions"),
    [
        # University of California Cooperative Extension, chill portions table.
        ("apple", "Golden Delicious", (50, 50)),
        ("sweet cherry", "Burlat", (48, 53)),
        ("sweet cherry", "Rainier", (45, 45)),
        ("peach", "Flordaprince", (8, 8)),
        ("peach", "O'Henry", (63, 63)),
    ],
)
def test_chill_portions_as_published(
    species: str, name: str, portions: tuple[float, float]
) -> None:
    row = cultivar(species, name)
    assert (row["chill_portions_low"], row["chill_portions_high"]) == portions
    assert row["chill_portions_basis"] == "read"


@pytest.mark.parametrize(
    ("name", "alleles"),
    [
        # Oregon State University Extension, sweet cherry compatibility chart.
        ("Bing", "S3 S4"),
        ("Van", "S1 S3"),
        ("Regina", "S1 S3"),
        ("Rainier", "S1 S4"),
        ("Burlat", "S3 S9"),
    ],
)
def test_cherry_alleles_as_published(name: str, alleles: str) -> None:
    assert cultivar("sweet cherry", name)["s_alleles"] == alleles


def test_nectarine_days_as_published() -> None:
    # Fallahi et al. 2014, J. Appl. Hortic. 16(2):103-106: Arctic Jay 136 d, Arctic Snow 181 d.
    for name, days in (("Arctic Jay", 136), ("Arctic Snow", 181)):
        row = cultivar("nectarine", name)
        assert row["days_from_bloom_low"] == row["days_from_bloom_high"] == days


@pytest.mark.parametrize(
    ("diameter_in", "biennial", "annual"),
    [(0.75, 11, 17), (1.0, 20, 30), (1.5, 46, 68), (2.0, 81, 122), (3.0, 182, 274)],
)
def test_crop_load_gives_the_published_fruit_numbers(
    diameter_in: float, biennial: int, annual: int
) -> None:
    # University of Massachusetts Extension, hand-thinning table, second to seventh leaf.
    area_cm2 = math.pi * (diameter_in * 2.54) ** 2 / 4
    table = reference.crop_load_table()
    young = table[(table["species"] == "apple") & (table["leaf_low"] == 2)].set_index("habit")
    assert young.loc["biennial", "fruit_per_cm2"] * area_cm2 == pytest.approx(biennial, abs=0.6)
    assert young.loc["annual", "fruit_per_cm2"] * area_cm2 == pytest.approx(annual, abs=0.6)


@pytest.mark.parametrize(
    ("species", "vigour", "kg"),
    [
        # University of Arizona Cooperative Extension: bushels of apple at 19 kg, almond 40-50 lb.
        ("apple", "dwarf", 19),
        ("apple", "semi_dwarf", 76),
        ("apple", "standard", 152),
        ("almond", "standard", 20.4),
    ],
)
def test_yields_hold_the_published_figure(species: str, vigour: str, kg: float) -> None:
    row = species_row(species)
    assert row[f"yield_kg_{vigour}_low"] <= kg <= row[f"yield_kg_{vigour}_high"]


def test_bbch_has_the_published_codes() -> None:
    # Meier 2001: 60-69 flowering with 65 full flowering, 87 ripe for picking, 89 for eating.
    for _, group in reference.bbch_table().groupby("species_group"):
        names = group.set_index("code")["stage_name"]
        assert "Full bloom" in names[65.0]
        assert names[87.0] == "Ripe for picking"
        assert {51, 55, 60, 61, 69, 75, 81, 85} <= set(names.index)
    # BBCH codes are two digits and rise with time.
    assert reference.bbch_table()["code"].between(0, 99).all()


def test_frost_kill_rows_are_sane() -> None:
    # Washington State University's tables: deeper cold kills more, and buds lose hardiness as
    # they open, so no later stage stands more cold than an earlier one.
    if "frost_kill" not in LOADERS:
        with pytest.raises(StoreError, match=r"frost_kill.csv: a reference table is missing"):
            reference.frost_kill_table()
        return
    table = reference.frost_kill_table()
    assert (table["kill10_c"] < 0).all()
    assert not (table["kill90_c"] > table["kill10_c"]).any()
    assert not (table["bbch_from"] > table["bbch_to"]).any()
    for species, rows in table.sort_values("bbch_from").groupby("species"):
        assert (rows["kill10_c"].diff().dropna() >= 0).all(), species


# Cherry offsets


def test_cherry_offsets_add_up() -> None:
    # One additive model for each quantity over the same records (Wenden et al. 2016): bloom plus
    # interval is maturity, to the rounding of one decimal.
    table = reference.cherry_offsets()
    total = table["full_bloom_minus_burlat_days"] + table["bloom_to_maturity_minus_burlat_days"]
    np.testing.assert_allclose(total, table["maturity_minus_burlat_days"], atol=0.11)


def test_trade_calendar_and_records_agree_on_bing_after_burlat() -> None:
    # A trade calendar gives 19 days, the European records 25: within the offset's spread.
    table = reference.cherry_offsets().set_index("cultivar")
    listed = -cultivar("sweet cherry", "Burlat")["ripens_offset_days"]
    assert listed == 19
    assert table.loc["Bing", "maturity_minus_burlat_days"] == pytest.approx(25.3)
    assert abs(listed - 25.3) < priors.OFFSET_SD["trade list"]


@pytest.mark.parametrize(
    ("name", "days"),
    # Mean days from full bloom to start of maturity, Etoile 2001-2015 (Wenden et al. 2016).
    [("Burlat", 49.7), ("Sweetheart", 78.6), ("Regina", 74.1), ("Rainier", 68.8)],
)
def test_cherry_priors_hold_the_records_of_one_site(name: str, days: float) -> None:
    blind = ripening_prior("sweet cherry", name, exclude_source=WENDEN)
    assert abs(blind.mean_days - days) < 2 * blind.sd_days


def test_rows_derived_from_a_data_set_can_be_left_out() -> None:
    assert reference.cherry_offsets(exclude_source=WENDEN).empty
    apples = "Canada's Apple Biodiversity Collection"
    left = reference.cultivar_table(exclude_source=apples)
    assert 0 < len(reference.cultivar_table()) - len(left) < 10
    assert apples not in set(left["derived_from"])


def test_prior_without_the_data_set_does_not_name_it() -> None:
    full = ripening_prior("sweet cherry", "Bing")
    blind = ripening_prior("sweet cherry", "Bing", exclude_source=WENDEN)
    assert WENDEN in full.source
    assert WENDEN not in blind.source
    assert blind.sd_days > full.sd_days
    only_there = ripening_prior("sweet cherry", "Folfer", exclude_source=WENDEN)
    assert only_there.level == "species"


# Names


@pytest.mark.parametrize(
    ("name", "species"),
    [
        ("Apple", "apple"),
        ("apples", "apple"),
        (" PEACHES ", "peach"),
        ("pear", "european pear"),
        ("Nashi", "asian pear"),
        ("satsuma", "mandarin"),
        ("Prunus avium", "sweet cherry"),
        ("tart cherries", "sour cherry"),
        ("Citrus unshiu", "mandarin"),
        ("blueberry", "northern highbush blueberry"),
        ("grape", "table grape"),
    ],
)
def test_species_by_any_of_its_names(name: str, species: str) -> None:
    assert resolve_species(name) == species


@pytest.mark.parametrize("species", SPECIES)
def test_every_name_of_a_species_leads_to_it_or_is_refused(species: str) -> None:
    row = species_row(species)
    assert resolve_species(species.upper()) == species
    for name in row["latin"].split("; "):
        assert resolve_species(name) == species


@pytest.mark.parametrize(
    ("name", "candidates"),
    [
        ("cherry", ["sour cherry", "sweet cherry"]),
        ("Plums", ["european plum", "japanese plum"]),
    ],
)
def test_a_name_of_two_species_is_refused_with_both(name: str, candidates: list[str]) -> None:
    with pytest.raises(UnknownNameError, match="more than one species") as caught:
        resolve_species(name)
    assert caught.value.close == candidates
    assert all(candidate in str(caught.value) for candidate in candidates)


def test_an_unknown_species_lists_close_names() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'apricot'"):
        resolve_species("aprikot")
    with pytest.raises(UnknownNameError, match="Known: almond, apple"):
        resolve_species("xyzzy")
    with pytest.raises(UnknownNameError, match="a known species is needed"):
        resolve_species("")


@pytest.mark.parametrize(
    ("species", "name", "written"),
    [
        ("peach", "red haven", "Redhaven"),
        ("apple", "Cox", "Cox's Orange Pippin"),
        ("apple", "COXS ORANGE PIPPIN", "Cox's Orange Pippin"),
        ("apple", "cox’s orange-pippin", "Cox's Orange Pippin"),
        ("pear", "Williams", "Bartlett"),
        ("pear", "Abbé Fétel", "Abate Fetel"),
        ("sweet cherry", "Sweetheart Sumtare", "Sweetheart"),
        ("sweet cherry", "Bigarreau Burlat", "Burlat"),
        ("sweet cherry", "Folfer", "Folfer"),
        ("peach", "Gala", "Gala"),
        ("apple", "Royal Gala", "Gala"),
    ],
)
def test_cultivar_by_any_of_its_names(species: str, name: str, written: str) -> None:
    assert resolve_cultivar(species, name) == written


@pytest.mark.parametrize("name", ["Grandmother's tree", "", "?"])
def test_an_unknown_cultivar_is_welcome(name: str) -> None:
    assert resolve_cultivar("apple", name) is None
    assert ripening_prior("apple", name).level == "species"


def test_an_unknown_species_is_refused_with_its_cultivar() -> None:
    with pytest.raises(UnknownNameError, match="a known species is needed"):
        resolve_cultivar("xyzzy", "Gala")


# Priors from the tables


def test_every_cultivar_has_a_prior_with_honest_width() -> None:
    for species, name in reference.cultivar_table()[["species", "cultivar"]].to_numpy():
        prior = ripening_prior(species, name)
        row = species_row(species)
        low, high = row["days_from_bloom_low"], row["days_from_bloom_high"]
        assert low - 15 < prior.mean_days < high + 15, (species, name)
        # Within-site natural spread of peach harvest is 5.8 d (Schwartz et al. 1997): nobody
        # knows a new tree better than that, short cherry seasons apart.
        assert prior.sd_days > (4 if "cherry" in species or species == "mulberry" else 5.8)
        assert prior.source


@pytest.mark.parametrize("species", SPECIES)
def test_an_unknown_cultivar_is_wider_than_a_known_one(species: str) -> None:
    unknown = ripening_prior(species, "none such")
    assert unknown.level == "species"
    known = reference.cultivar_table().query("species == @species")["cultivar"]
    for name in known:
        assert ripening_prior(species, name).sd_days <= unknown.sd_days


def test_a_later_offset_ripens_later() -> None:
    table = reference.cultivar_table()
    offset_only = table[
        (table["species"] == "peach")
        & (table["days_from_bloom_basis"] == "")
        & (table["ripens_relative_to"] == "Redhaven")
        & (table["ripens_offset_basis"] == "read")
    ].sort_values("ripens_offset_days")
    means = [ripening_prior("peach", name).mean_days for name in offset_only["cultivar"]]
    steps = np.diff(means)
    assert (steps[np.diff(offset_only["ripens_offset_days"]) > 0] > 0).all()


def test_japanese_plum_counts_from_its_own_earlier_bloom() -> None:
    # Shane, Michigan State University Extension: Shiro is picked 37 d before Stanley; it blooms
    # one to two weeks earlier, so it hangs longer than the offset alone says.
    shiro, stanley = (
        ripening_prior("japanese plum", "Shiro"),
        ripening_prior("european plum", "Stanley"),
    )
    assert shiro.mean_days > stanley.mean_days - 37


# Arithmetic of the priors

days = st.floats(30, 300)
spreads = st.floats(1, 40)
bases = st.sampled_from(["read", "derived", "trade list", "memory"])


@given(days, spreads, st.floats(-60, 60), st.floats(0.5, 30), bases, days, spreads)
def test_law_a_later_offset_has_a_later_mean(
    mean: float, sd: float, offset: float, more: float, basis: str, own: float, own_sd: float
) -> None:
    fixed, stated = priors.Evidence(mean, sd, "a"), priors.Evidence(own, own_sd, "b")
    species = priors.Evidence(120, 30, "species")
    early, late = (
        priors.combined([stated, priors.offset_evidence(fixed, move, basis, "c")], species)
        for move in (offset, offset + more)
    )
    assert late.mean > early.mean
    assert early.sd > 0
    assert priors.with_sites(early, "cultivar").sd_days > early.sd


@given(days, st.floats(0, 60), bases, st.integers(1, 20))
def test_law_weaker_statements_are_wider(low: float, width: float, basis: str, sites: int) -> None:
    one = priors.range_evidence(low, low + width, basis, "x")
    many = priors.range_evidence(low, low + width, basis, "x", sites)
    assert many.sd <= one.sd
    assert one.sd <= priors.range_evidence(low, low + width, "memory", "x").sd
    assert low <= one.mean <= low + width


@given(st.lists(st.tuples(days, spreads), min_size=1, max_size=5), days, spreads)
def test_law_combining_stays_between_and_agreement_does_not_narrow(
    stated: list[tuple[float, float]], species_mean: float, species_sd: float
) -> None:
    species = priors.Evidence(species_mean, species_sd, "species")
    evidence = [priors.Evidence(mean, sd, "x") for mean, sd in stated]
    result = priors.combined(evidence, species)
    means = [species.mean, *(item.mean for item in evidence)]
    assert min(means) - 1e-6 <= result.mean <= max(means) + 1e-6
    # One statement and the species: the product of two normal densities (textbook result).
    narrowest = min(item.sd for item in evidence)
    assert result.sd >= (narrowest**-2 + species_sd**-2) ** -0.5 - 1e-9
    assert priors.combined(evidence * 2, species).sd == pytest.approx(result.sd)


def test_combining_nothing_is_refused() -> None:
    with pytest.raises(QuantityError, match="at least one statement"):
        priors.combined([], priors.Evidence(120, 30, "species"))


# Bloom


def test_bloom_follows_the_bioclimatic_law() -> None:
    # Hopkins 1918 (from memory): 4 days per degree of latitude, 4 days per 400 ft.
    home = bloom_prior("apple", 45)
    assert bloom_prior("apple", 47).mean_day - home.mean_day == pytest.approx(8)
    assert bloom_prior("apple", 45, 121.92).mean_day - home.mean_day == pytest.approx(4)
    assert bloom_prior("apple", 41).mean_day - home.mean_day == pytest.approx(-16)


@pytest.mark.parametrize("species", SPECIES)
def test_southern_bloom_is_half_a_year_away(species: str) -> None:
    north, south = bloom_prior(species, 40), bloom_prior(species, -40)
    dates = [date(2024, 1, 1).toordinal() + north.mean_day, date(2024, 7, 1).toordinal()]
    apart = dates[1] + south.mean_day - dates[0]
    assert apart in (pytest.approx(182.625, abs=1.5), pytest.approx(183.5, abs=1.5))
    assert north.sd_days == south.sd_days > 0


@pytest.mark.parametrize(
    ("species", "latitude", "elevation_m", "day"),
    [
        # Mean full bloom, sweet cherry, Balandran and Etoile 2001-2015 (Wenden et al. 2016).
        ("sweet cherry", 43.76, 52, 94),
        ("sweet cherry", 44.82, 175, 96),
        # Wild cherry, Binningen near Basel, 1966-2022 (MeteoSwiss).
        ("sweet cherry", 47.54, 316, 97),
        # Victoria plum, full flower 14 April 2018, National Fruit Collection, Brogdale.
        ("european plum", 51.3, 40, 104),
        # Golden Delicious, mean full bloom 17 April at 220 m, South Tyrol (Laimburg).
        ("apple", 46.38, 220, 107),
    ],
)
def test_bloom_prior_holds_what_was_observed(
    species: str, latitude: float, elevation_m: float, day: float
) -> None:
    prior = bloom_prior(species, latitude, elevation_m)
    assert abs(prior.mean_day - day) < 2 * prior.sd_days


def test_loquat_bloom_runs_over_new_year() -> None:
    prior = bloom_prior("loquat", 38)
    assert 300 < prior.mean_day < 366
    assert prior.mean_day == bloom_prior("loquat", 30).mean_day


def test_far_latitudes_are_capped_and_wide() -> None:
    assert bloom_prior("apple", 70).mean_day - bloom_prior("apple", 45).mean_day == 20
    assert bloom_prior("apple", 70).sd_days > 40
    with pytest.raises(QuantityError, match="between -90 and 90"):
        bloom_prior("apple", 95)
