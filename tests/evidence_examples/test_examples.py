"""Every evidence example gives its stored answer, and the answer that its piece was made for."""

import json
from pathlib import Path

import pytest
from golden import assert_same
from jsonschema import Draft202012Validator
from yaml import BaseLoader, load

from claywit.assessment import assess
from claywit.evidence.binding import bind
from claywit.records import files
from claywit.report.schemas import json_schema

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "evidence_examples"
PIECES = dict.fromkeys(sorted(EXAMPLES.glob("*.yaml")), "oskervane")
PIECES |= dict.fromkeys(sorted((EXAMPLES / "tarn-loaves").glob("*.yaml")), "tarn-loaves")
MADE_AS = {
    "01-textbook": {"mould": "M01", "class": "C1", "period": "P1"},
    "02-ferry-dabs": {"mould": "M05", "workshop": "W2"},
    "03-varnished": {"mould": "M08", "workshop": "W3"},
    "04-marrable": {"mould": "M04", "class": "C1", "period": "P2"},
    "05-copy": {"mould": "M12", "class": "C4", "period": "P5"},
    "06-after-cast": {"mould": "M09", "class": "C3"},
    "07-cleaned": {"mould": "M02", "class": "C1"},
    "08-recut": {"mould": "M11", "class": "C2", "period": "P4"},
    "09-plug": {"mould": "M07", "class": "C2", "period": "P4"},
    "11-cord-hole-a": {"mould": "M10", "class": "C3"},
    "11-cord-hole-b": {"mould": "M10", "class": "C3"},
    "12-stranger": {"mould": "M00"},
    "14-flood": {"mould": "M08", "workshop": "W3"},
}


@pytest.fixture(scope="module", params=PIECES, ids=lambda path: path.stem)
def assessed(request):
    path = request.param
    model = files.read_model(ROOT / "models" / f"{PIECES[path]}.yaml")
    evidence, document = files.read_evidence(path)
    return path, assess(
        model, bind(evidence, model, document.place), files.read_standards(), seed=None
    )


def test_the_report_is_the_stored_one(assessed):
    path, report = assessed
    found = json.loads(report.model_dump_json(by_alias=True))
    del found["nodes"]  # labels repeat the model
    assert_same(found, Path(__file__).parent / "golden" / f"{path.stem}.json")


def test_the_piece_is_attributed_as_it_was_made(assessed):
    path, report = assessed
    leading = {name: max(shares, key=lambda s: float(shares[s]))
               for name, shares in report.posterior.items()}  # fmt: skip
    made = MADE_AS.get(path.stem, {})
    assert {name: leading[name] for name in made} == made


def test_the_weights_add_up(assessed):
    _, report = assessed
    why = report.explanation
    assert why.prior_bans + why.total_bans == pytest.approx(why.posterior_bans, abs=3e-9)
    assert sum(group.bans for group in why.groups) == pytest.approx(why.total_bans, abs=1e-8)


def as_an_editor_reads(path):
    """Return a file's data with true and false as YAML 1.2 has them, all other scalars as text."""

    def typed(value):
        if isinstance(value, dict):
            return {key: typed(part) for key, part in value.items()}
        if isinstance(value, list):
            return [typed(part) for part in value]
        return {"true": True, "false": False}.get(value, value)

    return typed(load(path.read_text(encoding="utf-8"), Loader=BaseLoader))  # noqa: S506


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.stem)
def test_the_file_fits_the_published_schema(path):
    data = as_an_editor_reads(path)
    assert list(Draft202012Validator(json_schema("evidence")).iter_errors(data)) == []


@pytest.mark.parametrize("name", ["oskervane", "tarn-loaves"])
def test_the_model_fits_the_published_schema(name):
    data = as_an_editor_reads(ROOT / "models" / f"{name}.yaml")
    assert list(Draft202012Validator(json_schema("model")).iter_errors(data)) == []


def test_a_coated_piece_keeps_its_question_open():
    path = EXAMPLES / "10-overcoated.yaml"
    model = files.read_model(ROOT / "models" / "oskervane.yaml")
    evidence, document = files.read_evidence(path)
    report = assess(model, bind(evidence, model, document.place), files.read_standards(), seed=None)
    assert max(float(p) for p in report.posterior["mould"].values()) < 0.6
    assert any("could not be seen" in caution for caution in report.cautions)


def test_the_chosen_examples_use_every_form_of_finding():
    text = "\n".join(path.read_text(encoding="utf-8") for path in PIECES)
    for form in ("sure:", "reading:", "likelihood:", "not_visible:", "not_applicable", "u:",
                 "below:", "between:", "not_examined:", "sequence:", "priors:"):  # fmt: skip
        assert form in text
