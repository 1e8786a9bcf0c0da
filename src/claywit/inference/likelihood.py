"""A finding as tables: what it says of the node's own states, or of its parents'.

A leaf has no children, so a finding on it reaches the rest of the network only through a
table over its parents. That keeps every other node discrete and inference exact.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import Located, log_measured, log_student
from claywit.inference.network import Floats, Network
from claywit.model.schema import NOT_VISIBLE, Node


@dataclass(frozen=True)
class LogTable:
    """log P(finding | states of *scope*), one axis for each node of the scope."""

    scope: tuple[str, ...]
    values: Floats


def own_table(network: Network, finding: Finding) -> LogTable:
    """Return log P(finding | state of the node itself), for a discrete node.

    A finding that something was read excludes `not_visible`, and the other way round.
    """
    states = network.states[finding.node]
    if finding.not_visible:
        values = [1.0 if state == NOT_VISIBLE else 0.0 for state in states]
    else:
        seen = seen_shares(network, finding)
        values = [*seen, *[0.0] * (len(states) - len(seen))]
    return LogTable((finding.node,), _log(np.array(values)))


def parent_tables(network: Network, finding: Finding) -> tuple[LogTable, ...]:
    """Return log P(finding | parents) of a leaf, as factors that multiply."""
    node = network.model.node(finding.node)
    tables = []
    if node.visibility:
        hiding = network.hiding[node.name]
        tables.append(
            LogTable((node.visibility.parent,), _log(hiding if finding.not_visible else 1 - hiding))
        )
    if finding.not_visible:
        return tuple(tables)
    if node.measured:
        values = _measured(network, node, finding)
    else:
        rows, axis = network.rows[node.name], len(node.parents)
        doubtful = finding.sure is not None or finding.matrix is not None
        if is_bent(network, finding):
            rows = without_reading_error(rows, axis)
        if finding.state is not None and not doubtful:
            read = node.state_names.index(finding.state)
            values = _log(np.asarray(rows.take(read, axis)))
        else:
            values = _log(np.tensordot(rows, seen_shares(network, finding), axes=([axis], [0])))
    return (LogTable(node.parents, values), *tables)


def _log(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        logs: Floats = np.log(values)
    return logs


def is_bent(network: Network, finding: Finding) -> bool:
    """Return whether a half-certain reading takes the place of the error that the rows hold."""
    doubtful = finding.sure is not None or finding.matrix is not None
    return doubtful and network.model.node(finding.node).reading_error == "in_rows"


def seen_shares(network: Network, finding: Finding) -> Floats:
    """Return P(what was read | true state) over the visible states."""
    names = network.model.node(finding.node).state_names
    if finding.likelihood is not None:
        return np.array([finding.likelihood[name] for name in names])
    if finding.matrix is not None:
        matrix = network.model.reading_matrices[finding.matrix].p
        return np.array([matrix[name].get(str(finding.state), 0.0) for name in names])
    right = 1.0 if finding.sure is None else finding.sure
    wrong = (1 - right) / (len(names) - 1)
    return np.array([right if name == finding.state else wrong for name in names])


def without_reading_error(rows: Floats, axis: int) -> Floats:
    """Return what *rows*, with the states on *axis*, would say if every reading were right.

    Rows that hold reading error are P(read | parents) = b + (1 - k b) P(true | parents)
    for an error spread evenly over the k states. The rows show how large b can be: their
    smallest cell. Taking the largest b leaves no cell below 0, and a finding whose `sure`
    equals 1 - (k - 1) b gives the same answer as a plain one.
    """
    k, has_draws = rows.shape[axis], rows.ndim > axis + 1
    # Of draws the mean shows the error: their smallest cells are small by chance.
    b = float((rows.mean(axis=-1) if has_draws else rows).min())
    if k * b >= 1:
        return rows
    true: Floats = np.maximum(rows - b, 0.0) / (1 - k * b)
    return true / true.sum(axis=axis, keepdims=True) if has_draws else true


def _measured(network: Network, node: Node, finding: Finding) -> Floats:
    measures = finding.measures or {}
    if node.dimensions:
        return _dimensions(network, node, measures)
    name, measure = next(iter(measures.items()))
    u = uncertainty(node, name, measure)
    logs = [log_measured(row, measure, u) for row in network.densities[node.name]]
    values: Floats = np.array(logs)[network.row_index[node.name]]
    return values


def uncertainty(node: Node, name: str, measure: Measure) -> float:
    """Return the reading's standard uncertainty; limits hold their own doubt."""
    if measure.value is None:
        return 0.0
    return measure.u if measure.u is not None else node.u.get(name, 0.0)


def _dimensions(network: Network, node: Node, measures: Mapping[str, Measure]) -> Floats:
    """Return the log density of the measures, shape (moulds, pastes), or of a single limit."""
    names = [name for name in node.measured if name in measures]
    u = np.array([uncertainty(node, name, measures[name]) for name in names])
    values = np.array([measures[name].value for name in names], dtype=np.float64)
    said_of: dict[int, Floats] = {}
    for place in size_places(network, node, names, u):
        if len(names) == 1:
            own = np.sqrt(place.scale[..., 0, 0])
            density = Located(place.at[..., 0], own, place.df)
            said_of[place.mould] = log_measured(density, measures[names[0]], 0.0)
        else:
            said_of[place.mould] = log_sizes(values - place.at, place.scale, place.df)
    table = np.stack([said_of[mould] for mould in range(len(said_of))])
    return table if network.sizes[node.name].cavity.ndim > 2 else table[..., 0]


@dataclass(frozen=True)
class SizePlace:
    """Where the sizes from one mould are expected, and how they spread, for every paste.

    at: shape (pastes, draws, measures). scale: shape (pastes, draws, measures, measures).
    """

    mould: int
    at: Floats
    scale: Floats
    df: float


def size_places(
    network: Network, node: Node, names: Sequence[str], u: Floats
) -> Iterator[SizePlace]:
    """Yield where sizes are expected, mould by mould; a network without draws has one.

    Args:
        network: the model, or draws of it.
        node: the leaf with the sizes.
        names: the measures that are spoken of.
        u: their standard uncertainties.
    """
    sizes, held = node.dimensions, network.sizes[node.name]
    assert sizes  # noqa: S101 - the caller looked
    chosen = [list(node.measured).index(name) for name in names]
    moulds, pastes = (network.states[parent] for parent in node.parents)
    cavity, at, sd = (
        np.moveaxis(_with_draws(a, 2)[:, chosen], 1, 2)
        for a in (held.cavity, held.unfiled_at, held.unfiled_sd)
    )
    column = [list(sizes.shrinkage).index(paste) for paste in pastes]
    mean, spread = (_with_draws(a, 1)[column] for a in (held.mean, held.sd))
    for i, mould in enumerate(sizes.cavity):
        yield SizePlace(
            moulds.index(mould), *expected_sizes(cavity[i], mean, spread, u), _df(sizes.tails)
        )
    for i, (mould, entry) in enumerate(sizes.unfiled.items()):
        together = np.where(np.eye(len(names)) == 1, 1.0, entry.correlation)
        scale = together * sd[i][..., np.newaxis] * sd[i][..., np.newaxis, :]
        own = scale if entry.includes_u else scale + np.diag(u**2)
        yield SizePlace(
            moulds.index(mould),
            np.broadcast_to(at[i], (len(pastes), *at[i].shape)),
            np.broadcast_to(own, (len(pastes), *own.shape)),
            _df(entry.tails),
        )


def _with_draws(values: Floats, axes: int) -> Floats:
    return values if values.ndim > axes else values[..., np.newaxis]


def _df(tails: object) -> float:
    return np.inf if tails == "normal" else float(str(tails))


def expected_sizes(cavity: Floats, mean: Floats, sd: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Return where the sizes of a cavity are expected, and their scale matrix.

    value = cavity c x (1 - shrinkage), the shrinkage shared, so the scale matrix is
    diag(u^2) + sd^2 c c'; it is the Student-t's scale matrix, not its covariance.

    Args:
        cavity: its measures, shape (..., measures).
        mean: of the shrinkage of the paste, broadcast against the cavity's other axes.
        sd: of the shrinkage, as *mean*.
        u: standard uncertainties, shape (measures,).
    """
    own = (sd[..., np.newaxis] * cavity)[..., np.newaxis]
    # A millionth of the size is below any uncertainty, and keeps the matrix from being singular.
    fine = 1e-6 * np.maximum(sd, 1.0)[..., np.newaxis] * np.abs(cavity)
    least = np.maximum(u, fine) if len(u) > 1 else u + 0 * cavity
    scale: Floats = np.eye(len(u)) * least[..., np.newaxis] ** 2 + own * np.swapaxes(own, -1, -2)
    return cavity * (1 - mean[..., np.newaxis]), scale


def log_sizes(delta: Floats, scale: Floats, df: float) -> Floats:
    """Return the log density of several measures together.

    Args:
        delta: how far they lie from where they are expected, shape (..., measures).
        scale: their scale matrices, shape (..., measures, measures).
        df: degrees of freedom, infinite for a normal.
    """
    solved = np.linalg.solve(scale, delta[..., np.newaxis])[..., 0]
    q = (delta * solved).sum(axis=-1)
    return log_student(q, np.linalg.slogdet(scale)[1], df, delta.shape[-1])
