"""A model without faults, and for each rule of `check` a change to it that sets the rule off.

An example is the lines it replaces, the lines a modeller might write, and so on in pairs.
NEAR_MISSES are changes of the same kind that are right as they are: nothing may fire on them.
"""

CLEAN = """\
format: claywit-model/1
name: clean
version: 1.0.0
title: A clean model
targets: [mould]
status: elicited
sources: {notes: A keeper's notes}
reference: {pieces: 12}
groups: {signs: [size, rim, gloss]}
order:
  - {before: rim, after: coat, node: gloss, state: shiny}
reading_matrices:
  H: {node: gloss, p: {dull: {dull: 0.9, shiny: 0.1}, shiny: {dull: 0.2, shiny: 0.8}}, source: notes, n: 9}
nodes:
  mould:
    label: Mould
    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, open: true}}
    rows: [{p: {M1: 0.7, M0: 0.3}, source: notes, n: 9}]
  paste:
    label: Paste
    states: [fine, coarse]
    rows: [{p: {fine: 0.6, coarse: 0.4}, source: notes, n: 9}]
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
    examine: {view: callipers, minutes: 3}
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
    examine: {view: edge, minutes: 1}
    rows:
      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: notes, n: 9}
      - {given: {}, p: {flat: 0.4, round: 0.6}, source: notes, n: 9}
  gloss:
    label: Gloss
    describe: Tilt it to the lamp.
    states: [dull, shiny]
    parents: [paste]
    visibility: {parent: veil, p: {clear: 0.01, thick: 0.6}, source: notes, n: 9}
    applies_if: {rim: round}
    examine: {view: front, minutes: 1}
    rows:
      - {given: {paste: fine}, p: {dull: 0.3, shiny: 0.7}, source: notes, n: 9}
      - {given: {paste: coarse}, p: {dull: 0.8, shiny: 0.2}, source: notes, n: 9}
"""
RIM_ROW = "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: notes, n: 9}\n"
RIM_OF = "      - {{given: {{mould: M1}}, p: {{flat: {}, round: {}}}, source: notes, n: {}}}\n"
PIECES = "reference: {pieces: 12}\n"
MOULDS = "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, open: true}}\n"
MOULD_PRIOR = "    rows: [{p: {M1: 0.7, M0: 0.3}, source: notes, n: 9}]\n"
PASTES = "    states: [fine, coarse]\n"
VEIL_PRIOR = "    rows: [{p: {clear: 0.8, thick: 0.2}, source: notes, n: 9}]\n"
CAVITY = "      cavity: {M1: {height: 42}}\n"
UNFILED = "      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: 3}}\n"
SHRINKAGE = "      shrinkage: {fine: {mean: 0.02, sd: 0.004}, coarse: {mean: 0.01, sd: 0.004}}\n"
VISIBILITY = "    visibility: {parent: veil, p: {clear: 0.01, thick: 0.6}, source: notes, n: 9}\n"
GROUPS = "groups: {signs: [size, rim, gloss]}\n"
ORDER = "  - {before: rim, after: coat, node: gloss, state: shiny}\n"
READING = "  H: {node: gloss, p: {dull: {dull: 0.9, shiny: 0.1}, shiny: {dull: 0.2, shiny: 0.8}}, source: notes, n: 9}\n"


def with_trait(name, lines):
    """Return the change that adds a trait of that name, with the lines of its table."""
    trait = f"  {name}:\n    label: New\n    describe: Look at it.\n    examine: {{view: front, minutes: 1}}\n"
    return (
        GROUPS,
        GROUPS.replace("gloss", f"gloss, {name}"),
        "  veil:\n",
        trait + lines + "  veil:\n",
    )


def with_pastes(fine, coarse):
    """Return the change that says more of the two pastes."""
    return (
        PASTES,
        f"    states: {{fine: {{label: Fine, {fine}}}, coarse: {{label: Coarse, {coarse}}}}}\n",
    )


def with_unfiled(mean, sd):
    return UNFILED, f"      unfiled: {{M0: {{height: {{mean: {mean}, sd: {sd}}}, tails: 3}}}}\n"


def with_cast(old="", cast="after: M1, date: 1830/1870", height=40):
    """Return the change that adds a mould taken off a piece; the moulds hang on the veil."""
    states = f"{{M1: {{label: Old, date: 1800/1850{old}}}, M2: {{label: Cast, {cast}}}, M0: {{label: Unknown, open: true}}}}"
    rows = (
        "    parents: [veil]\n    rows:\n"
        "      - {given: {veil: clear}, p: {M1: 0.5, M2: 0.3, M0: 0.2}, source: notes, n: 9}\n"
        "      - {given: {veil: thick}, p: {M1: 0.3, M2: 0.5, M0: 0.2}, source: notes, n: 9}\n"
    )
    cavity = f"      cavity: {{M1: {{height: 42}}, M2: {{height: {height}}}}}\n"
    return MOULDS, f"    states: {states}\n", MOULD_PRIOR, rows, CAVITY, cavity


def with_kiln(of_coal):
    """Return the change that adds a kiln, always of wood for the old mould, and its ash."""
    kiln = (
        "  kiln:\n    label: Kiln\n    states: [wood, coal]\n    parents: [mould]\n    rows:\n"
        "      - {given: {mould: M1}, p: {wood: 1}, source: notes, n: 9}\n"
        "      - {given: {mould: M0}, p: {wood: 0.5, coal: 0.5}, source: notes, n: 9}\n"
    )
    ash = (
        "    states: [white, black]\n    parents: [mould, kiln]\n    rows:\n"
        "      - {given: {mould: M1, kiln: wood}, p: {white: 0.8, black: 0.2}, source: notes, n: 9}\n"
        "      - {given: {mould: M0, kiln: wood}, p: {white: 0.7, black: 0.3}, source: notes, n: 9}\n"
    )
    groups, grouped, veil, lines = with_trait("ash", ash + of_coal)
    return groups, grouped, veil, kiln + lines


def with_masses(fine, coarse):
    """Return the change that adds a mass, with its spread for each paste."""
    return with_trait(
        "mass",
        "    measured: {mass: g}\n    parents: [paste]\n    rows:\n"
        f"      - {{given: {{paste: fine}}, student_t: {{location: 240, scale: {fine}, df: 4}}, source: notes, n: 9}}\n"
        f"      - {{given: {{paste: coarse}}, student_t: {{location: 260, scale: {coarse}, df: 4}}, source: notes, n: 9}}\n",
    )


def with_gate(of_coarse):
    """Return the change that adds a trait of two causes, the second as given."""
    return with_trait(
        "dust",
        "    states: [none, some]\n    parents: [paste]\n    noisy_or:\n"
        "      leak: {p: {some: 0.1}, source: notes, n: 9}\n      causes:\n"
        "        - {given: {paste: fine}, p: {some: 0.5}, source: notes, n: 9}\n"
        f"        - {{given: {{paste: coarse}}, p: {{some: {of_coarse}}}, source: notes, n: 9}}\n",
    )


def with_second_rim(name, flat, rounded):
    """Return the change that adds a trait with a table much like that of the rim."""
    return with_trait(
        name,
        "    states: [flat, round]\n    parents: [mould]\n    rows:\n"
        f"      - {{given: {{mould: M1}}, p: {{flat: {flat}, round: {rounded}}}, source: notes, n: 9}}\n"
        "      - {given: {}, p: {flat: 0.4, round: 0.6}, source: notes, n: 9}\n",
    )


COAL_OF_BOTH = "      - {given: {kiln: coal}, p: {white: 0.1, black: 0.9}, source: notes, n: 9}\n"
COAL_APART = (
    "      - {given: {mould: M0, kiln: coal}, p: {white: 0.1, black: 0.9}, source: notes, n: 9}\n"
    "      - {given: {mould: M1, kiln: coal}, p: {white: 0.2, black: 0.8}, source: notes, n: 9}\n"
)
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
    "even-prior-without-note": (
        "    rows: [{p: {clear: 0.8, thick: 0.2}, source: notes, n: 9}]\n",
        "    rows: [{p: {clear: 0.5, thick: 0.5}, source: notes, n: 9}]\n",
    ),
    "state-never-occurs": ("    states: [flat, round]\n", "    states: [flat, round, hollow]\n"),
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
    "parent-without-effect": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.4, round: 0.6}, source: notes, n: 9}\n",
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
        "    rows: [{p: {wood: 0.7, coal: 0.3}, source: notes, n: 9}]\n"
        "  ash:\n    label: Ash\n    states: [none, some]\n    parents: [kiln]\n    rows:\n"
        "      - {given: {kiln: wood}, p: {none: 0.1, some: 0.9}, source: notes, n: 9}\n"
        "      - {given: {kiln: coal}, p: {none: 0.9, some: 0.1}, source: notes, n: 9}\n  veil:\n",
    ),
    "leaf-not-examinable": (
        "  veil:\n",
        "  dust:\n    label: Dust\n    states: [none, some]\n    parents: [mould]\n    rows:\n"
        "      - {given: {mould: M1}, p: {none: 0.1, some: 0.9}, source: notes, n: 9}\n"
        "      - {given: {mould: M0}, p: {none: 0.6, some: 0.4}, source: notes, n: 9}\n  veil:\n",
    ),
    "trait-without-question": (
        "groups: {signs: [size, rim, gloss]}\n",
        "groups: {signs: [size, rim, gloss, dust]}\n",
        "  veil:\n",
        "  dust:\n    label: Dust\n    describe: On a white cloth.\n    states: [none, some]\n"
        "    examine: {view: front, minutes: 1}\n"
        "    rows: [{p: {none: 0.7, some: 0.3}, source: notes, n: 9}]\n  veil:\n",
    ),
    "target-without-trait": (
        "targets: [mould]\n",
        "targets: [mould, kiln]\n",
        "  veil:\n",
        "  kiln:\n    label: Kiln\n    states: [wood, coal]\n"
        "    rows: [{p: {wood: 0.7, coal: 0.3}, source: notes, n: 9}]\n  veil:\n",
    ),
    "applies-if-unseen": (
        "    applies_if: {rim: round}\n",
        "    applies_if: {paste: fine}\n",
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
    "labels-only-for-some": (
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, open: true}}\n",
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {open: true}}\n",
    ),
    "dates-only-for-some": (
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, open: true}}\n",
        "    states: {M1: {label: Old}, M0: {label: Unknown, date: 1851/1900, open: true}}\n",
    ),
    "nothing-open": (
        "      cavity: {M1: {height: 42}}\n      unfiled: {M0: {height: {mean: 40, sd: 5}, tails: 3}}\n",
        "      cavity: {M1: {height: 42}, M0: {height: 40}}\n",
    ),
    "unfiled-not-marked-open": (
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, open: true}}\n",
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, date: 1851/1900}}\n",
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
        "  H: {node: gloss, p: {dull: {dull: 0.9, shiny: 0.1}, shiny: {dull: 0.2, shiny: 0.8}}, source: notes, n: 9}\n",
        "  H: {node: gloss, p: {dull: {dull: 0.4, shiny: 0.6}, shiny: {dull: 0.2, shiny: 0.8}}, source: notes, n: 9}\n",
    ),
    "source-not-listed": (
        RIM_ROW,
        "      - {given: {mould: M1}, p: {flat: 0.9, round: 0.1}, source: hearsay, n: 9}\n",
    ),
    "source-not-explained": ("sources: {notes: A keeper's notes}\n", "sources: {notes: }\n"),
    "measured-without-pieces": (
        "status: elicited\n",
        "status: measured\n",
        "reference: {pieces: 12}\n",
        "reference: {pieces: 0}\n",
    ),
    "source-never-used": (
        "sources: {notes: A keeper's notes}\n",
        "sources: {notes: A keeper's notes, survey: A survey of 1990}\n",
    ),
    "n-beyond-what-stands-behind": (RIM_ROW, RIM_OF.format(0.9, 0.1, 900)),
    "reference-counts-disagree": (PIECES, "reference: {pieces: 12, by_state: {mould: {M1: 20}}}\n"),
    "filed-state-not-counted": (PIECES, "reference: {pieces: 12, by_state: {mould: {M0: 4}}}\n"),
    "prior-nearly-settled": (
        VEIL_PRIOR,
        VEIL_PRIOR.replace("0.8", "0.995").replace("0.2", "0.005"),
    ),
    "row-for-what-cannot-occur": with_kiln(COAL_APART),
    "trait-counted-twice": with_second_rim("lip", 0.9, 0.1),
    "states-that-nothing-parts": (VISIBILITY, VISIBILITY.replace("0.01", "0.6")),
    "ratio-beyond-n": (RIM_ROW, RIM_OF.format(0.9999, 0.0001, 9)),
    "target-can-be-seen": ("targets: [mould]\n", "targets: [mould, rim]\n"),
    "cause-of-nothing": with_gate(0),
    "open-state-with-narrower-spread": with_unfiled(41.4, 0.1),
    "open-state-out-of-reach": with_unfiled(30, 2),
    "open-state-left-out": (
        MOULD_PRIOR,
        "    parents: [veil]\n    rows:\n"
        "      - {given: {veil: clear}, p: {M1: 1}, source: notes, n: 9}\n"
        "      - {given: {veil: thick}, p: {M1: 0.7, M0: 0.3}, source: notes, n: 9}\n",
    ),
    "normal-tails-name-pieces": ("      tails: 4\n", "      tails: normal\n"),
    "spread-below-measuring-uncertainty": ("    u: {height: 0.1}\n", "    u: {height: 6}\n"),
    "spread-far-below-the-others": with_masses(1, 12),
    "size-below-zero": with_unfiled(40, 15),
    "shrinkage-in-percent": (SHRINKAGE, SHRINKAGE.replace("0.01,", "0.3,")),
    "dates-out-of-order": with_pastes("date: 1851/1900", "date: 1800/1850"),
    "dates-overlap": with_pastes("date: 1800/1850", "date: 1850/1900"),
    "dates-leave-a-gap": with_pastes("date: 1800/1850", "date: 1853/1900"),
    "cast-before-its-model": with_cast(cast="after: M1, date: 1790/1870"),
    "casts-in-a-circle": with_cast(old=", after: M2", cast="after: M1, date: 1800/1850"),
    "cast-larger-than-its-model": with_cast(height=42),
    "applies-if-always": (
        "    applies_if: {rim: round}\n",
        "    applies_if: {rim: [flat, round]}\n",
    ),
    "applies-if-in-a-circle": (
        "    label: Rim\n",
        "    label: Rim\n    applies_if: {gloss: dull}\n",
    ),
    "minutes-not-given": ("examine: {view: edge, minutes: 1}", "examine: {view: edge}"),
    "reader-never-wrong": (
        READING,
        "  H: {node: gloss, p: {dull: {dull: 1}, shiny: {shiny: 1}}, source: notes, n: 9}\n",
    ),
    "reading-of-the-unseen": (
        READING,
        READING.replace("gloss", "paste").replace("dull", "fine").replace("shiny", "coarse"),
    ),
    "order-said-both-ways": (
        ORDER,
        ORDER + "  - {before: coat, after: rim, node: gloss, state: shiny}\n",
    ),
    "model-without-title": ("title: A clean model\n", ""),
    "empty-group": (GROUPS, "groups: {signs: [size, rim, gloss], marks: []}\n"),
    "label-too-long": (
        "    label: Rim\n",
        "    label: The rim, seen from the side with the lamp held low and to the left\n",
    ),
    "labels-alike": ("    label: Veil\n", "    label: Paste\n"),
    "names-alike": with_second_rim("Rlm", 0.8, 0.2),
    "making-only-for-some": with_pastes("making: primary", "describe: sandy"),
}
NEAR_MISSES = {
    "n-beyond-what-stands-behind": (RIM_ROW, RIM_OF.format(0.9, 0.1, 200)),
    "reference-counts-disagree": (
        PIECES,
        "reference: {pieces: 12, by_state: {mould: {M1: 8, M0: 4}}}\n",
    ),
    "filed-state-not-counted": (PIECES, "reference: {pieces: 12, by_state: {mould: {M1: 1}}}\n"),
    "nearly-certain-on-few": (RIM_ROW, RIM_OF.format(0.98, 0.02, 3)),
    "prior-nearly-settled": (VEIL_PRIOR, VEIL_PRIOR.replace("0.8", "0.99").replace("0.2", "0.01")),
    "row-for-what-cannot-occur": with_kiln(COAL_OF_BOTH),
    "trait-counted-twice": with_second_rim("lip", 0.8, 0.2),
    "states-that-nothing-parts": (VISIBILITY, VISIBILITY.replace("0.01", "0.59")),
    "ratio-beyond-n": (RIM_ROW, RIM_OF.format(0.999, 0.001, 9)),
    "target-can-be-seen": ("targets: [mould]\n", "targets: [mould, paste]\n"),
    "cause-of-nothing": with_gate(0.01),
    "open-state-with-lighter-tails": (UNFILED, UNFILED.replace("tails: 3", "tails: 4")),
    "open-state-with-narrower-spread": with_unfiled(41.4, 0.2),
    "open-state-out-of-reach": with_unfiled(34, 2),
    "open-state-left-out": (
        MOULD_PRIOR,
        "    parents: [veil]\n    rows:\n"
        "      - {given: {veil: clear}, p: {M1: 0.97, M0: 0.03}, source: notes, n: 9}\n"
        "      - {given: {veil: thick}, p: {M1: 0.7, M0: 0.3}, source: notes, n: 9}\n",
    ),
    "normal-tails-name-pieces": ("      tails: 4\n", "      tails: 30\n"),
    "spread-below-measuring-uncertainty": ("    u: {height: 0.1}\n", "    u: {height: 5}\n"),
    "spread-far-below-the-others": with_masses(3, 12),
    "size-below-zero": with_unfiled(40, 13),
    "shrinkage-in-percent": (SHRINKAGE, SHRINKAGE.replace("0.01,", "0.12,")),
    "dates-out-of-order": with_pastes("date: 1800/1850", "date: 1851/.."),
    "dates-overlap": with_pastes("date: 1800/1850", "date: 1851/1900"),
    "dates-leave-a-gap": with_pastes("date: ../1850", "date: 1851/1900"),
    "cast-before-its-model": with_cast(cast="after: M1, date: 1800/1870"),
    "casts-in-a-circle": with_cast(),
    "cast-larger-than-its-model": with_cast(height=41.5),
    "applies-if-in-a-circle": (
        "    label: Paste\n",
        "    label: Paste\n    applies_if: {rim: flat}\n",
    ),
    "reader-never-wrong": (READING, READING.replace("dull: 0.9, shiny: 0.1", "dull: 1")),
    "order-said-both-ways": (
        ORDER,
        ORDER + "  - {before: coat, after: rim, node: gloss, state: dull}\n",
    ),
    "label-too-long": (
        "    label: Rim\n",
        "    label: The rim, seen from the side, the lamp held low\n",
    ),
    "labels-alike": ("    label: Veil\n", "    label: Pastes\n"),
    "names-alike": with_second_rim("rims", 0.8, 0.2),
    "making-only-for-some": with_pastes("making: primary", "making: later"),
}
