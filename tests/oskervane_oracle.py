"""The reduced demo model by plain enumeration in numpy: an oracle that shares no code.

Period, class, workshop, mould and paste; size, T05 (on the mould only), T08, T09, T12, T31
(on the bed, summed out), T36 and T37; no obstruction. The tables are typed in again from
the definition of the demonstration, not read from the model file.
"""

from itertools import product
from math import gamma

import numpy as np

PERIODS, CLASSES, WORKSHOPS = (
    ["P1", "P2", "P3", "P4", "P5"],
    ["C1", "C2", "C3", "C4"],
    ["W1", "W2", "W3", "W4"],
)
MOULDS = [f"M{i:02d}" for i in range(1, 13)] + ["M00"]
PASTES = ["A", "B", "C", "D", "O"]
TARGETS = {
    "period": PERIODS,
    "class": CLASSES,
    "workshop": WORKSHOPS,
    "mould": MOULDS,
    "paste": PASTES,
}

PERIOD = dict(zip(PERIODS, (0.10, 0.18, 0.27, 0.25, 0.20), strict=True))
CLASS = {"P1": {"C1": 1}, "P2": {"C1": 0.97, "C3": 0.03}, "P3": {"C1": 0.80, "C3": 0.20},
         "P4": {"C1": 0.30, "C2": 0.45, "C3": 0.25}, "P5": {"C4": 1}}  # fmt: skip
WORKSHOP = {"P1C1": {"W1": 1}, "P2C1": {"W1": 0.45, "W2": 0.55}, "P2C3": {"W4": 1},
            "P3C1": {"W2": 0.55, "W3": 0.45}, "P3C3": {"W3": 0.75, "W4": 0.25},
            "P4C1": {"W3": 0.95, "W4": 0.05}, "P4C2": {"W3": 1}, "P4C3": {"W3": 0.45, "W4": 0.55},
            "P5C4": {"W4": 1}}  # fmt: skip
MOULD = {
    "W1P1C1": {"M01": 0.50, "M02": 0.25, "M03": 0.22, "M00": 0.03},
    "W1P2C1": {"M02": 0.42, "M04": 0.53, "M00": 0.05},
    "W2P2C1": {"M02": 0.10, "M04": 0.12, "M05": 0.45, "M06": 0.28, "M00": 0.05},
    "W4P2C3": {"M00": 1},
    "W2P3C1": {"M05": 0.30, "M06": 0.62, "M00": 0.08},
    "W3P3C1": {"M07": 0.58, "M08": 0.37, "M00": 0.05},
    "W3P3C3": {"M09": 0.88, "M00": 0.12},
    "W4P3C3": {"M00": 1},
    "W3P4C1": {"M08": 0.95, "M00": 0.05},
    "W4P4C1": {"M00": 1},
    "W3P4C2": {"M11": 0.40, "M07": 0.55, "M00": 0.05},
    "W3P4C3": {"M09": 0.90, "M00": 0.10},
    "W4P4C3": {"M10": 0.70, "M00": 0.30},
    "W4P5C4": {"M12": 0.45, "M00": 0.55},
}
PASTE = {
    "W1P1": (0.98, 0, 0, 0, 0.02), "W1P2": (0.95, 0.03, 0, 0, 0.02), "W2P2": (0.05, 0.93, 0, 0, 0.02),
    "W2P3": (0, 0.95, 0.03, 0, 0.02), "W3P3": (0, 0.03, 0.95, 0, 0.02), "W3P4": (0, 0, 0.90, 0.08, 0.02),
    "W4P2": (0, 0.4, 0, 0, 0.6), "W4P3": (0, 0.3, 0.3, 0, 0.4), "W4P4": (0, 0, 0.70, 0.15, 0.15),
    "W4P5": (0, 0, 0.10, 0.80, 0.10),
}  # fmt: skip
CAVITY = {"M01": (46.20, 33.80), "M02": (44.00, 32.40), "M03": (31.50, 23.60), "M04": (45.10, 33.00),
          "M05": (42.60, 31.20), "M06": (30.40, 22.90), "M07": (47.00, 34.60), "M08": (43.30, 31.70),
          "M09": (40.83, 30.07), "M10": (36.58, 26.94), "M11": (46.35, 33.90), "M12": (43.39, 31.75)}  # fmt: skip
SHRINKAGE = {"A": (0.018, 0.004), "B": (0.036, 0.006), "C": (0.052, 0.008), "D": (-0.002, 0.0015),
             "O": (0.02, 0.03)}  # fmt: skip
UNFILED = np.array([41, 30.2]), np.array([[36, 0.98 * 6 * 4.4], [0.98 * 6 * 4.4, 4.4**2]])
CALLIPERS = 0.10

T05 = [
    "none",
    "crown",
    "right_shoulder",
    "left_shoulder",
    "both_springings",
    "left_springing",
    "other",
]
CONTACT = {"M01": "none", "M02": "crown", "M03": "none", "M04": "right_shoulder",
           "M05": "both_springings", "M06": "none", "M07": "crown", "M08": "left_shoulder",
           "M09": "crown", "M10": "crown", "M11": "left_springing", "M12": "right_shoulder"}  # fmt: skip
BED = {"W1": (0.93, 0.05, 0.01, 0.01), "W2": (0.06, 0.90, 0.02, 0.02),
       "W3": (0.02, 0.08, 0.88, 0.02), "W4": (0.05, 0.15, 0.15, 0.65)}  # fmt: skip


def joint():
    """Return the possible (period, class, workshop, mould, paste) and their probabilities."""
    states, p = [], []
    for pe, c, w, m, k in product(PERIODS, CLASSES, WORKSHOPS, MOULDS, range(5)):
        share = (PERIOD[pe] * CLASS[pe].get(c, 0) * WORKSHOP.get(pe + c, {}).get(w, 0)
                 * MOULD.get(w + pe + c, {}).get(m, 0) * PASTE.get(w + pe, [0] * 5)[k])  # fmt: skip
        if share:
            states.append((pe, c, w, m, PASTES[k]))
            p.append(share)
    return states, np.array(p)


STATES, PRIOR = joint()


def traits():
    """Return P(trait state | joint state) for each discrete trait, shape (joint, states)."""

    def table(row):
        return np.array([row(*state) for state in STATES])

    lost = [0.40, 0.20, 0.08, 0.08, 0.08, 0.06, 0.10]
    return {
        "arch_contact": (T05, table(lambda pe, c, w, m, k: lost if m == "M00" else
                                    [0.92 if s == CONTACT[m] else 0.08 / 6 for s in T05])),
        "inherited_mark": (["absent", "suspected", "clear"], table(
            lambda pe, c, w, m, k: (0.15, 0.35, 0.50) if m in ("M09", "M10", "M12")
            else (0.70, 0.20, 0.10) if m == "M00" else (0.94, 0.05, 0.01))),
        "recut": (["none", "deepened", "redrawn"], table(
            lambda pe, c, w, m, k: (0.10, 0.54, 0.36) if m == "M11" else (0.95, 0.03, 0.02))),
        "bubbles": (["none", "few", "many"], table(
            lambda pe, c, w, m, k: (0.05, 0.15, 0.80) if k == "D"
            else (0.50, 0.30, 0.20) if k == "O" else (0.70, 0.29, 0.01))),
        "back_texture": (["mat", "plank", "slate", "smooth"], table(lambda pe, c, w, m, k: BED[w])),
        "shell": (["absent", "present"], table(
            lambda pe, c, w, m, k: {"A": (0.07, 0.93), "O": (0.6, 0.4)}.get(k, (0.96, 0.04)))),
        "grog": (["absent", "present"], table(
            lambda pe, c, w, m, k: {"B": (0.05, 0.95), "O": (0.6, 0.4)}.get(k, (0.96, 0.04)))),
    }  # fmt: skip


TRAITS = traits()


def size_density(sizes, tails=4):
    """Return the density of each piece's (height, width) for each joint state, (pieces, joint).

    Bivariate Student-t with the scale matrix S itself; M00 is normal. *tails* None: normal.
    """
    sizes = np.atleast_2d(sizes)
    columns = {}
    for m, k in {(state[3], state[4]) for state in STATES}:
        if m == "M00":
            at, scale = UNFILED
        else:
            c, (s, d) = np.array(CAVITY[m]), SHRINKAGE[k]
            at = c * (1 - s)
            scale = CALLIPERS**2 * np.eye(2) + d**2 * np.outer(c, c)
        delta = sizes - at
        q = np.einsum("ni,ij,nj->n", delta, np.linalg.inv(scale), delta)
        root = np.sqrt(np.linalg.det(scale))
        if m == "M00" or tails is None:
            columns[m, k] = np.exp(-q / 2) / (2 * np.pi * root)
        else:
            constant = gamma(3) / (gamma(2) * 4 * np.pi * root)
            columns[m, k] = constant * (1 + q / 4) ** -3
    return np.stack([columns[state[3], state[4]] for state in STATES], axis=1)


def posterior(weights, target):
    """Return P(target state), shape (pieces, states), from weights on the joint states."""
    i = list(TARGETS).index(target)
    held = np.array([[state[i] == s for s in TARGETS[target]] for state in STATES])
    totals = np.atleast_2d(weights) @ held
    return totals / totals.sum(axis=1, keepdims=True)


def weigh(size=None, **seen):
    """Return the weights of the joint states after a size and hard readings."""
    weights = PRIOR.copy()
    if size is not None:
        weights = weights * size_density(size)[0]
    for name, state in seen.items():
        states, table = TRAITS[name]
        weights = weights * table[:, states.index(state)]
    return weights


def top(weights, target):
    """Return the probabilities of a target by the names of its states."""
    return dict(zip(TARGETS[target], posterior(weights, target)[0].tolist(), strict=True))


def simulate(n, rng, noise=1.0):
    """Draw *n* pieces: joint state numbers, sizes (n, 2), and a state number for each trait.

    Normal shrinkage, normal calliper error 0.10 mm (both times *noise*), M00 from its normal.
    """
    drawn = rng.choice(len(STATES), size=n, p=PRIOR / PRIOR.sum())
    sizes = np.empty((n, 2))
    for i, j in enumerate(drawn):
        m, k = STATES[j][3], STATES[j][4]
        if m == "M00":
            sizes[i] = rng.multivariate_normal(*UNFILED)
            continue
        s, d = SHRINKAGE[k]
        true = np.array(CAVITY[m]) * (1 - rng.normal(s, d * noise))
        sizes[i] = true + rng.normal(0, CALLIPERS * noise, 2)
    reads = {
        name: (table[drawn].cumsum(axis=1) > rng.random((n, 1))).argmax(axis=1)
        for name, (_, table) in TRAITS.items()
    }
    return drawn, sizes, reads


def score(weights, drawn, target):
    """Return accuracy, log score in bits, the share named at 0.8 and how often that is right."""
    i = list(TARGETS).index(target)
    truth = np.array([TARGETS[target].index(STATES[j][i]) for j in drawn])
    p = posterior(weights, target)
    best, sure = p.argmax(axis=1) == truth, p.max(axis=1) >= 0.80
    bits = -np.log2(p[np.arange(len(truth)), truth]).mean()
    return best.mean(), bits, sure.mean(), best[sure].mean() if sure.any() else np.nan


def mutual_information(name, target):
    """Return the bits that a trait alone says about a target."""
    _, table = TRAITS[name]
    i = list(TARGETS).index(target)
    held = np.array([[state[i] == s for s in TARGETS[target]] for state in STATES], dtype=float)
    both = held.T @ (table * PRIOR[:, None])
    apart = both.sum(axis=1, keepdims=True) * both.sum(axis=0, keepdims=True)
    kept = both > 0
    return float((both[kept] * np.log2(both[kept] / apart[kept])).sum())
