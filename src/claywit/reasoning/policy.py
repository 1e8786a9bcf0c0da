"""From probabilities to the words of an attribution, by a policy that is a file of its own."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from claywit.errors import ModelError
from claywit.inference.piece import likeliest
from claywit.model.dates import period
from claywit.model.schema import Model, State
from claywit.model.typed import read_typed
from claywit.model.values import VERSION, Name, Number, Probability, Text, Value

Shares = Mapping[str, Mapping[str, float]]
UNATTRIBUTED = "unattributed"
CARVED = ("", "primary", "repressing")  # from a carved block, not from a finished piece
ROLES = ("workshop", "class", "period", "mould")
FIELDS = ("subject", "region", "date", "original", "mould", "file")


def _template(text: str) -> str:
    fields = re.findall(r"\{(\w+)\}", text)
    if set(fields) - set(FIELDS) or re.search(r"[{}]", re.sub(r"\{\w+\}", "", text)):
        names = ", ".join(f"{{{name}}}" for name in FIELDS)
        raise ValueError(f"'{text}' has a field that words do not have; use {names}")
    return text


def _say(template: str, **fields: str) -> str:
    return template.format(**{**dict.fromkeys(FIELDS, ""), **fields})


Template = Annotated[Text, AfterValidator(_template)]


def _all_roles(nodes: dict[str, str]) -> dict[str, str]:
    lacking = [role for role in ROLES if role not in nodes]
    if lacking:
        raise ValueError(f"says no node for {', '.join(lacking)}; name all of {', '.join(ROLES)}")
    return nodes


def _flag(value: object) -> object:
    return {"true": True, "false": False}.get(value, value) if isinstance(value, str) else value


class Grade(Value):
    """One grade: what a share must reach, and the words for it.

    prior_factor: it must reach that with prior odds so many times smaller, too. lead: how
    many times the next state's share. primary: only for what was made from a carved block.
    """

    name: Name
    at_least: Probability
    prior_factor: Annotated[Number, Field(ge=1)] = 1.0
    lead: Annotated[Number, Field(ge=1)] = 1.0
    primary: Annotated[bool, BeforeValidator(_flag)] = False
    workshop: Template
    other: Template
    copy_: Text = Field("", alias="copy")
    means: Text


class Phrase(Value):
    """Words for what is graded by no workshop, and what they mean.

    unsettled: the words where the mould that it was taken from is not settled.
    """

    words: Template
    means: Text
    unsettled: Template = ""


def _falling(grades: tuple[Grade, ...]) -> tuple[Grade, ...]:
    limits = [grade.at_least for grade in grades]
    if limits != sorted(limits, reverse=True):
        shown = ", ".join(f"{limit:g}" for limit in limits)
        raise ValueError(f"grades stand at {shown}; write them from the highest to the lowest")
    return grades


class Policy(Value):
    """Which words an attribution may use, and when."""

    format: Literal["claywit-policy/1"]
    id: Text
    version: Annotated[str, Field(pattern=VERSION)]
    source: Text
    nodes: Annotated[
        dict[Literal["workshop", "class", "period", "mould"], Name], AfterValidator(_all_roles)
    ]
    date_share: Probability
    grades: Annotated[tuple[Grade, ...], Field(min_length=1), AfterValidator(_falling)]
    region: Phrase
    derivative: Phrase
    later: Phrase
    stranger: Phrase
    unattributed: Phrase


def read_policy(text: bytes, name: str) -> Policy:
    """Return the policy that *text* holds.

    Raises:
        ModelError: it cannot be read, or is not of the form of a policy.
    """
    return read_typed(Policy, text, name, ModelError)[0]


@dataclass(frozen=True)
class Dating:
    """The shortest run of periods that holds a share, as an EDTF interval (ISO 8601-2)."""

    periods: tuple[str, ...]
    date: str
    share: float


@dataclass(frozen=True)
class Attribution:
    """What may be said of a piece, in the words of a policy.

    grade: its name, or region or unattributed. share: of the state that was graded.
    """

    grade: str
    words: str
    means: str
    node: str
    state: str
    share: float
    dating: Dating | None


def attribute(model: Model, policy: Policy, question: str, shares: Shares) -> Attribution:
    """Return the words for the *shares* of the targets.

    A model that lacks one of the policy's nodes is graded by its question alone.

    Args:
        model: whose states they are.
        policy: which words, and when.
        question: what was asked.
        shares: the posterior of each target and of the question, by state.
    """
    at: dict[str, str] = {role: name for role, name in policy.nodes.items() if name in shares}
    dating = _dating(model, policy, at["period"], shares) if "period" in at else None
    if len(at) < len(policy.nodes):
        return _graded(model, policy, question, shares, dating)
    if _leading(model, at["class"], shares).making in ("derivative", "later"):
        return _copied(model, policy, at, shares, dating)
    found = _graded(model, policy, at["workshop"], shares, dating)
    if _leading(model, at["mould"], shares).open:
        file = f"{model.name} {model.version}"
        words = _say(policy.stranger.words, file=file)
        return replace(found, grade=UNATTRIBUTED, words=words, means=policy.stranger.means)
    if found.grade == UNATTRIBUTED and dating and model.region:
        words = _say(policy.region.words, region=model.region, date=period(dating.date))
        return replace(found, grade="region", words=words, means=policy.region.means)
    return found


def _leading(model: Model, node: str, shares: Shares) -> State:
    names = list(shares[node])
    return model.node(node).state(names[likeliest([*shares[node].values()])])


def _dating(model: Model, policy: Policy, node: str, shares: Shares) -> Dating | None:
    """Return the shortest run of dated periods that holds the policy's share, the fullest of these.

    None where the periods have no dates, or only all of them together hold enough.
    """
    states = model.node(node).states
    held = [shares[node][state.name] for state in states]
    for length in range(1, len(states)):
        runs = [(-sum(held[i : i + length]), i) for i in range(len(states) - length + 1)]
        share, start = min(runs)
        if -share >= policy.date_share:
            break
    else:
        return None
    run = states[start : start + length]
    if not all(state.date for state in run):
        return None
    first, last = run[0].date.partition("/"), run[-1].date.partition("/")
    date = f"{first[0]}/{last[2] or last[0]}" if first[1] or len(run) > 1 else first[0]
    return Dating(tuple(state.name for state in run), date, -share)


def _graded(
    model: Model, policy: Policy, node: str, shares: Shares, dating: Dating | None
) -> Attribution:
    state = _leading(model, node, shares)
    share = shares[node][state.name]
    next_best = max((p for s, p in shares[node].items() if s != state.name), default=0.0)
    about_class = policy.nodes["class"]
    making = _leading(model, about_class, shares).making if about_class in shares else "primary"
    grade = None if state.open else grade_of(policy, share, next_best, primary=making in CARVED)
    subject = state.label or state.name
    if making == "repressing":
        subject = f"{subject}, {_leading(model, about_class, shares).label}"
    if grade is None:
        found = Attribution(UNATTRIBUTED, "", "", node, state.name, share, dating)
        return _unattributed(model, policy, found)
    template = grade.workshop if node == policy.nodes["workshop"] else grade.other
    words = _say(template, subject=subject)
    return Attribution(grade.name, words, grade.means, node, state.name, share, dating)


def grade_of(
    policy: Policy, share: float, next_best: float, *, primary: bool = True
) -> Grade | None:
    """Return the best grade that a *share* reaches, or None.

    Args:
        policy: which grades there are.
        share: posterior of the leading state.
        next_best: posterior of the state after it.
        primary: whether the piece was made from a carved block.
    """
    for grade in policy.grades:
        with_prior = share / (share + (1 - share) * grade.prior_factor)
        led = share >= grade.lead * next_best or grade.lead == 1
        if min(share, with_prior) >= grade.at_least and led and (primary or not grade.primary):
            return grade
    return None


def graded_alone(
    model: Model, policy: Policy, node: str, shares: Mapping[str, float]
) -> Attribution:
    """Return the words for one node's *shares* where nothing else of the piece is known.

    Whether it is a primary issue is then not known either, so where the model has classes the
    grade that is kept for these is not given, and no workshop's words are used.
    """
    state = _leading(model, node, {node: shares})
    share = shares[state.name]
    rest = max((p for s, p in shares.items() if s != state.name), default=0.0)
    has_classes = policy.nodes["class"] in model.by_name
    grade = None if state.open else grade_of(policy, share, rest, primary=not has_classes)
    means = policy.unattributed.means
    found = Attribution(UNATTRIBUTED, UNATTRIBUTED, means, node, state.name, share, None)
    if grade is None:
        return found
    words = _say(grade.other, subject=state.label or state.name)
    return replace(found, grade=grade.name, words=words, means=grade.means)


def _unattributed(model: Model, policy: Policy, found: Attribution) -> Attribution:
    file = f"{model.name} {model.version}"
    words = _say(policy.unattributed.words, file=file)
    return replace(found, grade=UNATTRIBUTED, words=words, means=policy.unattributed.means)


def _copied(
    model: Model, policy: Policy, at: Mapping[str, str], shares: Shares, dating: Dating | None
) -> Attribution:
    """Return the words for what was made from a finished piece: after which mould, and when."""
    made = _leading(model, at["class"], shares)
    classes = model.node(at["class"]).states
    sure = sum(shares[at["class"]][s.name] for s in classes if s.making == made.making)
    phrase = policy.derivative if made.making == "derivative" else policy.later
    moulds = shares[at["mould"]]
    taken = [s for s in model.node(at["mould"]).states if s.after]
    mould = max(taken, key=lambda s: moulds[s.name], default=None)
    lineage = sum(moulds[s.name] for s in taken if mould and s.after == mould.after)
    # What holds of both at once has at least this much (Frechet's lower bound).
    both = max(sure + lineage - 1.0, 0.0)
    grade = grade_of(policy, both, 0.0)
    if mould is not None and grade is not None:
        found = Attribution(grade.name, "", phrase.means, at["mould"], mould.name, both, dating)
        words = _say(phrase.words, original=mould.after, mould=mould.name, date=_dated(dating))
        return replace(found, words=grade.copy_ + words)
    grade = grade_of(policy, sure, 1 - sure)
    found = Attribution(UNATTRIBUTED, "", "", at["class"], made.name, sure, dating)
    if grade is None:
        return _unattributed(model, policy, found)
    words = grade.copy_ + _say(phrase.unsettled, date=_dated(dating))
    return replace(found, grade=grade.name, words=words, means=phrase.means)


def _dated(dating: Dating | None) -> str:
    return period(dating.date) if dating else "at a date that is open"
