"""Pieces drawn from a model, read in the same traits and as surely as the piece at hand.

What is drawn of a trait is its *reading*: its chance under the drawn parents is what the engine
itself gives to that reading, so simulation and inference cannot disagree about a reading error.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np

from claywit.evidence.findings import Finding, Measure
from claywit.inference.densities import Located, log_value
from claywit.inference.likelihood import (
    SizePlace,
    log_sizes,
    size_places,
    uncertainty,
)
from claywit.inference.network import Floats, Network
from claywit.inference.piece import tables_of
from claywit.inference.tree import Ints
from claywit.model.quantities import LEAST, MOST
from claywit.model.schema import Node


@dataclass(frozen=True)
class Chance:
    """What readings are drawn with: the states of the drawn pieces, how many, the generator."""

    drawn: Mapping[str, Ints]
    count: int
    rng: np.random.Generator


@dataclass(frozen=True)
class Read:
    """One trait as it was read on every piece, the piece at hand last.

    tables: for each scope what that reading says, shape (entries, pieces + 1).
    readings: a number for each different reading; None for measured values.
    """

    node: str
    scopes: tuple[tuple[str, ...], ...]
    tables: tuple[Floats, ...]
    readings: Ints | None


def can_be_drawn(network: Network, finding: Finding) -> bool:
    """Return whether other readings of the finding can be drawn.

    A likelihood or a limit has none, and what was measured on a piece whose measure is hidden
    here would have no table to enter.
    """
    limits = (m.value is None for m in (finding.measures or {}).values())
    hidden = finding.not_visible and bool(network.model.node(finding.node).measured)
    return finding.likelihood is None and not hidden and not any(limits)


def simulate(
    network: Network,
    findings: Sequence[Finding],
    asked: frozenset[str],
    count: int,
    rng: np.random.Generator,
) -> tuple[Read, ...]:
    """Return *count* pieces from the model in the traits of *findings*, then the piece itself.

    Args:
        network: the model.
        findings: those that `can_be_drawn`.
        asked: nodes that the answer is about; findings on them are not folded away.
        count: how many pieces.
        rng: the source of chance.
    """
    leaves = network.leaves - asked
    parents = {p for f in findings for p in network.parents(f.node)}
    inner = {f.node for f in findings if f.node not in leaves}
    drawn = forward(network, network.ancestors(frozenset(parents | inner)), count, rng)
    chance = Chance(drawn, count, rng)
    return tuple(
        _measured(network, finding, chance)
        if finding.measures
        else _read(network, finding, chance, asked)
        for finding in findings
    )


def forward(
    network: Network, names: frozenset[str], count: int, rng: np.random.Generator
) -> dict[str, Ints]:
    """Return the states of the nodes *names*, a set with all its ancestors, on drawn pieces."""
    drawn: dict[str, Ints] = {}
    waiting = [name for name in network.states if name in names]
    while waiting:
        name = next(n for n in waiting if all(p in drawn for p in network.parents(n)))
        scope, table = network.table(name)
        chances = table[tuple(drawn[parent] for parent in scope[:-1])]
        drawn[name] = _choose(np.broadcast_to(chances, (count, table.shape[-1])), rng)
        waiting.remove(name)
    return drawn


def _choose(chances: Floats, rng: np.random.Generator) -> Ints:
    """Return a drawn column for each row of chances."""
    bounds = np.cumsum(chances, axis=1)
    at = rng.random(len(chances))[:, np.newaxis] * bounds[:, -1:]
    drawn: Ints = np.argmax(bounds > at, axis=1)
    return drawn


def _forms(network: Network, finding: Finding) -> list[Finding]:
    """Return everything that might have been read instead, as surely."""
    node = network.model.node(finding.node)
    plain = replace(finding, not_visible=False)
    names: Sequence[str] = node.state_names
    if finding.matrix:
        rows = network.model.reading_matrices[finding.matrix].p
        names = list(dict.fromkeys(name for row in rows.values() for name in row))
    forms = [replace(plain, state=name) for name in names]
    if node.visibility:
        forms.append(Finding(finding.node, not_visible=True))
    return forms


def _read(network: Network, finding: Finding, chance: Chance, asked: frozenset[str]) -> Read:
    forms = _forms(network, finding)
    said = [{t.scope: t.values for t in tables_of(network, form, asked)} for form in forms]
    scopes = tuple(dict.fromkeys(scope for tables in said for scope in tables))
    chances = np.stack([_of_reading(tables, chance) for tables in said], axis=1)
    readings = np.append(_choose(chances, chance.rng), _place(forms, finding))
    tables = []
    for scope in scopes:
        size = next(t[scope] for t in said if scope in t).size
        columns = [t[scope].ravel() if scope in t else np.zeros(size) for t in said]
        tables.append(np.stack(columns, axis=1)[:, readings])
    return Read(finding.node, scopes, tuple(tables), readings)


def _of_reading(tables: Mapping[tuple[str, ...], Floats], chance: Chance) -> Floats:
    logs = np.zeros(chance.count)
    for scope, values in tables.items():
        logs = logs + values[tuple(chance.drawn[name] for name in scope)]
    return np.exp(logs)


def _place(forms: Sequence[Finding], finding: Finding) -> int:
    return next(
        i
        for i, form in enumerate(forms)
        if form.not_visible == finding.not_visible
        and (form.not_visible or form.state == finding.state)
    )


def _measured(network: Network, finding: Finding, chance: Chance) -> Read:
    node = network.model.node(finding.node)
    measures = dict(finding.measures or {})
    draw = _sizes if node.dimensions else _single
    table = draw(network, node, measures, chance)
    scopes, tables = [node.parents], [table]
    if node.visibility:
        hiding = network.hiding[node.name]
        by = hiding[chance.drawn[node.visibility.parent]]
        hidden = np.zeros(chance.count + 1, dtype=np.bool_)
        hidden[:-1] = chance.rng.random(chance.count) < by
        table[:, hidden] = 0.0
        with np.errstate(divide="ignore"):
            logs = np.log(np.where(hidden, hiding[:, np.newaxis], 1 - hiding[:, np.newaxis]))
        scopes.append((node.visibility.parent,))
        tables.append(logs)
    return Read(finding.node, tuple(scopes), tuple(tables), None)


def _student(df: float, shape: tuple[int, ...], rng: np.random.Generator) -> Floats:
    """Return draws of a standard Student-t vector, one common chi-squared for each row."""
    normal = rng.standard_normal(shape)
    if df == np.inf:
        return normal
    draws: Floats = normal / np.sqrt(rng.chisquare(df, (shape[0], 1)) / df)
    return draws


def _single(
    network: Network, node: Node, measures: Mapping[str, Measure], chance: Chance
) -> Floats:
    name, measure = next(iter(measures.items()))
    u = uncertainty(node, name, measure)
    values = np.append(draw_single(network, node, u, chance), np.array(measure.value))
    rows = network.densities[node.name]
    logs = np.stack([log_value(density, values, u) for density in rows])
    table: Floats = logs[network.row_index[node.name].ravel()]
    return table


def draw_single(network: Network, node: Node, u: float, chance: Chance) -> Floats:
    """Return a single measure, with uncertainty *u*, of every drawn piece; shape (pieces,)."""
    index = network.row_index[node.name]
    row = np.broadcast_to(index[tuple(chance.drawn[p] for p in node.parents)], chance.count)
    values = np.empty(chance.count)
    for i, density in enumerate(network.densities[node.name]):
        here = row == i
        values[here] = _draw(density, u, int(here.sum()), chance.rng)
    return values


def _draw(density: Located, u: float, count: int, rng: np.random.Generator) -> Floats:
    scale = density.scale if density.on_log else np.hypot(density.scale, u)
    values = density.at + scale * _student(density.df, (count, 1), rng)[:, 0]
    if density.on_log:
        size = np.exp(np.minimum(values, log(MOST)))  # nothing larger is ever read
        return np.maximum(size + u * rng.standard_normal(count), LEAST)
    drawn: Floats = values
    return drawn


def _sizes(network: Network, node: Node, measures: Mapping[str, Measure], chance: Chance) -> Floats:
    names = [name for name in node.measured if name in measures]
    u = np.array([uncertainty(node, name, measures[name]) for name in names])
    places = sorted(size_places(network, node, names, u), key=lambda place: place.mould)
    values = np.empty((chance.count + 1, len(names)))
    values[-1] = [measures[name].value for name in names]
    values[:-1] = draw_sizes(node, places, chance)
    logs = [log_sizes(values - place.at, place.scale, place.df) for place in places]
    table: Floats = np.stack(logs).reshape(len(places) * len(network.states[node.parents[1]]), -1)
    return table


def draw_sizes(node: Node, places: Sequence[SizePlace], chance: Chance) -> Floats:
    """Return the sizes that *places* speak of, of every drawn piece; shape (pieces, measures)."""
    moulds, pastes = (chance.drawn[parent] for parent in node.parents)
    values = np.empty((chance.count, places[0].at.shape[-1]))
    for place in places:
        here = np.flatnonzero(moulds == place.mould)
        paste = pastes[here]
        root = np.linalg.cholesky(place.scale[:, 0])[paste]
        steps = _student(place.df, (here.size, values.shape[1]), chance.rng)
        values[here] = place.at[paste, 0] + (root @ steps[..., np.newaxis])[..., 0]
    return values
