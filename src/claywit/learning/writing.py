"""A fitted model as changes to its file: numbers written over, and what each now rests on.

Every row keeps its source and says in `n` what it is worth in all, and in `counted` how many of
those were counted. States that a row leaves out stay left out.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import e, fsum, log, pi, sqrt

import numpy as np

from claywit.inference.network import Floats
from claywit.learning.effective import Effective
from claywit.learning.numbers import Numbers
from claywit.model.schema import Model, Node
from claywit.model.source import Path
from claywit.model.tables import SMALLEST, LogNormal, Normal, Row

DIGITS = 6
STILL = 1e-6  # of the probability; what moves less was not moved
FEWEST = 0.05  # pieces' worth, below which nothing is said to be counted


@dataclass(frozen=True)
class Changed:
    """Numbers of one place in the model, before and after, and what they rest on.

    given: for which states of the parents. before, after: by name. n: what it was worth before.
    counted: the pieces' worth that was added, before_counted: what was counted before.
    moved: the share of the probability that moved; of a measure, about that.
    """

    node: str
    what: str
    given: Mapping[str, tuple[str, ...]]
    path: Path
    before: Mapping[str, float]
    after: Mapping[str, float]
    n: float | None
    counted: float
    before_counted: float
    moved: float

    @property
    def of_sizes(self) -> bool:
        """Return whether it belongs to sizes that shrink together, whose n is the elicited one."""
        return self.what.split()[0] in ("cavity", "shrinkage", "unfiled")

    @property
    def elicited_n(self) -> float | None:
        """Return how many of the pieces that it is worth were elicited."""
        return self.n if self.n is None or self.of_sizes else self.n - self.before_counted


def changes(model: Model, before: Numbers, after: Numbers, worth: Effective) -> list[Changed]:
    """Return every place of the model that states numbers, in its order."""
    found: list[Changed] = []
    for node in model.nodes:
        at: Path = ("nodes", node.name)
        if node.name in after.shares:
            counted = worth.rows.get(node.name, np.zeros(len(node.rows)))
            for i, row in enumerate(node.rows):
                shares = after.shares[node.name][i]
                found.append(_shares(node, row, (*at, "rows", i), (shares, counted[i])))
        if node.noisy:
            found += _gate(node, after, worth)
        if node.name in after.network.densities:
            found += _densities(node, before, after, worth)
        if node.visibility:
            found.append(_sight(model, node, after, worth))
        if node.dimensions:
            found += _sizes(model, node, after, worth)
    return found


def _shares(node: Node, row: Row, path: Path, now: tuple[Floats, float]) -> Changed:
    shares, counted = now
    stated = dict(row.p or {})
    total = fsum(stated.values())
    after = {state: float(shares[node.state_names.index(state)]) for state in stated}
    before = {state: share / total for state, share in stated.items()}
    moved = 0.5 * fsum(abs(after[s] - before[s]) for s in stated)
    return Changed(
        node.name, "row", row.given, path, before, rounded(after), row.n, counted, row.counted,
        moved,
    )  # fmt: skip


def rounded(shares: Mapping[str, float]) -> dict[str, float]:
    """Return shares to six decimals, small ones to three digits, that still sum to 1.

    The largest takes what rounding leaves; nothing possible is rounded to 0, or becomes smaller
    than a model may say.
    """
    found = {state: _short(share) for state, share in shares.items()}
    largest = max(found, key=lambda state: found[state])
    rest = fsum(share for state, share in found.items() if state != largest)
    return {**found, largest: float(f"{1 - rest:.12g}")}


def _short(share: float) -> float:
    if share >= 1e-3:
        return round(share, DIGITS)
    return float(f"{max(share, SMALLEST):.3g}") if share > 0 else 0.0


def _gate(node: Node, after: Numbers, worth: Effective) -> Iterator[Changed]:
    gate, parts = node.noisy, after.parts[node.name]
    assert gate  # noqa: S101 - the caller looked
    path: Path = ("nodes", node.name, node.noisy_key)
    causes = worth.causes.get(node.name, np.zeros(len(gate.causes)))
    places = [(gate.leak, (*path, "leak"), parts[0], worth.leaks.get(node.name, 0.0), "leak")]
    for i, cause in enumerate(gate.causes):
        parent = next(p for p in node.parents if p in cause.given)
        own = parts[1 + node.parents.index(parent)]
        places.append((cause, (*path, "causes", i), own, float(causes[i]), parent))
    for cause, at, table, counted, parent in places:
        levels = table if parent == "leak" else table[_first(after, parent, cause.given[parent])]
        now = {s: float(levels[node.state_names.index(s)]) for s in cause.p}
        moved = 0.5 * (
            fsum(abs(now[s] - cause.p[s]) for s in now)
            + abs(fsum(now.values()) - fsum(cause.p.values()))
        )
        whole = rounded(
            {s: float(share) for s, share in zip(node.state_names, levels, strict=True)}
        )
        short = {state: whole[state] for state in now}
        what = "leak" if parent == "leak" else "cause"
        yield Changed(
            node.name, what, cause.given, at, cause.p, short, cause.n, counted, cause.counted,
            moved,
        )  # fmt: skip


def _first(after: Numbers, parent: str, states: Sequence[str]) -> int:
    return after.network.states[parent].index(states[0])


def _densities(node: Node, before: Numbers, after: Numbers, worth: Effective) -> Iterator[Changed]:
    counted = worth.rows.get(node.name, np.zeros(len(node.rows)))
    pairs = zip(
        before.network.densities[node.name], after.network.densities[node.name], strict=True
    )
    for i, (row, (was, now)) in enumerate(zip(node.rows, pairs, strict=True)):
        at, scale = float(now.at), float(now.scale)
        if isinstance(row.density, LogNormal):
            kind, numbers = "log_normal", {"median": float(np.exp(at)), "log_sd": scale}
        elif isinstance(row.density, Normal):
            kind, numbers = "normal", {"mean": at, "sd": scale}
        else:
            kind, numbers = "student_t", {"location": at, "scale": scale}
        stated = row.density.model_dump() if row.density else {}
        moved = _apart((float(was.at), float(was.scale)), (at, scale))
        yield Changed(
            node.name,
            kind,
            row.given,
            ("nodes", node.name, "rows", i),
            {name: float(stated[name]) for name in numbers},
            {name: float(f"{value:.6g}") for name, value in numbers.items()},
            row.n,
            float(counted[i]),
            row.counted,
            moved,
        )


def _apart(was: tuple[float, float], now: tuple[float, float]) -> float:
    """Return about how much of two normals does not overlap; from 0, above 1 counts as far."""
    step, turn = abs(now[0] - was[0]) / was[1], abs(log(now[1] / was[1]))
    return step / sqrt(2 * pi) + turn / sqrt(2 * pi * e)


def _sight(model: Model, node: Node, after: Numbers, worth: Effective) -> Changed:
    seen = node.visibility
    assert seen  # noqa: S101 - the caller looked
    now = after.network.hiding[node.name]
    names = model.node(seen.parent).state_names
    hidden = {state: float(now[names.index(state)]) for state in seen.p}
    counted = worth.sights.get(node.name, np.zeros(len(names)))
    moved = max(abs(hidden[s] - seen.p[s]) for s in hidden)
    short = {s: rounded({"hidden": p, "seen": 1 - p})["hidden"] for s, p in hidden.items()}
    # One n stands for all states of the obstruction: it grows by the least of what they got.
    return Changed(
        node.name, "visibility", {}, ("nodes", node.name, "visibility"), seen.p, short, seen.n,
        float(counted.min()), seen.counted, moved,
    )  # fmt: skip


def _sizes(model: Model, node: Node, after: Numbers, worth: Effective) -> Iterator[Changed]:
    sizes, now = node.dimensions, after.network.sizes[node.name]
    assert sizes  # noqa: S101 - the caller looked
    path: Path = ("nodes", node.name, "dimensions")
    moulds, pastes = (model.node(parent).state_names for parent in node.parents)
    by_mould = worth.moulds.get(node.name, np.zeros(len(moulds)))
    by_paste = worth.pastes.get(node.name, np.zeros(len(pastes)))
    usual = float(np.median([one.sd for one in sizes.shrinkage.values()]))
    for i, (mould, cavity) in enumerate(sizes.cavity.items()):
        new = {name: float(now.cavity[i, k]) for k, name in enumerate(node.measured)}
        moved = max(_apart((1, usual), (new[d] / cavity[d], usual)) for d in cavity)
        yield Changed(
            node.name, "cavity", {node.parents[0]: (mould,)}, (*path, "cavity", mould), cavity,
            {d: float(f"{new[d]:.6g}") for d in cavity}, sizes.n,
            float(by_mould[moulds.index(mould)]), sizes.counted.cavity.get(mould, 0.0), moved,
        )  # fmt: skip
    for i, (paste, shrinkage) in enumerate(sizes.shrinkage.items()):
        mean, sd = float(now.mean[i]), float(now.sd[i])
        moved = _apart((shrinkage.mean, shrinkage.sd), (mean, sd))
        yield Changed(
            node.name, "shrinkage", {node.parents[1]: (paste,)}, (*path, "shrinkage", paste),
            {"mean": shrinkage.mean, "sd": shrinkage.sd},
            {"mean": float(f"{mean:.4g}"), "sd": float(f"{sd:.4g}")}, sizes.n,
            float(by_paste[pastes.index(paste)]), sizes.counted.shrinkage.get(paste, 0.0), moved,
        )  # fmt: skip
    for i, (mould, entry) in enumerate(sizes.unfiled.items()):
        for k, (name, stated) in enumerate((d, entry.dimensions[d]) for d in node.measured):
            at, sd = float(now.unfiled_at[i, k]), float(now.unfiled_sd[i, k])
            moved = _apart((stated.mean, stated.sd), (at, sd))
            yield Changed(
                node.name, f"unfiled {name}", {node.parents[0]: (mould,)},
                (*path, "unfiled", mould, name), {"mean": stated.mean, "sd": stated.sd},
                {"mean": float(f"{at:.6g}"), "sd": float(f"{sd:.6g}")}, sizes.n,
                float(by_mould[moulds.index(mould)]), sizes.counted.unfiled.get(mould, 0.0), moved,
            )  # fmt: skip


def edits(changed: Sequence[Changed]) -> dict[Path, object]:
    """Return what to write into the model's file for *changed*; what is exact is left alone."""
    found: dict[Path, object] = {}
    counted: dict[Path, dict[str, dict[str, float]]] = {}
    for one in changed:
        if one.n is None:
            continue
        untouched = one.counted < FEWEST
        if one.after != dict(one.before) and not (untouched and one.moved <= STILL):
            _write(found, one)
        total = round(one.counted + one.before_counted, 1)
        if one.of_sizes:
            kind = one.what.split()[0]
            state = next(iter(one.given.values()))[0]
            if total:
                where = ("nodes", one.node, "dimensions", "counted")
                counted.setdefault(where, {}).setdefault(kind, {})[state] = total
        elif not untouched:
            found[*one.path, "n"] = round(one.n + one.counted, 1)
            found[*one.path, "counted"] = total
    return {**found, **counted}


def _write(found: dict[Path, object], one: Changed) -> None:
    if one.what in ("normal", "student_t", "log_normal"):
        for name, value in one.after.items():
            found[*one.path, one.what, name] = value
    elif one.what in ("row", "leak", "cause", "visibility"):
        for name, value in one.after.items():
            found[*one.path, "p", name] = value
    else:
        for name, value in one.after.items():
            found[*one.path, name] = value
