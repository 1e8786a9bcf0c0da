"""Small drawings beside the states: what to look for, drawn by a few parametrised pens.

A drawing is a handful of strokes on a field of 48 by 48: each a class (line, faint, fill, shade)
and an SVG path. These are the traits of the demonstration; `families` draws for those of other models.
"""

from collections.abc import Sequence

Stroke = tuple[str, str]
Drawing = tuple[Stroke, ...]

FRAME = "M8 44V19a16 15 0 0 1 32 0v25z"
ARCH = "M14 39V21a10 9.5 0 0 1 20 0v18z"
RIM = FRAME + "M14 39h20V21a10 9.5 0 0 0-20 0z"
GROUND = "M3 26h14l7 13 7-13h14"
GROOVE = "M17 26l7 13 7-13z"
LENS: Stroke = ("faint", "M4 24a20 20 0 1 0 40 0a20 20 0 1 0-40 0")
TABLET: Drawing = (("line", FRAME), ("faint", ARCH))


def dot(x: float, y: float, r: float = 2.5) -> str:
    """Return the path of a dot."""
    return f"M{x - r:g} {y:g}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0z"


def dots(places: Sequence[tuple[float, float]], r: float = 2.5) -> str:
    """Return the path of some dots of one size."""
    return "".join(dot(x, y, r) for x, y in places)


def cross(x: float, y: float, r: float = 3) -> str:
    """Return the path of a mark that says: here."""
    return f"M{x - r:g} {y - r:g}l{2 * r:g} {2 * r:g}m0{-2 * r:g}l{-2 * r:g} {2 * r:g}"


def _touching(*places: tuple[float, float]) -> Drawing:
    return (*TABLET, ("fill", dots(places, 3.2)))


def _marked(*places: tuple[float, float], line: str = "") -> Drawing:
    marks = ("line", "".join(cross(*place) for place in places) + line)
    return (*TABLET, marks)


def _filled(height: float) -> Drawing:
    """Return a tablet coated up to a part of its height."""
    return (("shade", f"M8 44V{44 - height:g}h32V44z"), *TABLET)


def seen(*strokes: Stroke) -> Drawing:
    """Return what is seen through the lens."""
    return (LENS, *strokes)


def _section(*strokes: Stroke) -> Drawing:
    return (("line", GROUND), *strokes)


def bare() -> Drawing:
    """Return a field with nothing on it."""
    return seen()


SCATTER = ((16, 16), (30, 13), (22, 25), (34, 27), (14, 31), (27, 36))
MANY = (*SCATTER, (23, 10), (10, 23), (38, 20), (20, 37), (31, 20), (35, 35), (17, 23), (26, 30))
PLATES = "M13 15l7-3 2 3-7 3zM28 13l6 4-2 3-6-4zM15 30l6-4 3 3-6 4zM30 29l7-1 0 4-7 1z"
GRAINS = "M14 14l5-2 3 4-4 4-5-2zM29 12l6 2-1 6-6-1zM16 29l6-2 1 6-6 2zM30 28l6 1-2 6-5-2z"
STRAWS = "M11 17l12-6M20 27l15-7M12 34l13-5M28 38l9-6"
NET = "M4 20l12 2 6-12 10 8 12-2M16 22l4 12 12 2 2-18M20 34l-6 9M32 36l8 4M22 10V4"
TREE = "M8 14l12 6 4 12 8 8M20 20l12-6M24 32l-12 6"
LONE = "M10 14l10 8M30 12l6 12M16 32l14 6"

TEES = "M6 16h36M18 16v26M18 30h22"
WYES = "M24 4v12l-12 8v14M24 16l12 8v14M12 24l-9-5M36 24l9-5"

HINTS: dict[str, dict[str, Drawing]] = {
    "arch_contact": {
        "none": TABLET,
        "crown": _touching((24, 7.6)),
        "right_shoulder": _touching((33, 12.4)),
        "left_shoulder": _touching((15, 12.4)),
        "both_springings": _touching((11, 22), (37, 22)),
        "left_springing": _touching((11, 22)),
        "other": (*TABLET, ("fill", dot(37, 34, 3.2)), ("faint", "M24 30v.1M21 20a3 3 0 1 1 3 4v2")),
    },
    "wear": {
        "none": TABLET,
        "high_points": (*TABLET, ("shade", dots(((24, 20), (20, 29), (28, 29)), 3.5))),
        "high_and_edges": (("shade", RIM), *TABLET, ("shade", dots(((24, 22), (24, 31)), 3.5))),
        "uniform": (("shade", FRAME), *TABLET),
        "patches": (*TABLET, ("shade", "M10 22l8-5 3 8-8 4zM28 34l9-3 2 8-9 2zM26 12l8 1-3 6z")),
        "recesses": (*TABLET, ("shade", "M14 39v-4h20v4zM14 25v-4l5-7 3 2-4 9zM34 25v-4l-5-7-3 2 4 9z")),
    },
    "coating_cover": {
        "0": TABLET, "1-25": _filled(7), "26-75": _filled(20), "76-100": (("shade", FRAME), *TABLET),
    },
    "coating_place": {
        "none": TABLET,
        "front": (("shade", FRAME), *TABLET),
        "both_faces": (("shade", "M4 42V20a13 13 0 0 1 26 0v22z"), ("line", "M4 42V20a13 13 0 0 1 26 0v22z"),
                       ("shade", "M30 42h14V20a13 13 0 0 0-20-11"), ("line", "M30 42h14V20a13 13 0 0 0-20-11")),
        "edge_band": (("shade", RIM), *TABLET),
        "dabs": (*TABLET, ("shade", dots(((16, 18), (31, 24), (20, 35)), 4))),
        "local": (*TABLET, ("shade", "M26 28l10-2 3 9-9 4z")),
    },
    "bloom": {
        "none": bare(),
        "trace": seen(("fill", dots(SCATTER[:3], 1.2))),
        "film": seen(("fill", dots(MANY, 1.2))),
        "crust": seen(("shade", "M8 20l8-8 12 1 10 8 1 10-9 9-14-2-8-8z"), ("fill", dots(MANY, 1.8))),
    },
    "back_texture": {
        "mat": (("faint", "M5 5h38v38H5z"), ("line", "M5 15L15 5M5 25L25 5M5 35L35 5M8 43L43 8M18 43l25-25M28 43l15-15M38 43l5-5")),
        "plank": (("faint", "M5 5h38v38H5z"), ("line", "M5 12c12-3 26 3 38 0M5 20c12 3 26-3 38 0M5 28c14-4 26 4 38 0M5 36c12 3 26-2 38 0")),
        "slate": (("faint", "M5 5h38v38H5z"), ("fill", dots(SCATTER, 1.4))),
        "smooth": (("faint", "M5 5h38v38H5z"), ("line", "M10 22L22 10M13 30L30 13")),
    },
    "flaw_set": {
        "senn_slip": _marked((24, 14), (29, 31)),
        "senn_toe": _marked((24, 14), (19, 36)),
        "senn_sill": _marked((38, 40)),
        "eye_offcentre": (*TABLET, ("line", dot(24, 20, 4)), ("fill", dot(26, 19, 1.6))),
        "shallow_step": (*TABLET, ("faint", "M16 34h16"), ("line", "M12 12l9 8 6 12")),
        "eye_twice": (*TABLET, ("fill", dots(((22, 20), (27, 21)), 1.8))),
        "line_flake": (*TABLET, ("line", "M24 5v38"), ("shade", "M30 36l8-2v8h-8z")),
        "line_blunt": (*TABLET, ("line", "M24 5v38M14 24h5v4h-5")),
        "none_matched": (*TABLET, ("line", "M16 24h16")),
    },
    "flaw_state": {
        "none": (("line", FRAME),),
        "second": (("line", FRAME), ("line", "M40 24l-8 3")),
        "third": (("line", FRAME), ("line", "M40 24l-8 3-7-2-4 8M32 27l2 8")),
    },
    "inherited_mark": {
        "absent": bare(),
        "suspected": seen(("faint", "M15 31l8-8 9-5")),
        "clear": seen(("line", "M13 32l8-9 4 1 10-9M20 30l3-3")),
    },
    "recut": {
        "none": _section(),
        "deepened": (("line", "M3 26h12l3 6 2-2 4 13 4-13 2 2 3-6h12"),),
        "redrawn": (("line", GROUND), ("line", "M27 26l5 9 5-9")),
    },
    "tool_mark": {
        "stepped": (("line", "M3 20h9v7h7v10h10V27h7v-7h9"),),
        "v_tool": (("line", "M3 20h11l10 18 10-18h11"),),
        "round": (("line", "M3 20h10a11 15 0 0 0 22 0h10"),),
        "double": (("line", "M3 20h9l5 16 3-6 4 10 4-10 3 6 5-16h9"),),
        "unclear": (("faint", "M3 20h12c4 12 14 12 18 0h12"),),
    },
    "relief_edge": {
        "crisp": (("line", "M3 36h19V14h23"),),
        "soft": (("line", "M3 36h14c7 0 5-22 12-22h16"),),
        "blurred": (("line", "M3 36c22 0 20-22 42-22"),),
    },
    "matrix_colour": {
        name: ((f"paste-{name}", "M8 8h32v32H8z"), ("line", "M8 8h32v32H8z"))
        for name in ("white", "buff", "pink", "grey")
    },
    "bubbles": {
        "none": bare(),
        "few": seen(("fill", "M13 20q5-4 10 0q-5 3-10 0zM26 30q5-3 9 1q-5 3-9-1z")),
        "many": seen(("line", dots(MANY, 2.2))),
    },
    "shell": {"absent": bare(), "present": seen(("fill", PLATES))},
    "grog": {"absent": bare(), "present": seen(("shade", GRAINS), ("line", GRAINS))},
    "quartz": {
        "absent": bare(),
        "rounded": seen(("line", dots(SCATTER, 3))),
        "fine": seen(("fill", dots(MANY, 1.1))),
    },
    "straw_voids": {"absent": bare(), "present": seen(("line", STRAWS))},
    "crack_net": {
        "none": bare(),
        "isolated": seen(("line", LONE)),
        "branched": seen(("line", TREE)),
        "net": seen(("line", NET)),
    },
    "crack_density": {
        "low": seen(("line", "M8 18l14 8 8 14")),
        "medium": seen(("line", TREE)),
        "high": seen(("line", NET), ("line", "M8 12l14 14 20-2M26 26l2 17M6 30l12-2")),
    },
    "crack_junction": {
        "t_type": seen(("line", TEES)),
        "mixed": seen(("line", "M6 14h36M16 14v12l-8 8M16 26l10 6v12M26 32l14-6")),
        "y_type": seen(("line", WYES)),
    },
    "crack_lip": {
        "rounded": (("line", "M3 20h10q6 0 7 7l3 13q1 3 2 0l3-13q1-7 7-7h10"),),
        "mixed": (("line", "M3 20h10q6 0 7 7l4 15 5-22h16"),),
        "sharp": (("line", "M3 20h16l5 22 5-22h16"),),
    },
    "crack_fill": {
        "empty": _section(),
        "dirt": _section(("fill", "M20 32l4 7 4-7z")),
        "bloom": _section(("line", "M20 30l8 0M24 27v8M21 33l6-5M27 33l-6-5")),
        "coating": _section(("shade", GROOVE), ("line", "M3 23h42")),
        "polish": _section(("fill", "M17 26q7 6 14 0l-3 4h-8z")),
        "stain_only": _section(("line", "M19 24l6 11 6-11")),
    },
    "coating_hold": {
        "keyed": (("shade", "M3 20h42v6l-5 4-5-4-5 5-6-5-5 5-6-5-5 4-5-4z"), ("line", "M3 26l5 4 5-4 6 5 5-5 6 5 5-5 5 4 5-4")),
        "tight": (("shade", "M3 22h42v6H3z"), ("line", "M3 28h42")),
        "lifting": (("line", "M3 30h42"), ("shade", "M3 25h15l5-7-1 9-3 3H3zM45 25H31l-5-7 2 9 3 3h14z")),
        "flaking": (("line", "M3 32h42"), ("shade", "M3 27h9v5H3zM18 27h7v5h-7zM37 27h8v5h-8zM28 14l7 3-1 4-7-3z")),
        "over_dirt": (("line", "M3 34h42"), ("fill", "M3 30h42v3H3z"), ("shade", "M3 22h42v7H3z")),
        "no_coating": (("line", "M3 28h42"),),
    },
    "coating_crack": {
        "cuts": (("shade", "M3 20h17l2 6H3zM45 20H28l-2 6h19z"), ("line", "M3 26h19l2 14 2-14h19")),
        "bridges": (("line", "M3 26h17l4 14 4-14h17"), ("shade", "M3 19h42v6H3z")),
        "fills": (("shade", "M3 20h42v6H28l-4 14-4-14H3z"), ("line", "M3 26h17l4 14 4-14h17")),
        "both": (("shade", "M3 20h10l1 6H3zM21 20h24v6H36l-4 14-4-14h-6z"), ("line", "M3 26h11l2 14 2-14h10l4 14 4-14h9")),
    },
    "bloom_hold": {
        "keyed": (("line", "M3 32h42M9 32v-6M15 32v-9M21 32v-5M27 32v-10M33 32v-6M39 32v-8"),),
        "loose": (("line", "M3 34h42"), ("fill", dots(((9, 28), (15, 24), (22, 29), (29, 25), (36, 28), (41, 23)), 1.6))),
        "under_coat": (("line", "M3 34h42"), ("fill", dots(((9, 31), (17, 31), (25, 31), (33, 31), (40, 31)), 1.6)), ("shade", "M3 20h42v8H3z")),
        "over_coat": (("line", "M3 36h42"), ("shade", "M3 27h42v9H3z"), ("fill", dots(((9, 24), (17, 24), (25, 24), (33, 24), (40, 24)), 1.6))),
    },
    "recess_dirt": {
        "none": _section(),
        "loose": _section(("fill", dots(((22, 31), (26, 30), (24, 35)), 1.3))),
        "compact": _section(("line", "M18.5 29h11M20 32h8M21.5 35h5")),
        "painted": _section(("shade", "M3 22h17l4 9 4-9h17v4H31l-7 13-7-13H3z")),
    },
}  # fmt: skip
