"""The same network for claywit and for two general libraries, and pieces drawn from it."""

import gzip
import logging
from importlib import resources

import numpy as np
import pyagrum
from networks import build
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork
from pgmpy.readwrite import BIFReader

from claywit.inference.expected import compile_machine, posteriors, routes, run, slotted
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_scopes
from claywit.inference.propagation import leave_each_out, load, propagate
from claywit.inference.sheet import columns_of
from claywit.inference.simulation import forward
from claywit.reasoning.readings import readings_of

logging.getLogger("pgmpy").setLevel(logging.ERROR)


def well_known(name):
    """Return a network of the bnlearn repository, as shipped with pgmpy, compiled by claywit.

    alarm: Beinlich et al. 1989, 37 nodes. hepar2: Onisko 2003, 70 nodes.
    """
    packed = resources.files("pgmpy").joinpath(f"utils/example_models/{name}.bif.gz").read_bytes()
    read = BIFReader(string=gzip.decompress(packed).decode()).get_model()
    nodes = {}
    for cpd in read.get_cpds():
        states = {n: [f"s{k}" for k in range(len(cpd.state_names[n]))] for n in cpd.variables}
        node, *parents = cpd.variables
        shares = cpd.values / cpd.values.sum(axis=0)  # some published columns sum to .999
        rows = [
            {"given": {_named(p): states[p][k] for p, k in zip(parents, where, strict=True)},
             "p": dict(zip(states[node], shares[(slice(None), *where)].tolist(), strict=True))}
            for where in np.ndindex(*shares.shape[1:])
        ]  # fmt: skip
        nodes[_named(node)] = {"states": states[node], "parents": [_named(p) for p in parents],
                               "rows": rows}  # fmt: skip
    return compile_network(build(name, nodes))


def _named(name):
    return f"n_{name.lower()}"


def a_star(traits, states):
    """Return a question of four states and *traits* traits of *states* states that rest on it."""
    rng = np.random.default_rng(traits * 100 + states)
    names = [f"s{k}" for k in range(states)]
    asked = ["a", "b", "c", "d"]
    nodes = {"asked": {"states": asked, "rows": [{"p": dict.fromkeys(asked, 0.25)}]}}
    for i in range(traits):
        rows = [{"given": {"asked": one},
                 "p": dict(zip(names, rng.dirichlet(np.ones(states)).tolist(), strict=True))}
                for one in asked]  # fmt: skip
        nodes[f"t{i}"] = {"states": names, "parents": ["asked"], "rows": rows}
    return compile_network(build("star", nodes))


def a_tangle(width):
    """Return *width* hidden causes of which every two share a trait: one clique of 2^width."""
    nodes = {f"r{i}": {"states": ["y", "n"], "rows": [{"p": {"y": 0.3, "n": 0.7}}]}
             for i in range(width)}  # fmt: skip
    rng = np.random.default_rng(width)
    for i in range(width):
        for j in range(i):
            rows = [{"given": {f"r{i}": one, f"r{j}": two}, "p": {"y": x, "n": 1 - x}}
                    for one in "yn" for two in "yn" for x in [float(rng.uniform(0.1, 0.9))]]  # fmt: skip
            nodes[f"t{i}x{j}"] = {"states": ["y", "n"], "parents": [f"r{i}", f"r{j}"], "rows": rows}
    return compile_network(build("tangle", nodes))


def drawn_pieces(network, count, seed=1):
    """Return the states of every discrete node on *count* pieces drawn from the network."""
    return forward(network, frozenset(network.states), count, np.random.default_rng(seed))


class Claywit:
    """Many pieces with all of *read* seen, the joint of *asked* wanted; compiled once."""

    def __init__(self, network, read, asked):
        self.network, self.asked = network, tuple(asked)
        self.slots, scopes, self.tables = [], [], []
        for name in read:
            readings = readings_of(network, network.model.node(name), asked)
            for scope in sorted({table.scope for reading in readings for table in reading}):
                self.slots.append(name)
                scopes.append(scope)
                self.tables.append(columns_of(network, scope, readings))
        versions = [table.shape[1] for table in self.tables]
        self.tree = compile_scopes(network, scopes, self.asked, versions)
        self.loaded = load(self.tree, self.tables)
        self.onto = np.concatenate([
            states == np.arange(len(network.states[name]))[:, np.newaxis]
            for name, states in zip(self.tree.roots, self.tree.root_states.T, strict=True)
        ]).astype(float)  # fmt: skip

    def picks(self, drawn):
        return np.stack([drawn[name] + 1 for name in self.slots])

    def joint(self, picks):
        return propagate(self.loaded, picks)

    def each_left_out(self, picks):
        """Return the joint whole and without each slot's node in turn, by the nodes' first slots."""
        names = list(dict.fromkeys(self.slots))
        owner = np.array([names.index(name) for name in self.slots])
        return leave_each_out(self.loaded, picks, owner)

    def posteriors(self, picks):
        """Return for each asked node its posterior, shape (states, pieces)."""
        joint = self.joint(picks)
        weights = np.exp(joint - joint.max(axis=0))
        shares = self.onto @ weights
        shares /= weights.sum(axis=0)
        return np.split(shares, np.cumsum([len(self.network.states[n]) for n in self.asked])[:-1])


class EveryNode:
    """The posteriors of all hidden nodes of many pieces at once, up and down the tree."""

    def __init__(self, network, read):
        self.network = network
        slots, scopes, tables = [], [], []
        for name in read:
            readings = readings_of(network, network.model.node(name), ())
            for scope in sorted({table.scope for reading in readings for table in reading}):
                slots.append(name)
                scopes.append(scope)
                tables.append(columns_of(network, scope, readings))
        self.slots = slots
        self.machine = compile_machine(network, scopes, [table.shape[1] for table in tables])
        self.given = slotted(network, self.machine, tables)
        self.asked = self.machine.nodes

    def picks(self, drawn):
        return np.stack([drawn[name] + 1 for name in self.slots])

    def posteriors(self, picks):
        """Return for each hidden node its posterior, shape (states, pieces)."""
        pieces, states = picks.shape[1], self.network.states
        found = [np.empty((len(states[name]), pieces)) for name in self.asked]
        for route in routes(self.machine, picks, np.ones(pieces), shared=False):
            part = slice(route.start, route.start + route.picks.shape[1])
            block = run(self.machine, route, self.given)
            for slot, family in posteriors(self.machine, block):
                if slot < len(found):
                    own = family.reshape(-1, len(found[slot]), family.shape[1])
                    found[slot][:, part] = own.sum(axis=0)
        return found


def as_pyagrum(network):
    """Return the discrete part of the model as a pyagrum network."""
    net = pyagrum.BayesNet(network.model.name)
    for name, states in network.states.items():
        net.add(pyagrum.LabelizedVariable(name, name, list(states)))
    for name in network.states:
        for parent in network.parents(name):
            net.addArc(parent, name)
    for name in network.states:
        scope, table = network.table(name)
        names = net.cpt(name).names  # the node first, then its parents
        axes = [scope.index(n) for n in reversed(names)]
        net.cpt(name)[:] = np.ascontiguousarray(np.transpose(table, axes))
    return net


class Pyagrum:
    """One of pyagrum's engines, kept between pieces, its targets declared, evidence set anew."""

    def __init__(self, network, read, asked, engine=pyagrum.LazyPropagation):
        self.network, self.read, self.asked = network, read, asked
        self.net = as_pyagrum(network)
        self.engine = engine(self.net)
        self.engine.setTargets(set(asked))

    def posteriors(self, drawn, piece):
        return self.given(
            {name: self.network.states[name][drawn[name][piece]] for name in self.read}
        )

    def given(self, evidence):
        self.engine.eraseAllEvidence()
        self.engine.setEvidence(evidence)
        self.engine.makeInference()
        return [self.engine.posterior(name).toarray() for name in self.asked]


class Pgmpy:
    """pgmpy's variable elimination, one query a piece for all targets, greedy order."""

    def __init__(self, network, read, asked):
        self.network, self.read, self.asked = network, read, list(asked)
        net = DiscreteBayesianNetwork()
        net.add_nodes_from(network.states)
        for name in network.states:
            scope, table = network.table(name)
            parents = list(scope[:-1])
            net.add_edges_from((parent, name) for parent in parents)
            values = np.moveaxis(table, -1, 0).reshape(table.shape[-1], -1)
            names = {n: list(network.states[n]) for n in scope}
            cards = [len(network.states[p]) for p in parents]
            net.add_cpds(TabularCPD(name, table.shape[-1], values, parents or None, cards or None,
                                    state_names=names))  # fmt: skip
        self.engine = VariableElimination(net)

    def posteriors(self, drawn, piece):
        evidence = {name: self.network.states[name][drawn[name][piece]] for name in self.read}
        joint = self.engine.query(self.asked, evidence, show_progress=False)
        return [joint.marginalize([n for n in self.asked if n != name], inplace=False).values
                for name in self.asked]  # fmt: skip
