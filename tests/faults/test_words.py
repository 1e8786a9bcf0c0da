"""On a thousand generated reports every number in the text is a number of the plain data."""

import io
import json
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from networks import random_findings, random_model, with_n
from oracles import a_piece
from spoken import Held, never_said, numbers_in, percentage, shown_of_page
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
# The fields of the report behind each section of its page.
BEHIND = {
    "head": ("evidence", "conditions", "model"),
    "what": ("posterior", "prior", "explanation", "attribution", "intervals", "outer",
             "misfits", "sensitivity", "typicality", "findings"),
    "why": ("explanation", "findings"),
    "rivals": ("rivals", "findings"),
    "next": ("next",),
    "else": ("posterior", "prior", "intervals"),
    "seen": ("findings", "not_examined", "not_applicable", "evidence"),
    "trust": ("conflict", "typicality", "sensitivity", "attribution", "model", "evidence",
              "log10_evidence", "conditions", "findings", "outer"),
}  # fmt: skip


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


def rests(data):
    """Return the shares of the states that a table adds up in its last row, and how many."""
    for now, before in ((data["posterior"][n], data["prior"][n]) for n in data["posterior"]):
        ranked = sorted(now, key=lambda s: -float(now[s]))
        rest = [s for k, s in enumerate(ranked) if k > 1 and float(now[s]) < 0.005]
        yield str(len(rest))
        yield from (percentage(sum(float(side[s]) for s in rest)) for side in (now, before))


def names_of(report):
    for node in report.nodes.values():
        yield node.label
        for name, state in node.states.items():
            yield f"{name} {state.label} {state.date}".replace("/", " ")


def held_of(report, section):
    """Return what a section may say: its fields, and the names and dates of nodes and states."""
    data = json.loads(report.model_dump_json(by_alias=True))
    more = rests(data) if section in ("what", "else") else ()
    told = (data[name] for name in BEHIND[section])
    counts = [
        str(sum(s.form == "not_visible" for s in report.findings)),
        str(len(data["posterior"])),
    ]
    exact = data["intervals"] and sum(data["intervals"]["exact_rows"].values())
    others = str(len(data["posterior"]) - len(data["log10_odds"]))
    return Held(*told, exact, names=(*names_of(report), *more, *counts, others, *TICKS))


TICKS = [f"{10**k:,}" for k in range(5)] + ["10"]


def wrong_numbers(report, shown):
    """Return the numbers of a page that the report does not hold, by section."""
    return [
        (name, one) for name, text in shown.items() for one in held_of(report, name).missing(text)
    ]


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
    seen, where = Counter(), None
    for where, report in reports():
        html = page(report)
        shown = shown_of_page(html)
        assert wrong_numbers(report, shown) == [], where
        assert reordered(report, html) == [], where
        said = printed(report)
        whole = Held()
        whole.forms.update(*(held_of(report, name).forms for name in BEHIND))
        assert whole.missing(said) == [], where
        for text in (*shown.values(), said, *report.statement, *report.cautions):
            assert never_said(text) == [], where
        assert percentage(top(report)) in numbers_in(report.statement[0]), where
        seen["reports"] += 1
        seen["numbers"] += sum(len(numbers_in(text)) for text in (*shown.values(), said))
        seen["tables"] += len(report.posterior)
    tried(
        "reports on drawn demo pieces and on pieces of random networks, page and terminal",
        seen["reports"],
        f"{seen['numbers']:,} printed numbers, each a number of the report as it rounds;"
        f" {seen['tables']:,} tables in the order of their shares; nothing said 0 % or 100 %, no"
        " word for intent",
    )


def top(report):
    return max(float(p) for p in report.posterior[report.question].values())


def test_the_check_notices_a_number_that_is_altered(tried):
    """One digit of one printed number is changed at random, in a section with figures."""
    rng, noticed, trials = np.random.default_rng(16), 0, times(100, 1_000)
    (_, report), *_ = list(zip(range(1), (found for _, found in reports()), strict=False))
    shown = shown_of_page(page(report))
    held = {name: held_of(report, name) for name in shown}
    places = [(name, m) for name, text in shown.items()
              for m in re.finditer(r"[+−]\d\.\d\d|\d+\.\d%", text)]  # fmt: skip
    for _ in range(trials):
        name, match = places[rng.integers(len(places))]
        digits = [i for i, c in enumerate(match[0]) if c.isdigit()]
        at = match.start() + digits[rng.integers(len(digits))]
        other = rng.choice([d for d in "0123456789" if d != shown[name][at]])
        altered = shown[name][:at] + str(other) + shown[name][at + 1 :]
        noticed += bool(held[name].missing(altered) or never_said(altered))
    assert noticed > 0.8 * trials
    tried("one digit of one printed number altered", trials, f"{noticed:,} noticed by the check")


@pytest.mark.parametrize(
    "said",
    ["north, 100.0%", "south 0%", "0.0 %", "it is nan bans", "-0.00 bans", "a fake", "None", "−0"],
)
def test_what_must_never_be_said_is_noticed(said):
    assert never_said(said)
