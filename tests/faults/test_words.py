"""On a thousand generated reports every number in the text is a number of the plain data."""

import io
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from faults import placed_report
from networks import random_findings, random_model, with_n
from oracles import a_piece
from placed import altered, numbers_of, unplaced
from spoken import never_said, numbers_in, percentage, shown_of_page
from trials import times

from claywit.assessment import assess
from claywit.errors import EvidenceError
from claywit.evidence.binding import bind
from claywit.evidence.written import Evidence
from claywit.inference.network import compile_network
from claywit.inference.rehearsal import Plan, rehearse
from claywit.model.schema import Model
from claywit.records import files
from claywit.report.digest import plain
from claywit.report.page import page
from claywit.report.terminal import plain_console, show

ROOT = Path(__file__).parents[2]
STANDARDS = files.read_standards()
EMPTY = Evidence.model_validate({"format": "claywit-evidence/1", "piece": {"id": "x"}})


def reports():
    """Yield reports on drawn demo pieces and on pieces of random networks; seeds [15, 0] and up."""
    demo = files.read_model(ROOT / "models" / "oskervane.yaml")
    count = times(2, 60)
    drawn = rehearse(compile_network(demo), Plan(missing=0.4), 1, count, np.random.default_rng(15))
    aside = {node.name for node in demo.nodes if not node.is_trait}
    for row in range(count):
        yield f"demo {row}", _assessed(demo, drawn.findings(row, aside), 1 if row % 2 else None)
    for seed in range(times(20, 940)):
        rng = np.random.default_rng([15, seed])
        known = _with_looks(rng, random_model(rng, int(rng.integers(5, 14)), measured=0.2))
        seen = random_findings(rng, known, truth=a_piece(rng, known))
        about = [one for one in seen if one.node not in known.targets]
        found = _assessed(known, about, seed if seed % 4 == 0 else None)
        if found:
            yield f"seed [15, {seed}]", found


def _assessed(model, findings, seed):
    examined = bind(EMPTY, model)
    examined = examined.__class__(**{**vars(examined), "findings": tuple(findings)})
    try:
        return assess(model, examined, STANDARDS, seed=seed)
    except EvidenceError as refused:  # a question with one answer from the start
        if "can only be" not in str(refused):
            raise
        return None


def _with_looks(rng, model):
    """Return the model with traits that can be looked at, groups, and an `n` behind each row."""
    data = plain(with_n(model, float(rng.integers(1, 200))))
    data["targets"] = [n["name"] for n in data["nodes"] if "states" in n and "visibility" not in n][
        :2
    ]
    for node in data["nodes"]:
        if node["name"] not in model.targets and rng.random() < 0.7:
            node["examine"] = {"view": "lens", "minutes": float(rng.integers(1, 9))}
    traits = [node["name"] for node in data["nodes"] if "examine" in node]
    data["groups"] = [{"name": "odd", "nodes": traits[::2]}] if len(traits) > 2 else []
    return Model.model_validate(data)


def printed(report):
    """Return the report as a terminal of ordinary width shows it."""
    console = plain_console(width=100, no_color=True, file=io.StringIO())
    show(report, console)
    return console.file.getvalue()


def rows_of(html, table):
    """Return the cells of the body of each table of a class, row by row."""
    for found in re.findall(rf'<table class="{table}">(.*?)</table>', html, re.DOTALL):
        body = found.partition("<tbody>")[2]
        rows = re.findall(r"<tr.*?</tr>", body, re.DOTALL)
        yield [re.findall(r'<td class="n[^"]*">(.*?)</td>', row, re.DOTALL) for row in rows]


def reordered(report, html):
    """Return the tables whose printed shares rise from a row to the next, or lead with another."""
    asked = [report.question, *(n for n in report.log10_odds if n != report.question)]
    names = [*asked, *(n for n in report.posterior if n not in report.log10_odds)]
    wrong = []
    for name, rows in zip(names, rows_of(html, "shares"), strict=True):
        ranked = sorted((float(p) for p in report.posterior[name].values()), reverse=True)
        now = [numbers_in(row[0])[0] for row in rows]
        kept = now[: sum(k < 2 or p >= 0.005 for k, p in enumerate(ranked))]
        if kept != [percentage(p) for p in ranked[: len(kept)]]:
            wrong.append(name)
    return wrong


def test_every_number_of_every_report_is_a_number_of_its_trace(tried):
    seen, rng = Counter(), np.random.default_rng(16)
    for where, report in reports():
        html, places = page(report), list(placed_report.places(report))
        texts = (*shown_of_page(html).values(), printed(report))
        assert reordered(report, html) == [], where
        for text in texts:
            assert unplaced(text, places) == [], where
        for text in (*texts, *report.statement, *report.cautions):
            assert never_said(text) == [], where
        assert percentage(top(report)) in numbers_in(report.statement[0]), where
        seen["reports"] += 1
        seen["numbers"] += sum(len(numbers_of(text)) for text in texts)
        seen["tables"] += len(report.posterior)
        wrong = [altered(rng, text) for text in texts]
        seen["altered"] += sum(text is not None for text in wrong)
        seen["noticed"] += sum(bool(unplaced(text, places)) for text in wrong if text is not None)
    assert seen["noticed"] > 0.98 * seen["altered"]
    tried(
        "reports on drawn demo pieces and on pieces of random networks, page and terminal",
        seen["reports"],
        f"{seen['numbers']:,} printed numbers, each in the place of its field and as that rounds;"
        f" {seen['tables']:,} tables in the order of their shares; nothing said 0 % or 100 %, no"
        " word for intent",
    )
    tried(
        "one digit of one number of a section of these altered",
        seen["altered"],
        f"{seen['noticed']:,} noticed by the check",
    )


def top(report):
    return max(float(p) for p in report.posterior[report.question].values())


@pytest.mark.parametrize(
    "said",
    ["north, 100.0%", "south 0%", "0.0 %", "it is nan bans", "-0.00 bans", "a fake", "None", "−0"],
)
def test_what_must_never_be_said_is_noticed(said):
    assert never_said(said)
