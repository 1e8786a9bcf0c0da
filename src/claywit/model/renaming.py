"""What was called otherwise in an older model: guessed by the nearest name, and said to be."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from claywit.model.schema import Model

ALIKE = 0.6  # of the letters of two names, from which one may be the other renamed


@dataclass(frozen=True)
class Renamed:
    """What is called otherwise in a new model, old name to new; a guess.

    nodes: the nodes. states: by new name of the node, its states.
    """

    nodes: Mapping[str, str]
    states: Mapping[str, Mapping[str, str]]


def renamed(old: Model, new: Model) -> Renamed:
    """Return which nodes and states of *old* seem to have other names in *new*.

    What stands in both keeps its name. What is left over goes to the nearest name left
    over, at least six tenths alike; a node to one that shares a state or a measure with it.
    """

    def akin(one: str, other: str) -> bool:
        before, after = old.node(one), new.node(other)
        shared = set(before.state_names) & set(after.state_names)
        return bool(shared or set(before.measured) & set(after.measured))

    nodes = _paired([n.name for n in old.nodes], [n.name for n in new.nodes], akin)
    states: dict[str, dict[str, str]] = {}
    for node in old.nodes:
        now = nodes.get(node.name, node.name)
        if now in new.by_name:
            states[now] = _paired(node.state_names, new.node(now).state_names, lambda *_: True)
    return Renamed(nodes, {name: pairs for name, pairs in states.items() if pairs})


def _paired(
    old: Sequence[str], new: Sequence[str], may: Callable[[str, str], bool]
) -> dict[str, str]:
    """Return old names with new ones, the nearest pairs of what does not stand in both first."""
    gone = [name for name in old if name not in new]
    come = [name for name in new if name not in old]
    near = sorted(
        (-SequenceMatcher(None, one, other).ratio(), one, other)
        for one in gone
        for other in come
        if may(one, other)
    )
    pairs: dict[str, str] = {}
    for minus, one, other in near:
        if -minus >= ALIKE and one not in pairs and other not in pairs.values():
            pairs[one] = other
    return pairs


def under_new_names(old: Model, names: Renamed) -> Model:
    """Return *old* as it would read with the *names* of the new model."""
    if not names.nodes and not names.states:
        return old
    return Model.model_validate(_Renaming(names).model(old.model_dump(mode="json")))


class _Renaming:
    """Puts new names into the plain data of a model, wherever a node or state is named."""

    def __init__(self, names: Renamed) -> None:
        self._names = names

    def node(self, name: str) -> str:
        return self._names.nodes.get(name, name)

    def state(self, node: str, name: str) -> str:
        return self._names.states.get(self.node(node), {}).get(name, name)

    def keys(self, node: str, stated: Mapping[str, Any]) -> dict[str, Any]:
        return {self.state(node, name): value for name, value in stated.items()}

    def given(self, stated: Mapping[str, Any]) -> dict[str, Any]:
        return {self.node(n): [self.state(n, s) for s in held] for n, held in stated.items()}

    def model(self, data: dict[str, Any]) -> dict[str, Any]:
        groups = [g | {"nodes": [self.node(n) for n in g["nodes"]]} for g in data["groups"]]
        counts = data["reference"]["by_state"]
        by_state = {self.node(n): self.keys(n, counted) for n, counted in counts.items()}
        matrices = data["reading_matrices"]
        return data | {
            "targets": [self.node(n) for n in data["targets"]],
            "groups": groups,
            "reference": data["reference"] | {"by_state": by_state},
            "nodes": [self._whole(node) for node in data["nodes"]],
            "order": [o | self._ordered(o) for o in data["order"]],
            "reading_matrices": {k: m | self._matrix(m) for k, m in matrices.items()},
        }

    def _ordered(self, entry: dict[str, Any]) -> dict[str, Any]:
        node = entry["node"]
        return {"node": self.node(node), "state": [self.state(node, s) for s in entry["state"]]}

    def _matrix(self, matrix: dict[str, Any]) -> dict[str, Any]:
        node = matrix["node"]
        rows = {self.state(node, true): self.keys(node, read) for true, read in matrix["p"].items()}
        return {"node": self.node(node), "p": rows}

    def _whole(self, node: dict[str, Any]) -> dict[str, Any]:
        name = node["name"]
        states = [
            s | {"name": self.state(name, s["name"]), "after": self.state(name, s["after"])}
            for s in node["states"]
        ]
        data = node | {
            "name": self.node(name),
            "states": states,
            "parents": [self.node(parent) for parent in node["parents"]],
            "rows": [self._row(name, row) for row in node["rows"]],
            "applies_if": self.given(node["applies_if"]),
        }
        for key in ("noisy_max", "noisy_or"):
            if gate := node[key]:
                causes = [self._row(name, cause) for cause in gate["causes"]]
                data[key] = {"leak": self._row(name, gate["leak"]), "causes": causes}
        if seen := node["visibility"]:
            shares = self.keys(seen["parent"], seen["p"])
            data["visibility"] = seen | {"parent": self.node(seen["parent"]), "p": shares}
        if sizes := node["dimensions"]:
            mould, paste = node["parents"]
            data["dimensions"] = sizes | {
                "cavity": self.keys(mould, sizes["cavity"]),
                "unfiled": self.keys(mould, sizes["unfiled"]),
                "shrinkage": self.keys(paste, sizes["shrinkage"]),
            }
        return data

    def _row(self, node: str, row: dict[str, Any]) -> dict[str, Any]:
        shares = row["p"]
        return row | {
            "given": self.given(row["given"]),
            "p": None if shares is None else self.keys(node, shares),
        }
