"""Shrinkages compound: they multiply, they do not add.

A commercial plastic body: 6.25 % on drying, a further 6.66 % of the dry length on firing,
12.5 % in all and not 12.9 (digitalfire.com, glossary picture).
"""

import numpy as np
import pytest
from networks import build

from claywit.evidence.findings import Finding, Measure
from claywit.inference.likelihood import parent_tables
from claywit.inference.network import compile_network


def test_drying_and_firing_shrinkage_compound_to_an_eighth():
    total = 1 - (1 - 0.0625) * (1 - 0.0666)
    assert total == pytest.approx(0.1249375)
    assert round(100 * total, 1) == 12.5
    assert round(100 * (0.0625 + 0.0666), 1) == 12.9


def likeliest_height(shrinkages):
    """Return the height (mm) at which the sizes leaf is densest, for a cavity of 100 mm."""
    total = 1 - np.prod([1 - s for s in shrinkages])
    two = {"states": ["known", "lost"], "rows": [{"p": {"known": 0.5, "lost": 0.5}}]}
    paste = {"states": ["body", "none"], "rows": [{"p": {"body": 0.5, "none": 0.5}}]}
    leaf = {"measured": {"height": "mm"}, "parents": ["mould", "paste"], "dimensions": {
        "cavity": {"known": {"height": 100}}, "unfiled": {"lost": {"height": {"mean": 90, "sd": 30}}},
        "shrinkage": {"body": {"mean": total, "sd": 0.005}, "none": {"mean": 0, "sd": 0.005}}}}  # fmt: skip
    network = compile_network(build("fired", {"mould": two, "paste": paste, "size": leaf}))
    heights = np.arange(86.0, 89.0, 0.001)
    densities = [
        parent_tables(network, Finding("size", measures={"height": Measure(value=float(h))}))[
            0
        ].values[0, 0]
        for h in heights
    ]
    return heights[int(np.argmax(densities))]


def test_the_sizes_leaf_expects_a_fired_piece_at_its_compound_shrinkage():
    assert likeliest_height([0.0625, 0.0666]) == pytest.approx(87.506, abs=0.002)


def test_a_mould_taken_off_a_fired_piece_and_fired_again_shrinks_by_both():
    """The cavity of a fired clay mould is its model's, less the mould's own shrinkage.

    A piece of 100 mm gives a mould of 93.75 mm after 6.25 %, and that a piece of 87.506 mm
    after 6.66 %: the density is largest where both have been taken off.
    """
    paste = {"states": ["body", "other"], "rows": [{"p": {"body": 0.5, "other": 0.5}}]}
    mould = {"states": ["first", "second"], "rows": [{"p": {"first": 0.5, "second": 0.5}}]}
    sizes = {"measured": {"height": "mm", "width": "mm"}, "u": {"height": 0.1, "width": 0.1},
             "parents": ["mould", "paste"], "dimensions": {
                 "cavity": {"first": {"height": 100, "width": 60},
                            "second": {"height": 100 * 0.9375, "width": 60 * 0.9375}},
                 "shrinkage": {"body": {"mean": 0.0666, "sd": 0.005},
                               "other": {"mean": 0.02, "sd": 0.005}}}}  # fmt: skip
    network = compile_network(build("again", {"mould": mould, "paste": paste, "size": sizes}))

    def density(height, width):
        measures = {"height": Measure(value=height), "width": Measure(value=width)}
        return parent_tables(network, Finding("size", measures=measures))[0].values

    share = (1 - 0.0625) * (1 - 0.0666)
    at = density(100 * share, 60 * share)
    assert share == pytest.approx(0.8750625)
    assert at[1, 0] == at.max()
    for off in (-0.05, 0.05):
        assert density(100 * share + off, 60 * share)[1, 0] < at[1, 0]
        assert density(100 * share, 60 * share + off)[1, 0] < at[1, 0]


@pytest.mark.parametrize(
    ("wet", "fired", "percent"),
    [(10, 8.875, 11.25), (9.5, 8.5, 10.526316), (4.625, 4.25, 8.108108)],
)
def test_a_published_plaque_shrinks_by_its_stated_share(wet, fired, percent):
    """Pressed terracotta plaque, sizes in inches (R. Wolff, blog, 2013)."""
    assert 100 * (1 - fired / wet) == pytest.approx(percent, abs=1e-6)
