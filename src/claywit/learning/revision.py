"""What changes in a model file when rows are elicited: shares, n, source, version."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from claywit.learning.elicitation import round_n, rounded
from claywit.learning.opinions import Fitted
from claywit.model.rewriting import next_version
from claywit.model.schema import NOT_VISIBLE, Model, Node
from claywit.model.source import Path


def revision(
    model: Model, rows: Sequence[Fitted], weights: Mapping[str, float], *, on: date, seeds: int = 0
) -> dict[Path, object]:
    """Return the new value at each path of the model file.

    Args:
        model: as it was.
        rows: what was elicited.
        weights: the share of each expert, in the order in which they are named.
        on: the day of the elicitation.
        seeds: how many seed questions the weights rest on, 0 for none.
    """
    name = _unused(f"elicited_{on:%Y_%m_%d}", model.sources)
    changes: dict[Path, object] = {}
    for fitted in rows:
        at = fitted.question.path
        if fitted.question.place != "visibility":
            changes |= {(*at, "p"): _shares(fitted), (*at, "n"): round_n(fitted.row.n)}
        changes[*at, "source"] = name
    for node in model.nodes:
        changes |= _hiding(node, [fitted for fitted in rows if fitted.question.node == node])
    changes["sources", name] = _said(weights, on, seeds)
    changes["version",] = next_version(model.version)
    return changes


@dataclass(frozen=True)
class Matrix:
    """A reading matrix as it goes into a model: P(read | true) of one trait, on *n* pieces."""

    node: str
    p: Mapping[str, Mapping[str, float]]
    n: int


def matrices(
    model: Model, found: Mapping[str, Matrix], said: str, *, on: date
) -> dict[Path, object]:
    """Return the new value at each path of the model file; a matrix of the same name is replaced.

    Args:
        model: as it was.
        found: the matrices by name.
        said: what the matrices rest on, in a sentence.
        on: the day of the readings.
    """
    source = _unused(f"readings_{on:%Y_%m_%d}", model.sources)
    changes: dict[Path, object] = {
        ("reading_matrices", name): {
            "node": matrix.node,
            "p": {true: dict(row) for true, row in matrix.p.items()},
            "source": source,
            "n": matrix.n,
        }
        for name, matrix in found.items()
    }
    changes["sources", source] = said
    changes["version",] = next_version(model.version)
    return changes


def _shares(fitted: Fitted) -> dict[str, float]:
    """Return the `p` of a row: without what stays unsaid there."""
    shares = rounded(fitted.states, fitted.row.shares)
    return {state: p for state, p in shares.items() if state != fitted.question.rest}


def _hiding(node: Node, rows: Sequence[Fitted]) -> dict[Path, object]:
    """Return the changes to how often the trait is hidden.

    One n stands for all states of the obstruction, so it is that of the least sure.
    """
    own = [fitted for fitted in rows if fitted.question.place == "visibility"]
    if not own or node.visibility is None:
        return {}
    at: Path = ("nodes", node.name, "visibility")
    changes: dict[Path, object] = {}
    sizes = [fitted.row.n for fitted in own]
    for fitted in own:
        (states,) = fitted.question.given.values()
        changes[*at, "p", states[0]] = _shares(fitted)[NOT_VISIBLE]
    if len(own) < len(node.visibility.p) and node.visibility.n:
        sizes.append(node.visibility.n)
    changes[*at, "n"] = round_n(min(sizes))
    return changes


def _unused(name: str, taken: Mapping[str, str]) -> str:
    names = [name, *(f"{name}_{i}" for i in range(2, len(taken) + 3))]
    return next(one for one in names if one not in taken)


def _said(weights: Mapping[str, float], on: date, seeds: int) -> str:
    if len(weights) == 1:
        return f"Elicited on {on} from {next(iter(weights))}; no piece was counted"
    if not seeds:
        return f"Elicited on {on} from {', '.join(weights)}, weighed equally; no piece was counted"
    who = ", ".join(f"{name} ({weight:.2f})" for name, weight in weights.items())
    return f"Elicited on {on} from {who}, weighed by {seeds} seed questions; no piece was counted"
