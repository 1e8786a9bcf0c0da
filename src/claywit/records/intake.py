"""The intake form: what a piece is, what was asked about ownership and export, what is sealed."""

from typing import Literal

from claywit.errors import CasebookError
from claywit.evidence.written import ObjectId
from claywit.model.source import Document
from claywit.model.typed import read_typed
from claywit.model.values import Text, Value
from claywit.records.kept import Checklist

# The fields of the Object ID standard (ICOM), in its order, as a person is asked for them.
OBJECT_FIELDS = {
    "type": "what it is, as pressed tablet",
    "materials": "materials and techniques",
    "measurements": "with unit, and which dimension",
    "inscriptions": "inscriptions and markings",
    "distinguishing_features": "damage, repairs, faults of manufacture",
    "title": "if it is known by one",
    "subject": "what is shown",
    "date": "date or period, if it is known",
    "maker": "if known",
    "description": "a short description",
    "inventory_number": "if it has one",
    "place": "place of origin or discovery",
    "related": "related objects and written material",
}
NEEDED = ("type", "materials", "measurements", "distinguishing_features", "subject", "description")
QUESTIONS = {
    "owner_declared": "the owner declared in writing that the piece is theirs to bring",
    "acquisition_told": "when and where it was acquired was told (what was told goes under seal)",
    "export_papers_seen": "papers of export were seen",
    "import_papers_seen": "papers of import were seen",
    "database_checked": "a register of stolen objects was asked; note which one, and the day",
    "provenance_contested": "somebody contests where the piece comes from or who owns it",
}
DEFERENCE = (
    "The checklist records what was asked and seen. It decides nothing about title, import or"
    " export: local law and the authorities come first. Ask them where in doubt, and report where"
    " the law asks for it."
)


class SealedForm(Value):
    """What the examiner is not to know before the readings are locked."""

    story: Text = ""
    price: Text = ""


class Intake(Value):
    """An intake form."""

    format: Literal["claywit-intake/1"]
    piece: ObjectId
    checklist: Checklist = Checklist()
    sealed: SealedForm = SealedForm()


def read_intake(text: bytes, name: str) -> tuple[Intake, Document]:
    """Return the form that *text* holds, with the document that knows its lines.

    Raises:
        CasebookError: it cannot be read, or is no intake form.
    """
    return read_typed(Intake, text, name, CasebookError)


def empty_form(piece: str) -> str:
    """Return an intake form to fill in, as YAML with a remark beside each line."""
    lines = [
        "# Intake form. Fill in what is known; an empty line may stay or go.",
        "format: claywit-intake/1",
        "piece:",
        f"  id: {piece}",
        *(f'  {name}: ""  # {what}' for name, what in OBJECT_FIELDS.items()),
        "",
        "# Answers: yes, no or not_asked.",
        "checklist:",
    ]
    for name, what in QUESTIONS.items():
        lines += [f"  # {what}", f'  {name}: {{answer: not_asked, note: ""}}']
    lines += [
        "",
        "# Kept from the examiner until the readings are locked. Delete this file after intake,",
        "# or leave this part empty and use `claywit casebook seal`.",
        "sealed:",
        '  story: ""',
        '  price: ""',
    ]
    return "\n".join(lines) + "\n"


def missing(piece: ObjectId, photographs: int) -> list[str]:
    """Return the fields without which Object ID hardly tells one piece from another."""
    found = [name for name in NEEDED if not getattr(piece, name).strip()]
    return [*found, *([] if photographs else ["photographs"])]


def open_questions(checklist: Checklist) -> list[str]:
    """Return the questions that were not asked, or to which no paper was seen."""
    wanted = dict.fromkeys(QUESTIONS, "yes") | {"provenance_contested": "no"}
    return [name for name, answer in wanted.items() if getattr(checklist, name).answer != answer]
