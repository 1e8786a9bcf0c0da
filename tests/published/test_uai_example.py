"""The example in the description of the UAI format (UAI'08 evaluation; its numbers from memory)."""

from exchanged import back

from claywit.inference.flattened import flatten

UAI_2008 = """BAYES
3
2 2 3
3
1 0
2 0 1
2 1 2

2
 0.436 0.564

4
 0.128 0.872
 0.920 0.080

6
 0.210 0.333 0.457
 0.811 0.000 0.189
"""


def test_the_example_of_the_uai_evaluation_is_read_as_its_description_says():
    """P(X), P(Y given X), P(Z given Y); the last node of a scope changes first."""
    x, y, z = flatten(back(UAI_2008.encode(), "uai")).variables
    assert x.shares == ((0.436, 0.564),)
    assert (y.parents, y.shares) == (("v0",), ((0.128, 0.872), (0.92, 0.08)))
    assert (z.parents, z.shares) == (("v1",), ((0.21, 0.333, 0.457), (0.811, 0.0, 0.189)))
