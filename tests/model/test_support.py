"""Which states can occur together, and that a zero is a fault only where it can be met."""

import numpy as np
import pytest
from small import SHOPS

from claywit.inference.network import compile_network
from claywit.model.lint import lint
from claywit.model.soundness import read_model
from claywit.model.support import families


def read(text):
    return read_model(text.encode(), "support.yaml")


def rules_that_fire(text):
    return {fault.rule for fault in lint(read(text))}


CHAIN = """\
format: claywit-model/1
name: chain
version: 1.0.0
targets: [period]
status: elicited
nodes:
  period: {states: [early, late], rows: [{p: {early: 0.6, late: 0.4}}]}
  shop:
    states: [yard, quay]
    parents: [period]
    rows: [{given: {period: early}, p: {yard: 1}}, {given: {period: late}, p: {quay: 1}}]
  paste:
    states: [lime, chalk]
    parents: [shop]
    rows: [{given: {shop: yard}, p: {lime: 1}}, {given: {shop: quay}, p: {chalk: 1}}]
  bed:
    states: [mat, slab]
    parents: [period]
    rows: [{given: {period: early}, p: {mat: 1}}, {given: {period: late}, p: {slab: 1}}]
  back:
    states: [twill, smooth]
    parents: [paste, bed]
    examine: {view: back}
    rows:
      - {given: {paste: lime, bed: mat}, p: {twill: 0.9, smooth: 0.1}}
      - {given: {paste: chalk, bed: slab}, p: {twill: 0.1, smooth: 0.9}}
      - {given: {}, p: {smooth: 1}}
"""


def test_what_can_occur_is_found_through_the_whole_network():
    """Lime on a slab and chalk on a mat are three steps from being excluded, and they are."""
    family = families(read(CHAIN))["back"]
    assert family.parents.tolist() == [[0, 0], [1, 1]]
    assert "zero-that-a-finding-could-contradict" not in rules_that_fire(CHAIN)


def test_one_exception_up_the_network_makes_the_zero_a_fault():
    text = CHAIN.replace("p: {yard: 1}", "p: {yard: 0.99, quay: 0.01}")
    (fault,) = [f for f in lint(read(text)) if f.rule == "zero-that-a-finding-could-contradict"]
    assert fault.path == ("nodes", "back", "rows", 2)
    assert "twill has probability 0" in fault.text


GATE = """\
format: claywit-model/1
name: gate
version: 1.0.0
targets: [bed]
status: elicited
nodes:
  bed: {states: [mat, slab], rows: [{p: {mat: 0.6, slab: 0.4}}]}
  wear:
    states: [none, some, much]
    parents: [bed]
    examine: {view: front}
    noisy_max:
      leak: {p: {some: 0.1, much: 0.1}}
      causes: [{given: {bed: slab}, p: {some: 0.2, much: 0.3}}]
"""


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("{some: 0.1, much: 0.1}", "{some: 0.1}", "wear, given bed=mat: much has probability 0"),
        ("{some: 0.2, much: 0.3}", "{some: 0.7, much: 0.3}",
         "wear, given bed=slab: none has probability 0"),
        ("{some: 0.2, much: 0.3}", "{much: 1}", "wear, given bed=slab: some has probability 0"),
    ],
)  # fmt: skip
def test_a_zero_of_a_noisy_gate_is_found(before, after, said):
    assert "zero-that-a-finding-could-contradict" not in rules_that_fire(GATE)
    found = lint(read(GATE.replace(before, after)))
    texts = [f.text for f in found if f.rule == "zero-that-a-finding-could-contradict"]
    assert any(text.startswith(said) for text in texts)


@pytest.mark.parametrize("text", [CHAIN, GATE, SHOPS])
def test_what_can_occur_is_what_the_engine_gives_a_probability(text):
    """The engine's tables, multiplied out, are above 0 just where `families` says so."""
    known = read(text)
    network = compile_network(known)
    names = [node.name for node in known.nodes if node.states]
    cards = [len(known.node(name).states) for name in names]
    joint = np.ones(cards)
    for name in names:
        scope = (*known.node(name).parents, name)
        order = sorted(range(len(scope)), key=lambda k: names.index(scope[k]))
        shape = [cards[i] if names[i] in scope else 1 for i in range(len(names))]
        joint = joint * np.transpose(network.rows[name], order).reshape(shape)
    for name, family in families(known).items():
        parents = known.node(name).parents
        scope = [names.index(n) for n in (*parents, name)]
        rest = tuple(i for i in range(len(names)) if i not in scope)
        possible = joint.sum(axis=rest) > 0
        kept = sorted(scope)
        possible = np.transpose(possible, [kept.index(i) for i in scope])
        found = np.zeros(possible.shape, dtype=bool)
        for line, states in zip(family.parents, family.states, strict=True):
            found[tuple(line)] = states
        assert (found == possible).all(), name


def test_lint_is_silent_about_zeros_where_too_much_can_occur_at_once():
    """Twenty free nodes of two states above one trait: a million joint states are not held."""
    free = "".join(
        f"  f{i}: {{states: [a, b], rows: [{{p: {{a: 0.6, b: 0.4}}}}]}}\n" for i in range(20)
    )
    names = ", ".join(f"f{i}" for i in range(20))
    text = (
        CHAIN
        + free
        + (
            f"  many: {{states: [x, y], parents: [{names}], examine: {{}}, rows: [{{given: {{}}, p: {{x: 1}}}}]}}\n"
        )
    )
    known = read(text)
    assert "many" not in families(known)
    assert not [f for f in lint(known) if f.path[:2] == ("nodes", "many") and "0;" in f.text]
