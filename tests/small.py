"""Small models and evidence for tests, written as people write them."""

from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.model.soundness import read_model

# Two shops; the rim and the mark are independent given the shop, the wear says nothing.
SHOPS = """
format: claywit-model/1
name: shops
version: 1.0.0
targets: [shop]
status: elicited
sources: {test: for a test}
groups: {shape: {label: Shape, nodes: [rim]}, signs: [mark, wear]}
nodes:
  shop:
    label: Workshop
    states: {north: {label: North}, south: {label: South}, other: {label: Elsewhere, open: true}}
    rows: [{p: {north: 0.5, south: 0.4, other: 0.1}, source: test, n: 20}]
  rim:
    label: Rim
    states: [bevelled, flat]
    parents: [shop]
    examine: {view: edge}
    rows:
      - {given: {shop: north}, p: {bevelled: 0.8, flat: 0.2}, source: test, n: 20}
      - {given: {shop: [south, other]}, p: {bevelled: 0.1, flat: 0.9}, source: test, n: 20}
  mark:
    label: Mark
    states: [absent, stroke]
    parents: [shop]
    examine: {view: back}
    rows:
      - {given: {shop: [north, other]}, p: {absent: 0.9, stroke: 0.1}, source: test, n: 20}
      - {given: {shop: south}, p: {absent: 0.6, stroke: 0.4}, source: test, n: 20}
  seal:
    label: Seal
    states: [absent, pressed]
    parents: [shop]
    examine: {view: back}
    rows:
      - {given: {shop: [north, other]}, p: {absent: 1}, source: test, n: 20}
      - {given: {shop: south}, p: {absent: 0.5, pressed: 0.5}, source: test, n: 20}
  wear:
    label: Wear
    states: [little, much]
    examine: {view: front}
    rows: [{p: {little: 0.7, much: 0.3}, source: test, n: 20}]
"""

# A measure that an obstruction can hide.
HIDDEN = """
format: claywit-model/1
name: hide
version: 1.0.0
targets: [r]
status: elicited
nodes:
  r:
    states: [a, b]
    rows: [{p: {a: 0.5, b: 0.5}, n: 20}]
  o:
    states: [o1, o2]
    parents: [r]
    rows:
      - {given: {r: a}, p: {o1: 0.9, o2: 0.1}, n: 20}
      - {given: {r: b}, p: {o1: 0.4, o2: 0.6}, n: 20}
  size:
    parents: [r]
    measured: {h: mm}
    u: {h: 0.1}
    visibility: {parent: o, p: {o1: 0.1, o2: 0.5}, n: 20}
    rows:
      - {given: {r: a}, normal: {mean: 5, sd: 1}, n: 20}
      - {given: {r: b}, normal: {mean: 6, sd: 1}, n: 20}
"""


def model(text=SHOPS):
    return read_model(text.encode(), "small.yaml")


def examined(known, findings, more=""):
    """Return evidence of *findings* (YAML of one flow mapping), bound to the model."""
    text = f"format: claywit-evidence/1\npiece: {{id: p-1}}\nfindings: {findings}\n{more}\n"
    evidence, document = read_evidence(text.encode(), "piece.yaml")
    return bind(evidence, known, document.place)
