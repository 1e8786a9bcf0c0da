"""Why a piece is impossible under a model: the structural zero that it runs into."""

from collections.abc import Sequence

from claywit.evidence.findings import Finding
from claywit.inference.network import Network
from claywit.inference.piece import compile_piece, conflicting

EXPLAINED = 100  # impossible pieces of a file for which the zero is sought: that takes a search


def why_impossible(network: Network, findings: Sequence[Finding], before: int) -> str:
    """Return why a piece is impossible; after *before* others the zero is no longer sought."""
    if before >= EXPLAINED:
        return "findings that cannot stand together: the model gives them probability 0"
    return zero_met(network, findings)


def zero_met(network: Network, findings: Sequence[Finding]) -> str:
    """Return which zero of the model excludes *findings*, in a sentence.

    Where all parents of a reading are known it is one row's zero; else it is the findings that
    cannot stand together, none of which can be spared.
    """
    known = {f.node: f.state for f in findings if f.state and f.sure is None and not f.matrix}
    for name, state in known.items():
        node = network.model.node(name)
        if all(parent in known for parent in node.parents):
            at = [network.states[p].index(str(known[p])) for p in node.parents]
            if network.rows[name][tuple(at)][node.state_names.index(str(state))] == 0:
                given = ", ".join(f"{parent}={known[parent]}" for parent in node.parents)
                said = f", given {given}," if given else ""
                return f"{name}={state}{said} has probability 0 in the model; mend one or the other"
    names = conflicting(compile_piece(network, findings, ()))
    said = " and ".join(f"{f.node}={f.state}" if f.state else f.node for f in findings
                        if f.node in names)  # fmt: skip
    return f"{said} cannot stand together: the model gives them probability 0"
