"""A node's table as a page shows it: every number of the model with its row and its source."""

from collections.abc import Iterator
from dataclasses import dataclass

from claywit.bench.labels import state_title
from claywit.model.schema import Model, Node
from claywit.model.tables import LogNormal, Normal, Row, StudentT

ELSEWHERE = "everywhere else"


@dataclass(frozen=True)
class Line:
    """One row: for which states of the parents it holds, its numbers, and on what they rest."""

    where: str
    cells: tuple[str, ...]
    n: str
    source: str
    note: str = ""


@dataclass(frozen=True)
class Table:
    """Some rows under one heading; *columns* name the cells of each."""

    title: str
    columns: tuple[str, ...]
    lines: tuple[Line, ...]


def tables(model: Model, node: Node) -> tuple[Table, ...]:
    """Return all that the model says of *node*, in the order of its file."""
    return tuple(_tables(model, node))


def _tables(model: Model, node: Node) -> Iterator[Table]:
    shares = tuple(row for row in node.rows if row.p is not None)
    if shares:
        labels = tuple(state_title(node, state) for state in node.state_names)
        lines = tuple(_line(model, node, row, _cells(node, row.p or {})) for row in shares)
        yield Table("Probability of each state", labels, lines)
    densities = tuple(row for row in node.rows if row.density is not None)
    if densities:
        lines = tuple(_line(model, node, row, (_density(row, node),)) for row in densities)
        yield Table("How the measure spreads", ("density",), lines)
    if node.noisy:
        yield _noisy(model, node)
    if node.dimensions:
        yield from _dimensions(model, node)
    if node.visibility:
        seen = node.visibility
        parent = model.node(seen.parent)
        lines = tuple(
            Line(f"{parent.title.lower()}: {state_title(parent, s)}", (f"{p:g}",), _n(seen.n),
                 _source(model, seen.source))
            for s, p in seen.p.items()
        )  # fmt: skip
        yield Table("Probability that it cannot be seen", ("not visible",), lines)


def _line(model: Model, node: Node, row: Row, cells: tuple[str, ...]) -> Line:
    where = _where(model, row.given) or (ELSEWHERE if node.all_parents else "always")
    return Line(where, cells, _n(row.n), _source(model, row.source), row.note)


def _cells(node: Node, p: dict[str, float]) -> tuple[str, ...]:
    return tuple(f"{p.get(state, 0.0):.3g}" for state in node.state_names)


def _noisy(model: Model, node: Node) -> Table:
    gate = node.noisy
    assert gate  # noqa: S101 - the caller has looked
    raised = node.state_names[1:]
    lines = [
        Line(
            _where(model, cause.given) or "with no cause at all",
            tuple(f"{cause.p.get(state, 0.0):.3g}" for state in raised),
            _n(cause.n),
            _source(model, cause.source),
            cause.note,
        )
        for cause in (*gate.causes, gate.leak)
    ]
    return Table(
        "What each cause alone would raise it to; the highest counts",
        tuple(state_title(node, state) for state in raised),
        tuple(lines),
    )


def _dimensions(model: Model, node: Node) -> Iterator[Table]:
    known = node.dimensions
    assert known  # noqa: S101 - the caller has looked
    n, source = _n(known.n), _source(model, known.source)
    parents = [model.node(name) for name in node.parents]

    def said(state: str) -> str:
        parent = next((p for p in parents if state in p.state_names), None)
        return f"{parent.title.lower()}: {state_title(parent, state)}" if parent else state

    units = tuple(f"{name} ({unit})" for name, unit in node.measured.items())
    cavities = tuple(
        Line(said(state), tuple(f"{sizes[m]:g}" for m in node.measured), n, source)
        for state, sizes in known.cavity.items()
    )
    yield Table("Size of the cavity; a piece is smaller by its shrinkage", units, cavities)
    shrunk = tuple(
        Line(said(state), (f"{100 * s.mean:g}% ± {100 * s.sd:g}%",), n, source)
        for state, s in known.shrinkage.items()
    )
    yield Table("Shrinkage, the same for all sizes of a piece", ("mean ± sd",), shrunk)
    strange = tuple(
        Line(
            said(state),
            tuple(f"{u.dimensions[m].mean:g} ± {u.dimensions[m].sd:g}" for m in node.measured),
            n,
            source,
        )
        for state, u in known.unfiled.items()
    )
    yield Table("Sizes of what is not in the file", units, strange)


def _density(row: Row, node: Node) -> str:
    unit = next(iter(node.measured.values()), "")
    found = row.density
    if isinstance(found, Normal):
        return f"normal, {found.mean:g} ± {found.sd:g} {unit}"
    if isinstance(found, StudentT):
        return (
            f"Student-t, {found.location:g} {unit}, scale {found.scale:g}, {found.df:g}"
            " degrees of freedom"
        )
    assert isinstance(found, LogNormal)  # noqa: S101 - there are three
    return f"log-normal, median {found.median:g} {unit}, sd of the logarithm {found.log_sd:g}"


def _where(model: Model, given: dict[str, tuple[str, ...]]) -> str:
    return "; ".join(
        f"{model.node(parent).title.lower()}: "
        + " or ".join(state_title(model.node(parent), state) for state in states)
        for parent, states in given.items()
    )


def _n(n: float | None) -> str:
    return "–" if n is None else f"{n:g}"


def _source(model: Model, source: str) -> str:
    return model.sources.get(source, source) or "no source given"
