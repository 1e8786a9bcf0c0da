"""The whole tool, read top to bottom: from a model and evidence to a report.

What only stories or a joint statement need is imported when one is asked for.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from claywit.errors import EvidenceError
from claywit.evidence.askable import check_propositions, check_question
from claywit.evidence.binding import Examined, bind
from claywit.evidence.parties import Party, called, refuse_other_answers, refuse_two_pieces
from claywit.inference.network import Floats, compile_network
from claywit.inference.piece import (
    Piece,
    compile_piece,
    log_marginals,
    log_total,
    refuse_impossible,
)
from claywit.judging import advice_on, judge, vary
from claywit.model.propositions import Pair, proposition
from claywit.model.schema import Model
from claywit.reasoning.explanation import explain, leading_pair, of_root, refuse_excluded
from claywit.reasoning.misfits import far_measures, rare_pairs
from claywit.reasoning.policy import Policy
from claywit.reasoning.rivals import sets_tried, side_by_side, smallest_flip
from claywit.reasoning.shares import group_shares
from claywit.reasoning.uncertainty import RunAll
from claywit.report.advised import Next, advised
from claywit.report.compose import Answer, Chosen, compose, pieces_behind
from claywit.report.contrast import Contrast, contrast
from claywit.report.report import Report
from claywit.report.scale import Scale
from claywit.report.standards import Standards
from claywit.report.varying import Sensitivity
from claywit.report.wording import with_words

if TYPE_CHECKING:
    from claywit.report.joint import Joint
    from claywit.report.told import StoriesAnswer

SEED = 1


def assess(
    model: Model,
    examined: Examined,
    standards: Standards,
    *,
    named: Pair | None = None,
    seed: int | None = SEED,
    run_all: RunAll = map,
) -> Report:
    """Return the explained opinion of *model* on what was *examined*, and how far to trust it.

    The explanation weighs the *named* propositions, else those that the evidence states,
    else the leading state of the question against its strongest rival. The parts that draw
    numbers, intervals and typicality, are left out without a *seed*;
    *run_all* does the rounds of draws: `map`, or a cluster's.

    Raises:
        ImpossibleEvidence: the findings cannot stand together.
        EvidenceError: the model excludes a proposition before anything is seen.
        ModelError: the network is too entangled to be held in memory.
    """
    piece, answer = _weigh(model, examined, named)
    answer = replace(answer, shares=group_shares(piece, answer.explanation))
    judgement = judge(piece, answer, standards.policy, seed, run_all=run_all)
    report = compose(answer, standards.scale).model_copy(update=judgement)
    return with_words(report, pieces_behind(answer))


def glance(model: Model, examined: Examined, scale: Scale, *, named: Pair | None = None) -> Report:
    """Return the explained opinion without all that judges it.

    The order-free shares of the groups are left out too.

    Raises:
        ClaywitError: as `assess`.
    """
    answer = _weigh(model, examined, named)[1]
    return with_words(compose(answer, scale), pieces_behind(answer))


def at_a_key(model: Model, examined: Examined, scale: Scale) -> Report:
    """Return as `glance` the opinion on the question alone: what is wanted at every key.

    Of the hidden nodes only the question has its shares: those of all take as long as the rest.

    Raises:
        ClaywitError: as `assess`.
    """
    answer = _weigh(model, examined, None, of_all=False)[1]
    return with_words(compose(answer, scale), pieces_behind(answer))


def compare(
    model: Model, examined: Examined, scale: Scale, *, named: Pair | None = None
) -> Contrast:
    """Return two attributions side by side, chosen as by `assess`, and what would flip them.

    Raises:
        ClaywitError: as `assess`.
    """
    piece, answer = _weigh(model, examined, named)
    found = answer.explanation
    answer = replace(answer, shares=group_shares(piece, found))
    report = with_words(compose(answer, scale), pieces_behind(answer))
    flip = smallest_flip(piece, found.for_, found.against)
    return contrast(report, model, side_by_side(piece, found), flip, sets_tried(piece))


def look_next(model: Model, examined: Examined, policy: Policy, *, risk: float = 1.0) -> Next:
    """Return what to look at next, on the question of *examined*.

    Traits of a higher *risk* to the piece are left out and listed. *policy* words the
    attribution, so that looking can stop when no reading would change the words.

    Raises:
        ClaywitError: as `assess`.
    """
    piece, log_joint = _prepare(model, examined, [examined.question])
    leader, _ = leading_pair(log_joint, piece, examined.question)
    advice = advice_on(piece, examined, policy, risk=risk)
    return advised(model, examined, advice, leader[examined.question][0])


def what_if(
    model: Model, examined: Examined, numbers: Sequence[str], *, named: Pair | None = None
) -> Sensitivity:
    """Return what the answer owes to single numbers of the model, and to the *numbers* chosen.

    Raises:
        ClaywitError: as `assess`; or a number is not of this model, or cannot be varied.
    """
    piece, answer = _weigh(model, examined, named)
    return vary(piece, answer, numbers)


def tell_stories(
    model: Model, examined: Examined, *, about: Sequence[str] = (), best: int = 5
) -> "StoriesAnswer":
    """Return the *best* few stories about the nodes *about*, else about the model's targets.

    Raises:
        EvidenceError: a node of *about* cannot be asked about, or there is none to ask about.
        ClaywitError: as `assess`.
    """
    from claywit.reasoning.stories import tell
    from claywit.report.told import stories_answer

    seen = {finding.node: finding for finding in examined.findings}
    try:
        for name in about:
            check_question(name, model, seen)
    except ValueError as wrong:
        raise EvidenceError(str(wrong)) from None
    named = tuple(dict.fromkeys(about)) or tuple(n for n in model.targets if n not in seen)
    piece, _ = _prepare(model, examined, named)
    return stories_answer(model, examined, tell(piece, named, best=best))


Asked = tuple[str | None, str | None, str | None]  # a question, a proposition for, one against


def joint(
    one: Party,
    other: Party,
    policy: Policy,
    *,
    asked: Asked = (None, None, None),
    weight: float = 0.5,
) -> "Joint":
    """Return the joint statement of two sides on one piece; *weight* is the first one's.

    The question and the propositions are those *asked*, else the first side's, else the two
    leading states.

    Raises:
        EvidenceError: the files are about two pieces, or one does not fit the other's model.
        ClaywitError: as `assess`.
    """
    from claywit.joining import refuse_alone, setting_of
    from claywit.reasoning.disputes import dispute
    from claywit.reasoning.pooling import pool
    from claywit.report.jointly import jointly
    from claywit.report.positions import Matter

    if not 0 <= weight <= 1:
        raise EvidenceError(f"a weight lies between 0 and 1, found {weight:g}")
    refuse_two_pieces(one, other)
    names = called(one, other)
    own, own_pair = ask(one.model, bind(one.evidence, one.model, one.place), *asked)
    refuse_other_answers(one, other, own.question)
    pair = own_pair or _stated(own)
    first = setting_of(one.model, (one, other), own.question, pair)
    same = one.model == other.model
    second = first if same else setting_of(other.model, (one, other), own.question, pair)
    for side, setting in enumerate((first, second)):
        refuse_alone(setting, side, own.question, pair, names[side])
    chosen: Chosen = "named" if own_pair else "stated" if pair else "leading"
    theirs = bind(other.evidence, other.model, other.place)
    matter = Matter(names, (one.model, other.model), (own, theirs), own.question, chosen)
    found = dispute((first, second), own.question, pair)
    return jointly(matter, found, pool(*found.log_posteriors, weight), weight, policy)


def _prepare(model: Model, examined: Examined, asked: Sequence[str]) -> tuple[Piece, Floats]:
    """Compile the findings, and return the joint of *asked* with none and all of them."""
    network = compile_network(model, examined.priors)
    piece = compile_piece(network, examined.findings, list(dict.fromkeys(asked)))
    none_then_all = np.repeat([[False], [True]], len(piece.findings), axis=1)
    log_joint = piece.log_joint(none_then_all)
    refuse_impossible(piece, float(log_total(log_joint)[1]))
    return piece, log_joint


def _weigh(
    model: Model, examined: Examined, named: Pair | None, *, of_all: bool = True
) -> tuple[Piece, Answer]:
    """Run inference and explanation, before anything is rounded or said.

    *of_all*: the shares of all hidden nodes are wanted, not only those of the question.
    """
    stated = named or _stated(examined)
    about = [name for proposition in stated or () for name in proposition]
    piece, log_joint = _prepare(model, examined, [examined.question, *about])
    network, log_evidence = piece.network, float(log_total(log_joint)[1])
    pair = stated or leading_pair(log_joint, piece, examined.question)
    refuse_excluded(pair, [float(log_total(log_joint, piece.holds(p))[0]) for p in pair])
    if of_all:
        hidden = _hidden(model, examined)
        log_prior, log_posterior = log_marginals(network, examined.findings, hidden)
    else:
        none, every = of_root(log_joint, piece, examined.question).T
        log_prior, log_posterior = {examined.question: none}, {examined.question: every}
    chosen: Chosen = "named" if named else "stated" if stated else "leading"
    explanation = explain(piece, *pair)
    return piece, Answer(
        model,
        examined,
        log_prior,
        log_posterior,
        log_evidence,
        explanation,
        chosen,
        far_measures(network, examined.findings),
        rare_pairs(piece),
    )


def ask(
    model: Model, examined: Examined, question: str | None, for_: str | None, against: str | None
) -> tuple[Examined, Pair | None]:
    """Return *examined* with what a user asked in place of what the evidence asks.

    A question that is typed alone sets the stated propositions aside, so that answer and
    reasons are about one node; propositions that are typed alone set the question.

    Raises:
        EvidenceError: the question or a proposition does not fit the model or the findings,
            or only one proposition was typed.
    """
    if question is None and for_ is None and against is None:
        return examined, None
    if (for_ is None) != (against is None):
        raise EvidenceError("give both --for and --against; one alone has no weight")
    seen = {finding.node: finding for finding in examined.findings}
    try:
        if for_ is None or against is None:
            check_question(str(question), model, seen)
            return replace(examined, question=str(question), for_=None, against=None), None
        pair = proposition(for_, model), proposition(against, model)
        check_propositions(*pair, {**seen, **examined.not_applicable}, model)
        about = question or next(iter(pair[0]))
        check_question(about, model, seen)
    except ValueError as wrong:
        raise EvidenceError(str(wrong)) from None
    return replace(examined, question=about), pair


def _stated(examined: Examined) -> Pair | None:
    if examined.for_ is None or examined.against is None:
        return None
    return examined.for_, examined.against


def _hidden(model: Model, examined: Examined) -> list[str]:
    """Return the nodes whose probabilities a report gives: those that cannot be looked at."""
    seen = {finding.node for finding in examined.findings}
    asked = {examined.question, *model.targets}
    hidden = [n for n in model.nodes if n.states and (not n.is_trait or n.name in asked)]
    return [node.name for node in hidden if node.name not in seen]
