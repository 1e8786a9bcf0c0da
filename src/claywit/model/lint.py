"""What could be better in a sound model: one small function a rule, all of them in RULES.

A rule sees only the model. It says what it found and what to do, never more than once for
one place. `docs/reference/lint.md` shows each rule with an example; a test runs them.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from claywit.model import lint_rows, lint_shape, lint_sources, lint_words
from claywit.model.problems import Problem
from claywit.model.schema import Model

Rule = Callable[[Model], Iterator[Problem]]

RULES: tuple[Rule, ...] = (
    lint_sources.row_without_source,
    lint_sources.row_without_n,
    lint_sources.nearly_certain_on_few,
    lint_sources.source_not_listed,
    lint_sources.source_never_used,
    lint_sources.source_not_explained,
    lint_sources.measured_without_pieces,
    lint_rows.prior_leaves_out_a_state,
    lint_rows.even_prior_without_note,
    lint_rows.state_never_occurs,
    lint_rows.zero_that_a_finding_could_contradict,
    lint_rows.default_never_used,
    lint_rows.parent_without_effect,
    lint_rows.sum_was_rounded,
    lint_shape.unreachable_node,
    lint_shape.leaf_not_examinable,
    lint_shape.trait_without_question,
    lint_shape.target_without_trait,
    lint_shape.applies_if_unseen,
    lint_shape.nothing_open,
    lint_shape.unfiled_not_marked_open,
    lint_shape.open_state_with_lighter_tails,
    lint_shape.visibility_falls,
    lint_shape.always_visible_or_never,
    lint_shape.reading_no_better_than_chance,
    lint_shape.order_of_one_event,
    lint_shape.order_given_twice,
    lint_words.trait_in_no_group,
    lint_words.hidden_node_in_group,
    lint_words.node_without_label,
    lint_words.trait_without_description,
    lint_words.labels_only_for_some,
    lint_words.dates_only_for_some,
)


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
