"""Two examiners on one piece, for tests of what is said of their differences."""

from pathlib import Path

from small import model

from claywit import assessment
from claywit.evidence.parties import Party
from claywit.evidence.written import read_evidence
from claywit.records import files
from claywit.report.joint_text import show_joint
from claywit.report.terminal import plain_console

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "evidence_examples"
POLICY = files.read_policy()
MASKED = "readings: {locked_at: 2026-01-11, masked: true}"


def party(findings, examiner="A", piece="p-1", more=MASKED, known=None):
    text = (
        f"format: claywit-evidence/1\npiece: {{id: {piece}}}\nexaminer: {examiner}\n"
        f"findings: {findings}\n{more}\n"
    )
    evidence, document = read_evidence(text.encode(), f"{examiner}.yaml")
    return Party(evidence, document.place, known or model())


def stated(a, b, asked=(None, "shop=north", "shop=south"), **more):
    one = a if isinstance(a, Party) else party(a)
    other = b if isinstance(b, Party) else party(b, "B")
    return assessment.joint(one, other, POLICY, asked=asked, **more)


def shown(joint, width=100):
    console = plain_console(width=width, record=True, file=open("/dev/null", "w"))  # noqa: PTH123, SIM115
    show_joint(joint, console)
    return console.export_text()


PRIORS = b"format: claywit-priors/1\nby: the rival\npriors: {shop: {north: 0.1, south: 0.9}}\n"
