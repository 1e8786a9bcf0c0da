"""A model measured on pieces of known truth, read top to bottom: from cases to figures."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from claywit.errors import CasesError, EvidenceError
from claywit.evidence.askable import check_propositions, check_question
from claywit.evidence.cases import Cases
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, leaders, log_total
from claywit.inference.rehearsal import drawn_among
from claywit.inference.tree import Ints
from claywit.learning.crossvalidation import Learn, RunAll, cross_validate, learned
from claywit.learning.evaluation import answers, likelihood_ratios, state_cllr
from claywit.learning.folds import Fold, by_group, in_parts, one_out
from claywit.learning.resampling import units
from claywit.learning.scoring import Asked, Scored, score, truth_of
from claywit.learning.screening import screen
from claywit.model.propositions import Pair, proposition, text_of
from claywit.model.schema import Model, Node
from claywit.reasoning.explanation import refuse_excluded
from claywit.report.evaluated import Evaluation, How, OddValue, StateFigures, Unseen
from claywit.report.evaluated_wording import with_words
from claywit.report.figures import answer_figures, finite, odd_value, ratio_figures
from claywit.report.numbers import twelve_digits
from claywit.report.used import model_used, node_texts


@dataclass(frozen=True)
class Plan:
    """What is asked, and how the pieces are parted.

    question: the first target if None. for_, against: typed propositions.
    folds: into how many parts; by_groups: one for each group; one_out: one for each source.
        None of them: the model as it is.
    """

    question: str | None = None
    for_: str | None = None
    against: str | None = None
    folds: int | None = None
    by_groups: bool = False
    one_out: bool = False
    seed: int = 1

    @property
    def parts(self) -> Literal["none", "folds", "groups", "one_out"]:
        """Return how the pieces are parted.

        Raises:
            CasesError: in more than one way.
        """
        if (self.folds is not None) + self.by_groups + self.one_out > 1:
            raise CasesError(
                "--folds, --by-group and --one-out are three ways of parting the pieces; choose one"
            )
        if self.by_groups:
            return "groups"
        return "one_out" if self.one_out else "none" if self.folds is None else "folds"


@dataclass(frozen=True)
class Origin:
    """The file that cases come from: its SHA-256, and how many of its rows could not be read."""

    digest: str = ""
    refused: int = 0


def measure(
    model: Model,
    cases: Cases,
    plan: Plan,
    *,
    learn: Learn = learned,
    origin: Origin = Origin(),
    run_all: RunAll = map,
) -> Evaluation:
    """Return how good *model* is on *cases*, learned anew without them where *plan* parts them.

    Args:
        model: as given, or what is believed before learning.
        cases: pieces whose truth is known.
        plan: what is asked and how.
        learn: fits a model to cases.
        origin: the file that the cases come from.
        run_all: does the folds; `map`, or a cluster's.

    Raises:
        CasesError: no truth is known, the pieces cannot be parted in that way, or the model
            has counted the very file, so that nothing can be left out.
        EvidenceError: the question or a proposition does not fit the model.
    """
    asked, chosen = _asked(model, cases, plan)
    truth = truth_of(cases, asked.question)
    taught = any(file.digest == origin.digest for file in model.reference.files)
    folds = _folds(cases, truth, plan, taught=taught)
    scored = (
        cross_validate(model, cases, folds, asked, learn=learn, run_all=run_all)
        if folds
        else score(compile_network(model), cases, asked)
    )
    judged = _Judged(cases, truth, plan, origin, taught, folds, scored)
    return with_words(_evaluation(model, asked, chosen, judged))


@dataclass(frozen=True)
class _Judged:
    """Pieces as they were judged: what they are, how they were parted, and what came of it.

    truth: the state of each piece, -1 where unknown. taught: the model has counted that file.
    """

    cases: Cases
    truth: Ints
    plan: Plan
    origin: Origin
    taught: bool
    folds: tuple[Fold, ...]
    scored: Scored


def _evaluation(
    model: Model, asked: Asked, chosen: Literal["asked", "commonest"], of: _Judged
) -> Evaluation:
    rng = np.random.default_rng(of.plan.seed)
    found, ratios = answers(of.scored, rng), likelihood_ratios(of.scored, rng)
    return Evaluation(
        model=model_used(model),
        question=asked.question,
        for_=text_of(asked.pair[0]),
        against=text_of(asked.pair[1]),
        chosen=chosen,
        how=_how(of),
        states=_by_state(of.scored, of.truth, of.folds),
        answers=answer_figures(found) if found else None,
        ratios=ratio_figures(ratios) if ratios else None,
        odd=odd_values(model, of.cases),
        unseen=tuple(_unseen(of.cases, model, asked.question)),
        nodes=node_texts(model),
    )


def _how(of: _Judged) -> How:
    known = np.flatnonzero(of.truth >= 0).tolist()
    return How(
        parts=of.plan.parts,
        folds=len(of.folds),
        seed=of.plan.seed,
        cases=of.origin.digest,
        taught=of.taught,
        refused=of.origin.refused,
        without_truth=int((of.truth < 0).sum()),
        without_group=sum(not of.cases.groups[i] for i in known),
        drawn=drawn_among(of.cases.names[i] for i in known),
        impossible=of.scored.impossible,
    )


def odd_values(model: Model, cases: Cases) -> tuple[OddValue, ...]:
    """Return the measured values of *cases* that sit oddly among their kind, the oddest first."""
    return tuple(
        odd_value(odd, int(cases.lines[odd.row]), only=len(model.node(odd.node).measured) == 1)
        for odd in screen(cases, model)
    )


def _asked(model: Model, cases: Cases, plan: Plan) -> tuple[Asked, Literal["asked", "commonest"]]:
    question = plan.question or model.targets[0]
    try:
        check_question(question, model, {})
        pair = _pair(model, plan)
    except ValueError as wrong:
        raise EvidenceError(str(wrong)) from None
    truth = truth_of(cases, question)
    if not (truth >= 0).any():
        raise CasesError(
            f"no piece says what its {question} is; add a column `{question}` with what is known,"
            " or ask another --question"
        )
    asked = Asked(question, pair or _commonest(model.node(question), truth))
    _refuse_excluded(model, asked)
    return asked, "asked" if pair else "commonest"


def _pair(model: Model, plan: Plan) -> Pair | None:
    if (plan.for_ is None) != (plan.against is None):
        raise ValueError(
            "two propositions are weighed against each other; give --for and --against"
        )
    if plan.for_ is None or plan.against is None:
        return None
    pair = proposition(plan.for_, model), proposition(plan.against, model)
    check_propositions(*pair, {}, model)
    return pair


def _commonest(node: Node, truth: Ints) -> Pair:
    """Return the state that most pieces have, against all others together."""
    names = node.state_names
    if len(names) < 2:
        raise EvidenceError(f"{node.name} has one state only, so there is nothing to tell apart")
    first = int(np.bincount(truth[truth >= 0], minlength=len(names)).argmax())
    others = tuple(name for k, name in enumerate(names) if k != first)
    return {node.name: (names[first],)}, {node.name: others}


def _refuse_excluded(model: Model, asked: Asked) -> None:
    piece = compile_piece(compile_network(model), (), asked.nodes)
    joint = piece.log_joint(np.zeros((1, 0), dtype=np.bool_))
    refuse_excluded(asked.pair, [float(log_total(joint, piece.holds(p))[0]) for p in asked.pair])


def _folds(cases: Cases, truth: Ints, plan: Plan, *, taught: bool) -> tuple[Fold, ...]:
    if plan.parts == "none":
        return ()
    if taught:
        raise CasesError(
            "the model has counted this very file, so no piece of it can be left out; give the"
            " model from before it was fitted"
        )
    if plan.parts == "folds":
        count = plan.folds or 2
        return in_parts(cases.groups, cases.names, truth, count=count, seed=plan.seed)
    return (by_group if plan.parts == "groups" else one_out)(cases.groups, cases.names)


def _by_state(scored: Scored, truth: Ints, folds: tuple[Fold, ...]) -> tuple[StateFigures, ...]:
    p, unit = np.exp(scored.log_p), units(scored.groups, scored.names)
    led = leaders(scored.log_p.T) if len(p) else np.zeros(0, dtype=np.intp)
    known = scored.truth >= 0
    found = []
    for k, name in enumerate(scored.states):
        own = scored.truth == k
        found.append(
            StateFigures(
                state=name,
                pieces=int(own.sum()),
                sources=len(set(unit[own])),
                led=int((known & (led == k)).sum()),
                right=int((own & (led == k)).sum()),
                given=twelve_digits(p[own, k].mean()) if own.any() else None,
                cllr=finite(state_cllr(scored, k)),
                learned_from=min(int((truth[fold.learn] == k).sum()) for fold in folds)
                if folds
                else None,
            )
        )
    return tuple(found)


def _unseen(cases: Cases, model: Model, question: str) -> list[Unseen]:
    """Return the states of the question and of the traits that no piece has."""
    found = []
    for node in model.nodes:
        codes = cases.codes.get(node.name)
        if codes is None or not (node in model.weighable or node.name == question):
            continue
        held = set(codes.tolist())
        lacking = tuple(s for k, s in enumerate(node.state_names) if k not in held)
        if lacking and not any(node.name in special for special in cases.special.values()):
            found.append(Unseen(node=node.name, states=lacking))
    return found
