"""A model that does not fit together is refused with the place, what was found and a way out."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.errors import ClaywitError, ModelError
from claywit.model.matching import match
from claywit.model.schema import Model
from claywit.model.soundness import read_model
from claywit.model.tables import Row
from claywit.report.digest import plain
from small import SHOPS, model


def changed(before, after):
    assert SHOPS.count(before) == 1, before
    return SHOPS.replace(before, after)


MISFITS = {
    "a row that does not sum to 1": (
        changed("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: 0.7, flat: 0.27}"),
        "small.yaml:20: rim, given shop=north: bevelled + flat = 0.97, must be 1",
    ),
    "an unknown state in a row": (
        changed("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelld: 0.8, flat: 0.2}"),
        "small.yaml:20: rim, given shop=north: no state bevelld; did you mean bevelled?",
    ),
    "an unknown parent": (
        changed("    label: Rim\n    states: [bevelled, flat]\n    parents: [shop]",
                "    label: Rim\n    states: [bevelled, flat]\n    parents: [shp]"),
        "small.yaml:17: rim: parent shp is not a node; did you mean shop?",
    ),
    "an unknown state of a parent": (
        changed("{given: {shop: north}, p: {bevelled", "{given: {shop: nrth}, p: {bevelled"),
        "rim, given shop=nrth: shop has no state nrth; did you mean north?",
    ),
    "a row for what is no parent": (
        changed("{given: {shop: north}, p: {bevelled", "{given: {wear: much}, p: {bevelled"),
        "rim, given wear=much: wear is not a parent; known: shop",
    ),
    "two rows that match": (
        changed("{given: {shop: [south, other]}, p: {bevelled", "{given: {shop: [north, south, other]}, p: {bevelled"),
        "rim, given shop=north: rows 1 and 2 both match",
    ),
    "a configuration without a row": (
        changed("{given: {shop: [south, other]}, p: {bevelled", "{given: {shop: south}, p: {bevelled"),
        "rim, given shop=other: no row matches; add one, or a default row",
    ),
    "an unknown target": (changed("targets: [shop]", "targets: [shops]"),
                          "small.yaml:5: target shops is not a node; did you mean shop?"),
    "an unknown node in a group": (changed("nodes: [rim]", "nodes: [rym]"),
                                   "group shape: node rym is not a node; did you mean rim?"),
    "a node in two groups": (changed("signs: [mark, wear]", "signs: [mark, rim]"),
                             "group signs: rim is already in shape"),
    "an unknown key": (changed("    label: Rim\n", "    labl: Rim\n"),
                       "small.yaml:15: rim labl: unknown key; did you mean label?"),
    "a missing key": (changed("version: 1.0.0\n", ""), "version: this key is missing"),
    "another format": (changed("claywit-model/1", "claywit-model/9"), "found 'claywit-model/9'"),
    "one state only": (changed("states: [little, much]", "states: [little]"), "wear: one state only"),
    "a state that stands twice": (changed("states: [little, much]", "states: [little, much, much]"),
                                  "wear: state much stands twice"),
    "a state called not_visible": (changed("states: [little, much]", "states: [little, much, not_visible]"),
                                   "not_visible comes from visibility"),
    "no table": (changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]\n", ""),
                 "wear: no table; write one of rows, noisy_max"),
    "two defaults": (changed("rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                             "rows: [{p: {little: 1}}, {p: {much: 1}}]"),
                     "wear: two rows without `given`"),
    "a density on a node with states": (
        changed("rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "rows: [{normal: {mean: 1, sd: 1}}]"),
        "wear: a row of this node states p",
    ),
    "a row that says two things": (
        changed("rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "rows: [{p: {little: 0.7, much: 0.3}, normal: {mean: 1, sd: 1}}]"),
        "found p and normal; write one of p, normal, student_t, log_normal",
    ),
    "a probability above 1": (changed("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: 1.8, flat: -0.8}"),
                              "less than or equal to 1"),
    "a decimal comma": (changed("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: '0,8', flat: 0.2}"),
                        "'0,8' has a decimal comma; write 0.8 with a point"),
    "a circle": (
        changed("    label: Wear\n    states: [little, much]\n", "    label: Wear\n    states: [little, much]\n    parents: [wear]\n"),
        "wear",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", MISFITS)
def test_the_misfit_is_named_with_its_place_and_the_way_out(case):
    text, said = MISFITS[case]
    with pytest.raises(ModelError) as raised:
        read_model(text.encode(), "small.yaml")
    assert said in str(raised.value)
    assert str(raised.value).startswith("small.yaml")
    assert "\n" not in str(raised.value)


CIRCLE = """
format: claywit-model/1
name: circle
version: 1.0.0
targets: [a]
status: elicited
nodes:
  a: {states: [x, y], parents: [c], rows: [{given: {}, p: {x: 1}}]}
  b: {states: [x, y], parents: [a], rows: [{given: {}, p: {x: 1}}]}
  c: {states: [x, y], parents: [b], rows: [{given: {}, p: {x: 1}}]}
"""


def test_parents_that_go_round_in_a_circle_are_named():
    with pytest.raises(ModelError, match="parents go round in a circle: (a|b|c) -> "):
        read_model(CIRCLE.encode(), "circle.yaml")


def test_all_that_is_wrong_is_listed():
    text = SHOPS.replace("targets: [shop]", "targets: [shp]").replace(
        "nodes: [rim]", "nodes: [rym]"
    )
    with pytest.raises(ModelError, match=r"and 1 more; `claywit check` lists them") as raised:
        read_model(text.encode(), "small.yaml")
    assert len(raised.value.details) == 2


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
    ],
)  # fmt: skip
def test_a_sizes_leaf_that_leaves_something_unsaid_is_refused(before, after, said):
    read_model(LEAF.encode(), "leaf.yaml")
    with pytest.raises(ModelError) as raised:
        read_model(LEAF.replace(before, after).encode(), "leaf.yaml")
    assert said in " ".join(raised.value.details)


def test_a_row_without_given_holds_where_no_other_does():
    rows = [Row(p={"x": 1}), Row(given={"a": ("one",)}, p={"x": 1})]
    assert match(["a"], [["one", "two"]], rows).rows.tolist() == [1, 0]


def test_a_list_means_each_of_these():
    rows = [Row(given={"a": ("one", "two"), "b": ("p",)}, p={"x": 1}), Row(given={"b": ("q",)}, p={"x": 1}),
            Row(given={"a": ("three",), "b": ("p",)}, p={"x": 1})]  # fmt: skip
    found = match(["a", "b"], [["one", "two", "three"], ["p", "q"]], rows)
    assert found.rows.tolist() == [[0, 1], [0, 1], [2, 1]]
    assert found.gap is None


def test_a_model_reads_back_from_its_json():
    assert Model.model_validate(plain(model())) == model()


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_no_text_brings_the_reader_down(text):
    data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    try:
        read_model(data, "m.yaml")
    except ClaywitError as error:
        assert "\n" not in str(error)


lines = SHOPS.splitlines()


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, len(lines) - 1),
    st.sampled_from(["", "  x: 1", "- y", "nodes: 3", "  rows: []", "{", "'"]),
)
def test_no_damaged_line_brings_the_reader_down(at, damage):
    text = "\n".join([*lines[:at], damage, *lines[at + 1 :]])
    try:
        read_model(text.encode(), "m.yaml")
    except ClaywitError as error:
        assert "\n" not in str(error)
