"""Certificates and the accounts of batches: what a client reads is what was signed or counted."""

import csv
import html
import re
import shutil
import subprocess
from collections import Counter

import here
import numpy as np
from faults.test_words_answers import a_model, findings
from made import STATED, issue
from placed import altered, numbers_of, row, said, unplaced
from small import SHOPS, examined
from spoken import Held, never_said, numbers_in
from trials import times

from claywit.certificate.documents import documents
from claywit.certificate.face import face
from claywit.errors import EvidenceError

PDFTOTEXT = shutil.which("pdftotext")
LONG_WORD = 20
FORM = (
    "now 95% before", "now 95% of draws before", "95% of draws", "+1 makes the odds ten times better,"
    " −1 ten times worse",
)  # fmt: skip


def certificates():
    """Yield certificates on drawn pieces by drawn models, and how many were refused."""
    for seed in range(times(2, 50)):
        rng = np.random.default_rng([19, seed])
        known = a_model(rng)
        try:
            yield seed, issue(known, examined(known, findings(rng), STATED))
        except EvidenceError:
            yield seed, None


def signed_numbers(made):
    """Return what the signed trace holds of numbers, in each way that they may be said."""
    trace = made.certificate.trace
    report = trace.report
    names = [text for node in report["nodes"].values() for text in words_of(node)]
    data = {key: value for key, value in report.items() if key not in ("statement", "cautions")}
    rest = trace.model_dump(mode="json", exclude={"report", "model", "limits", "notices"})
    model = [trace.model.name, trace.model.version, trace.model.digest, *trace.limits]
    signed = made.certificate.model_dump(
        mode="json", include={"id", "issuer", "validFrom", "validUntil"}
    )
    held = Held(data, rest, signed, names=[*names, *model, made.digest])
    for shares in (*report["posterior"].values(), *report["prior"].values()):
        ranked = sorted(map(float, shares.values()))
        held.forms.update(f"{100 * sum(ranked[:k]):.1f}%" for k in range(len(ranked)))
    return held


def words_of(node):
    return [node["label"], *(text["label"] for text in node["states"].values())]


def leaves(value):
    """Yield each text of a face."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for part in value.values() if isinstance(value, dict) else value:
            yield from leaves(part)


def without_long(text, shown):
    """Return *text* without the long words of a face: digests, names of keys, which lines break."""
    for word in {w for leaf in leaves(shown) for w in leaf.split() if len(w) >= LONG_WORD}:
        text = re.sub(r"[\s\u200b]*".join(map(re.escape, word)), " ", text)
    return text


def places(shown):
    """Return where the numbers of a face stand: on a page in their rows, on paper anywhere.

    What is read back from paper comes column by column, so there a figure is one of its table.
    """
    rest = {k: v for k, v in shown.items() if k not in ("weights", "rivals")}
    alone = said(*(without_long(leaf, shown) for leaf in leaves(rest)), *FORM)
    rows = [
        *(row(one["cells"][0], *one["cells"][1:]) for one in shown["weights"]),
        *(row(r["label"], r["now"], r["range"], r["before"]) for r in shown["rivals"]),
    ]
    loose = said(*leaves({k: shown[k] for k in ("weights", "rivals")}), "≈0")
    return {"page": [*alone, *rows], "paper": [*alone, *loose]}


def on_paper(pdf, folder):
    (folder / "c.pdf").write_bytes(pdf)
    done = subprocess.run([PDFTOTEXT, folder / "c.pdf", "-"], capture_output=True, check=True)
    whole_words = re.sub("\u00ad\\s*|\u200b", "", done.stdout.decode())
    return re.sub(r"page \d+ of \d+", " ", whole_words)


def test_every_number_of_a_certificate_was_signed_on_page_and_paper(tried, tmp_path):
    seen, rng = Counter(), np.random.default_rng(21)
    for seed, made in certificates():
        if made is None:
            seen["refused"] += 1
            continue
        shown, signed = face(made), signed_numbers(made)
        told = "\n".join(leaves({k: v for k, v in shown.items() if k not in SENTENCES}))
        assert signed.missing(without_long(told, shown)) == [], (seed, told)
        now = [float(numbers_in(one["now"])[0].strip("<>%")) for one in shown["rivals"]]
        assert now == sorted(now, reverse=True), (seed, now)
        pages = documents(made, html=True, pdf=PDFTOTEXT is not None)
        body = re.sub(rb"<(style|svg)\b.*?</\1>", b" ", pages.html, flags=re.DOTALL).decode()
        texts = {"page": html.unescape(re.sub(r"<[^>]+>", " ", body))}
        if pages.pdf:
            texts["paper"] = on_paper(pages.pdf, tmp_path)
        faces = places(shown)
        for where, text in texts.items():
            told = without_long(text, shown)
            assert unplaced(told, faces[where]) == [], (seed, where, told)
            assert never_said(told) == [], (seed, where, told)
            seen[where] += len(numbers_of(told))
            seen["noticed"] += bool(unplaced(altered(rng, told), faces[where]))
        seen["told"] += 1
    assert seen["told"] > seen["refused"]
    if PDFTOTEXT:  # without it the paper was not read, and no row says that it was
        tried(
            "certificates on random readings and shares, page and paper",
            seen["told"] + seen["refused"],
            f"{seen['page']:,} numbers printed on pages, {seen['paper']:,} on paper, each one that"
            f" was signed; {seen['refused']:,} refused as impossible; no rival out of its order; of"
            f" {2 * seen['told']:,} digits altered {seen['noticed']:,} noticed",
        )


SENTENCES = ("limits", "review", "signature", "notices", "cautions", "definitions")


def test_the_account_of_a_batch_is_what_its_files_hold(tried, tmp_path, monkeypatch, capsys):
    run, seen = here.runner(tmp_path, monkeypatch, capsys), Counter()
    (tmp_path / "m.yaml").write_text(SHOPS, encoding="utf-8")
    for seed in range(times(2, 20)):
        rng = np.random.default_rng([20, seed])
        rows = [
            f"p{i},{rng.choice(['flat', 'bevelled', '', 'round', '=1'])}"
            for i in range(int(rng.integers(1, 40)))
        ]
        (tmp_path / "c.csv").write_text("\n".join(["id,rim", *rows, ""]), encoding="utf-8")
        done = run("batch", "m.yaml", "c.csv", "-o", f"o{seed}.csv", "--quick", "--workers", 1)
        assert done.returncode == 0, (seed, done.stderr)
        used = sum(1 for _ in csv.DictReader((tmp_path / f"o{seed}.csv").open(encoding="utf-8")))
        lost = [row for row in rows if row.endswith(("round", "=1"))]
        assert (len(rows), used, len(lost)) == told(done.stderr), (seed, done.stderr)
        seen["lines"] += len(rows)
        seen["lost"] += len(lost)
    tried("accounts of batches with lines that cannot be read", times(2, 20),
          f"{seen['lines']:,} lines, {seen['lost']:,} of them bad: each account says so, and so many"
          " are in the files")  # fmt: skip


def told(said):
    found = re.search(r"([\d,]+) pieces? read: ([\d,]+) used, ([\d,]+) rejected", said)
    return tuple(int(one.replace(",", "")) for one in found.groups())
