"""Pieces laid on the bench for tests: a casebook, cases with locked readings, drafts."""

from datetime import UTC, datetime
from random import Random

import yaml
from bench.browser import ROOT

from claywit.bench import drafts
from claywit.bench.draft import Draft
from claywit.bench.laying import answers
from claywit.evidence.written import read_evidence
from claywit.records import casebook, opening
from claywit.records.files import read_demonstration, read_standards
from claywit.records.intake import Intake
from claywit.records.opinions import Asked, opine

START = datetime(2026, 1, 10, 9, tzinfo=UTC)
EXAMPLES = ROOT / "evidence_examples"


def example(name, **changed):
    """Return an evidence file of the demonstration, with some of its keys changed, as bytes.

    A key that is changed to None is left out.
    """
    data = yaml.safe_load((EXAMPLES / f"{name}.yaml").read_text()) | changed
    held = {key: value for key, value in data.items() if value is not None}
    return yaml.safe_dump(held, allow_unicode=True, sort_keys=False).encode()


def readings_of(written):
    """Return the readings of a draft that say what an evidence file says."""
    evidence, _ = read_evidence(written, "e.yaml")
    return evidence, answers(evidence, read_demonstration())


def lay(folder, name, identity, **said):
    """Put the readings of an example on the bench whose casebook lies in *folder*."""
    evidence, readings = readings_of(example(name))
    draft = Draft(
        id=identity,
        saved=START.isoformat(),
        **{
            "model": read_demonstration().name,
            "piece": evidence.piece,
            "examiner": evidence.examiner,
            "propositions": evidence.propositions,
            "engagement": evidence.engagement,
            "question": evidence.question,
            "priors": evidence.priors,
            "sequence": evidence.sequence,
            "notes": evidence.notes,
            "readings": readings,
            **said,
        },
    )
    drafts.create(folder / "casebook-bench", draft)
    return draft


def begin(folder):
    """Make the casebook that the bench of *folder* opens."""
    path = folder / "casebook.db"
    opening.begin(path, START, Random(1))  # noqa: S311 - a seed in sight, for a test
    return path


def take_in(path, written, *, story="", locked=True, opinion=True):
    """Open a case for the piece of an evidence file, lock its readings, and keep an opinion."""
    evidence, _ = read_evidence(written, "e.yaml")
    piece = evidence.piece.id
    form = Intake.model_validate(
        {
            "format": "claywit-intake/1",
            "piece": evidence.piece.model_dump(),
            "sealed": {"story": story},
        }
    )
    with opening.opened(path, write=True) as store:
        casebook.intake(store, form, START, Random(2))  # noqa: S311
        if locked:
            casebook.lock(store, piece, written, START, name="e.yaml")
        if locked and opinion:
            asked = Asked(examiner=evidence.examiner)
            opine(store, piece, read_demonstration(), read_standards(), START, asked=asked)
    return piece
