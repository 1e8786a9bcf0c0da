"""What could be better in a sound model: one small function a rule, all of them in RULES.

A rule sees only the model. It says what it found and what to do, never more than once for
one place. `docs/reference/lint.md` shows each rule with an example; a test runs them.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from claywit.model.lint_numbers import NUMBER_RULES
from claywit.model.problems import Problem
from claywit.model.schema import Model, Node

Rule = Callable[[Model], Iterator[Problem]]


@dataclass(frozen=True)
class Fault:
    """Something that could be better, the rule that found it, and where in the file."""

    rule: str
    path: tuple[str | int, ...]
    text: str


def lint(model: Model) -> tuple[Fault, ...]:
    """Return the faults of a sound *model*, rule by rule."""
    return tuple(
        Fault(name_of(rule), problem.path, problem.text)
        for rule in RULES
        for problem in rule(model)
    )


def name_of(rule: Rule) -> str:
    """Return the name under which a rule is known: `row-without-source`."""
    return rule.__name__.replace("_", "-")


def _node(node: Node, text: str, *path: str | int) -> Problem:
    return Problem(("nodes", node.name, *path), f"{node.name}: {text}")


def unreachable_node(model: Model) -> Iterator[Problem]:
    """No trait depends on this hidden node, so nothing that is seen can say anything of it."""
    above: set[str] = set()
    waiting = [node for node in model.nodes if node.examine]
    while waiting:
        for parent in waiting.pop().all_parents:
            if parent not in above:
                above.add(parent)
                waiting.append(model.node(parent))
    for node in model.nodes:
        if not node.examine and node.name not in above:
            yield _node(node, "no trait depends on it; give it one, or leave it out")


def trait_without_question(model: Model) -> Iterator[Problem]:
    """No path of parents joins this trait to a target, so it can never say anything of one."""
    joined = set(model.targets)
    size = 0
    while size != len(joined):
        size = len(joined)
        for node in model.nodes:
            family = {node.name, *node.all_parents}
            if family & joined:
                joined |= family
    for node in model.nodes:
        if node.examine and node.name not in joined:
            yield _node(node, f"nothing joins it to {', '.join(model.targets)}")


def trait_in_no_group(model: Model) -> Iterator[Problem]:
    """A trait outside all groups is explained last and alone, whatever causes it shares."""
    grouped = {name for group in model.groups for name in group.nodes}
    for node in model.nodes:
        if node.examine and node.name not in grouped:
            yield _node(node, "in no group; put it with the traits that share its causes")


def hidden_node_in_group(model: Model) -> Iterator[Problem]:
    """A group names a node that cannot be examined, so it never has a finding to explain."""
    for group in model.groups:
        for i, name in enumerate(group.nodes):
            if not model.node(name).examine:
                text = f"group {group.name}: {name} has no `examine`; groups hold traits"
                yield Problem(("groups", group.name, i), text)


def node_without_label(model: Model) -> Iterator[Problem]:
    """A node without a label is shown to readers under its file name."""
    for node in model.nodes:
        if not node.label:
            yield _node(node, "no label; say what a reader should call it")


def trait_without_description(model: Model) -> Iterator[Problem]:
    """A trait without a description leaves the examiner to guess what to look for."""
    for node in model.nodes:
        if node.examine and not node.describe:
            yield _node(node, "no `describe`; say what to look for and what imitates it")


def leaf_not_examinable(model: Model) -> Iterator[Problem]:
    """A node with no children and no `examine` can neither be seen nor change anything seen."""
    parents = {name for node in model.nodes for name in node.all_parents}
    for node in model.nodes:
        if not node.examine and node.name not in parents and node.name not in model.targets:
            yield _node(node, "nobody's parent and no `examine`; add `examine: {view: lens}`")


def dates_only_for_some(model: Model) -> Iterator[Problem]:
    """Some states of this node have a date and others, not marked open, have none."""
    for node in model.nodes:
        dated = [state for state in node.states if state.date]
        for state in node.states:
            if dated and not state.date and not state.open:
                yield _node(node, f"state {state.name} has no date, others have", "states")


def nothing_open(model: Model) -> Iterator[Problem]:
    """Sizes that shrink together know no "not in the file", so a stranger gets a named mould."""
    for node in model.nodes:
        if node.dimensions and not node.dimensions.unfiled:
            yield _node(node, "no unfiled mould; without one a stranger is given to a filed mould")


def unfiled_not_marked_open(model: Model) -> Iterator[Problem]:
    """A mould whose sizes are unfiled is not marked `open`, so reports cannot say what it is."""
    for node in model.nodes:
        if node.dimensions:
            mould = model.node(node.parents[0])
            for name in node.dimensions.unfiled:
                if not mould.state(name).open:
                    yield _node(
                        mould,
                        f"state {name} is unfiled in {node.name}; mark it open: true",
                        "states",
                        name,
                    )


def order_of_one_event(model: Model) -> Iterator[Problem]:
    """An order entry names one event on both sides, so it can never be met."""
    for i, entry in enumerate(model.order):
        if entry.before == entry.after:
            yield Problem(("order", i), f"order {i + 1}: {entry.before} cannot lie under itself")


def order_given_twice(model: Model) -> Iterator[Problem]:
    """Two order entries say something of one node for one pair of events."""
    seen: set[tuple[str, str, str]] = set()
    for i, entry in enumerate(model.order):
        key = (entry.before, entry.after, entry.node)
        if key in seen:
            text = (
                f"order {i + 1}: {entry.before} under {entry.after} is already said of {entry.node}"
            )
            yield Problem(("order", i), text)
        seen.add(key)


def reading_no_better_than_chance(model: Model) -> Iterator[Problem]:
    """A reading matrix reads some state right no more often than a guess would."""
    for name, matrix in model.reading_matrices.items():
        k = len(matrix.p)
        for true, read in matrix.p.items():
            if read.get(true, 0.0) <= 1 / k:
                text = (
                    f"{name}: {true} is read right with {read.get(true, 0.0):g}, a guess has 1/{k}"
                )
                yield Problem(("reading_matrices", name, "p", true), text)


def source_not_listed(model: Model) -> Iterator[Problem]:
    """A row names a source that the top of the file does not explain."""
    for node in model.nodes:
        for i, row in enumerate(node.rows):
            if row.source and row.source not in model.sources:
                yield _node(node, f"source {row.source} is not under `sources`", "rows", i)


def source_never_used(model: Model) -> Iterator[Problem]:
    """A listed source stands behind no number."""
    parts = [
        part
        for node in model.nodes
        for part in (
            *node.rows,
            node.visibility,
            node.dimensions,
            *((node.noisy.leak, *node.noisy.causes) if node.noisy else ()),
        )
    ]
    used = {part.source for part in parts if part}
    used |= {matrix.source for matrix in model.reading_matrices.values()}
    for name in model.sources:
        if name not in used:
            yield Problem(("sources", name), f"source {name} is used by no row")


RULES: tuple[Rule, ...] = (
    *NUMBER_RULES,
    unreachable_node,
    trait_without_question,
    trait_in_no_group,
    hidden_node_in_group,
    node_without_label,
    trait_without_description,
    leaf_not_examinable,
    dates_only_for_some,
    nothing_open,
    unfiled_not_marked_open,
    order_of_one_event,
    order_given_twice,
    reading_no_better_than_chance,
    source_not_listed,
    source_never_used,
)
