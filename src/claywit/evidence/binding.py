"""Evidence and model brought together: every word of the one given a meaning by the other."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import fsum

from claywit.errors import EvidenceError, did_you_mean
from claywit.evidence.askable import check_propositions, check_question
from claywit.evidence.findings import Finding
from claywit.evidence.meaning import NOT_APPLICABLE, meaning
from claywit.evidence.sequence import Ordered, Pair, order_of_events
from claywit.evidence.written import Evidence
from claywit.model.propositions import Proposition, proposition
from claywit.model.schema import NOT_VISIBLE, Model, Node
from claywit.model.source import Path
from claywit.model.tables import TOLERANCE

Place = Callable[[Path], str]
MOST_FINDINGS = 500  # all pairs of them are worked out


@dataclass(frozen=True)
class Examined:
    """What one examiner's evidence says in the words of one model.

    findings: those to weigh, in the order of the model's nodes, so that the order of the
        file never matters.
    not_applicable: traits with nothing to read, each with why.
    not_examined: traits that were not looked at, each with why.
    not_used: pairs of events that the model has no entry for.
    unknown_events: events that the model never names, each with a hint.
    for_, against: the propositions that the file states, if it does.
    """

    evidence: Evidence
    findings: tuple[Finding, ...]
    not_applicable: Mapping[str, str]
    not_examined: Mapping[str, str]
    not_used: tuple[Pair, ...]
    unknown_events: tuple[tuple[str, str], ...]
    question: str
    priors: Mapping[str, Mapping[str, float]]
    for_: Proposition | None
    against: Proposition | None


def bind(evidence: Evidence, model: Model, place: Place | None = None) -> Examined:
    """Return what *evidence* says in the words of *model*; *place* names a path's line.

    Raises:
        EvidenceError: something in the evidence does not fit the model or itself.
    """
    where = place or (lambda _: evidence.piece.id)
    found = dict(_meanings(evidence, model, where))
    ordered = _with_order(evidence, model, found, where)
    _check_not_examined(evidence, model, found, where)
    not_applicable = applicable(model, found, where)
    weighed = tuple(
        found[n.name] for n in model.nodes if n.name in found and n.name not in not_applicable
    )
    if len(weighed) > MOST_FINDINGS:
        text = f"{len(weighed):,} findings; at most {MOST_FINDINGS} are weighed, each with each"
        raise EvidenceError(f"{where(('findings',))}: {text}")
    question = evidence.question or model.targets[0]
    try:
        check_question(question, model, found)
    except ValueError as wrong:
        at: Path = ("findings", question) if question in found else ("question",)
        raise EvidenceError(f"{where(at)}: {wrong}") from None
    for_, against = _propositions(evidence, model, found, where)
    return Examined(
        evidence,
        weighed,
        not_applicable,
        dict(evidence.not_examined),
        ordered.not_used,
        ordered.unknown,
        question,
        _priors(evidence, model, where),
        for_,
        against,
    )


def _meanings(evidence: Evidence, model: Model, where: Place) -> Iterator[tuple[str, Finding]]:
    for name, written in evidence.findings.items():
        path: Path = ("findings", name)
        _known_node(name, model, where(path))
        try:
            yield name, meaning(model.node(name), written, model)
        except ValueError as wrong:
            raise EvidenceError(f"{where(path)}: {name}: {wrong}") from None


def _known_node(name: str, model: Model, where: str) -> None:
    if name not in model.by_name:
        traits = [node.name for node in model.nodes if node.is_trait]
        near = did_you_mean(name, model.by_name)
        hint = near if near.startswith("did") else did_you_mean(name, traits)
        of = next((node.name for node in model.nodes if name in node.measured), "")
        if of:
            hint = f"it is a measure of {of}; write {of}: {{{name}: …}}"
        raise EvidenceError(f"{where}: no node {name} in the model; {hint}")


def _with_order(
    evidence: Evidence, model: Model, found: dict[str, Finding], where: Place
) -> Ordered:
    """Add to *found* what the order of events says; where a finding stands it must agree."""
    path: Path = ("sequence",)
    try:
        ordered = order_of_events(evidence.sequence, model)
    except ValueError as wrong:
        raise EvidenceError(f"{where(path)}: sequence: {wrong}") from None
    for said in ordered.implied:
        stands = found.get(said.node)
        pair = f"{said.pair[0]} under {said.pair[1]}"
        if said.node in evidence.not_examined:
            raise EvidenceError(
                f"{where(path)}: {pair} says how {said.node} is, "
                "but not_examined says it was not looked at"
            )
        if stands is None:
            found[said.node] = _implied(said.node, said.states, said.pair, model)
        elif not _allows(stands, said.states):
            wanted = " or ".join(said.states)
            raise EvidenceError(
                f"{where(path)}: {pair} says {said.node} is {wanted}, its finding "
                f"says {_shown(stands)}; look again and mend one"
            )
    return ordered


def _allows(finding: Finding, states: tuple[str, ...]) -> bool:
    """Return whether the finding can stand beside an order that says one of *states*."""
    if finding.likelihood is not None:
        return any(finding.likelihood[state] > 0 for state in states)
    return finding.state in states


def _shown(finding: Finding) -> str:
    if finding.likelihood is not None:
        return "that it is not"
    return finding.state or (NOT_VISIBLE if finding.not_visible else NOT_APPLICABLE)


def _implied(name: str, states: tuple[str, ...], pair: Pair, model: Model) -> Finding:
    if len(states) == 1:
        return Finding(name, state=states[0], implied_by=pair)
    known = model.node(name).state_names
    return Finding(
        name, likelihood={s: 1.0 if s in states else 0.0 for s in known}, implied_by=pair
    )


def _check_not_examined(
    evidence: Evidence, model: Model, found: Mapping[str, Finding], where: Place
) -> None:
    for name in evidence.not_examined:
        path: Path = ("not_examined", name)
        _known_node(name, model, where(path))
        if name in found:
            raise EvidenceError(
                f"{where(path)}: {name} has a finding and stands under not_examined; keep one"
            )


def applicable(model: Model, found: Mapping[str, Finding], where: Place) -> dict[str, str]:
    """Return the traits with nothing to read, each with why.

    Raises:
        EvidenceError: there is a finding on one of them, or one that applies is said not to.
    """
    nothing: dict[str, str] = {}
    for node in model.nodes:
        against = next(
            (
                (parent, state)
                for parent, allowed in node.applies_if.items()
                if (state := _read(found.get(parent))) and state not in allowed
            ),
            None,
        )
        said = found.get(node.name)
        if said and said.not_applicable:
            _refuse_applying(node, found, where)
        elif said and against:
            raise EvidenceError(_beside(node, said, against, where))
        if against:
            nothing[node.name] = f"{against[0]} is {against[1]}"
        elif said and said.not_applicable:
            nothing[node.name] = said.why or "so says the examiner"
    return nothing


def _refuse_applying(node: Node, found: Mapping[str, Finding], where: Place) -> None:
    """Refuse to take a trait for not applicable that applies, as its parents were read."""
    read = {parent: _read(found.get(parent)) for parent in node.applies_if}
    if any(read[parent] not in allowed for parent, allowed in node.applies_if.items()):
        return
    said = ", ".join(f"{parent} was read as {state}" for parent, state in read.items())
    why = f"{said}, so it applies here" if read else "applies to every piece"
    raise EvidenceError(
        f"{where(('findings', node.name))}: {node.name}: {why}; write not_visible, or use"
        " not_examined"
    )


def _beside(node: Node, said: Finding, against: tuple[str, str], where: Place) -> str:
    """Return what is wrong with a finding on a trait that a reading *against* it takes away."""
    parent, state = against
    if said.implied_by:
        under, over = said.implied_by
        return (
            f"{where(('sequence',))}: {under} under {over} says how {node.name} is, but"
            f" {parent} was read as {state}; mend one"
        )
    return (
        f"{where(('findings', node.name))}: {node.name} applies only where {parent} is"
        f" {' or '.join(node.applies_if[parent])}, and it was read as {state}; leave {node.name}"
        f" out or mend {parent}"
    )


def _read(finding: Finding | None) -> str | None:
    """Return the state that was read for certain, if one was."""
    certain = finding and finding.sure in (None, 1) and not finding.matrix
    return finding.state if finding and certain else None


def _priors(evidence: Evidence, model: Model, where: Place) -> dict[str, dict[str, float]]:
    priors: dict[str, dict[str, float]] = {}
    for name, shares in evidence.priors.items():
        at = where(("priors", name))
        _known_node(name, model, at)
        node = model.node(name)
        if node.parents or node.measured or node.visibility:
            raise EvidenceError(
                f"{at}: priors can be given for nodes without parents; "
                f"{name} depends on {', '.join(node.all_parents) or 'a measure'}"
            )
        for state in shares:
            if state not in node.state_names:
                raise EvidenceError(
                    f"{at}: {name} has no state {state}; {did_you_mean(state, node.state_names)}"
                )
        total = fsum(shares.values())
        if abs(total - 1) > TOLERANCE:
            raise EvidenceError(f"{at}: priors of {name} sum to {total:.6g}, must be 1")
        priors[name] = {s: shares.get(s, 0.0) / total for s in node.state_names}
    return priors


def _propositions(
    evidence: Evidence, model: Model, found: Mapping[str, Finding], where: Place
) -> tuple[Proposition | None, Proposition | None]:
    stated = evidence.propositions
    if not stated:
        return None, None
    try:
        for_ = proposition(stated.for_, model)
        against = proposition(stated.against, model)
        check_propositions(for_, against, found, model)
    except ValueError as wrong:
        raise EvidenceError(f"{where(('propositions',))}: {wrong}") from None
    return for_, against
