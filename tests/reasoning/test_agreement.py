"""Two examiners' readings of one piece: what is agreed, and what kind of difference it is."""

import pytest
from networks import build
from small import examined, model

from claywit.reasoning.agreement import compare, tied
from claywit.records import files


@pytest.fixture(scope="module")
def oskervane():
    from pathlib import Path

    return files.read_model(Path(__file__).parents[2] / "models" / "oskervane.yaml")


def kind(known, a, b):
    (point,) = compare(known, examined(known, a).findings, examined(known, b).findings)
    return point.kind


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        ("{rim: flat}", "{rim: flat}", "same"),
        ("{rim: flat}", "{rim: {state: flat, where: crown, note: clear}}", "same"),
        ("{rim: flat}", "{rim: bevelled}", "state"),
        ("{rim: flat}", "{}", "only_a"),
        ("{}", "{rim: flat}", "only_b"),
        ("{rim: flat}", "{rim: {state: flat, sure: 0.8}}", "sure"),
        ("{rim: {state: flat, sure: 0.9}}", "{rim: {state: flat, sure: 0.8}}", "sure"),
        ("{rim: {state: flat, sure: 0.9}}", "{rim: {state: bevelled, sure: 0.6}}", "state"),
        ("{rim: flat}", "{rim: {likelihood: {flat: 1, bevelled: 0.3}}}", "sure"),
        ("{rim: flat}", "{rim: {likelihood: {flat: 0.3, bevelled: 1}}}", "state"),
        ("{rim: flat}", "{rim: {likelihood: {flat: 1, bevelled: 1}}}", "sure"),
    ],
)
def test_each_difference_has_its_kind(a, b, expected):
    assert kind(model(), a, b) == expected


def test_seen_and_not_visible_is_a_difference_of_its_own(oskervane):
    assert kind(oskervane, "{grog: present}", "{grog: not_visible}") == "visible"
    assert kind(oskervane, "{grog: not_visible}", "{grog: {not_visible: dirt}}") == "same"


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        ("7.4 mm", "7.4 mm", "same"),
        # u is 0.1 each: two of sqrt(0.1^2 + 0.1^2) are 0.283 mm.
        ("{value: 7.4 mm, u: 0.1 mm}", "{value: 7.68 mm, u: 0.1 mm}", "within"),
        ("{value: 7.4 mm, u: 0.1 mm}", "{value: 7.69 mm, u: 0.1 mm}", "measure"),
        ("{value: 7.4 mm, u: 0.1 mm}", "{between: [7.5 mm, 8 mm]}", "within"),
        ("{value: 7.4 mm, u: 0.1 mm}", "{below: 7.1 mm}", "measure"),
        ("{below: 7 mm}", "{above: 6.5 mm}", "within"),
    ],
)
def test_measures_agree_within_twice_their_uncertainty(oskervane, a, b, expected):
    assert kind(oskervane, f"{{thickness: {a}}}", f"{{thickness: {b}}}") == expected


def test_a_side_that_measured_more_differs(oskervane):
    both, one = "{size: {height: 43.5 mm, width: 31.8 mm}}", "{size: {height: 43.5 mm}}"
    assert kind(oskervane, both, one) == "measure"


def test_what_decides_whether_another_applies_goes_with_it():
    rows = [{"p": {"a": 0.5, "b": 0.5}}]
    nodes = {name: {"states": ["a", "b"], "rows": rows} for name in ("net", "wear", "grain")}
    nodes["lip"] = {"states": ["a", "b"], "parents": ["net"], "applies_if": {"net": ["b"]},
                    "rows": [{"given": {}, "p": {"a": 0.5, "b": 0.5}}]}  # fmt: skip
    known = build("tied", nodes)
    assert tied(known, ["net", "wear", "lip"]) == (("net", "lip"), ("wear",))
    assert tied(known, ["wear", "lip"]) == (("wear",), ("lip",))


def test_what_has_only_a_name_elsewhere_is_tied_to_nothing():
    """An order of events can name a trait that only the other side's model has."""
    assert tied(model(), ["rim", "unheard_of"]) == (("rim",), ("unheard_of",))
