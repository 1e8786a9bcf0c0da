"""A leaf of sizes that shrink together says everything that is needed, or is refused."""

import pytest

from claywit.errors import ModelError
from claywit.model.soundness import read_model

LEAF = """
format: claywit-model/1
name: leaf
version: 1.0.0
targets: [mould]
status: elicited
nodes:
  mould: {states: [M1, M0], rows: [{p: {M1: 0.5, M0: 0.5}}]}
  paste: {states: [A, B], rows: [{p: {A: 0.5, B: 0.5}}]}
  size:
    measured: {height: mm, width: mm}
    u: {height: 0.1, width: 0.1}
    parents: [mould, paste]
    dimensions:
      cavity: {M1: {height: 42, width: 31}}
      unfiled: {M0: {height: {mean: 40, sd: 5}, width: {mean: 30, sd: 4}}}
      shrinkage: {A: {mean: 0.02, sd: 0.01}, B: {mean: 0.03, sd: 0.01}}
"""


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("B: {mean: 0.03, sd: 0.01}", "", "size: no shrinkage for paste=B"),
        ("cavity: {M1:", "cavity: {M9:", "mould=M1 must be in cavity or in unfiled, not neither"),
        ("unfiled: {M0: {height: {mean: 40, sd: 5}, width: {mean: 30, sd: 4}}}",
         "unfiled: {M0: {height: {mean: 40, sd: 5}}}", "M0 gives height; expected height, width"),
        ("width: mm}", "width: furlong}", "unit furlong is not known"),
        ("width: mm}", "width: cm}", "sizes that shrink together are in one unit"),
        ("{height: mm, width: mm}", "{height: g, width: g}", "g does not shrink"),
        ("parents: [mould, paste]", "parents: [mould]", "dimensions need two parents"),
        ("u: {height: 0.1, width: 0.1}", "u: {height: 0.1}", "size: no u for width; say how finely it is measured"),
        ("u: {height: 0.1, width: 0.1}", "u: {height: 0.1, width: 0.1, depth: 1}", "size: no measure depth to give u for"),
        ("A: {mean", "C: {mean", "size: paste has no state C; known: A, B"),
        ("M1: {height: 42, width: 31}", "M1: {height: 42, width: 31}, M0: {height: 4, width: 3}", "not both"),
        ("M0: {height: {mean: 40, sd: 5}", "M0: {tails: heavy, height: {mean: 40, sd: 5}", "size: dimensions unfiled M0 tails: "),
    ],
)  # fmt: skip
def test_a_sizes_leaf_that_leaves_something_unsaid_is_refused(before, after, said):
    read_model(LEAF.encode(), "leaf.yaml")
    with pytest.raises(ModelError) as raised:
        read_model(LEAF.replace(before, after).encode(), "leaf.yaml")
    assert said in " ".join(raised.value.details)


def test_a_correlation_that_three_measures_cannot_have_is_refused():
    text = """
format: claywit-model/1
name: three
version: 1.0.0
targets: [mould]
status: elicited
nodes:
  mould: {states: [M1, M0], rows: [{p: {M1: 0.5, M0: 0.5}}]}
  paste: {states: [A, B], rows: [{p: {A: 0.5, B: 0.5}}]}
  size:
    measured: {a: mm, b: mm, c: mm}
    u: {a: 0.1, b: 0.1, c: 0.1}
    parents: [mould, paste]
    dimensions:
      cavity: {M1: {a: 4, b: 3, c: 2}}
      unfiled: {M0: {a: {mean: 4, sd: 1}, b: {mean: 3, sd: 1}, c: {mean: 2, sd: 1}, correlation: -0.6}}
      shrinkage: {A: {mean: 0.02, sd: 0.01}, B: {mean: 0.03, sd: 0.01}}
"""
    with pytest.raises(ModelError, match=r"3 measures cannot all go together below -0\.5"):
        read_model(text.encode(), "three.yaml")
