"""What could be better in a sound model: one small function a rule, all of them in RULES.

A rule sees only the model. It says what it found and what to do, never more than once for
one place. `docs/reference/lint.md` shows each rule with an example; a test runs them.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from claywit.model import (
    lint_looks,
    lint_measures,
    lint_readings,
    lint_rows,
    lint_shape,
    lint_sources,
    lint_time,
    lint_weight,
    lint_words,
)
from claywit.model.problems import Problem
from claywit.model.schema import Model

Rule = Callable[[Model], Iterator[Problem]]

RULES: tuple[Rule, ...] = (
    lint_sources.row_without_source,
    lint_sources.row_without_n,
    lint_sources.nearly_certain_on_few,
    lint_sources.n_beyond_what_stands_behind,
    lint_sources.source_not_listed,
    lint_sources.source_never_used,
    lint_sources.source_not_explained,
    lint_sources.measured_without_pieces,
    lint_sources.reference_counts_disagree,
    lint_sources.filed_state_not_counted,
    lint_rows.prior_leaves_out_a_state,
    lint_rows.even_prior_without_note,
    lint_rows.prior_nearly_settled,
    lint_rows.state_never_occurs,
    lint_rows.row_for_what_cannot_occur,
    lint_rows.zero_that_a_finding_could_contradict,
    lint_rows.default_never_used,
    lint_rows.parent_without_effect,
    lint_rows.sum_was_rounded,
    lint_weight.trait_counted_twice,
    lint_weight.states_that_nothing_parts,
    lint_weight.ratio_beyond_n,
    lint_shape.unreachable_node,
    lint_shape.leaf_not_examinable,
    lint_shape.trait_without_question,
    lint_shape.target_without_trait,
    lint_shape.target_can_be_seen,
    lint_shape.cause_of_nothing,
    lint_measures.nothing_open,
    lint_measures.unfiled_not_marked_open,
    lint_measures.open_state_with_lighter_tails,
    lint_measures.open_state_with_narrower_spread,
    lint_measures.open_state_out_of_reach,
    lint_measures.open_state_left_out,
    lint_measures.normal_tails_name_pieces,
    lint_measures.spread_below_measuring_uncertainty,
    lint_measures.spread_far_below_the_others,
    lint_measures.size_below_zero,
    lint_measures.shrinkage_in_percent,
    lint_time.dates_out_of_order,
    lint_time.dates_overlap,
    lint_time.dates_leave_a_gap,
    lint_time.cast_before_its_model,
    lint_time.casts_in_a_circle,
    lint_time.cast_larger_than_its_model,
    lint_looks.applies_if_unseen,
    lint_looks.applies_if_always,
    lint_looks.applies_if_in_a_circle,
    lint_looks.visibility_falls,
    lint_looks.always_visible_or_never,
    lint_looks.minutes_not_given,
    lint_readings.reading_no_better_than_chance,
    lint_readings.reader_never_wrong,
    lint_readings.reading_of_the_unseen,
    lint_readings.order_of_one_event,
    lint_readings.order_given_twice,
    lint_readings.order_said_both_ways,
    lint_words.model_without_title,
    lint_words.empty_group,
    lint_words.trait_in_no_group,
    lint_words.hidden_node_in_group,
    lint_words.node_without_label,
    lint_words.trait_without_description,
    lint_words.labels_only_for_some,
    lint_words.label_too_long,
    lint_words.labels_alike,
    lint_words.names_alike,
    lint_words.dates_only_for_some,
    lint_words.making_only_for_some,
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
