"""A joint statement as one self-contained page, to print and to sign."""

from functools import partial
from typing import Any

from claywit.report.bridge import bridge
from claywit.report.joint import Joint
from claywit.report.joint_wording import graded, lead_alike, look_said, worth_said
from claywit.report.labels import label_of
from claywit.report.templating import template


def joint_page(joint: Joint) -> str:
    """Return *joint* as an HTML page that needs nothing beside it."""
    return template("joint.html.j2").render(**joint_values(joint))


def joint_values(joint: Joint) -> dict[str, Any]:
    """Return what the body of that page, `joint_body.html.j2`, is filled with."""
    return {
        "joint": joint,
        "bridge": bridge(joint),
        "columns": [*joint.opinions, joint.linear, joint.logarithmic],
        "states": likeliest(joint),
        "state": lambda name: label_of(joint.nodes, f"{joint.question}={name}"),
        "one": label_of(joint.nodes, joint.for_),
        "other": label_of(joint.nodes, joint.against),
        "graded": graded,
        "look": look_said,
        "worth": partial(worth_said, already=lead_alike(joint)),
    }


def likeliest(joint: Joint, least: float = 0.01) -> list[str]:
    """Return the states that some opinion holds for likely, the likeliest first; at least two."""
    opinions = [*joint.opinions, joint.linear, joint.logarithmic]
    shares = [opinion.shares for opinion in opinions if opinion.shares]
    most = {s: max(float(held[s]) for held in shares) for s in shares[0]}
    ranked = sorted(most, key=lambda s: -most[s])
    return [s for i, s in enumerate(ranked) if i < 2 or most[s] >= least]
