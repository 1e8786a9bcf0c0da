"""A model made ready to score any number of pieces, and what is scored."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from claywit.errors import CasesError, EvidenceError, ModelError, did_you_mean
from claywit.evidence.askable import check_question
from claywit.evidence.cases import Cases
from claywit.inference.elimination import Changes
from claywit.inference.network import Network, compile_network
from claywit.inference.sheet import Sheet, compile_sheet
from claywit.model.schema import Model
from claywit.model.soundness import read_model
from claywit.reasoning.explanation import UNGROUPED
from claywit.reasoning.readings import readings_of


@dataclass(frozen=True)
class Wanted:
    """What is asked of every piece.

    question: the node whose leading state is set against its rival.
    targets: the nodes whose posteriors are given, the question among them.
    weighed: the nodes that are evidence.
    weights: whether the findings' weights and how they hang together are wanted.
    looks: whether the best trait to look at next is wanted.
    """

    question: str
    targets: tuple[str, ...]
    weighed: tuple[str, ...]
    weights: bool = True
    looks: bool = True


def wanted(
    model: Model, question: str | None, weigh: Collection[str], *, weights: bool, looks: bool
) -> Wanted:
    """Return what is asked of every piece.

    What can be looked at is evidence, and so are the nodes *weigh*; where the model names
    nothing that can be looked at, everything is but the question and the targets. The rest
    of a file is known truth, which is set aside.

    Raises:
        EvidenceError: the question is none, or is among what is weighed.
        CasesError: a node of *weigh* is not in the model.
    """
    for name in weigh:
        if name not in model.by_name:
            hint = did_you_mean(name, model.by_name)
            raise CasesError(f"--weigh {name}: no such node in the model; {hint}")
    about = question or model.targets[0]
    try:
        check_question(about, model, dict.fromkeys(weigh))
    except ValueError as wrong:
        raise EvidenceError(str(wrong)) from None
    asked = {about, *model.targets} - set(weigh)
    evidence = ({node.name for node in model.weighable} - asked) | set(weigh)
    weighed = tuple(node.name for node in model.nodes if node.name in evidence)
    targets = tuple(n for n in dict.fromkeys((*model.targets, about)) if n in asked)
    return Wanted(about, targets, weighed, weights, looks)


@dataclass(frozen=True)
class Scorer:
    """A model compiled for what is wanted.

    joints: sheets that between them have all targets as roots; one where that fits.
    about: a sheet with the question alone as root, for the weights and looks that are wanted.
    groups: the evidence that occurs by the model's groups, in their order, then what is in none.
    """

    network: Network
    wanted: Wanted
    joints: tuple[Sheet, ...]
    about: Sheet | None
    groups: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def states(self) -> tuple[str, ...]:
        """Return the states of the question."""
        return self.network.states[self.wanted.question]


def occurring(cases: Cases, asked: Wanted) -> tuple[str, ...]:
    """Return the evidence of which *cases* have a column; all of it where they have none."""
    named = {name for special in cases.special.values() for name in special}
    named |= cases.codes.keys() | cases.values.keys()
    return tuple(name for name in asked.weighed if name in named) or asked.weighed


@lru_cache(maxsize=2)
def model_of(text: bytes, name: str) -> Model:
    """Return the model in *text*; read once a process."""
    return read_model(text, name)


@lru_cache(maxsize=2)
def _network_of(text: bytes, name: str) -> Network:
    return compile_network(model_of(text, name))


@lru_cache(maxsize=4)
def sheet_for_looks(text: bytes, name: str, asked: Wanted) -> Sheet:
    """Return the model in *text* with room for all that may be looked at next.

    Raises:
        ModelError: the network is too entangled to be held in memory.
    """
    return _one_by_one(_network_of(text, name), asked, asked.weighed)


@lru_cache(maxsize=4)
def scorer_of(text: bytes, name: str, asked: Wanted, read: tuple[str, ...]) -> Scorer:
    """Return the model in *text* ready to score; compiled once a process."""
    about = sheet_for_looks(text, name, asked) if asked.looks and asked.weighed else None
    return _compiled(_network_of(text, name), asked, read, about)


def compile_scorer(model: Model, asked: Wanted, read: tuple[str, ...] | None = None) -> Scorer:
    """Return *model* ready to score pieces with findings on the nodes *read*, or on any.

    What is never read costs no room, unless it may be what to look at next.

    Raises:
        ModelError: the network is too entangled to be held in memory.
        EvidenceError: there is nothing to weigh, or nothing to ask.
    """
    return _compiled(compile_network(model), asked, read, None)


def _compiled(
    network: Network, asked: Wanted, read: tuple[str, ...] | None, about: Sheet | None
) -> Scorer:
    if not asked.weighed:
        raise EvidenceError("there is nothing to weigh: every node of the model is asked about")
    read = read or asked.weighed
    joints = _joints(network, asked, read)
    _refuse_one_state(joints, asked.question)
    if about is None and (asked.weights or asked.looks):
        about = _one_by_one(network, asked, asked.weighed if asked.looks else read)
    return Scorer(network, asked, joints, about, _groups(network.model, read))


def _one_by_one(network: Network, asked: Wanted, names: Sequence[str]) -> Sheet:
    """Return the sheet on which each piece is asked about over and over, with findings changed."""
    return _sheet(network, names, (asked.question,), Changes())


def _refuse_one_state(joints: Sequence[Sheet], question: str) -> None:
    """Refuse a question with one possible answer: nothing could be weighed against it."""
    sheet = next(sheet for sheet in joints if question in sheet.tree.roots)
    column = sheet.tree.root_states[:, sheet.tree.roots.index(question)]
    possible = np.unique(column)
    if len(possible) < 2:
        only = sheet.network.states[question][int(possible[0])]
        raise EvidenceError(
            f"{question} can only be {only} before anything is seen, so there is nothing to"
            " weigh; ask another question, or look at its prior in the model"
        )


def _joints(network: Network, asked: Wanted, read: Sequence[str]) -> tuple[Sheet, ...]:
    try:
        return (_sheet(network, read, asked.targets),)
    except ModelError:
        if len(asked.targets) == 1:
            raise
    return tuple(_sheet(network, read, (name,)) for name in asked.targets)


def _sheet(
    network: Network,
    names: Sequence[str],
    roots: tuple[str, ...],
    made_for: Changes | None = None,
) -> Sheet:
    model = network.model
    readings = {n: readings_of(network, model.node(n), roots) for n in names}
    return compile_sheet(network, readings, roots, made_for=made_for)


def _groups(model: Model, weighed: Sequence[str]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found = [(g.name, tuple(n for n in g.nodes if n in weighed)) for g in model.groups]
    taken = {name for group in model.groups for name in group.nodes}
    rest = tuple(name for name in weighed if name not in taken)
    return tuple((name, nodes) for name, nodes in [*found, (UNGROUPED, rest)] if nodes)
