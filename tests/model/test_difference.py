"""What changed between two models is told in words, and nothing is told twice or made up."""

import re

import pytest
from lint_changes import CLEAN
from small import HIDDEN, SHOPS, model

from claywit.model.difference import changes
from claywit.model.renaming import renamed, under_new_names
from claywit.report.digest import digest

SAID = {
    "a share": (
        "p: {bevelled: 0.8, flat: 0.2}",
        "p: {bevelled: 0.7, flat: 0.3}",
        ["rim, given shop=north: bevelled 0.7, was 0.8; flat 0.3, was 0.2"],
    ),
    "a row split in two": (
        "      - {given: {shop: [south, other]}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}\n",
        "      - {given: {shop: south}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}\n"
        "      - {given: {shop: other}, p: {bevelled: 0.3, flat: 0.7}, source: test, n: 12}\n",
        ["rim, given shop=other: bevelled 0.3, was 0.1; flat 0.7, was 0.9; n 12, was 20"],
    ),
    "a row split in two that say the same": (
        "      - {given: {shop: [south, other]}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}\n",
        "      - {given: {shop: south}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}\n"
        "      - {given: {shop: other}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}\n",
        [],
    ),
    "a default row": (
        "{given: {shop: [south, other]}, p: {bevelled: 0.1, flat: 0.9}",
        "{given: {}, p: {bevelled: 0.2, flat: 0.8}",
        ["rim, given shop=south or shop=other: bevelled 0.2, was 0.1; flat 0.8, was 0.9"],
    ),
    "a source": (
        "sources: {test: for a test}",
        "sources: {test: counted}",
        ["sources, test: counted, was for a test"],
    ),
    "a new source": (
        "sources: {test: for a test}",
        "sources: {test: for a test, log: a log}",
        ["sources, log: new: a log"],
    ),
    "the version": ("version: 1.0.0", "version: 1.0.1", ["version: 1.0.1, was 1.0.0"]),
    "a group": (
        "signs: [mark, wear]",
        "signs: [mark]",
        ["groups, signs, nodes: mark, was mark, wear"],
    ),
    "the order of groups": (
        "groups: {shape: {label: Shape, nodes: [rim]}, signs: [mark, wear]}",
        "groups: {signs: [mark, wear], shape: {label: Shape, nodes: [rim]}}",
        ["groups: in another order"],
    ),
    "a target": (
        "targets: [shop]",
        "targets: [shop, seal]",
        ["targets: shop, seal, was shop"],
    ),
    "a label": ("label: Rim", "label: The rim", ["rim, label: The rim, was Rim"]),
    "how it is looked at": (
        "examine: {view: edge}",
        "examine: {view: edge, minutes: 5}",
        ["rim, examine, minutes: new: 5"],
    ),
    "a state more": (
        "    states: [absent, stroke]\n",
        "    states: [absent, stroke, ring]\n",
        ["mark: new state ring"],
    ),
    "the order of states": (
        "    states: [absent, stroke]\n",
        "    states: [stroke, absent]\n",
        ["mark: states stand in another order: stroke, absent"],
    ),
    "a parent": (
        "    states: [little, much]\n",
        "    states: [little, much]\n    parents: [shop]\n",
        ["wear: new parent shop", "wear: its rows hang on other parents now (1 rows, were 1)"],
    ),
    "the order of nodes": (
        "  wear:\n    label: Wear\n    states: [little, much]\n    examine: {view: front}\n"
        "    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]\n",
        "",
        ["wear: dropped, states little, much", "groups, signs, nodes: mark, was mark, wear"],
    ),
}


@pytest.mark.parametrize("case", SAID)
def test_a_change_is_told_in_words(case):
    before, after, expected = SAID[case]
    assert SHOPS.count(before) == 1
    text = SHOPS.replace(before, after)
    if case == "the order of nodes":
        text = text.replace("signs: [mark, wear]", "signs: [mark]")
    if case == "a state more":
        text = text.replace("stroke: 0.1}", "stroke: 0.1, ring: 0}")
    assert sorted(told(SHOPS, text)) == sorted(expected)


def told(old, new):
    one, other = model(old), model(new)
    return [change.text for change in changes(one, other, renamed(one, other))]


@pytest.mark.parametrize("text", [SHOPS, HIDDEN])
def test_of_two_equal_models_nothing_is_told(text):
    assert told(text, text) == []


def test_a_density_and_a_visibility_are_told_by_their_numbers():
    new = HIDDEN.replace("normal: {mean: 5, sd: 1}", "student_t: {location: 5, scale: 1, df: 4}")
    new = new.replace("o2: 0.5}", "o2: 0.75}")
    assert told(HIDDEN, new) == [
        "size, given r=a: student_t location 5, scale 1, df 4, was normal mean 5, sd 1",
        "size, visibility, p, o2: 0.75, was 0.5",
    ]


def test_a_new_name_is_a_guess_and_the_rest_is_compared_under_it():
    new = re.sub(r"\bmark\b", "marks", SHOPS).replace("stroke", "strokes").replace("0.6", "0.7")
    new = new.replace("strokes: 0.4", "strokes: 0.3")
    assert told(SHOPS, new) == [
        "marks: was mark, renamed (a guess by the nearest name)",
        "marks: state strokes was stroke, renamed (a guess by the nearest name)",
        "marks, given shop=south: absent 0.7, was 0.6; strokes 0.3, was 0.4",
    ]


def test_a_node_of_a_near_name_that_shares_no_state_is_not_taken_for_it():
    new = re.sub(r"\bmark\b", "marks", SHOPS)
    new = new.replace("    states: [absent, stroke]\n", "    states: [dots, rings]\n")
    new = new.replace("{absent: 0.9, stroke: 0.1}", "{dots: 0.9, rings: 0.1}")
    new = new.replace("{absent: 0.6, stroke: 0.4}", "{dots: 0.6, rings: 0.4}")
    found = told(SHOPS, new)
    assert "mark: dropped, states absent, stroke" in found
    assert "marks: new, states dots, rings" in found


def test_renaming_reaches_every_place_where_a_name_stands():
    """Sizes that shrink together, orders, reading matrices, visibility, applies_if, groups."""
    text = CLEAN.replace("{pieces: 12}", "{pieces: 12, by_state: {mould: {M1: 8}}}")
    text = text.replace("before: rim", "before: edge")  # an event of that name is no node
    old = text.replace("M1: {label: Old,", "M1: {label: Old, after: M0,")
    new = old
    for name in ("mould", "M1", "paste", "fine", "gloss", "shiny", "veil", "thick", "rim", "round"):
        new = re.sub(rf"\b{name}\b", f"{name}_x" if name != "M1" else "M1x", new)
    one, other = model(old), model(new)
    names = renamed(one, other)
    assert len(names.nodes) == 5
    assert digest(under_new_names(one, names)) == digest(other)
    assert all("a guess" in text for text in told(old, new))
