"""A joint statement put together from what two examiners wrote and what follows from it."""

import math
from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.piece import leaders
from claywit.model.propositions import text_of
from claywit.reasoning.agreement import Kind, Point, compare
from claywit.reasoning.disputes import Dispute, Settling, Share
from claywit.reasoning.policy import UNATTRIBUTED, Policy, graded_alone
from claywit.reasoning.pooling import Pooled
from claywit.report.joint import (
    Agreed,
    Disagreed,
    Joint,
    Opinion,
    PartyUsed,
    Settles,
)
from claywit.report.joint_wording import with_joint_words
from claywit.report.labels import label_of
from claywit.report.numbers import bans, decimal, factor, percent
from claywit.report.positions import Matter, label_of_player, numbers_differ, position
from claywit.report.reading import reading
from claywit.report.used import evidence_used, model_used, node_texts

WHY: Mapping[Kind, str] = {
    "only_a": "only one read it",
    "only_b": "only one read it",
    "visible": "one saw it, the other could not",
    "state": "read differently",
    "sure": "read alike, not as surely",
    "measure": "measured further apart than the uncertainty",
    "within": "measured alike within the uncertainty",
    "same": "read alike",
}


def jointly(matter: Matter, found: Dispute, pooled: Pooled, weight: float, policy: Policy) -> Joint:
    """Return the joint statement of two examiners, *weight* being that of the first."""
    points = compare(matter.models[0], *(side.findings for side in matter.examined))
    of_a, of_b = (
        _opinion(matter, name, logs, policy)
        for name, logs in zip(matter.names, found.log_posteriors, strict=True)
    )
    one, other = (_party(matter, side) for side in (0, 1))
    return with_joint_words(
        Joint(
            piece=one.evidence.piece,
            object=one.evidence.object,
            parties=(one, other),
            question=matter.question,
            for_=text_of(found.pair[0]),
            against=text_of(found.pair[1]),
            chosen=matter.chosen,
            a_bans=bans(found.a),
            b_bans=bans(found.b),
            a_odds=_odds(found.a),
            b_odds=_odds(found.b),
            difference_bans=_difference(found),
            agreed=tuple(_agreed(matter, point) for point in points if point.agreed),
            disagreed=tuple(_disagreed(matter, points, share) for share in _ranked(found)),
            grouped=found.grouped,
            settles=tuple(_settles(matter, found, settling) for settling in found.settlings),
            accord=_accord(matter, found),
            opinions=(of_a, of_b),
            weight=weight,
            policy=f"{policy.id} {policy.version}",
            grades={step.name: step.means for step in policy.grades},
            linear=_opinion(matter, "linear pool", pooled.linear, policy),
            logarithmic=_opinion(matter, "logarithmic pool", pooled.logarithmic, policy),
            examiners_disagree=False,
            because=(),
            answer="",
            statement=(),
            nodes=node_texts(matter.models[1]) | node_texts(matter.models[0]),
            cautions=(),
        )
    )


def _ranked(found: Dispute) -> list[Share]:
    return sorted(found.shares, key=lambda share: -_size(share))


def _accord(matter: Matter, found: Dispute) -> tuple[str, ...] | None:
    if found.accord is None:
        return None
    return tuple(label_of_player(matter, player) for player in found.accord)


def _size(share: Share) -> float:
    return abs(share.share) if math.isfinite(share.share) else -1.0


def _odds(log10_odds: float) -> float | None:
    return factor(log10_odds) if math.isfinite(log10_odds) else None


def _difference(found: Dispute) -> float | None:
    both = math.isfinite(found.a) and math.isfinite(found.b)
    return bans(found.b - found.a) if both else None


def _party(matter: Matter, side: int) -> PartyUsed:
    examined = matter.examined[side]
    readings, stated = examined.evidence.readings, examined.evidence.propositions
    return PartyUsed(
        name=matter.names[side],
        evidence=evidence_used(examined),
        model=model_used(matter.models[side]),
        priors_from_client=tuple(examined.priors),
        question=examined.evidence.question or matter.models[side].targets[0],
        stated=None if stated is None else (stated.for_, stated.against),
        masked=readings.masked if readings else None,
        locked_at=readings.locked_at if readings else "",
    )


def _opinion(matter: Matter, by: str, logs: Floats, policy: Policy) -> Opinion:
    """Return an opinion with the grade and words that its probability would carry.

    The grade is that of the question alone: of a pool nothing else is known.
    """
    node = matter.models[0].node(matter.question)
    if np.isnan(logs).any():
        none = UNATTRIBUTED
        return Opinion(by=by, leading=None, said="none left", words=none, grade=none, shares=None)
    shares = np.exp(logs)
    best = int(leaders(logs))
    state = node.states[best]
    label = label_of(node_texts(matter.models[0]), f"{node.name}={state.name}")
    found = graded_alone(
        matter.models[0],
        policy,
        node.name,
        dict(zip(node.state_names, shares.tolist(), strict=True)),
    )
    return Opinion(
        by=by,
        leading=state.name,
        said=f"{label}, {percent(float(shares[best]))}",
        words=found.words,
        grade=found.grade,
        shares={s: decimal(float(v)) for s, v in zip(node.state_names, logs, strict=True)},
    )


def _agreed(matter: Matter, point: Point) -> Agreed:
    node = matter.models[0].node(point.node)
    a, b = point.a, point.b
    assert a is not None  # noqa: S101 - what only one has is not agreed
    assert b is not None  # noqa: S101
    return Agreed(
        node=point.node,
        label=node.title,
        kind="within" if point.kind == "within" else "same",
        reading_a=reading(a, node),
        reading_b=reading(b, node),
    )


def _disagreed(matter: Matter, points: Sequence[Point], share: Share) -> Disagreed:
    player = share.player
    kinds = {point.node: point.kind for point in points}
    reading_a, reading_b = (position(matter, player, side) for side in (0, 1))
    whys = dict.fromkeys(WHY[kinds[n]] for n in player.nodes if n in kinds)
    return Disagreed(
        kind=player.kind,
        name=player.name,
        nodes=player.nodes,
        label=label_of_player(matter, player),
        reading_a=reading_a,
        reading_b=reading_b,
        why=numbers_differ(matter) if player.kind == "model" else "; ".join(whys),
        share_bans=bans(share.share),
        in_a_bans=bans(share.in_a),
        in_b_bans=bans(share.in_b),
    )


def _settles(matter: Matter, found: Dispute, settling: Settling) -> Settles:
    gap = abs(found.b - found.a)
    known = matter.models[0].by_name
    looks = [known[name].examine for name in settling.player.nodes if name in known]
    same_a, same_b = (len(set(p)) == 1 for p in (settling.leaders_if_a, settling.leaders_if_b))
    when: dict[tuple[bool, bool], Literal["either way", "if a", "if b", "never"]] = {
        (True, True): "either way",
        (True, False): "if a",
        (False, True): "if b",
        (False, False): "never",
    }
    return Settles(
        name=settling.player.name,
        label=label_of_player(matter, settling.player),
        views=tuple(dict.fromkeys(look.view for look in looks if look)),
        minutes=sum(look.minutes for look in looks if look),
        left_if_a_bans=bans(settling.left_if_a) or 0.0,
        left_if_b_bans=bans(settling.left_if_b) or 0.0,
        closes=round(1 - settling.worst / gap, 9) if gap > 0 else 0.0,
        same_answer=when[same_a, same_b],
    )
