"""A model without faults, and for each rule of `check` a change to it that sets the rule off.

An example is the lines it replaces, the lines a modeller might write, and so on in pairs.
"""

CLEAN = """\
format: claywit-model/1
name: clean
version: 1.0.0
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
    applies_if: {rim: round}
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
        "    examine: {view: front}\n"
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
        "    states: {M1: {label: Old, date: 1800/1850}, M0: {label: Unknown, date: 1850/1900}}\n",
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
}
