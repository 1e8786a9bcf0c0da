"""The numbers of the demo and of random networks, as one run of one Python gives them.

`python tests/answers.py` prints them as JSON; needs claywit and its dependencies, no test library.
`tests/faults/test_numbers_versions.py` compares them with those that are stored.
"""

import json
import platform
from dataclasses import asdict, replace
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from claywit.assessment import assess
from claywit.certificate.canonical import canonical
from claywit.evidence.binding import bind
from claywit.evidence.findings import Finding, Measure
from claywit.evidence.written import Evidence
from claywit.model.schema import Model
from claywit.records import files
from claywit.report.digest import digest

ROOT = Path(__file__).parents[1]
STORED = Path(__file__).parent / "faults" / "golden"
DEMO = ("01-textbook", "04-marrable", "12-stranger")
STANDARDS = files.read_standards()


def answers():
    """Return every report, and the canonical bytes of the stored one, by their digest."""
    networks = json.loads((STORED / "networks.json").read_text(encoding="utf-8"))
    return {
        "demo": {name: demo(name) for name in DEMO},
        "networks": [report_of(*read(stored)) for stored in networks],
        "canonical": sha256(canonical(stored_report())).hexdigest(),
    }


def demo(name):
    """Return the whole report on a demo piece, what is drawn included."""
    model = files.read_model(ROOT / "models" / "oskervane.yaml")
    evidence, document = files.read_evidence(ROOT / "evidence_examples" / f"{name}.yaml")
    return plain(assess(model, bind(evidence, model, document.place), STANDARDS, seed=1))


def report_of(model, findings):
    empty = Evidence.model_validate({"format": "claywit-evidence/1", "piece": {"id": "x"}})
    return plain(assess(model, replace(bind(empty, model), findings=findings), STANDARDS, seed=1))


def plain(report):
    found = json.loads(report.model_dump_json(by_alias=True))
    del found["nodes"]  # labels repeat the model
    return found


def stored_report():
    """Return a report as it was stored once."""
    return json.loads((STORED / "report.json").read_text(encoding="utf-8"))


def write(model, findings):
    """Return a model and findings as plain data that `read` reads again."""
    told = [
        {k: v for k, v in asdict(one).items() if v not in (None, "", False)} for one in findings
    ]
    return {"model": json.loads(model.model_dump_json(by_alias=True, exclude_defaults=True)),
            "findings": told, "digest": digest(model)}  # fmt: skip


def read(stored):
    """Return the model and the findings that `write` wrote."""
    model = Model.model_validate(stored["model"])
    assert digest(model) == stored["digest"]
    return model, tuple(_finding(one) for one in stored["findings"])


def _finding(told):
    measures = told.get("measures")
    read_again = {name: Measure(**one) for name, one in measures.items()} if measures else None
    return Finding(**{**told, "measures": read_again})


def made_with():
    """Return what this run was made with, for a person."""
    parts = (f"{name} {version(name)}" for name in ("numpy", "scipy", "pydantic"))
    return f"Python {platform.python_version()}, {', '.join(parts)}"


if __name__ == "__main__":
    print(json.dumps({"made_with": made_with(), "answers": answers()}))  # noqa: T201
