"""What a page can enter and what an evidence file can say are the same."""

import pytest
from bench import laid
from bench.asking import Asking
from bench.browser import ROOT

from claywit.bench.draft import Draft, Measured, Reading
from claywit.bench.laying import answers
from claywit.bench.standing import open_up
from claywit.bench.weighing import evidence_file, weighable
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records.files import read_demonstration, read_model

EXAMPLES = ROOT / "evidence_examples"
FILES = sorted(path.relative_to(EXAMPLES) for path in EXAMPLES.rglob("*.yaml"))
FILES = [path for path in FILES if path.parts[0] != "tarn-loaves"]
BESIDE = ("piece", "examiner", "question", "propositions", "engagement", "priors", "sequence")


@pytest.fixture
def bench(tmp_path):
    return Asking(tmp_path)


@pytest.fixture(scope="module")
def loaves():
    return read_model(ROOT / "models" / "tarn-loaves.yaml")


def as_draft(evidence, model):
    said = {part: getattr(evidence, part) for part in (*BESIDE, "notes")}
    return Draft(id="a" * 16, readings=answers(evidence, model), **said)


def said_by(examined):
    """Return all that counts of what was examined, findings in the order of the model."""
    left = examined.not_applicable, examined.not_examined, examined.not_used
    beside = examined.question, examined.priors, examined.for_, examined.against
    return examined.findings, left, beside


@pytest.mark.parametrize("name", FILES, ids=str)
def test_an_evidence_file_laid_on_the_bench_says_what_it_said(name):
    model = read_demonstration()
    evidence, _ = read_evidence((EXAMPLES / name).read_bytes(), "e.yaml")
    draft = as_draft(evidence, model)
    found = weighable(draft, model)
    assert found.problems == {}
    assert said_by(found.examined) == said_by(bind(evidence, model))
    again, _ = read_evidence(evidence_file(draft, model), "again")
    assert said_by(bind(again, model)) == said_by(bind(evidence, model))


def test_each_way_of_answering_is_the_finding_that_a_file_would_say(loaves):
    ways = {
        "mass": ({"way": "measured", "measures": {"mass": Measured(value="240", unit="g", limit="below")}}, {"below": "240 g"}),
        "rim": ({"way": "measured", "measures": {"thickness": Measured(value="1.1", upper="1.3", unit="cm", limit="between")}}, {"between": ["1.1 cm", "1.3 cm"]}),
        "colour": ({"way": "half", "state": "amber", "matrix": "H_colour"}, {"state": "amber", "reading": "H_colour"}),
    }  # fmt: skip
    readings = {name: Reading(**said) for name, (said, _) in ways.items()}
    draft = Draft(id="a" * 16, piece={"id": "loaf-1"}, readings=readings)
    data = {"format": "claywit-evidence/1", "piece": {"id": "loaf-1"}}
    written = type(weighable(draft, loaves).examined.evidence).model_validate(
        data | {"findings": {name: said for name, (_, said) in ways.items()}}
    )
    assert weighable(draft, loaves).problems == {}
    assert said_by(weighable(draft, loaves).examined) == said_by(bind(written, loaves))
    assert answers(written, loaves) == readings


def test_what_is_wrong_with_an_answer_is_said_in_the_words_of_the_reader_of_files(bench):
    piece = bench.practise()
    weights = {"none": "1", "few": "0,5", "many": "0"}
    bench.answer(piece, "bubbles", {"way": "likelihood", "likelihood": weights})
    bench.answer(piece, "grog", {"way": "likelihood", "likelihood": {"present": "1"}})
    low = {"value": "45", "upper": "40", "unit": "mm", "limit": "between"}
    bench.answer(piece, "thickness", {"way": "measured", "measures": {"thickness": low}})
    bench.answer(piece, "size", {"way": "measured", "measures": {"height": {**low, "upper": ""}}})
    bench.answer(piece, "crack_fill", {"way": "likelihood"})
    bench.answer(piece, "wear", {"way": "half", "state": "none", "matrix": "nobody"})
    problems = bench.state(piece)["problems"]
    assert "few: '0,5' has a decimal comma; write 0.5 with a point" in problems["bubbles"]
    assert "says nothing of absent; name every state" in problems["grog"]
    assert "the first must be the smaller" in problems["thickness"]
    assert "a value is missing" in problems["size"]
    assert "how probable" in problems["crack_fill"]
    assert "no reading matrix nobody" in problems["wear"]


def test_an_evidence_file_is_laid_on_the_bench_and_saved_from_it(bench):
    content = (EXAMPLES / "04-marrable.yaml").read_bytes()
    piece = bench.post("/lay", content=content).json()["go"]
    assert bench.get(f"{piece}/opinion").status_code == 200
    saved = bench.get(f"{piece}/evidence.yaml")
    assert 'filename="weir-004.yaml"' in saved.headers["content-disposition"]
    model = read_demonstration()
    (one, _), (other, _) = (read_evidence(text, "e") for text in (content, saved.content))
    assert said_by(bind(one, model)) == said_by(bind(other, model))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "Choose an evidence file"),
        (b"format: claywit-evidence/1\npiece: {id: a}\nfindings: {shel: present}\n", "did you mean shell"),
        (b"[1, 2]", "the evidence file"),
    ],
)  # fmt: skip
def test_a_file_that_does_not_fit_is_refused_and_nothing_is_laid(bench, content, said):
    refused = bench.post("/lay", content=content)
    assert refused.status_code == 422
    assert said in refused.json()["error"]
    assert "Nothing lies here yet" in bench.get("/").text


def test_readings_that_another_program_locked_are_taken_up_and_amended(tmp_path):
    book = laid.begin(tmp_path)
    laid.take_in(book, laid.example("certified/04-marrable"))
    bench = Asking(tmp_path)
    bench.ticks = 10 * 24 * 60
    piece = bench.post("/begin", {"case": "weir-004", "examiner": "A"}).json()["go"]
    state = bench.state(piece)
    assert state["locked"]
    assert state["problems"] == {}
    said = {"version": state["version"], "node": "grog", "reason": "it was red pigment"}
    seen = {"way": "half", "state": "absent", "sure": 0.9}
    assert bench.post(f"{piece}/amend", {**said, "reading": seen}).status_code == 200
    evidence = open_up(bench.desk, piece.rpartition("/")[2]).examined.evidence
    assert [one.about for one in evidence.readings.amendments] == ["grog"]
