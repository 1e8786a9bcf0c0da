"""Rules about measures: what is open beside what is filed, spreads, tails, shrinkage."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, inf, log
from statistics import median

import numpy as np

from claywit.model.matching import match
from claywit.model.problems import Problem, of_node, subject
from claywit.model.quantities import UNITS
from claywit.model.schema import Model, Node
from claywit.model.source import Path
from claywit.model.support import families
from claywit.model.tables import Dimensions, LogNormal, MeanSd, Normal, StudentT

FAR = 4  # spreads of what is open, within which every filed mould should lie
SURE = 5  # times narrower than is usual in one node
PERCENT = 0.3  # no paste shrinks by so much; 1.8 instead of 0.018 is a slip of the pen


@dataclass(frozen=True)
class _Form:
    """Where a density lies, how wide it is, and its degrees of freedom; *log*: on logarithms."""

    at: float
    spread: float
    freedom: float
    log: bool = False


@dataclass(frozen=True)
class _Beside:
    """The density of a measure under an open state, beside those under filed states."""

    node: str
    path: Path
    state: str
    measure: str
    open: _Form
    filed: tuple[_Form, ...]


def _form(density: Normal | StudentT | LogNormal) -> _Form:
    if isinstance(density, Normal):
        return _Form(density.mean, density.sd, inf)
    if isinstance(density, StudentT):
        return _Form(density.location, density.scale, density.df)
    return _Form(log(density.median), density.log_sd, inf, log=True)


def _besides(model: Model) -> Iterator[_Beside]:
    for node in model.nodes:
        if node.dimensions:
            yield from _sizes_beside(node, node.dimensions)
        elif node.measured:
            yield from _rows_beside(model, node)


def _sizes_beside(node: Node, sizes: Dimensions) -> Iterator[_Beside]:
    freedom = _freedom(sizes.tails)
    for state, entry in sizes.unfiled.items():
        for name, stated in entry.dimensions.items():
            filed = tuple(
                _Form(cavity[name] * (1 - paste.mean), cavity[name] * paste.sd, freedom)
                for cavity in sizes.cavity.values()
                for paste in sizes.shrinkage.values()
            )
            own = _Form(stated.mean, stated.sd, _freedom(entry.tails))
            yield _Beside(node.name, ("dimensions", "unfiled", state), state, name, own, filed)


def _rows_beside(model: Model, node: Node) -> Iterator[_Beside]:
    names = [model.node(parent).state_names for parent in node.parents]
    index = match(node.parents, names, node.rows).rows
    forms = [_form(row.density) for row in node.rows if row.density]
    for axis, parent in enumerate(node.parents):
        states = model.node(parent).states
        filed = [k for k, state in enumerate(states) if not state.open]
        below = np.unique(np.take(index, filed, axis=axis)).tolist()
        for k, state in enumerate(states):
            for i in np.unique(np.take(index, k, axis=axis)).tolist() if state.open else ():
                alike = tuple(forms[j] for j in below if forms[j].log == forms[i].log and j != i)
                measure = next(iter(node.measured))
                yield _Beside(node.name, ("rows", i), state.name, measure, forms[i], alike)


def nothing_open(model: Model) -> Iterator[Problem]:
    """Sizes that shrink together know no "not in the file", so a stranger gets a named mould."""
    for node in model.nodes:
        if node.dimensions and not node.dimensions.unfiled:
            text = "no unfiled mould; without one a stranger is given to a filed mould"
            yield of_node(node.name, text)


def unfiled_not_marked_open(model: Model) -> Iterator[Problem]:
    """A mould whose sizes are unfiled is not marked `open`, so reports cannot say what it is."""
    for node in model.nodes:
        mould = model.node(node.parents[0]) if node.dimensions else node
        for name in node.dimensions.unfiled if node.dimensions else ():
            if not mould.state(name).open:
                text = f"state {name} is unfiled in {node.name}; mark it open: true"
                yield of_node(mould.name, text, "states", name)


def open_state_with_lighter_tails(model: Model) -> Iterator[Problem]:
    """What is not in the file has lighter tails than a filed mould: a stranger gets a name."""
    found: dict[Problem, None] = {}
    for one in _besides(model):
        heaviest = min((form.freedom for form in one.filed), default=inf)
        if one.open.freedom > heaviest:
            text = (
                f"{one.state} has tails {_shown(one.open.freedom)}, filed states"
                f" {_shown(heaviest)}; give {one.state} {_shown(heaviest)} or fewer"
            )
            found[of_node(one.node, text, *one.path)] = None
    yield from found


def open_state_with_narrower_spread(model: Model) -> Iterator[Problem]:
    """What is not in the file spreads less than what is filed: it claims to know the unknown."""
    for one in _besides(model):
        widest = max((form.spread for form in one.filed), default=0.0)
        if one.open.spread < widest:
            text = (
                f"{one.measure} spreads {one.open.spread:g} under {one.state}, up to {widest:.3g}"
                f" under filed states; widen {one.state}"
            )
            yield of_node(one.node, text, *one.path)


def open_state_out_of_reach(model: Model) -> Iterator[Problem]:
    """A filed size lies where "not in the file" never comes, so there it is no alternative."""
    for one in _besides(model):
        apart = max((abs(form.at - one.open.at) for form in one.filed), default=0.0)
        if apart > FAR * one.open.spread:
            text = (
                f"a filed {one.measure} is {apart / one.open.spread:.3g} spreads off {one.state};"
                f" widen {one.state} until all lie within {FAR}"
            )
            yield of_node(one.node, text, *one.path)


def normal_tails_name_pieces(model: Model) -> Iterator[Problem]:
    """A filed mould with normal tails: one slip of the callipers weighs a million to one."""
    found: dict[Problem, None] = {}
    for one in _besides(model):
        if any(form.freedom == inf and not form.log for form in one.filed):
            text = "filed states have normal tails; use a Student-t of about 4 degrees of freedom"
            found[of_node(one.node, text)] = None
    yield from found


def open_state_left_out(model: Model) -> Iterator[Problem]:
    """Where a filed mould is possible, an unfiled one is too; a prior of 0 denies it for ever."""
    known = families(model)
    leaves = [node for node in model.nodes if node.measured]
    for parent in dict.fromkeys(parent for node in leaves for parent in node.parents):
        above, family = model.node(parent), known.get(parent)
        opened = np.array([state.open for state in above.states])
        if family is None or not opened.any() or not above.rows:
            continue
        named = family.states[:, ~opened].any(axis=1) & ~family.states[:, opened].any(axis=1)
        names = [model.node(name).state_names for name in above.parents]
        rows = match(above.parents, names, above.rows).rows[tuple(family.parents[named].T)]
        for i in np.unique(rows).tolist() if named.any() else ():
            said = subject(parent, above.rows[i].given)
            text = f"{said}nothing is left for what is not in the file; leave it a little"
            yield Problem(("nodes", parent, "rows", i), text)


def spread_below_measuring_uncertainty(model: Model) -> Iterator[Problem]:
    """A size is claimed to be known more finely than it can be measured."""
    for node in model.nodes:
        for path, said, measure, form in _stated(node):
            spread = exp(form.at) * form.spread if form.log else form.spread
            if spread < node.u.get(measure, 0.0):
                text = (
                    f"{said}{measure} spreads {spread:.3g}, its u is {node.u[measure]:g};"
                    " nobody can have seen so little spread"
                )
                yield Problem(path, text)


def spread_far_below_the_others(model: Model) -> Iterator[Problem]:
    """A row is far surer of a size than its neighbours: what is too sure of itself wins ties."""
    for node in model.nodes:
        stated = [each for each in _stated(node) if not _names_open(model, node, each[0])]
        for log_scale in (False, True):
            alike = [each for each in stated if each[3].log == log_scale]
            usual = median([form.spread for *_, form in alike] or [0.0])
            for path, said, measure, form in alike:
                if form.spread * SURE < usual:
                    text = f"{said}{measure} spreads {form.spread:g}, usual here is {usual:g}"
                    yield Problem(path, f"{text}; widen it, or say in a note how it was measured")


def size_below_zero(model: Model) -> Iterator[Problem]:
    """A length or a mass is given a share below zero, where no piece can be."""
    for node in model.nodes:
        for path, said, measure, form in _stated(node):
            unit = UNITS[node.measured[measure]]
            if unit.kind in ("length", "mass") and not form.log and form.at < 3 * form.spread:
                text = f"{said}{measure} {form.at:g} with spread {form.spread:g} reaches below 0"
                yield Problem(path, f"{text}; narrow it, or use log_normal")


def shrinkage_in_percent(model: Model) -> Iterator[Problem]:
    """A shrinkage of 0.3 or more is no paste's; it stands in percent, or with a slip."""
    for node in model.nodes:
        for paste, stated in node.dimensions.shrinkage.items() if node.dimensions else ():
            if abs(stated.mean) >= PERCENT:
                text = f"{paste} shrinks by {stated.mean:g}; write a fraction, 0.018 for 1.8 %"
                yield of_node(node.name, text, "dimensions", "shrinkage", paste)


def _stated(node: Node) -> Iterator[tuple[Path, str, str, _Form]]:
    """Yield each density of a leaf: its path, how a message names it, its measure, its form.

    Of sizes that shrink together only what is unfiled; its spread is taken as that of
    readings, since what is added to the others is never below u.
    """
    at: Path = ("nodes", node.name)
    for i, row in enumerate(node.rows):
        if row.density:
            measure = next(iter(node.measured))
            yield (*at, "rows", i), subject(node.name, row.given), measure, _form(row.density)
    for state, entry in node.dimensions.unfiled.items() if node.dimensions else ():
        for measure, stated in entry.dimensions.items():
            path = (*at, "dimensions", "unfiled", state)
            yield path, f"{node.name}, {state}: ", measure, _of_sizes(stated)


def _of_sizes(stated: MeanSd) -> _Form:
    return _Form(stated.mean, stated.sd, inf)


def _names_open(model: Model, node: Node, path: Path) -> bool:
    """Return whether a density holds for what is not in the file."""
    if path[2] == "dimensions":
        return True
    given = node.rows[int(path[3])].given
    return any(model.node(p).state(s).open for p, names in given.items() for s in names)


def _freedom(tails: float | str) -> float:
    return inf if isinstance(tails, str) else tails


def _shown(freedom: float) -> str:
    return "normal" if freedom == inf else f"{freedom:g}"
