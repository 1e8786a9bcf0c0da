"""Sheets for tests: made from the small model, and filled in as people fill them in."""

from small import SHOPS, model

from claywit.learning.answers import Party
from claywit.learning.asking import questions
from claywit.learning.blank import Blank, as_yaml
from claywit.learning.sheet import read_sheet

GATE = """
format: claywit-model/1
name: gate
version: 1.2.0
targets: [c]
status: elicited
sources: {test: for a test}
nodes:
  c:
    states: [no, yes]
    rows: [{p: {no: 0.5, yes: 0.5}, source: test, n: 20}]
  g:
    label: Glaze
    states: [none, thin, thick]
    parents: [c]
    examine: {view: front}
    noisy_max:
      leak: {p: {thin: 0.1, thick: 0.05}, source: test, n: 20}
      causes: [{given: {c: yes}, p: {thin: 0.3, thick: 0.2}, source: test, n: 20}]  # kept
"""


def blank(*nodes, text=SHOPS, **more):
    known = model(text)
    return as_yaml(Blank(known, "0" * 64, questions(known, nodes), **more))


def sheet(answers, *, expert="Edda", confidence=90, name="shops", seeds=""):
    """A sheet of *answers*: (node, given, counts) as YAML writes them."""
    lines = [
        "format: claywit-sheet/1",
        f"model: {{name: {name}, version: 1.0.0}}",
        f"expert: {expert}",
        f"confidence: {confidence}",
        "questions:" if answers else "questions: []",
    ]
    for node, given, counts, *more in answers:
        lines += [
            f"  - node: {node}",
            f"    given: {given}",
            f"    counts: {counts}",
            *(f"    {one}" for one in more),
        ]
    return "\n".join([*lines, seeds]) + "\n"


def party(text, name="edda.yaml"):
    read, document = read_sheet(text.encode(), name)
    return Party(read, document.place)


def count(low, best, high):
    return f"{{lowest: {low}, best: {best}, highest: {high}}}"
