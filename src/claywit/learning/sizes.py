"""Sizes that shrink together, learned: cavities, and the mean and spread of the shrinkage.

A piece from a filed mould measures cavity x (1 - shrinkage) + reading error, with one shrinkage
for all its measures, so the sizes are Student-t (or normal) about c (1 - mean) with the scale
matrix diag(u^2) + sd^2 c c'. Which mould and which paste is all that is summed over. The rest is
climbed by L-BFGS on the exact slopes: taking turns between the shrinkage of each piece and the
cavities would creep along the ridge on which the one makes up for the other.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from claywit.inference.densities import log_student
from claywit.inference.network import Floats, Network, Sizes
from claywit.inference.tree import Ints
from claywit.model.schema import Node
from claywit.model.tables import Dimensions

FAINT = 1e-9  # a weight below it is left out
STEPS = 25  # of one climb; the next round of the fit goes on from there


@dataclass(frozen=True)
class _Alike:
    """Pieces with the same measures: which measures, which pieces, and what was read.

    u: the distinct rows of standard uncertainties; u_of: the row of each piece.
    """

    measures: Ints
    pieces: Ints
    values: Floats
    u: Floats
    u_of: Ints


@dataclass(frozen=True)
class Sized:
    """Pieces with sizes on one node, those with the same measures together."""

    node: Node
    count: int
    alike: tuple[_Alike, ...]

    @property
    def sizes(self) -> Dimensions:
        """Return what the model says of the sizes."""
        assert self.node.dimensions  # noqa: S101 - made only of such nodes
        return self.node.dimensions


def sized(node: Node, values: Floats, u: Floats) -> Sized:
    """Return pieces by what was measured on them; nan where it was not.

    Args:
        node: the leaf with the sizes.
        values: shape (pieces, measures).
        u: their standard uncertainties, as *values*.
    """
    given = ~np.isnan(values)
    alike = []
    for pattern in np.unique(given, axis=0):
        if pattern.any():
            pieces, measures = np.flatnonzero((given == pattern).all(axis=1)), pattern.nonzero()[0]
            rows, of = np.unique(u[np.ix_(pieces, measures)], axis=0, return_inverse=True)
            own = values[np.ix_(pieces, measures)]
            alike.append(_Alike(measures, pieces, own, rows, of.ravel()))
    return Sized(node, len(values), tuple(alike))


@dataclass(frozen=True)
class _Place:
    """One mould with one paste: where its sizes lie, and how they spread.

    spread: the scale matrix without the reading error, shape (measures, measures).
    filed, paste: its places among the cavities and shrinkages; open_: among the open states.
    adds_u: whether the reading error comes on top.
    """

    number: int
    at: Floats
    spread: Floats
    df: float
    filed: int = -1
    paste: int = -1
    open_: int = -1
    adds_u: bool = True


def _places(network: Network, of: Sized, held: Sizes) -> Iterator[_Place]:
    """Yield every mould with every paste, in the order of the table over both."""
    sizes = of.sizes
    moulds, pastes = (network.states[parent] for parent in of.node.parents)
    filed, unfiled, shrinking = list(sizes.cavity), list(sizes.unfiled), list(sizes.shrinkage)
    for i, mould in enumerate(moulds):
        for j, paste in enumerate(pastes):
            number = i * len(pastes) + j
            if mould in sizes.cavity:
                k, s = filed.index(mould), shrinking.index(paste)
                c, sd = held.cavity[k], held.sd[s]
                at, spread = c * (1 - held.mean[s]), sd**2 * np.outer(c, c)
                yield _Place(number, at, spread, _df(sizes.tails), filed=k, paste=s)
                continue
            k, entry = unfiled.index(mould), sizes.unfiled[mould]
            sd = held.unfiled_sd[k]
            spread = _together(len(sd), entry.correlation) * np.outer(sd, sd)
            yield _Place(
                number,
                held.unfiled_at[k],
                spread,
                _df(entry.tails),
                open_=k,
                adds_u=not entry.includes_u,
            )


def _together(count: int, correlation: float) -> Floats:
    return np.where(np.eye(count) == 1, 1.0, correlation)


def _df(tails: object) -> float:
    return np.inf if tails == "normal" else float(str(tails))


@dataclass(frozen=True)
class _Said:
    """What one place says of pieces: their log densities, and what their slopes are made of.

    solved: inverse scale matrix times the distance from *at*. weight: how much each piece
    counts, less where it lies in the tails. inverse: of the scale matrix, by row of u.
    """

    logs: Floats
    solved: Floats
    weight: Floats
    inverse: Floats


def _said(place: _Place, alike: _Alike) -> _Said:
    at, chosen = place.at[alike.measures], np.ix_(alike.measures, alike.measures)
    d = len(at)
    # As the engine does: a millionth of the size keeps the matrix from being singular.
    least = np.maximum(alike.u, 1e-6 * np.abs(at)) if d > 1 and place.filed >= 0 else alike.u
    own = least**2 if place.adds_u else np.zeros_like(least)
    scale = place.spread[chosen] + np.eye(d) * own[:, np.newaxis, :]
    inverse, log_det = np.linalg.inv(scale), np.linalg.slogdet(scale)[1]
    delta = alike.values - at
    solved = np.einsum("nij,nj->ni", inverse[alike.u_of], delta)
    q = (delta * solved).sum(axis=1)
    weight = np.ones(len(q)) if place.df == np.inf else (place.df + d) / (place.df + q)
    return _Said(
        log_student(q, log_det[alike.u_of], place.df, d),
        solved,
        weight,
        inverse.astype(np.float64),
    )


def log_sizes_of(network: Network, of: Sized) -> Floats:
    """Return the log density of each piece's sizes, shape (moulds x pastes, pieces)."""
    places = list(_places(network, of, network.sizes[of.node.name]))
    table = np.zeros((len(places), of.count))
    for place in places:
        for alike in of.alike:
            table[place.number, alike.pieces] = _said(place, alike).logs
    return table


@dataclass(frozen=True)
class Elicited:
    """What stood in the model before, and the pieces that it is worth.

    n_filed, n_paste, n_open: for each cavity, shrinkage and open state. share: the sd of the
    whole cavity as a share of it, for one piece. shape: likewise of one measure on its own.
    """

    sizes: Sizes
    n_filed: Floats
    n_paste: Floats
    n_open: Floats
    share: float
    shape: Floats


def elicited(network: Network, node: Node) -> Elicited | None:
    """Return the prior for the sizes of a node, or None where they are taken as exact.

    A cavity known from n pieces is off by sd / sqrt(n) as a whole, sd the usual spread of the
    shrinkage, and by u / sqrt(n) in each measure.
    """
    sizes, held = node.dimensions, network.sizes[node.name]
    if not sizes or sizes.n is None:
        return None
    u = np.array([node.u.get(name, 0.0) for name in node.measured])
    return Elicited(
        held,
        np.array(sizes.worth("cavity")),
        np.array(sizes.worth("shrinkage")),
        np.array(sizes.worth("unfiled")),
        float(np.median(held.sd)),
        np.maximum(u, 1e-4 * held.cavity.mean(axis=0)) / held.cavity.mean(axis=0)
        if len(held.cavity)
        else u,
    )


@dataclass(frozen=True)
class _Vector:
    """Sizes as one vector of steps away from the elicited ones, and back."""

    prior: Elicited

    def sizes(self, x: Floats) -> Sizes:
        """Return the sizes that a vector stands for."""
        held = self.prior.sizes
        cavity, mean, log_sd, at, log_open = self.parts(x)
        return Sizes(
            held.cavity * np.exp(self.prior.share * cavity),
            held.mean + self.prior.share * mean,
            held.sd * np.exp(log_sd),
            held.unfiled_at + held.unfiled_sd * at,
            held.unfiled_sd * np.exp(log_open),
        )

    def parts(self, x: Floats) -> tuple[Floats, ...]:
        """Return the vector cut into cavities, mean and spread of shrinkages, and open states."""
        held = self.prior.sizes
        shapes = [a.shape for a in (held.cavity, held.mean, held.sd, held.unfiled_at)]
        shapes.append(held.unfiled_sd.shape)
        ends = np.cumsum([int(np.prod(shape)) for shape in shapes])[:-1]
        return tuple(
            part.reshape(shape) for part, shape in zip(np.split(x, ends), shapes, strict=True)
        )

    def steps(self, now: Sizes) -> Floats:
        """Return the vector that stands for *now*."""
        held = self.prior.sizes
        return np.concatenate(
            [
                (np.log(now.cavity / held.cavity) / self.prior.share).ravel(),
                (now.mean - held.mean) / self.prior.share,
                np.log(now.sd / held.sd),
                ((now.unfiled_at - held.unfiled_at) / held.unfiled_sd).ravel(),
                np.log(now.unfiled_sd / held.unfiled_sd).ravel(),
            ]
        )


def log_prior(prior: Elicited, now: Sizes) -> float:
    """Return the log prior density of sizes, up to a constant.

    Normal for locations and scaled inverse chi-squared for squared spreads, each worth its n
    pieces (Gelman et al. 2013, Bayesian Data Analysis, 3.3, from memory).
    """
    return _penalty(prior, now)[0]


def _penalty(prior: Elicited, now: Sizes) -> tuple[float, Sizes]:
    """Return the log prior, and its slopes by the logs of cavities and spreads, and locations."""
    was = prior.sizes
    off = np.log(now.cavity / was.cavity)
    together = prior.share**2 + np.diag(prior.shape**2)
    pulled = off @ np.linalg.inv(together) if off.size else off
    total = -0.5 * float((prior.n_filed[:, np.newaxis] * off * pulled).sum())
    by_cavity = -prior.n_filed[:, np.newaxis] * pulled
    shrink = _normal(now.mean, now.sd, (was.mean, was.sd, prior.n_paste))
    loose = _normal(
        now.unfiled_at, now.unfiled_sd, (was.unfiled_at, was.unfiled_sd, prior.n_open[:, None])
    )
    slopes = Sizes(by_cavity, shrink[1], shrink[2], loose[1], loose[2])
    return total + shrink[0] + loose[0], slopes


def _normal(
    at: Floats, sd: Floats, was: tuple[Floats, Floats, Floats]
) -> tuple[float, Floats, Floats]:
    at0, sd0, n = was
    z2 = ((at - at0) / sd) ** 2 + (sd0 / sd) ** 2
    total = -0.5 * float((n * (z2 + 2 * np.log(sd))).sum())
    return total, -n * (at - at0) / sd**2, n * (z2 - 1)


def climbed(network: Network, of: Sized, weights: Floats, prior: Elicited) -> Sizes:
    """Return sizes under which the pieces, and what was elicited, are likelier than before.

    Args:
        network: with the sizes as they stand.
        of: the pieces.
        weights: P(mould, paste | all findings) of each piece, times the pieces it stands for;
            shape (moulds x pastes, pieces).
        prior: what was elicited.
    """
    vector, now = _Vector(prior), network.sizes[of.node.name]
    scale = 1 / max(float(weights.sum()), 1.0)

    def downhill(x: Floats) -> tuple[float, Floats]:
        value, slope = _slope(network, of, weights, (vector, x))
        return -value * scale, -slope * scale

    start = vector.steps(now)
    found = minimize(downhill, start, jac=True, method="L-BFGS-B", options={"maxiter": STEPS})
    better = found.fun <= downhill(start)[0]
    return vector.sizes(found.x) if better else now


def _slope(
    network: Network, of: Sized, weights: Floats, here: tuple[_Vector, Floats]
) -> tuple[float, Floats]:
    """Return the expected log likelihood plus the log prior, and its slope by the vector."""
    vector, x = here
    now, prior = vector.sizes(x), vector.prior
    total, by = _penalty(prior, now)
    by = replace(by, cavity=by.cavity.copy())
    for place in _places(network, of, now):
        for alike in of.alike:
            w = weights[place.number, alike.pieces]
            near = np.flatnonzero(w > FAINT)
            if near.size:
                picked = replace(
                    alike,
                    pieces=alike.pieces[near],
                    values=alike.values[near],
                    u_of=alike.u_of[near],
                )
                said = _said(place, picked)
                total += float(w[near] @ said.logs)
                _add_slope(by, place, picked, (said, w[near], now, of))
    slope = np.concatenate(
        [
            (by.cavity * prior.share).ravel(),
            by.mean * prior.share,
            by.sd,
            (by.unfiled_at * prior.sizes.unfiled_sd).ravel(),
            by.unfiled_sd.ravel(),
        ]
    )
    return total, slope


def _add_slope(
    by: Sizes, place: _Place, alike: _Alike, rest: tuple[_Said, Floats, Sizes, Sized]
) -> None:
    """Add the slopes that pieces in one place give: by logs of cavity and spread, by location."""
    said, w, now, of = rest
    k, tw = alike.measures, w * said.weight
    by_at = tw @ said.solved
    outer = (said.solved * tw[:, np.newaxis]).T @ said.solved
    u_weight = np.bincount(alike.u_of, w, len(alike.u))
    by_scale = 0.5 * (outer - np.tensordot(u_weight, said.inverse, axes=1))
    if place.filed >= 0:
        c, mean, sd = now.cavity[place.filed][k], now.mean[place.paste], now.sd[place.paste]
        turned = by_scale @ c
        by.cavity[place.filed, k] += c * ((1 - mean) * by_at + 2 * sd**2 * turned)
        by.mean[place.paste] -= c @ by_at
        by.sd[place.paste] += 2 * sd**2 * (c @ turned)
        return
    own = now.unfiled_sd[place.open_][k]
    entry = list(of.sizes.unfiled.values())[place.open_]
    together = _together(len(k), entry.correlation)
    by.unfiled_at[place.open_, k] += by_at
    by.unfiled_sd[place.open_, k] += 2 * own * ((by_scale * together) @ own)
