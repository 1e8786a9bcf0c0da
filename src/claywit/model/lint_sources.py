"""Rules about what numbers rest on: sources, sample sizes, reference pieces."""

from collections.abc import Iterator
from math import fsum

from claywit.model.problems import Problem, subject
from claywit.model.schema import Model, ReadingMatrix
from claywit.model.source import Path
from claywit.model.tables import Cause, Dimensions, Row, Visibility

NEARLY = 0.99
TINY = 5
JUDGEMENT = 200  # pieces that judgement alone is worth at most; common practice, no source

Stated = Row | Cause | Visibility | Dimensions | ReadingMatrix


def _stated(model: Model) -> Iterator[tuple[Path, str, Stated]]:
    """Yield everything that states numbers, with its path and how a message names it."""
    for node in model.nodes:
        at: Path = ("nodes", node.name)
        for i, row in enumerate(node.rows):
            yield (*at, "rows", i), subject(node.name, row.given), row
        if node.noisy:
            gate: Path = (*at, node.noisy_key)
            yield (*gate, "leak"), f"{node.name}, leak: ", node.noisy.leak
            for i, cause in enumerate(node.noisy.causes):
                yield (*gate, "causes", i), subject(node.name, cause.given), cause
        if node.visibility:
            yield (*at, "visibility"), f"{node.name}, visibility: ", node.visibility
        if node.dimensions:
            yield (*at, "dimensions"), f"{node.name}, dimensions: ", node.dimensions
    for name, matrix in model.reading_matrices.items():
        yield ("reading_matrices", name), f"{name}: ", matrix


def row_without_source(model: Model) -> Iterator[Problem]:
    """A row does not say on what its numbers rest."""
    for path, said, stated in _stated(model):
        if not stated.source:
            yield Problem(path, f"{said}no source; say on what it rests")


def row_without_n(model: Model) -> Iterator[Problem]:
    """A row does not say how many pieces its numbers are worth."""
    for path, said, stated in _stated(model):
        if stated.n is None:
            yield Problem(path, f"{said}no n; say how many pieces it is worth")


def nearly_certain_on_few(model: Model) -> Iterator[Problem]:
    """A row claims 0.99 or more, without being a plain rule (1), on fewer than five pieces."""
    for path, said, stated in _stated(model):
        if isinstance(stated, Row) and stated.p and stated.n is not None:
            largest = max(stated.p.values())
            if NEARLY <= largest < 1 and stated.n < TINY:
                text = f"{said}{largest:g} on n = {stated.n:g}; few pieces cannot say so much"
                yield Problem(path, text)


def source_not_listed(model: Model) -> Iterator[Problem]:
    """A row names a source that the top of the file does not explain."""
    for path, said, stated in _stated(model):
        if stated.source and stated.source not in model.sources:
            text = f"{said}source {stated.source} is not under `sources`; add it there"
            yield Problem(path, text)


def source_never_used(model: Model) -> Iterator[Problem]:
    """A listed source stands behind no number."""
    used = {stated.source for _, _, stated in _stated(model)}
    for name in model.sources:
        if name not in used:
            yield Problem(("sources", name), f"source {name} is used by no row; drop it")


def source_not_explained(model: Model) -> Iterator[Problem]:
    """A listed source has a short name only, so a reader cannot find it."""
    for name, text in model.sources.items():
        if not text.strip():
            yield Problem(("sources", name), f"source {name}: say in a sentence what it is")


def measured_without_pieces(model: Model) -> Iterator[Problem]:
    """The model calls itself measured, but counts no reference piece."""
    if model.status == "measured" and model.reference.pieces == 0:
        text = "status is measured, reference counts 0 pieces; count them, or say elicited"
        yield Problem(("status",), text)


def n_beyond_what_stands_behind(model: Model) -> Iterator[Problem]:
    """A row claims more pieces than the file holds, beyond what judgement is worth."""
    most = model.reference.pieces + JUDGEMENT
    for path, said, stated in _stated(model):
        if stated.n is not None and stated.n > most:
            text = f"{said}n = {stated.n:g}, {model.reference.pieces:g} pieces stand behind it"
            yield Problem(path, f"{text}; count them in `reference`, or claim at most {most:g}")


def reference_counts_disagree(model: Model) -> Iterator[Problem]:
    """The counts by state add up to more pieces than the reference file is said to hold."""
    for name, counts in model.reference.by_state.items():
        total = fsum(counts.values())
        if total > model.reference.pieces:
            text = f"reference by_state {name}: {total:g} pieces of {model.reference.pieces:g}"
            yield Problem(("reference", "by_state", name), f"{text}; mend one of the two")


def filed_state_not_counted(model: Model) -> Iterator[Problem]:
    """A filed state has no reference piece, so no verbal grade can ever be given for it."""
    for name, counts in model.reference.by_state.items():
        for state in model.node(name).states:
            if not state.open and not counts.get(state.name):
                text = f"reference by_state {name}: no piece of {state.name}, yet it is not open"
                yield Problem(("reference", "by_state", name), f"{text}; count some, or mark it")
