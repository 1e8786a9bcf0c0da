"""A model that does not fit together is refused with the place, what was found and a way out."""

import re
from pathlib import Path

import pytest
from small import SHOPS

from claywit.errors import ModelError
from claywit.model.soundness import read_model

MODELS = Path(__file__).parents[2] / "models"


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
                                   "group shape: rym is not a node; did you mean rim?"),
    "a node in two groups": (changed("signs: [mark, wear]", "signs: [mark, rim]"),
                             "group signs: rim is already in shape"),
    "an unknown key": (changed("    label: Rim\n", "    labl: Rim\n"),
                       "small.yaml:15: rim: unknown key labl; did you mean label?"),
    "a missing key": (changed("version: 1.0.0\n", ""), "small.yaml:2: the key version is missing"),
    "another format": (changed("claywit-model/1", "claywit-model/9"), "claywit-model/9 is newer than this claywit"),
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
                              "p bevelled: found 1.8, must be at most 1"),
    "a decimal comma": (changed("p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: '0,8', flat: 0.2}"),
                        "'0,8' has a decimal comma; write 0.8 with a point"),
    "an unknown key whose place has keys of its own": (
        changed("    label: Rim\n", "    colour: Rim\n"),
        "small.yaml:15: rim: unknown key colour; known: applies_if, describe, dimensions, examine",
    ),
    "an unknown key of a row": (
        changed("p: {bevelled: 0.8, flat: 0.2}, source: test, n: 20", "p: {bevelled: 0.8, flat: 0.2}, sorce: test"),
        "small.yaml:20: rim, given shop=north: unknown key sorce; did you mean source?",
    ),
    "a missing key of a density": (
        changed("p: {bevelled: 0.8, flat: 0.2}", "normal: {mean: 1}"),
        "small.yaml:20: rim, given shop=north: normal: the key sd is missing",
    ),
    "no nodes": (SHOPS.split("nodes:\n", maxsplit=1)[0], "small.yaml:2: the key nodes is missing"),
    "a state with a space": (
        changed("    states: [little, much]", "    states: [little, very much]"),
        "wear: states, item 2: found 'very much'; a state is made of letters, digits and _ . + -, without spaces",
    ),
    "a node with a space": (
        changed("  seal:\n", "  wax seal:\n"),
        "found 'wax seal'; a name is made of letters, digits and _, and begins with a letter",
    ),
    "a version of two numbers": (changed("1.0.0", "1.0"), "version: found '1.0'; write three numbers, as 1.0.0"),
    "a name with capitals": (changed("name: shops", "name: My Shops"), "use lower-case letters, digits and dashes"),
    "text in place of a list": (
        changed("    states: [bevelled, flat]\n    parents: [shop]", "    states: [bevelled, flat]\n    parents: shop"),
        "small.yaml:17: rim: parents: a list is expected, as [one, two]",
    ),
    "text in place of a group's list": (changed("signs: [mark, wear]", "signs: mark"), "groups signs: a list is expected"),
    "text in place of a state": (
        changed("south: {label: South}", "south: Southern shop"),
        "shop: states south: nothing, or a mapping such as {label: North}, is expected",
    ),
    "neither true nor false": (changed("open: true", "open: perhaps"), "found 'perhaps', expected true or false"),
    "no target": (changed("targets: [shop]", "targets: []"), "targets: at least one is needed"),
    "a target that stands twice": (changed("targets: [shop]", "targets: [shop, shop]"), "target shop stands twice"),
    "an n of 0": (changed("other: 0.1}, source: test, n: 20", "other: 0.1}, source: test, n: 0"), "shop: n: found 0, must be above 0"),
    "a second prior row": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    rows: [{p: {little: 0.7, much: 0.3}}, {p: {little: 0.7, much: 0.4}}]"),
        "wear, row 2: little + much = 1.1, must be 1",
    ),
    "a state called not_applicable": (
        changed("states: [little, much]", "states: [little, much, not_applicable]"),
        "wear: no state can be called not_applicable",
    ),
    "a node with two names": (changed("  seal:\n", "  seal:\n    name: stamp\n"), "seal is called stamp inside; keep one name"),
    "counts of an unknown state": (
        changed("status: elicited\n", "status: elicited\nreference: {pieces: 3, by_state: {shop: {nrth: 3}}}\n"),
        "small.yaml:7: reference: shop has no state nrth; did you mean north?",
    ),
    "a parent that can be not visible": (
        changed("    label: Wear\n    states: [little, much]\n",
                "    label: Wear\n    states: [little, much]\n    parents: [film]\n")
        + "  film: {states: [thin, thick], visibility: {parent: shop, p: {north: 0.1, south: 0.1, other: 0.1}},"
        " rows: [{p: {thin: 0.5, thick: 0.5}}]}\n",
        "wear: parent film can be not visible; only a leaf may be",
    ),
    "a leak that depends on something": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop]\n    noisy_max: {leak: {given: {shop: north}, p: {much: 0.3}}}"),
        "wear, leak: the leak depends on nothing; drop its `given`",
    ),
    "a cause that names the lowest level": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop]\n    noisy_max: {leak: {p: {much: 0.3}}, causes: [\n"
                "      {given: {shop: north}, p: {little: 0.3}}]}"),
        "small.yaml:44: wear, given shop=north: little is the lowest level, it takes what is left",
    ),
    "a cause that names no level": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop]\n    noisy_or: {leak: {p: {mach: 0.3}}}"),
        "wear, leak: no level mach; did you mean much?",
    ),
    "a cause of two parents": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop, rim]\n    noisy_max: {leak: {p: {much: 0.3}}, causes: [\n"
                "      {given: {shop: north, rim: flat}, p: {much: 0.3}}]}"),
        "a cause is a state of one parent",
    ),
    "a cause given twice": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop]\n    noisy_max: {leak: {p: {much: 0.3}}, causes: [\n"
                "      {given: {shop: north}, p: {much: 0.3}}, {given: {shop: [south, north]}, p: {much: 0.1}}]}"),
        "wear, given shop=south|north: shop=north is given twice",
    ),
    "a noisy_or of three states": (
        changed("    states: [little, much]\n    examine: {view: front}\n    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    states: [little, more, much]\n    noisy_or: {leak: {p: {much: 0.3}}}"),
        "wear: noisy_or has two states; use noisy_max for more",
    ),
    "dimensions of what is not measured": (
        changed("    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]",
                "    parents: [shop, rim]\n    dimensions: {cavity: {north: {h: 3}}, shrinkage: {flat: {mean: 0, sd: 1}}}"),
        "wear: dimensions need `measured`, as {height: mm}",
    ),
    "a reading matrix that does not sum to 1": (
        SHOPS + "reading_matrices: {H: {node: rim, p: {bevelled: {bevelled: 1}, flat: {flat: 0.9}}}}\n",
        "H, true state flat: sums to 0.9, must be 1",
    ),
    "a reading matrix without a row": (
        SHOPS + "reading_matrices: {H: {node: rim, p: {bevelled: {bevelled: 1}}}}\n",
        "H: no row for the true state flat of rim",
    ),
    "an order that names no state": (
        SHOPS + "order: [{before: oil, after: crack, node: rim, state: flot}]\n",
        "order: rim has no state flot; did you mean flat?",
    ),
    "an order that is not whole": (SHOPS + "order: [{before: oil, after: crack, node: rim}]\n", "order, item 1: the key state is missing"),
    "something that applies where nothing is": (
        changed("    label: Mark\n", "    label: Mark\n    applies_if: {wear: lots}\n"),
        "mark: wear has no state lots; known: little, much",
    ),
    "a visibility that leaves out a state": (
        changed("    label: Mark\n", "    label: Mark\n    visibility: {parent: wear, p: {little: 0.1}}\n"),
        "mark: visibility says nothing of wear=much",
    ),
    "a visibility that is a parent too": (
        changed("    label: Mark\n", "    label: Mark\n    visibility: {parent: shop, p: {north: 0.1, south: 0.1, other: 0.1}}\n"),
        "mark: shop comes from visibility; drop it in parents",
    ),
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
    assert re.match(r"small\.yaml:\d+: ", str(raised.value))
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
    with pytest.raises(ModelError, match=r"parents go round in a circle: (a|b|c) -> "):
        read_model(CIRCLE.encode(), "circle.yaml")


def test_all_that_is_wrong_is_listed():
    text = SHOPS.replace("targets: [shop]", "targets: [shp]").replace(
        "nodes: [rim]", "nodes: [rym]"
    )
    with pytest.raises(ModelError, match=r"and 1 more; `claywit check` lists them") as raised:
        read_model(text.encode(), "small.yaml")
    assert len(raised.value.details) == 2


def test_a_noisy_gate_of_too_many_parents_is_refused_before_its_table_is_made():
    free = "".join(
        f"  f{i}: {{states: [a, b], rows: [{{p: {{a: 0.5, b: 0.5}}}}]}}\n" for i in range(22)
    )
    names = ", ".join(f"f{i}" for i in range(22))
    text = f"{CIRCLE.split('nodes:', maxsplit=1)[0]}nodes:\n{free}  a: {{states: [x, y], parents: [{names}], noisy_or: {{leak: {{p: {{y: 0.1}}}}}}}}\n"
    with pytest.raises(ModelError, match=r"a: 4,194,304 parent configurations; use fewer parents"):
        read_model(text.encode(), "gate.yaml")


def test_a_table_of_too_many_parents_is_refused_before_it_is_made():
    free = "".join(
        f"  f{i}: {{states: [a, b], rows: [{{p: {{a: 0.5, b: 0.5}}}}]}}\n" for i in range(40)
    )
    names = ", ".join(f"f{i}" for i in range(40))
    text = f"{CIRCLE.split('nodes:', maxsplit=1)[0]}nodes:\n{free}  a: {{states: [x, y], parents: [{names}], rows: [{{p: {{x: 1}}}}]}}\n"
    with pytest.raises(
        ModelError, match=r"a: 1,099,511,627,776 parent configurations; use noisy_max"
    ):
        read_model(text.encode(), "table.yaml")
