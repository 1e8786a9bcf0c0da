"""What the judgement of an answer warns of, in sentences."""

from claywit.report.labels import group_label
from claywit.report.numbers import percent
from claywit.report.report import Report

CONTRADICTED = 0.5  # bans of conflict in all that call for a caution
MOST = 0.9  # of the move that rests on one group of findings


def case_cautions(report: Report) -> list[str]:
    """Return the cautions that the judgement of the answer calls for."""
    return [
        *alarms(report),
        *_contradicted(report),
        *_one_sided(report),
        *_half_certain_key(report),
    ]


def alarms(report: Report) -> list[str]:
    """Return the alarm that the model may not cover the piece, if it sounds."""
    found = report.typicality
    if not found or not found.alarm:
        return []
    label = group_label(report, found.stranger)
    said = (
        f"The model may not cover this piece: findings of {label} stand apart from the"
        " rest as in"
        f" {percent(found.p)} of the pieces that it covers. Read them again, and ask whether"
        " this is one piece."
    )
    return [said]


def _contradicted(report: Report) -> list[str]:
    found = report.conflict
    if not found or found.total_bans < CONTRADICTED:
        return []
    size = f"{found.total_bans:.2f} bans"
    return [
        f"The findings contradict each other ({size}); settle that before relying on the words."
    ]


def _one_sided(report: Report) -> list[str]:
    why = report.explanation
    said = []
    if why.prior_bans is not None and why.total_bans is not None:
        if why.prior_bans > max(why.total_bans, 0):
            said.append("The prior does more for this answer than the findings do.")
        moved = [g for g in why.groups if g.left_out_bans is not None and g.left_out_bans > 0]
        top = max(moved, key=lambda g: g.left_out_bans or 0, default=None)
        if (
            top
            and len(why.groups) > 1
            and why.total_bans > 0
            and (top.left_out_bans or 0) > MOST * why.total_bans
        ):
            said.append(f"The opinion rests on one group of findings: {top.label.lower()}.")
    return said


def _half_certain_key(report: Report) -> list[str]:
    key = report.explanation.strongest_for
    seen = next((s for s in report.findings if s.node == key), None)
    if seen and seen.form in ("half_certain", "matrix", "likelihood"):
        return [f"The finding that matters most is itself half certain: {seen.label.lower()}."]
    return []
