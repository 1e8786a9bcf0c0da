"""A sheet to be filled in: the questions in words, with room for the numbers."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from claywit.learning.asking import Question
from claywit.learning.sheet import SeedFile
from claywit.model.schema import Model

ROOM = "{lowest: , best: , highest: }"
SURE = 90

HOW = """\
For each line give three numbers, of 100 pieces:
  best     your best guess: the true number is as likely above it as below
  lowest   so low that the true number would hardly be lower
  highest  so high that the true number would hardly be higher
Think of the lowest first, then of the highest, then of the best. Count what you remember before
you guess. Leave a whole question blank where you know nothing; that is an answer too.
In a question with several lines one line may be left blank: it takes the rest of the hundred.
If something cannot happen at all, write 0, 0, 0; write it only if no piece could ever change
your mind.
`confidence` is how many of 100 ranges like yours should hold the true number. The one at the top
stands for the whole sheet; a question may have its own: add a line `confidence: 70` to it.
Fill it in alone, before you talk to the others, and without the numbers of the model in sight."""


@dataclass(frozen=True)
class Blank:
    """A sheet that nobody has filled in yet."""

    model: Model
    digest: str
    questions: Sequence[Question]
    seeds: SeedFile | None = None
    expert: str = ""


def as_yaml(blank: Blank) -> str:
    """Return the sheet as a file to be filled in with any editor of plain text."""
    model = blank.model
    lines = [
        f"# What do you expect of: {_one_line(model.title or model.name)}",
        "#",
        *(f"# {line}".rstrip() for line in HOW.splitlines()),
        "",
        "format: claywit-sheet/1",
        f"model: {{name: {model.name}, version: {model.version}, digest: {blank.digest}}}",
        f"expert: {_quoted(blank.expert)}   # your name",
        f"confidence: {SURE}",
        "",
        "questions:",
    ]
    for i, question in enumerate(blank.questions):
        lines += ["", f"  # {i + 1} of {len(blank.questions)}", *_question_lines(question)]
    if blank.seeds:
        sure = f"{blank.seeds.confidence:g}"
        lines += [
            "",
            "# The last questions have answers that are known, but not to you. They show how your",
            f"# ranges are to be weighed. Here {sure} of 100 ranges should hold the true number.",
            "seeds:",
        ]
        for seed in blank.seeds.seeds:
            lines += [
                "",
                f"  - ask: {_quoted(seed.ask)}",
                f"    id: {seed.id}",
                *(f"    {key}:" for key in ("lowest", "best", "highest")),
            ]
    return "\n".join(lines) + "\n"


def _question_lines(question: Question) -> list[str]:
    given = ", ".join(f"{p}: [{', '.join(states)}]" for p, states in question.given.items())
    about = _one_line(question.node.describe)
    return [
        *([f"  # {about}"] if about else []),
        f"  - ask: {_quoted(question.ask)}",
        f"    node: {question.node.name}",
        *([f"    place: {question.place}"] if question.place != "row" else []),
        f"    given: {{{given}}}",
        "    counts:",
        *(f"      {state}: {ROOM}   # {told(question, state)}" for state in question.listed),
    ]


def told(question: Question, state: str) -> str:
    """Return the label of a state and what it means, in one line."""
    about = _one_line(question.node.state(state).describe)
    return f"{question.label(state)}{f': {about}' if about else ''}"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _quoted(text: str) -> str:
    return json.dumps(_one_line(text), ensure_ascii=False)
