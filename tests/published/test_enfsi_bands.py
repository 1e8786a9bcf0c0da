"""The bands of the default verbal scale.

ENFSI Guideline for Evaluative Reporting in Forensic Science (2015), as encoded in a public
test suite; the guideline itself was not read (grade B: usable with care). An edge belongs
to the lower band.
"""

import pytest

from claywit.records import files
from claywit.report.scale import term


@pytest.mark.parametrize(
    ("ratio", "word"),
    [
        (1, "no support for either"),
        (2, "weak"),
        (10, "weak"),
        (10.01, "moderate"),
        (100, "moderate"),
        (101, "moderately strong"),
        (1_000, "moderately strong"),
        (1_001, "strong"),
        (10_000, "strong"),
        (10_001, "very strong"),
        (1_000_000, "very strong"),
        (1_000_001, "extremely strong"),
        (1e12, "extremely strong"),
    ],
)
def test_a_likelihood_ratio_gets_the_word_of_its_band(ratio, word):
    assert term(ratio, files.read_scale("enfsi-2015")) == word


def test_the_scale_says_where_it_comes_from_and_how_far_to_trust_it():
    scale = files.read_scale("enfsi-2015")
    assert "ENFSI" in scale.source
    assert scale.grade.startswith("B")
