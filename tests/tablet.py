"""A small model with every kind of finding, for tests of evidence."""

from small import examined

TABLET = """
format: claywit-model/1
name: tablet
version: 1.0.0
targets: [shop]
status: elicited
reading_matrices:
  H: {node: rim, p: {flat: {flat: 0.9, round: 0.1}, round: {round: 1}, hollow: {hollow: 1}}}
order:
  - {before: coat, after: crack, node: meeting, state: cuts}
  - {before: crack, after: coat, node: meeting, state: [bridges, fills]}
  - {before: dirt, after: coat, node: hold, state: over_dirt}
  - {before: dirt, after: crack, node: age, state: late}
  - {before: coat, after: veil, node: veiled, state: under}
nodes:
  shop: {states: [north, south], rows: [{p: {north: 0.5, south: 0.5}}]}
  veil: {states: [clear, thick], rows: [{p: {clear: 0.8, thick: 0.2}}]}
  rim:
    states: [flat, round, hollow]
    parents: [shop]
    visibility: {parent: veil, p: {clear: 0.01, thick: 0.7}}
    rows: [{given: {}, p: {flat: 0.5, round: 0.3, hollow: 0.2}}]
  veiled:
    states: [under, over]
    visibility: {parent: veil, p: {clear: 0.01, thick: 0.7}}
    rows: [{p: {under: 0.5, over: 0.5}}]
  net: {states: [none, some], rows: [{p: {none: 0.5, some: 0.5}}]}
  meeting:
    states: [cuts, bridges, fills]
    parents: [shop]
    applies_if: {net: some}
    rows: [{given: {}, p: {cuts: 0.5, bridges: 0.3, fills: 0.2}}]
  back:
    states: [twill, plain]
    reading_error: in_rows
    rows: [{p: {twill: 0.9, plain: 0.1}}]
  hold: {states: [tight, over_dirt], rows: [{p: {tight: 0.5, over_dirt: 0.5}}]}
  age: {states: [early, late], rows: [{p: {early: 0.5, late: 0.5}}]}
  thickness: {measured: {thickness: mm}, parents: [shop], rows: [{given: {}, normal: {mean: 6, sd: 1}}]}
  size:
    measured: {height: mm, width: mm}
    u: {height: 0.1, width: 0.1}
    parents: [shop, veil]
    dimensions:
      cavity: {north: {height: 42, width: 31}, south: {height: 40, width: 30}}
      shrinkage: {clear: {mean: 0.02, sd: 0.01}, thick: {mean: 0.03, sd: 0.01}}
"""


def only(known, findings, more=""):
    """Return the one finding that these words give."""
    (finding,) = examined(known, findings, more).findings
    return finding
