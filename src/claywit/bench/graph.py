"""The graph of a model as geometry: columns from cause to trait, for a template to draw.

A node stands one column to the right of the last of its parents, so that every line runs from
left to right. Within a column the nodes stand near what they are joined to: a few sweeps put each
at the mean place of its neighbours (Sugiyama, Tagawa and Toda 1981, IEEE Transactions on Systems,
Man and Cybernetics 11(2), 109-125).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from textwrap import wrap

from claywit.model.schema import Model, Node

WIDE, BETWEEN = 132, 22  # a node, and the room for lines between two columns
LINE, PAD, APART = 15, 5, 7  # a line of text, the room around it, between two nodes
LETTERS = 16  # in a line, where they are bold
LINES = 3
SWEEPS = 8
MARGIN = 4
Places = dict[str, float]


@dataclass(frozen=True)
class Box:
    """A node as drawn: its top left corner, its height, the lines of its label.

    kind: question, hidden, trait or measured. near: whether it is chosen or joined to what is.
    """

    name: str
    title: str
    kind: str
    x: float
    y: float
    height: float
    lines: tuple[str, ...]
    chosen: bool
    near: bool


@dataclass(frozen=True)
class Line:
    """A line from a parent to its child; *near* if one of them is chosen."""

    path: str
    near: bool


@dataclass(frozen=True)
class Drawing:
    """The whole graph: lines lie under boxes, and those of the chosen node over the others."""

    width: float
    height: float
    boxes: tuple[Box, ...]
    lines: tuple[Line, ...]


def children(model: Model) -> dict[str, tuple[str, ...]]:
    """Return the children of each node, in the order of the model."""
    found: dict[str, list[str]] = {node.name: [] for node in model.nodes}
    for node in model.nodes:
        for parent in node.all_parents:
            found[parent].append(node.name)
    return {name: tuple(names) for name, names in found.items()}


def drawing(model: Model, chosen: str | None) -> Drawing:
    """Return the graph of *model*, with what is joined to the *chosen* node marked."""
    below = children(model)
    columns = _columns(model)
    places = _places(columns, _neighbours(model, below))
    tall = max(_height([model.node(n) for n in column]) for column in columns)
    joined = {chosen, *below[chosen], *model.node(chosen).all_parents} if chosen else set()
    boxes: dict[str, Box] = {}
    for i, column in enumerate(columns):
        ranked = sorted(column, key=places.__getitem__)
        nodes = [model.node(name) for name in ranked]
        room = (tall - _height(nodes)) / len(nodes)
        y = MARGIN + room / 2
        for node in nodes:
            box = _box(model, node, (MARGIN + i * (WIDE + BETWEEN), round(y, 1)), chosen, joined)
            boxes[node.name] = box
            y += box.height + APART + room
    lines = [
        Line(_path(boxes[parent], boxes[node.name]), chosen in (parent, node.name))
        for node in model.nodes
        for parent in node.all_parents
    ]
    return Drawing(
        width=len(columns) * (WIDE + BETWEEN) - BETWEEN + 2 * MARGIN,
        height=round(tall + 2 * MARGIN, 1),
        boxes=tuple(boxes[node.name] for node in model.nodes),
        lines=tuple(sorted(lines, key=lambda line: line.near)),
    )


def _columns(model: Model) -> list[list[str]]:
    """Return the nodes by the length of the longest way to them; parents come first in a model."""
    depth: dict[str, int] = {}
    waiting = list(model.nodes)
    while waiting:
        ready = [node for node in waiting if all(p in depth for p in node.all_parents)]
        for node in ready:
            depth[node.name] = 1 + max((depth[p] for p in node.all_parents), default=-1)
        waiting = [node for node in waiting if node.name not in depth]
    columns: list[list[str]] = [[] for _ in range(1 + max(depth.values()))]
    for node in model.nodes:
        columns[depth[node.name]].append(node.name)
    return columns


def _neighbours(
    model: Model, below: Mapping[str, Sequence[str]]
) -> tuple[Callable[[str], Sequence[str]], Callable[[str], Sequence[str]]]:
    return (lambda name: model.node(name).all_parents), (lambda name: below[name])


def _places(
    columns: Sequence[Sequence[str]],
    near: tuple[Callable[[str], Sequence[str]], Callable[[str], Sequence[str]]],
) -> Places:
    """Return where in its column each node stands, from 0 to 1."""
    places = {name: place for column in columns for name, place in _spread(column).items()}
    for sweep in range(SWEEPS):
        towards = near[sweep % 2]
        for column in columns if sweep % 2 == 0 else reversed(columns):
            places |= _spread(sorted(column, key=lambda name: _mean(name, towards, places)))
    return places


def _mean(name: str, towards: Callable[[str], Sequence[str]], places: Places) -> float:
    others = [places[other] for other in towards(name)]
    return sum(others) / len(others) if others else places[name]


def _spread(column: Sequence[str]) -> Places:
    return {name: (i + 0.5) / len(column) for i, name in enumerate(column)}


def _height(nodes: Sequence[Node]) -> float:
    return sum(_tall(node) + APART for node in nodes)


def _tall(node: Node) -> float:
    return len(_label(node)) * LINE + 2 * PAD


def _label(node: Node) -> tuple[str, ...]:
    return tuple(wrap(node.title, LETTERS, max_lines=LINES, placeholder="…")) or (node.name,)


def _box(
    model: Model,
    node: Node,
    corner: tuple[float, float],
    chosen: str | None,
    joined: set[str],
) -> Box:
    return Box(
        name=node.name,
        title=node.title,
        kind=kind_of(model, node),
        x=corner[0],
        y=corner[1],
        height=_tall(node),
        lines=_label(node),
        chosen=node.name == chosen,
        near=node.name in joined,
    )


def kind_of(model: Model, node: Node) -> str:
    """Return what a node is to an examiner: question, hidden, trait or measured."""
    if node.name in model.targets:
        return "question"
    if node.measured:
        return "measured"
    return "trait" if node.is_trait else "hidden"


def _path(one: Box, other: Box) -> str:
    x, y = one.x + WIDE, one.y + one.height / 2
    end, down = other.x, other.y + other.height / 2
    bend = BETWEEN if end - x <= BETWEEN else (end - x) / 2
    return (
        f"M{x:.1f} {y:.1f}C{x + bend:.1f} {y:.1f} {end - bend:.1f} {down:.1f} {end:.1f} {down:.1f}"
    )
