"""Every configuration of the parents is answered for by one row."""

from claywit.model.matching import match
from claywit.model.tables import Row


def test_a_row_without_given_holds_where_no_other_does():
    rows = [Row(p={"x": 1}), Row(given={"a": ("one",)}, p={"x": 1})]
    assert match(["a"], [["one", "two"]], rows).rows.tolist() == [1, 0]


def test_a_list_means_each_of_these():
    rows = [Row(given={"a": ("one", "two"), "b": ("p",)}, p={"x": 1}), Row(given={"b": ("q",)}, p={"x": 1}),
            Row(given={"a": ("three",), "b": ("p",)}, p={"x": 1})]  # fmt: skip
    found = match(["a", "b"], [["one", "two", "three"], ["p", "q"]], rows)
    assert found.rows.tolist() == [[0, 1], [0, 1], [2, 1]]
    assert found.gap is None


def test_a_clash_names_the_configuration_and_both_rows():
    rows = [Row(given={"a": ("one",)}, p={"x": 1}), Row(given={"b": ("q",)}, p={"x": 1})]
    found = match(["a", "b"], [["one", "two"], ["p", "q"]], rows)
    assert found.clash == ({"a": "one", "b": "q"}, 0, 1)


def test_a_gap_names_the_first_configuration_without_a_row():
    rows = [
        Row(given={"a": ("one",)}, p={"x": 1}),
        Row(given={"a": ("two",), "b": ("q",)}, p={"x": 1}),
    ]
    found = match(["a", "b"], [["one", "two"], ["p", "q"]], rows)
    assert found.gap == {"a": "two", "b": "p"}
    assert found.clash is None


def test_a_default_is_no_clash_with_the_rows_that_name_something():
    rows = [
        Row(given={"a": ("one",)}, p={"x": 1}),
        Row(p={"x": 1}),
        Row(given={"a": ("two",)}, p={"x": 1}),
    ]
    found = match(["a"], [["one", "two", "three"]], rows)
    assert (found.rows.tolist(), found.clash, found.gap) == ([0, 2, 1], None, None)


def test_a_node_without_parents_has_one_configuration():
    assert match([], [], [Row(p={"x": 1})]).rows.tolist() == 0
