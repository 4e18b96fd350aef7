"""What the forecasts reach on open records, strictly forward in time.

Every number is judged by later seasons that no fit has seen. Sweet cherry: Wenden et al. 2016,
Scientific Data 3:160108. Bloom: US EPA / National Park Service; MeteoSwiss; see tests/data.
"""

from __future__ import annotations

import pandas as pd

from tests.phenology.forward import bloom_scores, cherry_scores, relative


def test_sweet_cherry_ripe_dates() -> None:
    """Seasons 2005-2015, cultivars with at least three earlier seasons, as of 10 and 25 May."""
    scores = cherry_scores(["05-10", "05-25"], range(2005, 2016), 3)
    plain = ["mean day", "bloom + interval"]
    by_lead = relative(scores, ["site", "lead"], plain)
    by_lead["median error"] = scores.groupby(["site", "lead"])["error"].median()
    by_site = relative(scores, ["site"], plain)
    print("\nRipe dates of sweet cherry [d]\n", by_lead.round(3).to_string())
    print(by_site.round(3).to_string())
    assert by_site.loc["balandran", "n"] > 500
    assert by_site.loc["balandran", "ratio"] <= 0.83
    assert by_site.loc["etoile", "ratio"] <= 0.93
    assert 0.74 <= scores["in_80"].mean() <= 0.88
    assert 0.42 <= scores["in_50"].mean() <= 0.62
    assert by_lead.loc[("balandran", "05-25"), "median error"] <= 3.2


def test_cherry_bloom_dates() -> None:
    """At least fifteen earlier seasons, seasons not yet in bloom on the day."""
    scores = pd.concat(
        [
            bloom_scores("washington_dc", ["03-01", "03-15"], 15),
            bloom_scores("basel", ["03-01", "03-15", "04-01"], 15),
        ]
    )
    table = relative(scores, ["site", "lead"], ["30-year mean", "trend"])
    print("\nFull bloom of cherry [d]\n", table.round(3).to_string())
    ratio = table["ratio"]
    assert ratio["washington_dc", "03-01"] <= 0.87
    assert ratio["washington_dc", "03-15"] <= 0.74
    assert ratio["basel", "03-01"] <= 0.84
    assert ratio["basel", "03-15"] <= 0.69
    assert ratio["basel", "04-01"] <= 0.55
    assert 0.74 <= scores["in_80"].mean() <= 0.88
