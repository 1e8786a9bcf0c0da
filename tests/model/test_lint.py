"""Every rule fires on its example, stays silent on a clean model, and stands in the reference.

An example is a change to CLEAN: the lines it replaces, and the lines a modeller might write.
"""

from pathlib import Path

import pytest
from golden import REWRITE

from claywit.model.lint import RULES, lint, name_of
from claywit.model.soundness import read_model

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "lint.md"
CLEAN = """\
format: claywit-model/1
name: clean
version: 1.0.0
targets: [mould]
status: elicited
sources: {notes: A keeper's notes}
groups: {signs: [size, rim, gloss]}
order:
  - {before: rim, after: coat, node: gloss, state: shiny}
reading_matrices:
  H: {node: gloss, p: {dull: {dull: 0.9, shiny: 0.1}, shiny: {shiny: 1}}, source: notes, n: 9}
nodes:
  mould:
    label: Mould
    states: {M1: {date: 1800/1850}, M0: {open: true}}
    rows: [{p: {M1: 0.7, M0: 0.3}, source: notes, n: 9}]
  paste:
    label: Paste
    states: [fine, coarse]
    rows: [{p: {fine: 0.5, coarse: 0.5}, source: notes, n: 9}]
  veil:
    label: Veil
    states: [clear, thick]
    rows: [{p: {clear: 0.8, thick: 0.2}, source: notes, n: 9}]
  size:
    label: Size
    describe: With callipers.
    measured: {height: mm}
    u: {height: 0.1}
    parents: [mould, paste]
    examine: {view: callipers}
    dimensions:
      cavity: {M1: {height: 42}}
      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: 3}}
      shrinkage: {fine: {mean: 0.02, sd: 0.004}, coarse: {mean: 0.01, sd: 0.004}}
      tails: 4
      source: notes
      n: 9
  rim:
    label: Rim
    describe: Look along the edge.
    states: [flat, round]
    parents: [mould]
    examine: {view: edge}
    rows:
      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: notes, n: 9}
      - {given: {}, p: {flat: 0.4, round: 0.6}, source: notes, n: 9}
  gloss:
    label: Gloss
    describe: Tilt it to the lamp.
    states: [dull, shiny]
    parents: [paste]
    visibility: {parent: veil, p: {clear: 0.01, thick: 0.6}, source: notes, n: 9}
    examine: {view: front}
    rows:
      - {given: {paste: fine}, p: {dull: 0.3, shiny: 0.7}, source: notes, n: 9}
      - {given: {paste: coarse}, p: {dull: 0.8, shiny: 0.2}, source: notes, n: 9}
"""
RIM_ROW = "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: notes, n: 9}\n"
EXAMPLES = {
    "row-without-source": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, n: 9}\n",
    ),
    "row-without-n": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: notes}\n",
    ),
    "nearly-certain-on-few": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.995, round: 0.005}, source: notes, n: 3}\n",
    ),
    "prior-leaves-out-a-state": (
        "    rows: [{p: {clear: 0.8, thick: 0.2}, source: notes, n: 9}]\n",
        "    rows: [{p: {clear: 1}, source: notes, n: 9}]\n",
    ),
    "state-never-used": ("    states: [flat, round]\n", "    states: [flat, round, hollow]\n"),
    "zero-that-a-finding-could-contradict": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 1}, source: notes, n: 9}\n",
    ),
    "sum-was-rounded": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.9000005, round: 0.1}, source: notes, n: 9}\n",
    ),
    "default-never-used": (
        RIM_ROW,
        RIM_ROW + "      - {given: {mould: M0}, p: {flat: 0.5, round: 0.5}, source: notes, n: 9}\n",
    ),
    "visibility-falls": (
        "    visibility: {parent: veil, p: {clear: 0.01, thick: 0.6}, source: notes, n: 9}\n",
        "    visibility: {parent: veil, p: {clear: 0.6, thick: 0.01}, source: notes, n: 9}\n",
    ),
    "always-visible-or-never": (
        "    visibility: {parent: veil, p: {clear: 0.01, thick: 0.6}, source: notes, n: 9}\n",
        "    visibility: {parent: veil, p: {clear: 0, thick: 0.6}, source: notes, n: 9}\n",
    ),
    "open-state-with-lighter-tails": (
        "      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: 3}}\n",
        "      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: normal}}\n",
    ),
    "unreachable-node": (
        "  veil:\n",
        "  kiln:\n    label: Kiln\n    states: [wood, coal]\n"
        "    rows: [{p: {wood: 0.5, coal: 0.5}, source: notes, n: 9}]\n  veil:\n",
    ),
    "trait-without-question": (
        "  veil:\n",
        "  dust:\n    label: Dust\n    describe: On a white cloth.\n    states: [none, some]\n"
        "    examine: {view: front}\n"
        "    rows: [{p: {none: 0.5, some: 0.5}, source: notes, n: 9}]\n  veil:\n",
    ),
    "trait-in-no-group": (
        "groups: {signs: [size, rim, gloss]}\n",
        "groups: {signs: [size, rim]}\n",
    ),
    "hidden-node-in-group": (
        "groups: {signs: [size, rim, gloss]}\n",
        "groups: {signs: [size, rim, gloss, paste]}\n",
    ),
    "node-without-label": ("    label: Rim\n", ""),
    "trait-without-description": ("    describe: Look along the edge.\n", ""),
    "leaf-not-examinable": ("    examine: {view: edge}\n", ""),
    "dates-only-for-some": (
        "    states: {M1: {date: 1800/1850}, M0: {open: true}}\n",
        "    states: {M1: {date: 1800/1850}, M0: {}}\n",
    ),
    "nothing-open": (
        "      cavity: {M1: {height: 42}}\n      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: 3}}\n",
        "      cavity: {M1: {height: 42}, M0: {height: 40}}\n",
    ),
    "unfiled-not-marked-open": (
        "    states: {M1: {date: 1800/1850}, M0: {open: true}}\n",
        "    states: {M1: {date: 1800/1850}, M0: {date: 1850/1900}}\n",
    ),
    "order-of-one-event": (
        "  - {before: rim, after: coat, node: gloss, state: shiny}\n",
        "  - {before: coat, after: coat, node: gloss, state: shiny}\n",
    ),
    "order-given-twice": (
        "  - {before: rim, after: coat, node: gloss, state: shiny}\n",
        "  - {before: rim, after: coat, node: gloss, state: shiny}\n"
        "  - {before: rim, after: coat, node: gloss, state: dull}\n",
    ),
    "reading-no-better-than-chance": (
        "  H: {node: gloss, p: {dull: {dull: 0.9, shiny: 0.1}, shiny: {shiny: 1}}, source: notes, n: 9}\n",
        "  H: {node: gloss, p: {dull: {dull: 0.4, shiny: 0.6}, shiny: {shiny: 1}}, source: notes, n: 9}\n",
    ),
    "source-not-listed": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: hearsay, n: 9}\n",
    ),
    "source-never-used": (
        "sources: {notes: A keeper's notes}\n",
        "sources: {notes: A keeper's notes, survey: A survey of 1990}\n",
    ),
}


def faults(rule):
    before, after = EXAMPLES[rule]
    assert CLEAN.count(before) == 1
    model = read_model(CLEAN.replace(before, after).encode(), "clean.yaml")
    return [fault for fault in lint(model) if fault.rule == rule]


def test_a_clean_model_has_no_faults():
    assert lint(read_model(CLEAN.encode(), "clean.yaml")) == ()


def test_there_are_at_least_fifteen_rules_and_each_has_an_example():
    assert len(RULES) >= 15
    assert {name_of(rule) for rule in RULES} == set(EXAMPLES)


@pytest.mark.parametrize("rule", EXAMPLES)
def test_the_rule_fires_on_its_example(rule):
    assert faults(rule)


@pytest.mark.parametrize("rule", EXAMPLES)
def test_the_fault_names_a_place_and_something_to_do(rule):
    fault = faults(rule)[0]
    assert fault.path
    assert len(fault.text) > 20


def test_a_zero_under_parents_that_cannot_occur_is_no_fault():
    """The row of fine paste is a zero, but no piece is ever of fine paste."""
    text = CLEAN.replace("{p: {fine: 0.5, coarse: 0.5}", "{p: {coarse: 1}").replace(
        "{given: {paste: fine}, p: {dull: 0.3, shiny: 0.7}", "{given: {paste: fine}, p: {dull: 1}"
    )
    found = {fault.rule for fault in lint(read_model(text.encode(), "clean.yaml"))}
    assert "zero-that-a-finding-could-contradict" not in found


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
        shown = EXAMPLES[name][1] or f"# without: {EXAMPLES[name][0].strip()}\n"
        parts.append(
            f"## {name}\n\n{rule.__doc__.strip().splitlines()[0]}\n\n```yaml\n{shown}```\n\n"
            f"> {faults(name)[0].text}\n"
        )
    found = "\n".join(parts)
    if REWRITE:
        PAGE.write_text(found, encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == found
