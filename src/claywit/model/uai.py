"""The UAI format for Bayesian networks: numbers only, without a name for anything.

Source of the format: the description of the UAI competitions (from memory). A scope lists
the parents, then the node; a table lists the configurations with the last of them fastest.
"""

import re
from collections import Counter
from pathlib import PurePath

from claywit.errors import ModelError
from claywit.model.discrete import MOST, Discrete, Variable, configurations, in_rows
from claywit.model.tokens import Token, Tokens


def read_uai(text: str, name: str) -> Discrete:
    """Return the network that *text* states; nodes are called v0, v1, states s0, s1.

    Raises:
        ModelError: anything is cut off, missing or left over, or does not add up in number.
    """
    if not text.endswith("\n"):
        hint = "the last number may be cut off; add a new line if it is whole"
        raise ModelError(f"{name}: ends within a line; {hint}")
    lines = enumerate(text.splitlines(), 1)
    tokens = Tokens(
        name, (Token(word, i) for i, line in lines for word in re.findall(r"\S+", line))
    )
    tokens.expect("BAYES")
    count = tokens.count("the number of nodes")
    states: dict[str, tuple[str, ...]] = {}
    left = MOST  # a table has a number for each state at least
    for i in range(count):  # a count too large runs out of tokens first
        states[f"v{i}"] = _states(tokens, i, left)
        left -= len(states[f"v{i}"])
    nodes = [*states]
    if tokens.count("the number of tables") != count or not count:
        tokens.refuse(f"a network of {count} nodes has as many tables, and at least one")
    scopes = [_scope(tokens, nodes) for _ in nodes]
    owners = Counter(scope[-1] for scope in scopes)
    for i, node in enumerate(nodes):
        if owners[node] != 1:
            tokens.refuse(f"{owners[node]} tables end in node {i}, expected one")
    found = {}
    for *parents, node in scopes:
        size = configurations(states, parents) * len(states[node])
        if tokens.count("the size of a table") != size:
            tokens.refuse(f"the table of node {node[1:]} has {size} numbers")
        numbers = [tokens.share() for _ in range(size)]
        shares = in_rows(numbers, len(states[node]))
        found[node] = Variable(node, states[node], tuple(parents), shares)
    if not tokens.ended():
        tokens.refuse("something follows the last table")
    return Discrete(PurePath(name).stem, tuple(found[node] for node in nodes))


def _states(tokens: Tokens, i: int, left: int) -> tuple[str, ...]:
    count = tokens.count(f"the number of states of node {i}")
    if not 2 <= count <= 10_000:
        tokens.refuse(f"node {i} has {count} states; 2 to 10,000 are read")
    if count > left:
        tokens.refuse(f"more than {MOST:,} states up to node {i}; so many at most are read")
    return tuple(f"s{k}" for k in range(count))


def _scope(tokens: Tokens, nodes: list[str]) -> list[str]:
    size = tokens.count("the size of a scope")
    if not 1 <= size <= len(nodes):
        tokens.refuse(f"a scope of {size} nodes in a network of {len(nodes)}")
    scope = [tokens.count("the number of a node") for _ in range(size)]
    if max(scope) >= len(nodes) or len(set(scope)) < size:
        tokens.refuse(f"the scope {' '.join(map(str, scope))} names no node, or one twice")
    return [nodes[i] for i in scope]


def write_uai(network: Discrete) -> str:
    """Return *network* as a UAI file; every number as its shortest exact decimal."""
    places = {node.name: i for i, node in enumerate(network.variables)}
    count = len(network.variables)
    lines = [
        "BAYES",
        f"{count}",
        " ".join(str(len(n.states)) for n in network.variables),
        f"{count}",
    ]
    for node in network.variables:
        scope = [places[name] for name in (*node.parents, node.name)]
        lines.append(" ".join(map(str, [len(scope), *scope])))
    for node in network.variables:
        lines += ["", str(len(node.shares) * len(node.states))]
        lines += [" ".join(map(repr, row)) for row in node.shares]
    return "\n".join(lines) + "\n"
