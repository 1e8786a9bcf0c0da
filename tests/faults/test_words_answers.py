"""The other answers, each number of them: contrasts, what to look at next, joint statements."""

import io
from collections import Counter

import numpy as np
import pytest
from faults.placed_answers import of_contrast, of_joint, of_next
from placed import altered, numbers_of, unplaced
from small import SHOPS, examined, model
from spoken import never_said, shown_of_page
from trials import times

from claywit import assessment
from claywit.errors import EvidenceError, ImpossibleEvidence
from claywit.evidence.parties import Party
from claywit.evidence.written import read_evidence
from claywit.model.schema import Model
from claywit.records import files
from claywit.report.answers import show_contrast, show_next
from claywit.report.digest import plain
from claywit.report.joint_page import joint_page
from claywit.report.joint_text import show_joint
from claywit.report.page import contrast_page
from claywit.report.terminal import plain_console

STANDARDS = files.read_standards()


def a_model(rng):
    """Return the shops with other shares, some of them 0, and a right number behind each row."""
    data = plain(model(SHOPS))
    for node in data["nodes"]:
        for row in node["rows"]:
            drawn = rng.dirichlet(np.full(len(row["p"]), 0.4))
            if node["name"] != "shop" and rng.random() < 0.1:
                drawn = np.where(drawn == drawn.max(), 1.0, 0.0)
            held = np.maximum(drawn, 1e-9) if node["name"] == "shop" else drawn
            row["p"] = dict(zip(row["p"], (held / held.sum()).tolist(), strict=True))
    return Model.model_validate(data)


def findings(rng):
    """Return findings on some of the traits as a person writes them, half-certain ones too."""
    states = {"rim": ("bevelled", "flat"), "mark": ("absent", "stroke"),
              "seal": ("absent", "pressed"), "wear": ("little", "much")}  # fmt: skip
    said = []
    for name, (one, other) in states.items():
        if rng.random() < 0.7:
            state = one if rng.random() < 0.5 else other
            sure = round(float(rng.uniform(0.5, 1)), int(rng.integers(1, 8)))
            doubtful = rng.random() < 0.4
            said.append(
                f"{name}: {{state: {state}, sure: {sure}}}" if doubtful else f"{name}: {state}"
            )
    return f"{{{', '.join(said)}}}"


def joint(rng, known):
    def party(name):
        text = (f"format: claywit-evidence/1\npiece: {{id: p}}\nexaminer: {name}\n"
                f"findings: {findings(rng)}\n")  # fmt: skip
        evidence, document = read_evidence(text.encode(), f"{name}.yaml")
        return Party(evidence, document.place, known)

    return assessment.joint(party("A"), party("B"), STANDARDS.policy)


ANSWERS = {
    "contrasts": (show_contrast, lambda rng, known: assessment.compare(
        known, examined(known, findings(rng)), STANDARDS.scale)),
    "looks": (show_next, lambda rng, known: assessment.look_next(
        known, examined(known, findings(rng)), STANDARDS.policy)),
    "joint statements": (show_joint, joint),
}  # fmt: skip


PAGES = {"contrasts": contrast_page, "joint statements": joint_page}
PLACES = {"contrasts": of_contrast, "looks": of_next, "joint statements": of_joint}


@pytest.mark.parametrize("kind", ANSWERS)
def test_every_number_of_the_other_answers_is_in_their_data(kind, tried):
    show, answer = ANSWERS[kind]
    seen, draws = Counter(), np.random.default_rng(27)
    for seed in range(times(25, 300)):
        rng = np.random.default_rng([17, seed])
        known = a_model(rng)
        try:
            found = answer(rng, known)
        except (ImpossibleEvidence, EvidenceError):
            seen["refused"] += 1
            continue
        console = plain_console(width=100, no_color=True, file=io.StringIO())
        show(found, console)
        shown = shown_of_page(PAGES[kind](found)).values() if kind in PAGES else ()
        places = list(PLACES[kind](found))
        for text in (console.file.getvalue(), *shown):
            assert unplaced(text, places) == [], (kind, seed, text)
            assert never_said(text) == [], (kind, seed)
            seen["numbers"] += len(numbers_of(text))
            wrong = altered(draws, text)
            seen["altered"] += wrong is not None
            seen["noticed"] += wrong is not None and bool(unplaced(wrong, places))
        seen["told"] += 1
    assert seen["told"] > seen["refused"]
    assert seen["noticed"] >= 0.98 * seen["altered"]
    where = "on pages and on a terminal" if kind in PAGES else "on a terminal"
    tried(f"{kind} of random readings and shares, {where}", seen["told"] + seen["refused"],
          f"{seen['numbers']:,} printed numbers, each in the place of its field;"
          f" {seen['refused']:,} refused as impossible; of {seen['altered']:,} digits altered"
          f" {seen['noticed']:,} noticed")  # fmt: skip
