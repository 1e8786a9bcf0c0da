"""The head of a file of cases: what each of its columns is about."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from claywit.errors import CasesError, did_you_mean
from claywit.model.schema import Model, Node
from claywit.model.values import duplicates

ID, GROUP, REMARK = "id", "group", "#"
PARTS = ("u", "below", "above")  # of a measure
MOST_COLUMNS = 5_000


@dataclass(frozen=True)
class Part:
    """What one column says of its node: the finding itself, or one *key* of it.

    key: "" the finding, `sure` or `reading`; of a measure `value`, `u`, `below`, `above`.
    measure: the name of the measure, "" for none.
    """

    node: str
    key: str = ""
    measure: str = ""


@dataclass(frozen=True)
class Head:
    """The columns of a file, by name: *parts* of nodes; remarks are in none of them."""

    parts: Mapping[str, Part]
    by_node: Mapping[str, Mapping[Part, str]] = field(init=False)

    def __post_init__(self) -> None:
        """Sort the columns by node."""
        found: dict[str, dict[Part, str]] = {}
        for column, part in self.parts.items():
            found.setdefault(part.node, {})[part] = column
        object.__setattr__(self, "by_node", found)


def head(names: Sequence[str], model: Model, where: str) -> Head:
    """Return what the columns *names* are about.

    Raises:
        CasesError: there is no `id`, a column stands twice or says nothing of the model's
            nodes, or there are too many.
    """
    if len(names) > MOST_COLUMNS:
        raise CasesError(f"{where}: {len(names):,} columns; at most {MOST_COLUMNS:,} are read")
    twice = duplicates([name for name in names if not name.startswith(REMARK)])
    if twice:
        raise CasesError(f"{where}: column {twice[0] or '(no name)'} stands twice; keep one")
    if ID not in names:
        hint = did_you_mean(ID, names)
        raise CasesError(f"{where}: no column id, the name of each piece; {hint}")
    parts: dict[str, Part] = {}
    for name in names:
        if name in (ID, GROUP) or name.startswith(REMARK):
            continue
        try:
            part = column(name, model)
        except ValueError as wrong:
            raise CasesError(f"{where}: {wrong}") from None
        if part in parts.values():
            other = next(known for known, same in parts.items() if same == part)
            raise CasesError(f"{where}: columns {other} and {name} say the same; keep one")
        parts[name] = part
    return Head(parts)


def column(name: str, model: Model) -> Part:
    """Return what a column of that name is about.

    Raises:
        ValueError: it is about no node of the model, or about nothing that the node has.
    """
    first, *rest = name.split(".")
    node = model.by_name.get(first)
    if node is None:
        raise ValueError(f"no node {_shown(name)} in the model; {_nearest(first, model)}")
    for part, known in column_names(node):
        if known == name:
            return part
    known_names = [known for _, known in column_names(node)]
    hint = did_you_mean(name, known_names)
    raise ValueError(f"{first} has no {_shown('.'.join(rest))}; {hint}")


def column_names(node: Node) -> Iterable[tuple[Part, str]]:
    """Yield every column that a node may have; of one measure the short name comes first."""
    yield Part(node.name), node.name
    if node.states:
        yield Part(node.name, "sure"), f"{node.name}.sure"
        yield Part(node.name, "reading"), f"{node.name}.reading"
    for measure in node.measured:
        if len(node.measured) == 1:
            yield from ((Part(node.name, k, measure), f"{node.name}.{k}") for k in PARTS)
        full = f"{node.name}.{measure}"
        yield Part(node.name, "value", measure), full
        yield from ((Part(node.name, k, measure), f"{full}.{k}") for k in PARTS)


def _nearest(name: str, model: Model) -> str:
    near = did_you_mean(name, [*model.by_name, ID, GROUP])
    if near.startswith("did"):
        return near
    return f"{near}; a column of remarks begins with {REMARK}"


def _shown(name: str) -> str:
    return repr(name[:60]) if not name.isprintable() or not name else name[:60]
