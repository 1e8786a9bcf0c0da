"""For each rule of `check` a change to the clean model that sets it off.

An example is the lines it replaces, the lines a modeller might write, and so on in pairs.
"""

from lint_changes import (
    COAL_APART,
    GROUPS,
    MOULD_PRIOR,
    ORDER,
    PIECES,
    READING,
    RIM_OF,
    RIM_ROW,
    SHRINKAGE,
    VEIL_PRIOR,
    VISIBILITY,
    with_cast,
    with_gate,
    with_kiln,
    with_masses,
    with_pastes,
    with_second_rim,
    with_unfiled,
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
