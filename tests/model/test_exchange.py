"""What goes out in another format comes back the same to the last bit, or is refused.

Oracles: pgmpy's and pyagrum's readers and writers of the same formats.
"""

import itertools
import json
import re
from pathlib import Path

import numpy as np
import pyagrum
import pytest
from exchanged import BIF, back, written
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from networks import published, random_model
from pgmpy.factors.discrete import TabularCPD
from pgmpy.models import DiscreteBayesianNetwork
from pgmpy.readwrite import BIFReader, BIFWriter, XMLBIFReader, XMLBIFWriter
from small import model as small_model

from claywit.evidence.findings import Finding
from claywit.inference.flattened import flatten
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, log_total
from claywit.model import exchange
from claywit.model.schema import Model
from claywit.model.soundness import read_with_lines
from claywit.model.source import unseen
from claywit.records import files
from claywit.report.digest import digest

HERE = Path(__file__).parent
MODELS = HERE.parents[1] / "models"
PUBLISHED = ["asia", "student", "alarm_burglary", "sprinkler"]
NAMED = ["bif", "xmlbif"]


def tables(model):
    """Return the tables of a model without its names: states, parents by place, shares."""
    variables = flatten(model).variables
    place = {node.name: i for i, node in enumerate(variables)}
    return [(len(n.states), [place[p] for p in n.parents], n.shares) for n in variables]


def same_network(one, other):
    return flatten(one).variables == flatten(other).variables


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("kind", NAMED)
def test_a_published_network_comes_back_to_the_last_bit(name, kind):
    model, _ = published(name)
    assert same_network(back(written(model, kind), kind), model)


@pytest.mark.parametrize("name", PUBLISHED)
def test_uai_brings_back_every_number_though_no_name(name):
    model, _ = published(name)
    assert tables(back(written(model, "uai"), "uai")) == tables(model)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 9))
def test_a_drawn_network_comes_back_to_the_last_bit(seed, size):
    model = random_model(np.random.default_rng(seed), size, hideable=0)
    for kind in NAMED:
        assert same_network(back(written(model, kind), kind), model)
    assert tables(back(written(model, "uai"), "uai")) == tables(model)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_json_and_yaml_hold_all_of_a_drawn_model(seed):
    model = random_model(np.random.default_rng(seed), 8, measured=0.3)
    for kind in exchange.WHOLE:
        assert digest(back(written(model, kind), kind)) == digest(model)


@settings(max_examples=60, deadline=None)
@given(
    text=st.text(max_size=40),
    marks=st.text(alphabet="\n\t :#'\"-[]{}&*!|>%@`,?\u2028\xa0", max_size=20),
)
def test_json_and_yaml_hold_whatever_can_be_seen_in_a_text(text, marks):
    assume(not unseen(text))
    data = small_model().model_dump(mode="json") | {"title": text, "describe": marks}
    model = Model.model_validate(data)
    for kind in exchange.WHOLE:
        assert digest(back(written(model, kind), kind)) == digest(model)


def test_yaml_is_written_as_people_write_it_so_that_faults_find_their_lines():
    text = written(files.read_model(MODELS / "tarn-loaves.yaml"), "yaml")
    _, document = read_with_lines(text, "t.yaml")
    name, line = document.place(("nodes", "rim", "rows", 1)).split(":")
    assert (
        text.decode()
        .splitlines()[int(line) - 1]
        .strip()
        .startswith("- {given: {kept_near_fire: 'yes'}")
    )
    assert name == "t.yaml"


@pytest.mark.parametrize("kind", ["json", "xmlbif", "bif"])
def test_what_cannot_be_seen_is_refused_however_it_is_spelt(kind):
    spelt = {"json": "\\u202e", "xmlbif": "&#x202e;", "bif": "\u202e"}[kind]
    text = written(published("asia")[0], kind).decode()
    name = {"json": '"name": "asia"', "xmlbif": "<NAME>asia</NAME>", "bif": "network asia"}[kind]
    assert name in text
    hidden = (
        name.replace("asia", f"as{spelt}ia") if kind != "json" else f'{name}, "title": "a{spelt}"'
    )
    with pytest.raises(exchange.ModelError, match=r"cannot be seen \(U\+202E\)"):
        back(text.replace(name, hidden, 1).encode(), kind)


@pytest.mark.parametrize("name", ["oskervane", "tarn-loaves"])
@pytest.mark.parametrize("kind", exchange.WHOLE)
def test_json_and_yaml_hold_all_of_a_shipped_model(name, kind):
    model = files.read_model(MODELS / f"{name}.yaml")
    again = back(written(model, kind), kind)
    assert digest(again) == digest(model)
    assert written(again, kind) == written(model, kind)


def test_a_noisy_gate_answers_the_same_as_a_full_table():
    model = files.read_model(MODELS / "tarn-loaves.yaml")
    seen = [Finding("smell_of_smoke", state="present"), Finding("colour", state="brown")]
    found = [
        np.exp(log_total_of(known, seen)) for known in (model, back(written(model, "bif"), "bif"))
    ]
    assert found[1] == pytest.approx(found[0], rel=1e-14)


def log_total_of(model, findings):
    piece = compile_piece(compile_network(model), findings, [])
    return float(log_total(piece.log_joint(np.ones((1, len(findings)), dtype=bool)))[0])


# ---- Against other readers and writers ------------------------------------------------------


def pgmpy_tables(network):
    return {
        cpd.variable: (
            cpd.variables[1:],
            cpd.state_names[cpd.variable],
            cpd.get_values().T.tolist(),
        )
        for cpd in network.get_cpds()
    }


def our_tables(model):
    return {
        node.name: (list(node.parents), list(node.states), [list(row) for row in node.shares])
        for node in flatten(model).variables
    }


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_pgmpy_reads_what_is_written(seed):
    model = random_model(np.random.default_rng(seed), 8, hideable=0)
    bif, xml = (written(model, kind).decode() for kind in NAMED)
    assert pgmpy_tables(BIFReader(string=bif).get_model()) == our_tables(model)
    assert pgmpy_tables(XMLBIFReader(string=xml).get_model()) == our_tables(model)


def as_pgmpy(model):
    network = DiscreteBayesianNetwork()
    network.name = "drawn"
    variables = {node.name: node for node in flatten(model).variables}
    network.add_nodes_from(variables)
    for node in variables.values():
        network.add_edges_from((parent, node.name) for parent in node.parents)
        cards = [len(variables[parent].states) for parent in node.parents]
        names = {name: list(variables[name].states) for name in (node.name, *node.parents)}
        values = np.array(node.shares).T
        network.add_cpds(
            TabularCPD(
                node.name,
                len(node.states),
                values,
                list(node.parents) or None,
                cards or None,
                names,
            )
        )
    return network


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_pgmpy_writes_is_read(seed):
    model = random_model(np.random.default_rng(seed), 8, hideable=0)
    network = as_pgmpy(model)
    for kind, writer in (("bif", BIFWriter), ("xmlbif", XMLBIFWriter)):
        assert our_tables(back(str(writer(network)).encode(), kind)) == our_tables(model)


@pytest.mark.parametrize("ending", ["bif", "bifxml"])
@pytest.mark.parametrize("name", PUBLISHED)
def test_pyagrum_reads_the_same_numbers(name, ending, tmp_path):
    """To seven digits: it keeps what it reads of these formats in single precision."""
    model, _ = published(name)
    file = tmp_path / f"network.{ending}"
    file.write_bytes(written(model, "bif" if ending == "bif" else "xmlbif"))
    network = pyagrum.loadBN(str(file))
    for node in flatten(model).variables:
        family = [*node.parents, node.name]
        table = network.cpt(node.name)
        held = itertools.product(*(range(len(model.node(n).states)) for n in family))
        found = [table[dict(zip(family, place, strict=True))] for place in held]
        assert found == pytest.approx(list(itertools.chain(*node.shares)), abs=1e-7)


@pytest.mark.parametrize("name", PUBLISHED)
def test_uai_lists_a_scope_with_its_last_node_fastest(name):
    """UAI'08: within a table the scope's order holds, its last variable changing first."""
    model, _ = published(name)
    words = written(model, "uai").decode().split()
    count = int(words[1])
    cards, scopes, at = [int(word) for word in words[2 : 2 + count]], [], 3 + count
    for _ in range(count):
        size = int(words[at])
        scopes.append([int(word) for word in words[at + 1 : at + 1 + size]])
        at += 1 + size
    for scope, node in zip(scopes, flatten(model).variables, strict=True):
        size = int(words[at])
        table = np.array(words[at + 1 : at + 1 + size], dtype=float)
        table = table.reshape([cards[place] for place in scope])
        at += 1 + size
        assert [model.nodes[place].name for place in scope] == [*node.parents, node.name]
        assert np.array_equal(table.reshape(-1, table.shape[-1]), np.array(node.shares))


# ---- Names ----------------------------------------------------------------------------------


def test_names_that_a_model_cannot_have_are_changed_and_kept_as_labels():
    text = BIF.replace("b |", '"the rim" |').replace("variable b", 'variable "the rim"')
    model = back(text.replace("low", '"very low"').encode(), "bif")
    assert (model.node("the_rim").label, model.nodes[1].states[0].name) == ("the rim", "very_low")
    assert model.nodes[1].states[0].label == "very low"


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        (
            "{ low, mid, high }",
            '{ "a b", "a/b", high }',
            "b: states: a b and a/b would both become a_b",
        ),
        ("{ low, mid, high }", "{ not_visible, mid, high }", "no state can be called not_visible"),
    ],
)
def test_names_that_collide_are_refused(before, after, message):
    with pytest.raises(exchange.ModelError, match=re.escape(message)):
        back(BIF.replace(before, after).encode(), "bif")


def test_json_refuses_a_key_that_stands_twice_and_what_is_no_number():
    text = written(published("asia")[0], "json").decode()
    twice = text.replace('"version": "1.0.0"', '"version": "1.0.0", "version": "2.0.0"')
    with pytest.raises(exchange.ModelError, match="key version stands twice"):
        back(twice.encode(), "json")
    with pytest.raises(exchange.ModelError, match="NaN is no number"):
        back(text.replace("0.99", "NaN", 1).encode(), "json")
    with pytest.raises(exchange.ModelError, match=r"a mapping .* is expected"):
        back(json.dumps([]).encode(), "json")


def test_the_format_shows_in_the_ending_of_the_name():
    assert [exchange.format_of(f"a.{e}") for e in ("XML", "yml", "bif")] == [
        "xmlbif",
        "yaml",
        "bif",
    ]
    with pytest.raises(exchange.ModelError, match=r"end its name in \.yaml, \.json, \.bif"):
        exchange.format_of("model.doc")
