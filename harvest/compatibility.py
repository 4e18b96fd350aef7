"""Whether one tree's pollen serves another: species, cultivar, triploids, S-alleles.

Pollen is rejected where it carries an S-allele the flower has (gametophytic incompatibility, as
in all pome and stone fruit); alleles of self-fruitful sports (S4', Sc, Se) are not rejected. From
memory. The alleles, and whether pollen is viable, come from data/reference/cultivars.csv.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

Serves = Literal["yes", "no", "unknown"]
NEEDS = {"yes": "needs partner", "no": "self-fruitful", "partly": "partly"}
# Alleles that no flower rejects: from memory.
ACCEPTED = frozenset({"Sc", "Se", "Sf"})


@dataclass(frozen=True, slots=True)
class Kind:
    """What is known of a cultivar as a parent."""

    species: str
    cultivar: str
    need: str
    """needs partner, partly, self-fruitful, or blank where not known."""
    need_from: str
    pollen_viable: bool | None
    alleles: frozenset[str]
    bloom_season: str
    source: str


@dataclass(frozen=True, slots=True)
class Match:
    """Whether pollen of one kind serves another, and why."""

    serves: Serves
    why: str


class Parents:
    """The tables, asked about two kinds."""

    def __init__(self, species: pd.DataFrame, cultivars: pd.DataFrame, pairs: pd.DataFrame) -> None:
        self._need = dict(zip(species["species"], species["needs_partner"], strict=True))
        self._pairs = {
            (row["species"], row["partner_species"]): row for row in pairs.to_dict("records")
        }
        self._rows: dict[tuple[str, str], dict[Any, Any]] = {}
        self._kinds: dict[tuple[str, str], Kind] = {}
        self._matches: dict[tuple[str, str, str, str], Match | None] = {}
        for row in cultivars.to_dict("records"):
            for name in (row["cultivar"], *str(row["also_called"]).split(";")):
                key = (row["species"], name.strip().casefold())
                if key[1]:
                    self._rows.setdefault(key, row)

    def kind(self, species: str, cultivar: str) -> Kind:
        """What the tables say of a cultivar; its species' need where its own is not known."""
        key = (species, cultivar)
        if key not in self._kinds:
            self._kinds[key] = self._kind(species, cultivar)
        return self._kinds[key]

    def _kind(self, species: str, cultivar: str) -> Kind:
        row = self._rows.get((species, cultivar.casefold()))
        own = str(row["pollination_need"]) if row else ""
        viable = str(row["pollen_viable"]) if row else ""
        return Kind(
            species=species,
            cultivar=str(row["cultivar"]) if row else cultivar,
            need=own or NEEDS.get(str(self._need.get(species, "")), ""),
            need_from=f"what is known of {cultivar if own else species}",
            pollen_viable={"yes": True, "no": False}.get(viable),
            alleles=frozenset(str(row["s_alleles"]).split()) if row else frozenset(),
            bloom_season=str(row["bloom_season"]) if row else "",
            source=str(row["source"]) if row else "from memory",
        )

    def distance_m(self, species: str) -> float | None:
        """How far apart handbooks let two of a species stand [m]."""
        row = self._pairs.get((species, species))
        return None if row is None or pd.isna(row["distance_m"]) else float(row["distance_m"])

    def match(self, target: Kind, partner: Kind) -> Match | None:
        """Whether the partner's pollen serves the target; None for species that never cross."""
        key = (target.species, target.cultivar, partner.species, partner.cultivar)
        if key not in self._matches:
            self._matches[key] = self._match(target, partner)
        return self._matches[key]

    def _match(self, target: Kind, partner: Kind) -> Match | None:
        pair = self._pairs.get((target.species, partner.species))
        if pair is None:
            return None
        if pair["serves"] != "yes":
            return Match(pair["serves"], f"{partner.species} on {target.species}: {pair['source']}")
        same = target.cultivar.casefold() == partner.cultivar.casefold()
        if same and target.species == partner.species:
            return Match("no", "the same cultivar: its own pollen again")
        if partner.pollen_viable is False:
            return Match(
                "no", f"the pollen of {partner.cultivar} is not viable (triploid or sterile)"
            )
        if target.species != partner.species:
            return Match("yes", f"{partner.species} pollen serves {target.species}")
        return _by_alleles(target, partner)


def _by_alleles(target: Kind, partner: Kind) -> Match:
    if not target.alleles or not partner.alleles:
        lacking = target.cultivar if not target.alleles else partner.cultivar
        return Match(
            "unknown", f"whether they suit each other is not known (S-alleles of {lacking})"
        )
    shared = {
        allele
        for allele in partner.alleles & target.alleles
        if not allele.endswith("'") and allele not in ACCEPTED
    }
    alleles = " ".join(sorted(partner.alleles))
    if shared == partner.alleles:
        return Match("no", f"all its S-alleles ({alleles}) are rejected by {target.cultivar}")
    if partner.pollen_viable is None:
        return Match("unknown", f"whether the pollen of {partner.cultivar} is viable is not known")
    if shared:
        return Match("yes", f"half of its pollen is taken (it shares {' '.join(sorted(shared))})")
    return Match("yes", f"no S-allele of its pollen ({alleles}) is rejected")
