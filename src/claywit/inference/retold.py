"""A model and findings told again as plain tables, one row for each configuration.

The second implementation behind `recheck`: slow, plain, and written without a look at the
first. A measured leaf with a finding becomes a node of two states, *so* and *not*, whose
share of *so* under each state of the parents is the density, scaled to a largest of 1.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from claywit.evidence.findings import Finding, Measure
from claywit.model.schema import NOT_VISIBLE, Model, Node
from claywit.model.tables import Cause, Dimensions, LogNormal, Normal, Row, StudentT, Unfiled

SO, NOT = "so", "not"
Shares = Mapping[str, float]


@dataclass(frozen=True)
class Table:
    """P(node | parents): one row of shares for each configuration, the last parent fastest."""

    parents: tuple[str, ...]
    states: tuple[str, ...]
    rows: tuple[Shares, ...]


@dataclass(frozen=True)
class Retold:
    """The network as tables, and for each finding P(what was seen | state of its node).

    log10_factor: what scaling took out of P(findings).
    """

    tables: Mapping[str, Table]
    seen: Mapping[str, Shares]
    log10_factor: float


def retell(
    model: Model, findings: Sequence[Finding], priors: Mapping[str, Mapping[str, float]]
) -> Retold:
    """Return *model* with *findings* as plain tables."""
    by_node = {finding.node: finding for finding in findings}
    tables: dict[str, Table] = {}
    factor = 0.0
    for node in model.nodes:
        finding = by_node.get(node.name)
        if node.measured and finding is None:
            continue  # a leaf that nobody measured says nothing
        if node.name in priors:
            rows: list[Shares] = [dict(priors[node.name])]
        elif node.measured and finding and not finding.not_visible:
            logs = [_log_density(node, held, finding) for held in _configurations(model, node)]
            top = max(logs)
            factor += top / math.log(10)
            rows = [_so(math.exp(log - top)) for log in logs]
        elif node.measured:
            rows = [_so(1.0) for _ in _configurations(model, node)]
        else:
            rows = [_shares(node, held) for held in _configurations(model, node)]
        if finding and node.reading_error == "in_rows" and _doubted(finding):
            rows = _without_error(node, rows)
        tables[node.name] = _hidden_at_times(model, node, rows)
    return Retold(tables, {f.node: _seen(model, f) for f in findings}, factor)


def _configurations(model: Model, node: Node) -> list[dict[str, str]]:
    listed = [model.node(parent).state_names for parent in node.parents]
    return [dict(zip(node.parents, held, strict=True)) for held in itertools.product(*listed)]


def _so(p: float) -> Shares:
    return {SO: p, NOT: 1 - p}


def _row(node: Node, held: Mapping[str, str]) -> Row:
    """Return the row that names *held*, or the one that holds where no other does."""
    for row in node.rows:
        named = row.given or not node.parents
        if named and all(held[p] in states for p, states in row.given.items()):
            return row
    return next(row for row in node.rows if not row.given)


def _shares(node: Node, held: Mapping[str, str]) -> Shares:
    if node.noisy:
        return _highest(node, held)
    stated = _row(node, held).p or {}
    total = math.fsum(stated.values())
    return {state: stated.get(state, 0.0) / total for state in node.state_names}


def _highest(node: Node, held: Mapping[str, str]) -> Shares:
    """Return P(highest level proposed): the leak, then each cause that is present."""
    gate = node.noisy
    if gate is None:
        raise ValueError(node.name)
    levels = node.state_names
    present: list[Cause] = [gate.leak]
    present += [c for c in gate.causes if all(held[p] in s for p, s in c.given.items())]
    found = {level: 1.0 if level == levels[0] else 0.0 for level in levels}
    for cause in present:
        proposed = {level: cause.p.get(level, 0.0) for level in levels}
        proposed[levels[0]] = max(1 - math.fsum(cause.p.values()), 0.0)
        whole = math.fsum(proposed.values())
        higher = dict.fromkeys(levels, 0.0)
        for i, one in enumerate(levels):
            for j, other in enumerate(levels):
                higher[levels[max(i, j)]] += found[one] * proposed[other] / whole
        found = higher
    return found


def _doubted(finding: Finding) -> bool:
    return finding.sure is not None or finding.matrix is not None


def _without_error(node: Node, rows: Sequence[Shares]) -> list[Shares]:
    """Return what the rows would say if every reading were right: an even error b taken out."""
    k = len(node.state_names)
    b = min(row[state] for row in rows for state in node.state_names)
    if k * b >= 1:
        return list(rows)
    return [{state: (p - b) / (1 - k * b) for state, p in row.items()} for row in rows]


def _hidden_at_times(model: Model, node: Node, rows: Sequence[Shares]) -> Table:
    """Return the table, with `not_visible` as one more state where something can be in the way."""
    states = node.state_names or (SO, NOT)
    if not node.visibility:
        return Table(node.parents, states, tuple(rows))
    by, hidden = node.visibility.parent, node.visibility.p
    parents = node.parents if by in node.parents else (*node.parents, by)
    names = [model.node(parent).state_names for parent in parents]
    plain = dict(zip(map(_key, _configurations(model, node)), rows, strict=True))
    told = []
    for place in itertools.product(*names):
        held = dict(zip(parents, place, strict=True))
        row = plain[_key({parent: held[parent] for parent in node.parents})]
        v = hidden[held[by]]
        told.append({**{s: p * (1 - v) for s, p in row.items()}, NOT_VISIBLE: v})
    return Table(parents, (*states, NOT_VISIBLE), tuple(told))


def _key(held: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(held.values())


def _seen(model: Model, finding: Finding) -> Shares:
    """Return P(what was seen | state), for every state in which it could have been seen."""
    states = model.node(finding.node).state_names
    if finding.not_visible:
        return {NOT_VISIBLE: 1.0}
    if finding.measures:
        return {SO: 1.0}
    if finding.likelihood is not None:
        return dict(finding.likelihood)
    read = str(finding.state)
    if finding.matrix is not None:
        rows = model.reading_matrices[finding.matrix].p
        return {state: rows[state].get(read, 0.0) for state in states}
    right = 1.0 if finding.sure is None else finding.sure
    wrong = (1 - right) / (len(states) - 1)
    return {state: right if state == read else wrong for state in states}


def _log_density(node: Node, held: Mapping[str, str], finding: Finding) -> float:
    """Return the natural log of the density of what was measured, or of P(between limits)."""
    measures = finding.measures or {}
    if node.dimensions:
        return _log_sizes(node, node.dimensions, held, measures)
    name, measure = next(iter(measures.items()))
    density, u = _row(node, held).density, _u(node, name, measure)
    if isinstance(density, LogNormal):
        return _log_normal(density, measure, u)
    if isinstance(density, Normal):
        return _log_of(measure, density.mean, math.hypot(density.sd, u), math.inf)
    if isinstance(density, StudentT):
        return _log_of(measure, density.location, math.hypot(density.scale, u), density.df)
    raise ValueError(node.name)


def _u(node: Node, name: str, measure: Measure) -> float:
    if measure.value is None:
        return 0.0
    return node.u.get(name, 0.0) if measure.u is None else measure.u


def _log_of(measure: Measure, at: float, scale: float, df: float) -> float:
    from scipy import stats

    frozen = stats.norm(at, scale) if math.isinf(df) else stats.t(df, at, scale)
    if measure.value is not None:
        return float(frozen.logpdf(measure.value))
    low = -math.inf if measure.low is None else measure.low
    high = math.inf if measure.high is None else measure.high
    upper = low > at  # subtract in the tail where the interval lies, or no digit is left
    p = frozen.sf(low) - frozen.sf(high) if upper else frozen.cdf(high) - frozen.cdf(low)
    return math.log(p) if p > 0 else -math.inf


def _log_normal(density: LogNormal, measure: Measure, u: float) -> float:
    middle = math.log(density.median)
    if measure.value is not None:
        if measure.value <= 0:
            return -math.inf
        spread = math.hypot(density.log_sd, u / measure.value)
        on_log = Measure(value=math.log(measure.value))
        return _log_of(on_log, middle, spread, math.inf) - math.log(measure.value)
    if measure.high is not None and measure.high <= 0:
        return -math.inf
    low = math.log(measure.low) if measure.low is not None and measure.low > 0 else None
    high = None if measure.high is None else math.log(measure.high)
    return _log_of(Measure(low=low, high=high), middle, density.log_sd, math.inf)


def _log_sizes(
    node: Node, sizes: Dimensions, held: Mapping[str, str], measures: Mapping[str, Measure]
) -> float:
    """Return the log density of sizes that shrink together: value = cavity x (1 - shrinkage)."""
    mould, paste = (held[parent] for parent in node.parents)
    names = list(measures)
    u = [_u(node, name, measures[name]) for name in names]
    if mould in sizes.unfiled:
        return _log_together(measures, *_unfiled(sizes.unfiled[mould], names, u))
    cavity = [sizes.cavity[mould][name] for name in names]
    shrinkage = sizes.shrinkage[paste]
    at = [c * (1 - shrinkage.mean) for c in cavity]
    scale = [
        [
            shrinkage.sd**2 * one * other + (u[i] ** 2 if i == j else 0.0)
            for j, other in enumerate(cavity)
        ]
        for i, one in enumerate(cavity)
    ]
    return _log_together(measures, at, scale, sizes.tails)


def _unfiled(
    entry: Unfiled, names: Sequence[str], u: Sequence[float]
) -> tuple[list[float], list[list[float]], float | str]:
    at = [entry.dimensions[name].mean for name in names]
    sd = [entry.dimensions[name].sd for name in names]
    own = [0.0 if entry.includes_u else one**2 for one in u]
    scale = [
        [
            one**2 + own[i] if i == j else entry.correlation * one * other
            for j, other in enumerate(sd)
        ]
        for i, one in enumerate(sd)
    ]
    return at, scale, entry.tails


def _log_together(
    measures: Mapping[str, Measure],
    at: Sequence[float],
    scale: Sequence[Sequence[float]],
    tails: float | str,
) -> float:
    from scipy import stats

    df = math.inf if isinstance(tails, str) else tails
    if len(at) == 1:
        return _log_of(next(iter(measures.values())), at[0], math.sqrt(scale[0][0]), df)
    values = [measure.value for measure in measures.values()]
    if math.isinf(df):
        return float(stats.multivariate_normal(at, scale).logpdf(values))
    return float(stats.multivariate_t(at, scale, df).logpdf(values))
