"""Drawings for the traits of any model: where the names of the states say what is to be seen.

A trait is drawn where all its states belong to one family, each drawn otherwise than the others.
Else it has no drawing, which is better than one that misleads.
"""

from collections.abc import Collection, Mapping

from claywit.bench.hints import HINTS, MANY, SCATTER, Drawing, bare, dots, seen

NONE, FEW = bare(), seen(("fill", dots(SCATTER[:3], 1.8)))
SOME, ABOUND = seen(("fill", dots(SCATTER, 1.8))), seen(("fill", dots(MANY, 1.8)))
COLOURS = (
    *("white", "cream", "buff", "straw", "amber", "yellow", "orange", "pink", "red"),
    *("brown", "grey", "black", "green", "blue"),
)
PATCH = "M8 8h32v32H8z"
AMOUNTS: dict[str, Drawing] = {
    **dict.fromkeys(("none", "absent", "no"), NONE),
    **dict.fromkeys(("trace", "few", "rare", "sparse", "low", "light"), FEW),
    **dict.fromkeys(("some", "medium", "moderate", "present", "yes"), SOME),
    **dict.fromkeys(("many", "high", "dense", "heavy", "abundant"), ABOUND),
}
EDGES: dict[str, Drawing] = {
    **dict.fromkeys(("crisp", "sharp"), (("line", "M3 36h19V14h23"),)),
    **dict.fromkeys(("soft", "rounded"), (("line", "M3 36h14c7 0 5-22 12-22h16"),)),
    **dict.fromkeys(("blurred", "worn"), (("line", "M3 36c22 0 20-22 42-22"),)),
}
PASTES: dict[str, Drawing] = {name: ((f"paste-{name}", PATCH), ("line", PATCH)) for name in COLOURS}
FAMILIES = (AMOUNTS, EDGES, PASTES)


def drawings(trait: str, states: Collection[str]) -> Mapping[str, Drawing]:
    """Return the drawings of a trait's states; nothing where none would be sure to be right."""
    own = HINTS.get(trait, {})
    for family in (own, *FAMILIES):
        drawn = {family[state] for state in states if state in family}
        if states and len(drawn) == len(states):
            return family
    return {}
