"""A finding as tables: what it says of the node's own states, or of its parents'.

A leaf has no children, so a finding on it reaches the rest of the network only through a
table over its parents. That keeps every other node discrete and inference exact.
"""

from dataclasses import dataclass

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import log_likelihood, log_located, log_student
from claywit.inference.network import Floats, Network
from claywit.model.schema import NOT_VISIBLE, Node
from claywit.model.tables import Dimensions, MeanSd


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
        seen = _seen(network, finding)
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
        rows = network.rows[node.name]
        doubtful = finding.sure is not None or finding.matrix is not None
        if node.reading_error == "in_rows" and doubtful:
            rows = without_reading_error(rows)
        values = _log(rows @ _seen(network, finding))
    return (LogTable(node.parents, values), *tables)


def _log(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        logs: Floats = np.log(values)
    return logs


def _seen(network: Network, finding: Finding) -> Floats:
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


def without_reading_error(rows: Floats) -> Floats:
    """Return what *rows* would say if every reading were right.

    Rows that hold reading error are P(read | parents) = b + (1 - k b) P(true | parents)
    for an error spread evenly over the k states. The rows show how large b can be: their
    smallest cell. Taking the largest b leaves no cell below 0, and a finding whose `sure`
    equals 1 - (k - 1) b gives the same answer as a plain one.
    """
    k = rows.shape[-1]
    b = float(rows.min())
    true: Floats = (rows - b) / (1 - k * b) if k * b < 1 else rows
    return true


def _measured(network: Network, node: Node, finding: Finding) -> Floats:
    measures = finding.measures or {}
    if node.dimensions:
        return _dimensions(network, node, node.dimensions, dict(measures))
    name, measure = next(iter(measures.items()))
    u = uncertainty(node, name, measure)
    logs = [log_likelihood(row.density, measure, u) for row in node.rows if row.density]
    values: Floats = np.array(logs)[network.row_index(node.name)]
    return values


def uncertainty(node: Node, name: str, measure: Measure) -> float:
    """Return the reading's standard uncertainty; limits hold their own doubt."""
    if measure.value is None:
        return 0.0
    return measure.u if measure.u is not None else node.u.get(name, 0.0)


def _dimensions(
    network: Network, node: Node, sizes: Dimensions, measures: dict[str, Measure]
) -> Floats:
    """Return the log density of the measures, shape (moulds, pastes).

    value = cavity c x (1 - shrinkage), the shrinkage shared, so the scale matrix is
    diag(u^2) + sd^2 c c'; it is the Student-t's scale matrix, not its covariance.
    """
    names = list(measures)
    u = np.array([uncertainty(node, n, measures[n]) for n in names])
    moulds, pastes = (network.states[parent] for parent in node.parents)
    table = np.empty((len(moulds), len(pastes)))
    for i, mould in enumerate(moulds):
        if mould in sizes.unfiled:
            entry = sizes.unfiled[mould]
            at = np.array([entry.dimensions[n].mean for n in names])
            sd = np.array([entry.dimensions[n].sd for n in names])
            together = np.where(np.eye(len(names)) == 1, 1.0, entry.correlation)
            scale = together * np.outer(sd, sd) + (0 if entry.includes_u else np.diag(u**2))
            table[i] = _log_sizes(measures, at, scale, entry.tails)
            continue
        cavity = np.array([sizes.cavity[mould][n] for n in names])
        for j, paste in enumerate(pastes):
            shrinkage = sizes.shrinkage[paste]
            at, scale = expected_sizes(cavity, shrinkage, u)
            table[i, j] = _log_sizes(measures, at, scale, sizes.tails)
    return table


def expected_sizes(cavity: Floats, shrinkage: MeanSd, u: Floats) -> tuple[Floats, Floats]:
    """Return where the sizes of a cavity are expected, and their scale matrix.

    Args:
        cavity: its measures, shape (measures,).
        shrinkage: of the paste, shared by all measures of one piece.
        u: standard uncertainties, shape (measures,).
    """
    scale: Floats = np.diag(u**2) + shrinkage.sd**2 * np.outer(cavity, cavity)
    return cavity * (1 - shrinkage.mean), scale


def _log_sizes(measures: dict[str, Measure], at: Floats, scale: Floats, tails: object) -> float:
    df = np.inf if tails == "normal" else float(str(tails))
    if len(at) == 1:
        measure = next(iter(measures.values()))
        return log_located(measure, float(at[0]), float(np.sqrt(scale[0, 0])), df)
    delta = np.array([m.value for m in measures.values()], dtype=np.float64) - at
    q = delta @ np.linalg.solve(scale, delta)
    log_det = np.linalg.slogdet(scale)[1]
    return float(log_student(q, log_det, df, len(at)))
