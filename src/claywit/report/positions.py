"""What each side of a dispute holds on a point, in the words of its own model."""

from dataclasses import dataclass
from typing import Any

from claywit.evidence.binding import Examined
from claywit.evidence.findings import Finding
from claywit.model.schema import Model, Node
from claywit.reasoning.mixtures import Player
from claywit.report.compose import Chosen
from claywit.report.numbers import percent
from claywit.report.reading import reading


@dataclass(frozen=True)
class Matter:
    """What a joint statement is about: both sides in the words of their own models, A first."""

    names: tuple[str, str]
    models: tuple[Model, Model]
    examined: tuple[Examined, Examined]
    question: str
    chosen: Chosen


def numbers_differ(matter: Matter) -> str:
    """Return for which nodes two models do not say the same, words aside."""
    one, other = ({node.name: node for node in model.nodes} for model in matter.models)
    names = [name for name in {**one, **other} if _bare(one.get(name)) != _bare(other.get(name))]
    listed = ", ".join(_title(matter, name).lower() for name in names)
    return f"not the same on {listed}" if names else "the same numbers"


def _bare(node: Node | None) -> dict[str, Any] | None:
    """Return what a node says without the words for people and the sources."""
    if node is None:
        return None
    bare = node.model_dump(exclude={"label", "describe", "examine"})
    bare["states"] = node.state_names
    bare["rows"] = [row.model_dump(exclude={"source", "n"}) for row in node.rows]
    return bare


def label_of_player(matter: Matter, player: Player) -> str:
    """Return what to call a point in dispute."""
    if player.kind == "priors":
        return "Priors"
    if player.kind == "model":
        return "Model"
    if player.kind == "group":
        labels = {group.name: group.label or group.name for group in matter.models[0].groups}
        return labels.get(player.name, player.name)
    titles = [_title(matter, name) for name in player.nodes]
    if player.kind == "within":
        return f"Small differences of measure: {', '.join(title.lower() for title in titles)}"
    return " and ".join(titles)


def _title(matter: Matter, name: str) -> str:
    known = next(model for model in matter.models if name in model.by_name)
    return known.node(name).title


def position(matter: Matter, player: Player, side: int) -> str:
    """Return what one side holds on what a player stands for."""
    model, examined = matter.models[side], matter.examined[side]
    if player.kind == "model":
        return f"{model.title or model.name} {model.version}"
    if player.kind == "priors":
        return _priors(matter, side)
    found = {finding.node: finding for finding in examined.findings}
    many = len(player.nodes) > 1
    held = [
        f"{_title(matter, name).lower()}: {_read(model, examined, found.get(name), name)}"
        if many
        else _read(model, examined, found.get(name), name)
        for name in player.nodes
    ]
    return "; ".join(held)


def _read(model: Model, examined: Examined, finding: Finding | None, name: str) -> str:
    if finding:
        return reading(finding, model.node(name))
    if name in examined.not_applicable:
        return f"not applicable ({examined.not_applicable[name]})"
    why = examined.not_examined.get(name)
    return f"not read ({why})" if why else "not read"


def _priors(matter: Matter, side: int) -> str:
    """Return one side's priors on the nodes for which a client gave any, to either side."""
    model = matter.models[side]
    names = dict.fromkeys(name for examined in matter.examined for name in examined.priors)
    parts = []
    for name in names:
        node = model.node(name)
        client = matter.examined[side].priors.get(name)
        given = client if client is not None else (node.rows[0].p or {}) if node.rows else {}
        shown = ", ".join(f"{s} {percent(given.get(s, 0.0))}" for s in node.state_names)
        whose = "the client's" if client is not None else "the model's"
        parts.append(f"{node.title.lower()} ({whose}): {shown}")
    return "; ".join(parts)
