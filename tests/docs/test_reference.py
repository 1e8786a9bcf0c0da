"""The reference pages name every key of the formats, and show the command line as it is."""

import re
from pathlib import Path

import numpy as np
import pytest
from golden import REWRITE
from typer.testing import CliRunner

from claywit.batch.rows import columns
from claywit.batch.scorer import compile_scorer, wanted
from claywit.batch.scoring import score
from claywit.cli import app
from claywit.evidence import written
from claywit.inference.rehearsal import Plan, rehearse
from claywit.model import schema, tables
from claywit.model.values import Value
from claywit.records import files
from claywit.records.bundle import Manifest
from claywit.records.checking import Checked
from claywit.records.intake import Intake
from claywit.records.telling import CaseTold
from claywit.report.advised import Look, Next
from claywit.report.contrast import Contrast, Flip, Side
from claywit.report.differing import Apart, Diff, Drifted, Moved, MovedTable, TargetMoved
from claywit.report.joint import Agreed, Disagreed, Joint, Opinion, PartyUsed, Settles
from claywit.report.report import Explained, Report, Weighed
from claywit.report.scale import Scale
from claywit.report.told import Speaks, StoriesTold, Whole
from claywit.triage import Alike, Sorted

REFERENCE = Path(__file__).parents[2] / "docs" / "reference"
INTERNAL = {"says", "measure", "measures", "for_", "dimensions"}  # spelt otherwise in a file


def keys_of(module):
    kinds = [kind for kind in vars(module).values() if isinstance(kind, type)]
    own = [kind for kind in kinds if issubclass(kind, Value) and kind.__module__ == module.__name__]
    return sorted({key for kind in own for key in kind.model_fields} - INTERNAL)


@pytest.mark.parametrize("key", [*keys_of(schema), *keys_of(tables)])
def test_the_model_reference_names_the_key(key):
    text = (REFERENCE / "model-file.md").read_text(encoding="utf-8")
    assert re.search(rf"\b{key}\b", text)


@pytest.mark.parametrize("key", keys_of(written))
def test_the_evidence_reference_names_the_key(key):
    text = (REFERENCE / "evidence-file.md").read_text(encoding="utf-8")
    assert re.search(rf"\b{key}\b", text)


def help_of(*command):
    found = CliRunner().invoke(app, [*command, "--help"], prog_name="claywit", terminal_width=78)
    assert found.exit_code == 0
    return found.stdout.strip()


def sections(*command):
    """Yield the help of a command as a section of the page, and of those below it."""
    told = help_of(*command)
    if command:
        yield f"## {' '.join(command)}\n\n```\n{told}\n```\n"
    for name in re.findall(r"^  ([a-z]+) {2,}", told.partition("Commands:")[2], re.MULTILINE):
        yield from sections(*command, name)


def test_the_command_line_reference_is_what_help_prints():
    parts = ["# The command line\n", f"```\n{help_of()}\n```\n", *sections()]
    parts.append(
        "Exit status: 0 done; 1 an honest negative (`check` found faults, `verify`\nfound something wrong); 2 something you can"
        " put\nright, said in one line on standard error; anything else is a bug of claywit.\n"
    )
    page, found = REFERENCE / "command-line.md", "\n".join(parts)
    if REWRITE:
        page.write_text(found, encoding="utf-8")
    assert page.read_text(encoding="utf-8") == found


def test_the_report_reference_names_every_key():
    text = (REFERENCE / "report.md").read_text(encoding="utf-8")
    top = [field.alias or name for name, field in Report.model_fields.items()]
    explained = [field.alias or name for name, field in Explained.model_fields.items()]
    missing = [key for key in [*top, *explained, *Weighed.model_fields] if f"`{key}`" not in text]
    assert missing == []


def test_the_trait_sheet_lists_what_to_look_for_and_the_words_to_write():
    model = files.read_model(REFERENCE.parents[1] / "models" / "oskervane.yaml")
    parts = [
        "# Trait sheet of the demo model\n\nWhat to look for on a weir tablet, and the words to write in an evidence file. Every"
        " trait may also be\n`not_visible` where a coat or crust can hide it.\n"
    ]
    for group in model.groups:
        parts.append(f"## {group.label}\n")
        for name in group.nodes:
            node = model.node(name)
            words = ", ".join(
                f"`{state.name}`"
                + (f" ({state.label})" if state.label not in ("", state.name) else "")
                for state in node.states
            )
            measures = ", ".join(
                f"`{measure}` in {unit}" for measure, unit in node.measured.items()
            )
            parts.append(
                f"**`{name}`**: {node.label}. {node.describe}  \nWrite {words or measures}.\n"
            )
    found = "\n".join(parts)
    page = REFERENCE / "oskervane-traits.md"
    if REWRITE:
        page.write_text(found, encoding="utf-8")
    assert page.read_text(encoding="utf-8") == found


OTHER = [Diff, Apart, MovedTable, Drifted, TargetMoved, Moved, Contrast, Side, Flip, Next, Look, StoriesTold, Speaks, Whole,
         Joint, PartyUsed, Agreed, Disagreed, Settles, Opinion]  # fmt: skip


@pytest.mark.parametrize("kind", OTHER)
def test_the_reference_of_the_other_answers_names_every_key(kind):
    text = (REFERENCE / "other-answers.md").read_text(encoding="utf-8")
    keys = [field.alias or name for name, field in kind.model_fields.items() if name != "format"]
    assert [key for key in keys if f"`{key}`" not in text] == []


def test_the_reference_of_a_batch_names_every_column():
    model = files.read_model(REFERENCE.parents[1] / "models" / "oskervane.yaml")
    asked = wanted(model, None, (), weights=True, looks=True)
    scorer = compile_scorer(model, asked)
    cases = rehearse(scorer.network, Plan(groups=1), 1, 2, np.random.default_rng(1))
    scored, _ = score(scorer, cases)
    text = (REFERENCE / "batch-answer.md").read_text(encoding="utf-8")
    states = {f"{n}.{s}" for n in asked.targets for s in scorer.network.states[n]}
    names = [column.name for column in columns(scorer, cases, scored)]
    assert [name for name in names if f"`{name}`" not in text and name not in states] == []


FORMATS_WRITTEN = sorted(
    {
        name
        for path in (Path(__file__).parents[2] / "src").rglob("*.py")
        for name in re.findall(r"claywit-[a-z-]+/\d+", path.read_text(encoding="utf-8"))
    }
)


@pytest.mark.parametrize("name", FORMATS_WRITTEN)
def test_every_format_has_its_place_in_the_reference(name):
    assert any(name in page.read_text(encoding="utf-8") for page in REFERENCE.glob("*.md"))


@pytest.mark.parametrize(
    "kind", [CaseTold, Checked, Manifest, Intake, Sorted, Alike, Scale], ids=lambda k: k.__name__
)
def test_the_reference_names_each_key_of_what_a_casebook_reads_and_tells(kind):
    text = "".join(
        (REFERENCE / f"{page}.md").read_text(encoding="utf-8")
        for page in ("casebook", "policy-file")
    )
    assert [key for key in kind.model_fields if f"`{key}`" not in text] == []
