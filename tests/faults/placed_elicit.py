"""Where the numbers of `elicit` stand in its text, but those worked out from single answers."""

from placed import Table, row, said

FIXED = ("of 100", "add to 100")


def places(data):
    """Yield the place of each number that the answer may print."""
    weights = data["weights"]
    yield Table(
        f"Weights from {weights['seeds']} seed questions weight with one seed left out calibration"
        " information answered",
        tuple(_weights(data)),
    )
    if weights["cutoff"] is not None:
        yield from said(f"below {weights['cutoff']:.2g} an expert has no weight")
    for one in data["rows"]:
        yield from _row(one)
    yield from said(*FIXED, *data["cautions"])


def _weights(data):
    for e in data["experts"]:
        low, high = e["weight_range"] or (e["weight"], e["weight"])
        if e["calibration"] is not None:
            yield row(
                e["name"], f"{e['weight']:.2f}", f"{low:.2f} to {high:.2f}",
                f"{e['calibration']:.2g}", f"{e['information']:.2f}", f"{e['answered']}",
            )  # fmt: skip
    for name, key in (("the pool", "pool"), ("with equal weights", "equal_pool")):
        if scores := data["weights"][key]:
            yield row(name, f"{scores[0]:.2g}", f"{scores[1]:.2f}")


def _row(one):
    before = f", {one['n_before']:g} before" if one["n_before"] else ""
    title = f"{one['name']} (n {one['n']:g}{before}; {', '.join(one['experts'])})"
    pieces = f"{one['n']:g} piece{'' if one['n'] == 1 else 's'}"
    review = f"{one['name']} (your ranges fit a sample of {pieces})"
    columns = "of 100 stated the row gives"
    yield Table(f"{title} before {columns}", tuple(_states(one, review=False)))
    yield Table(f"{review} {columns}", tuple(_states(one, review=True)))
    yield from said(
        f"Ranges so narrow are what {pieces} would", f"Ranges so wide are what {pieces}"
    )
    for state in one["states"]:
        told = ", ".join("none" if q is None else f"{q:.3g}" for q in state["stated"])
        gives = ", ".join(f"{q:.0f}" for q in state["fitted"])
        yield from said(f"{state['label']}: you said {told}; the row gives {gives}")


def _states(one, *, review):
    for state in one["states"]:
        before = "" if review or state["before"] is None else f"{100 * state['before']:.2f}"
        yield row(
            state["label"], before, f"{100 * state['p']:.2f}", _stated(state["stated"]),
            " ".join(map(hundredth, state["fitted"])),
        )  # fmt: skip


def _stated(ends):
    low, best, high = ends
    if best is None:
        return "the rest"
    first, last = "none" if low is None else f"{low:.3g}", "all" if high is None else f"{high:.3g}"
    return f"{first} {best:.3g} {last}"


def hundredth(value):
    if value < 0.05:
        return "<0.1"
    if value >= 99.5:
        return ">99"
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"
