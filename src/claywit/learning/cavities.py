"""Sizes that shrink together, climbed: cavities, and the mean and spread of the shrinkage.

L-BFGS on the exact slopes of the expected log likelihood plus the log prior. Taking turns between
the shrinkage of each piece and the cavities would creep along the ridge on which the one makes up
for the other.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from claywit.inference.network import Floats, Network, Sizes
from claywit.learning.sizes import Alike, Place, Said, Sized, places, said, together
from claywit.model.schema import Node

FAINT = 1e-9  # a weight below it is left out
STEPS = 30  # of one climb; the next round of the fit goes on from there

Near = dict[int, list[tuple[Alike, Floats]]]


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
    doubt = prior.share**2 + np.diag(prior.shape**2)
    pulled = off @ np.linalg.inv(doubt) if off.size else off
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
    near = _near(of, weights)
    unit = _units(network, of, weights, prior)

    def downhill(z: Floats) -> tuple[float, Floats]:
        value, slope = _slope(network, of, near, (vector, z * unit))
        return -value, -slope * unit

    start = vector.steps(now) / unit
    found = minimize(downhill, start, jac=True, method="L-BFGS-B", options={"maxiter": STEPS})
    better = found.fun <= downhill(start)[0]
    return vector.sizes(found.x * unit) if better else now


def _near(of: Sized, weights: Floats) -> Near:
    """Return for each mould and paste the pieces that may be of them, with their weights."""
    found: Near = {}
    for number, row in enumerate(weights):
        for alike in of.alike:
            own = row[alike.pieces]
            near = np.flatnonzero(own > FAINT)
            if near.size:
                chosen = replace(
                    alike,
                    pieces=alike.pieces[near],
                    values=alike.values[near],
                    u_of=alike.u_of[near],
                )
                found.setdefault(number, []).append((chosen, own[near]))
    return found


def _units(network: Network, of: Sized, weights: Floats, prior: Elicited) -> Floats:
    """Return a step for each number of the vector: about its doubt, so that all climb alike."""
    held = prior.sizes
    moulds, pastes = (network.states[parent] for parent in of.node.parents)
    by = weights.sum(axis=1).reshape(len(moulds), len(pastes))
    mould = dict(zip(moulds, by.sum(axis=1), strict=True))
    filed = prior.n_filed + np.array([mould[m] for m in of.sizes.cavity])
    loose = prior.n_open + np.array([mould[m] for m in of.sizes.unfiled])
    shrinking = [pastes.index(p) if p in pastes else -1 for p in of.sizes.shrinkage]
    paste = prior.n_paste + by.sum(axis=0)[shrinking]
    measures = held.cavity.shape[1]
    worth = [np.repeat(filed, measures), paste, paste, *[np.repeat(loose, measures)] * 2]
    units: Floats = 1 / np.sqrt(np.concatenate(worth))
    return units


def _slope(
    network: Network, of: Sized, near: Near, here: tuple[_Vector, Floats]
) -> tuple[float, Floats]:
    """Return the expected log likelihood plus the log prior, and its slope by the vector."""
    vector, x = here
    now, prior = vector.sizes(x), vector.prior
    total, by = _penalty(prior, now)
    for place in places(network, of, now):
        for alike, weights in near.get(place.number, ()):
            found = said(place, alike)
            total += float(weights @ found.logs)
            _add_slope(by, place, alike, (found, weights, now, of))
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
    by: Sizes, place: Place, alike: Alike, rest: tuple[Said, Floats, Sizes, Sized]
) -> None:
    """Add the slopes that pieces in one place give: by logs of cavity and spread, by location."""
    found, w, now, of = rest
    k, tw = alike.measures, w * found.weight
    by_at = tw @ found.solved
    outer = (found.solved * tw[:, np.newaxis]).T @ found.solved
    u_weight = np.bincount(alike.u_of, w, len(alike.u))
    by_scale = 0.5 * (outer - np.tensordot(u_weight, found.inverse, axes=1))
    if place.filed >= 0:
        c, mean, sd = now.cavity[place.filed][k], now.mean[place.paste], now.sd[place.paste]
        turned = by_scale @ c
        by.cavity[place.filed, k] += c * ((1 - mean) * by_at + 2 * sd**2 * turned)
        by.mean[place.paste] -= c @ by_at
        by.sd[place.paste] += 2 * sd**2 * (c @ turned)
        return
    own = now.unfiled_sd[place.open_][k]
    entry = list(of.sizes.unfiled.values())[place.open_]
    linked = together(len(k), entry.correlation)
    by.unfiled_at[place.open_, k] += by_at
    by.unfiled_sd[place.open_, k] += 2 * own * ((by_scale * linked) @ own)
