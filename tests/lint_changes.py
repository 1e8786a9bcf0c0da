"""A model without faults, and changes to it: the lines they replace, the new lines, in pairs."""

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
