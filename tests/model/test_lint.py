"""Every rule fires on its example, stays silent on a clean model, and stands in the reference."""

from pathlib import Path

import pytest
from golden import REWRITE
from lint_changes import CLEAN
from lint_examples import EXAMPLES
from lint_near_misses import NEAR_MISSES

from claywit.model.lint import RULES, lint, name_of
from claywit.model.soundness import read_model

MODELS = Path(__file__).parents[2] / "models"
PAGE = Path(__file__).parents[2] / "docs" / "reference" / "lint.md"

# A node that hangs on nothing has nothing hanging on it either: two places, two faults.
# Of two moulds each taken off the other's pieces, one is larger than its model.
COMPANIONS = {
    "unreachable-node": {"leaf-not-examinable"},
    "casts-in-a-circle": {"cast-larger-than-its-model"},
}


def read(text):
    return read_model(text.encode(), "clean.yaml")


def changed(rule, examples=EXAMPLES):
    """Return CLEAN with the changes of the rule's example."""
    text = CLEAN
    for before, after in zip(examples[rule][::2], examples[rule][1::2], strict=True):
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    return text


def faults(rule):
    return [fault for fault in lint(read(changed(rule))) if fault.rule == rule]


def rules_that_fire(text):
    return {fault.rule for fault in lint(read(text))}


def test_a_clean_model_has_no_faults():
    assert lint(read(CLEAN)) == ()


def test_there_are_at_least_forty_rules_and_each_has_an_example():
    assert len(RULES) >= 40
    assert {name_of(rule) for rule in RULES} == set(EXAMPLES)


@pytest.mark.parametrize("rule", NEAR_MISSES)
def test_no_rule_fires_on_a_near_miss(rule):
    assert rules_that_fire(changed(rule, NEAR_MISSES)) == set()


@pytest.mark.parametrize("rule", EXAMPLES)
def test_the_rule_fires_on_its_example_and_no_other_does(rule):
    assert rules_that_fire(changed(rule)) == {rule} | COMPANIONS.get(rule, set())


@pytest.mark.parametrize("rule", EXAMPLES)
def test_the_fault_names_its_place_and_its_subject(rule):
    for fault in faults(rule):
        assert fault.path
        names = [step.removesuffix("s") for step in fault.path if isinstance(step, str)]
        assert any(name in fault.text for name in names)


@pytest.mark.parametrize("rule", EXAMPLES)
def test_no_place_is_named_twice_for_one_thing(rule):
    found = lint(read(changed(rule)))
    assert len({(fault.path, fault.text) for fault in found}) == len(found)


@pytest.mark.parametrize("file", sorted(MODELS.glob("*.yaml")), ids=lambda file: file.stem)
def test_a_shipped_model_has_no_faults(file):
    assert lint(read_model(file.read_bytes(), file.name)) == ()


def test_a_zero_under_parents_that_cannot_occur_is_no_fault():
    """The row of fine paste holds a zero, but no piece is ever of fine paste."""
    text = CLEAN.replace("{p: {fine: 0.6, coarse: 0.4}", "{p: {coarse: 1}").replace(
        "{given: {paste: fine}, p: {dull: 0.3, shiny: 0.7}", "{given: {paste: fine}, p: {dull: 1}"
    )
    assert rules_that_fire(text) == {"prior-leaves-out-a-state", "row-for-what-cannot-occur"}


def test_a_target_that_nothing_hangs_on_may_still_be_reached_through_its_parents():
    text = CLEAN.replace("targets: [mould]", "targets: [kind]").replace(
        "  veil:\n",
        "  kind:\n    label: Kind\n    states: [plain, fine]\n    parents: [mould]\n    rows:\n"
        "      - {given: {mould: M1}, p: {plain: 0.9, fine: 0.1}, source: notes, n: 9}\n"
        "      - {given: {mould: M0}, p: {plain: 0.4, fine: 0.6}, source: notes, n: 9}\n  veil:\n",
    )
    assert rules_that_fire(text) == set()


def test_a_node_below_which_nothing_is_seen_joins_nothing():
    """Dust and mould meet in ash alone, and ash is never seen: dust still says nothing of mould."""
    text = CLEAN.replace("signs: [size, rim, gloss]", "signs: [size, rim, gloss, dust]").replace(
        "  veil:\n",
        "  dust:\n    label: Dust\n    describe: On a white cloth.\n    states: [none, some]\n"
        "    examine: {view: front, minutes: 1}\n"
        "    rows: [{p: {none: 0.7, some: 0.3}, source: notes, n: 9}]\n"
        "  ash:\n    label: Ash\n    states: [none, some]\n    parents: [dust, mould]\n    rows:\n"
        "      - {given: {dust: none, mould: M1}, p: {none: 0.1, some: 0.9}, source: notes, n: 9}\n"
        "      - {given: {}, p: {none: 0.9, some: 0.1}, source: notes, n: 9}\n  veil:\n",
    )
    assert rules_that_fire(text) == {"leaf-not-examinable", "trait-without-question"}


def test_the_reference_page_says_what_the_rules_say():
    parts = [
        "# What `check` looks for\n\n"
        "`claywit check MODEL` first asks whether the model is sound: whether every name exists, every configuration of\n"
        "parents is matched by exactly one row, every row sums to 1, and no parents go round in a circle. An unsound model is\n"
        "refused (exit status 2) with the line and the nearest name. A sound model may still have faults (exit status 1). Each\n"
        "rule below shows the change to a clean model that sets it off, and what `check` then says.\n"
    ]
    for rule in RULES:
        name = name_of(rule)
        before, after = EXAMPLES[name][::2], EXAMPLES[name][1::2]
        shown = "".join(
            new or f"# without: {old.strip()}\n" for old, new in zip(before, after, strict=True)
        )
        parts.append(
            f"## {name}\n\n{rule.__doc__.strip().splitlines()[0]}\n\n```yaml\n{shown}```\n\n"
            f"> {faults(name)[0].text}\n"
        )
    found = "\n".join(parts)
    if REWRITE:
        PAGE.write_text(found, encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == found
