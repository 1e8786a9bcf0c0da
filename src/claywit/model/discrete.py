"""A network of discrete nodes with full tables: all that exchange formats can hold."""

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from pathlib import PurePath

from claywit.errors import ModelError, did_you_mean
from claywit.model import matching
from claywit.model.schema import Model
from claywit.model.soundness import sound
from claywit.model.source import Document
from claywit.model.tables import TOLERANCE
from claywit.model.typed import typed

MOST = 500_000  # numbers in all tables together
# What a name may not hold, how it may begin, and what is put before it where it does not.
_NODE = (r"[^A-Za-z0-9_]", r"[A-Za-z]", "n_")
_STATE = (r"[^A-Za-z0-9_.+-]", r"[A-Za-z0-9]", "s")

Shares = tuple[float, ...]


@dataclass(frozen=True)
class Variable:
    """A node: one row of *shares* for each configuration of its parents, the last fastest."""

    name: str
    states: tuple[str, ...]
    parents: tuple[str, ...]
    shares: tuple[Shares, ...]


@dataclass(frozen=True)
class Discrete:
    """A whole network, its nodes in the order of the file."""

    name: str
    variables: tuple[Variable, ...]


def configurations(states: Mapping[str, Sequence[str]], parents: Sequence[str]) -> int:
    """Return how many configurations *parents* have."""
    return matching.configurations(len(states[parent]) for parent in parents)


def in_rows(numbers: Sequence[float], width: int) -> tuple[Shares, ...]:
    """Return *numbers* in rows of *width*."""
    return tuple(tuple(numbers[i : i + width]) for i in range(0, len(numbers), width))


def as_model(network: Discrete, file: str, targets: Sequence[str]) -> Model:
    """Return the sound model that *network*, read from *file*, states about *targets*.

    Names that a model cannot have are changed, and kept as labels. Without targets the
    first node is one. What the numbers rest on is said to be unknown.

    Raises:
        ModelError: two names would become one, a row does not sum to 1, parents go round
            in a circle, a target is no node, or the network is too large.
    """
    size = sum(len(row) for node in network.variables for row in node.shares)
    if size > MOST:
        raise ModelError(f"{file}: {size:,} numbers; at most {MOST:,} are read")
    names = _renamed(file, "nodes", [node.name for node in network.variables], _NODE)
    for target in targets:
        if target not in names.values():
            hint = did_you_mean(target, names.values())
            raise ModelError(f"{file}: --target {target} is not a node; {hint}")
    states = {
        node.name: _renamed(file, f"{node.name}: states", node.states, _STATE)
        for node in network.variables
    }
    data = {
        "format": "claywit-model/1",
        "name": _dashed(network.name),
        "version": "1.0.0",
        "title": network.name,
        "targets": list(targets) or [names[network.variables[0].name]],
        "status": "elicited",
        "sources": {
            "imported": f"Read from {PurePath(file).name}, which does not say on what they rest"
        },
        "nodes": [_node(file, node, names, states) for node in network.variables],
    }
    return sound(typed(Model, Document(file, data, {}), ModelError), file)


def _node(
    file: str, node: Variable, names: Mapping[str, str], states: Mapping[str, Mapping[str, str]]
) -> dict[str, object]:
    for parent in node.parents:
        if parent not in names:
            hint = did_you_mean(parent, names)
            raise ModelError(f"{file}: {node.name}: parent {parent} is not a node; {hint}")
    own = states[node.name]
    rows = []
    held = itertools.product(*(states[parent].values() for parent in node.parents))
    for place, shares in zip(held, node.shares, strict=True):
        given = dict(zip((names[parent] for parent in node.parents), place, strict=True))
        if abs(fsum(shares) - 1) > TOLERANCE:
            under = ", ".join(f"{k}={v}" for k, v in given.items())
            said = f"{node.name}, given {under}" if under else node.name
            raise ModelError(f"{file}: {said}: sums to {fsum(shares):.9g}, must be 1")
        stated = {s: p for s, p in zip(own.values(), shares, strict=True) if p > 0}
        own_given = {"given": given} if given else {}
        rows.append({**own_given, "p": stated, "source": "imported"})
    listed = [{"name": new} | ({"label": old} if new != old else {}) for old, new in own.items()]
    name = names[node.name]
    data: dict[str, object] = {"name": name, "states": listed, "rows": rows}
    if node.parents:
        data["parents"] = [names[parent] for parent in node.parents]
    if name != node.name:
        data["label"] = node.name
    return data


def _renamed(
    file: str, what: str, names: Sequence[str], rule: tuple[str, str, str]
) -> dict[str, str]:
    """Return what to call each of *names*, in order, none of them twice."""
    strange, first, before = rule
    found: dict[str, str] = {}
    for name in names:
        if name in found:
            raise ModelError(f"{file}: {what}: {name} stands twice; give each its own name")
        new = re.sub(strange, "_", name)
        found[name] = new if re.match(first, new) else before + new
    taken: dict[str, str] = {}
    for name, new in found.items():
        other = taken.setdefault(new, name)
        if other != name:
            text = f"{what}: {other} and {name} would both become {new}; rename one of them"
            raise ModelError(f"{file}: {text}")
    return found


def _dashed(name: str) -> str:
    dashed = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:78]
    return dashed if re.match(r"[a-z]", dashed) else f"n-{dashed}".rstrip("-")
