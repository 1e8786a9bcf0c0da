"""Whole stories as plain data and in words, for a reader who has never met a network."""

import math
from collections.abc import Mapping
from typing import Literal

from claywit.evidence.binding import Examined
from claywit.model.dates import period
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.stories import Relevant, Stories, Story
from claywit.report.labels import label_of
from claywit.report.limits import limits
from claywit.report.numbers import bans, decimal, factor, percent, signed_bans, times_better
from claywit.report.report import EvidenceUsed, ModelUsed, NodeText
from claywit.report.used import evidence_used, model_used, node_texts
from claywit.report.values import Decimal, Named

HALF = 0.5
NEAR = 0.5  # a second story at least half as probable as the first is named with it


class Told(Value):
    """States that go together, and their probability before and after the findings."""

    states: dict[str, str]
    said: str
    prior: Decimal
    posterior: Decimal


class Speaks(Told):
    """A story about some of the nodes, and the findings' weight for it against all else.

    Null where the findings leave no room for anything else.
    """

    bans: float | None
    factor: float | None


class Whole(Value):
    """The single most probable state of everything at once.

    hidden: nodes that cannot be looked at. traits: those that were not read, as they would
    be expected. differs: nodes of the best story that stand otherwise here.
    """

    hidden: dict[str, str]
    traits: dict[str, str]
    differs: tuple[str, ...]
    posterior: Decimal


class StoriesTold(Value):
    """The best joint stories about some nodes, what explains best, and all at once.

    covered: the probability of the best stories together. apart: each node's own likeliest
    state, looked at one by one.
    """

    about: tuple[str, ...]
    best: tuple[Told, ...]
    covered: Decimal
    relevant: tuple[Speaks, ...]
    apart: Told
    whole: Whole
    statement: tuple[str, ...]


class StoriesAnswer(Named):
    """The stories about one piece."""

    format: Literal["claywit-stories/1"] = "claywit-stories/1"
    model: ModelUsed
    evidence: EvidenceUsed
    stories: StoriesTold
    nodes: dict[str, NodeText]
    cautions: tuple[str, ...]


def stories_answer(model: Model, examined: Examined, stories: Stories) -> StoriesAnswer:
    """Return the *stories* about what was *examined*."""
    used = model_used(model)
    return StoriesAnswer(
        model=used,
        evidence=evidence_used(examined),
        stories=stories_told(model, examined, stories),
        nodes=node_texts(model),
        cautions=limits([used]),
    )


def stories_told(model: Model, examined: Examined, stories: Stories) -> StoriesTold:
    """Return the section of a report that holds the *stories*."""
    nodes = node_texts(model)
    best = tuple(_told(story, nodes) for story in stories.best)
    covered = [story.log_posterior for story in stories.best]
    told = StoriesTold(
        about=stories.about,
        best=best,
        covered=decimal(math.log(math.fsum(math.exp(log_p) for log_p in covered))),
        relevant=tuple(_speaks(found, nodes) for found in stories.relevant),
        apart=_told(stories.apart, nodes),
        whole=_whole(model, examined, stories),
        statement=(),
    )
    return told.model_copy(update={"statement": tuple(_statement(told))})


def story_said(nodes: Mapping[str, NodeText], states: Mapping[str, str]) -> str:
    """Return states that go together as a reader knows them, with their dates."""
    parts = []
    for node, state in states.items():
        text = nodes[node].states.get(state)
        date = f" ({period(text.date)})" if text and text.date else ""
        parts.append(f"{label_of(nodes, f'{node}={state}')}{date}")
    return " · ".join(parts)


def _told(story: Story, nodes: Mapping[str, NodeText]) -> Told:
    return Told(
        states=dict(story.states),
        said=story_said(nodes, story.states),
        prior=decimal(story.log_prior),
        posterior=decimal(story.log_posterior),
    )


def _speaks(found: Relevant, nodes: Mapping[str, NodeText]) -> Speaks:
    told = _told(found.story, nodes)
    weight = bans(found.bans)
    times = None if weight is None else factor(weight)
    return Speaks(**dict(told), bans=weight, factor=times)


def _whole(model: Model, examined: Examined, stories: Stories) -> Whole:
    read = {finding.node for finding in examined.findings}
    gone = {*read, *stories.about, *examined.not_applicable}
    rest = {name: state for name, state in stories.whole.states.items() if name not in gone}
    order = [node.name for node in model.nodes if node.name in rest]
    first = stories.best[0].states
    return Whole(
        hidden={name: rest[name] for name in order if not model.node(name).is_trait},
        traits={name: rest[name] for name in order if _applies(model, name, rest)},
        differs=tuple(n for n in stories.about if stories.whole.states[n] != first[n]),
        posterior=decimal(stories.whole.log_p - stories.log_evidence),
    )


def _statement(told: StoriesTold) -> list[str]:
    return [_first(told), *_explains(told), *_one_by_one(told)]


def _first(told: StoriesTold) -> str:
    first, *others = told.best
    said = (
        f"Taken together, the likeliest story is {first.said}: {percent(first.posterior)}"
        f" (before the findings {percent(first.prior)})"
    )
    near = [o for o in others[:1] if float(o.posterior) >= NEAR * float(first.posterior)]
    for second in near:
        said += f"; not far behind, {_changed(second, first)}: {percent(second.posterior)}"
    return f"{said}."


def _changed(other: Told, first: Told) -> str:
    """Return *other* by what it has otherwise than *first*."""
    parts = dict(zip(other.states, other.said.split(" · "), strict=True))
    changed = [parts[n] for n, state in other.states.items() if state != first.states[n]]
    return f"the same with {' · '.join(changed)}"


def _explains(told: StoriesTold) -> list[str]:
    if not told.relevant:
        return ["The findings speak for no story: they leave the odds as they were, or lower."]
    first = told.relevant[0]
    if first.bans is None:
        return [f"The findings leave room for nothing but {first.said}."]
    said = (
        f"What the findings speak for most is {first.said}: they make its odds"
        f" {times_better(first.factor)} better ({signed_bans(first.bans)} bans)"
    )
    if float(first.posterior) < HALF:
        said += (
            f". Still it has only {percent(first.posterior)}: to be spoken for is not yet to"
            " be probable"
        )
    return [f"{said}."]


def _one_by_one(told: StoriesTold) -> list[str]:
    if told.apart.states == told.best[0].states:
        return []
    together = float(told.apart.posterior)
    how = f"have {percent(together)} together" if together else "cannot all be true at once"
    return [f"Beware: looked at one by one the likeliest are {told.apart.said}, but these {how}."]


def _applies(model: Model, name: str, states: Mapping[str, str]) -> bool:
    """Return whether a trait has something to read in a story in which nodes have *states*."""
    node = model.node(name)
    met = all(
        states.get(parent) is None or states[parent] in allowed
        for parent, allowed in node.applies_if.items()
    )
    return node.is_trait and met
