"""Where the numbers of `examiners` stand in its text."""

from placed import Table, counted, plain, row, said


def places(data):
    """Yield the place of each number that the answer may print."""
    for trait in data["traits"]:
        yield from said(
            f"{trait['label']} ({counted(trait['readings'], 'reading')} of"
            f" {counted(trait['pieces'])})"
        )
        yield Table("pieces agree kappa", tuple(_agreement(trait)))
        yield Table("by steps between states linear kappa quadratic kappa", tuple(_by_steps(trait)))
        for matrix in trait["matrices"]:
            yield _matrix(matrix, trait["states"])
        yield from said(*_remarks(trait))
    yield from said(*data["cautions"])


def _agreement(trait):
    for pair in trait["pairs"]:
        yield row(_whose(pair), str(pair["pieces"]), share(pair["agreeing"]), figure(pair["kappa"]))
    if panel := trait["panel"]:
        yield row(
            "all, alpha", str(panel["pieces"]), share(panel["agreeing"]), figure(panel["alpha"])
        )
        if panel["fleiss"]:
            yield row("all, Fleiss", figure(panel["fleiss"]))


def _by_steps(trait):
    for pair in trait["pairs"]:
        yield row(_whose(pair), figure(pair["linear"]), figure(pair["quadratic"]))
    if trait["panel"]:
        yield row("all, interval alpha", figure(trait["panel"]["ordered_alpha"]))


def _matrix(matrix, states):
    head = f"{matrix['name']}: truly {' '.join(f'read {state}' for state in states)} readings"
    return Table(head, tuple(
        row(true, *(hundredth(shares[state]) for state in states), f"{matrix['rests'][true]:g}")
        for true, shares in matrix["p"].items()
    ))  # fmt: skip


def _remarks(trait):
    """Yield what may be remarked, each number of it by the field it comes from."""
    yield (
        "Once the trait could not be seen"
        if trait["hidden"] == 1
        else (f"{trait['hidden']} times the trait could not be seen")
    )
    panel = trait["panel"]
    yield f"Only {panel['pieces']} pieces were read twice or more" if panel else ""
    for pair in trait["pairs"]:
        cells = [n for line in pair["table"] for n in line]
        whose = f"{pair['one']} twice" if pair["again"] else f"{pair['one']} and {pair['other']}"
        if pair["kappa"]["value"] is not None and sum(cells):
            by_state = [sum(line) + sum(across) for line, across in
                        zip(pair["table"], zip(*pair["table"], strict=True), strict=True)]  # fmt: skip
            yield (
                f"{whose}: {whole(max(by_state) / (2 * sum(cells)))} of the readings are of one"
                f" state. Kappa ({plain(pair['kappa']['value'], 2)}) then hangs on a few pieces and"
                f" falls, though {share(pair['agreeing'])} agree"
            )
    unknown = trait["pieces"] - trait["known_truths"]
    yield f"The truth of {unknown} of {trait['pieces']} pieces is only what the examiners agree on"
    for state, truly in zip(trait["states"], trait["shares"].values(), strict=False):
        for near in (1 - 5e-3, 1, 1 + 5e-3):  # the share is kept at three digits
            yield f"{state}: about {near * trait['pieces'] * truly:.1f} pieces were truly so"
    people = len({name for pair in trait["pairs"] for name in (pair["one"], pair["other"])}) or 1
    yield (
        f"No confusion matrix: {people} examiner{'' if people == 1 else 's'} and"
        f" {trait['known_truths']} pieces of known truth"
    )
    yield "let a third examiner read, or give the truth of 30 pieces"


def _whose(pair):
    return f"{pair['one']}, again" if pair["again"] else f"{pair['one']}, {pair['other']}"


def share(found):
    return "–" if found["value"] is None else whole(found["value"])


def whole(p):
    if p in {0, 1}:
        return "all" if p else "none"
    shown = f"{100 * p:.0f} %"
    return {"0 %": "under 1 %", "100 %": "over 99 %"}.get(shown, shown)


def hundredth(p):
    shown = f"{100 * p:.1f}"
    return {"0.0": "<0.1", "100.0": ">99.9"}.get(shown, shown)


def figure(found):
    if found is None or found["value"] is None:
        return "–"
    if found["low"] is None or found["high"] is None:
        return plain(found["value"], 2)
    return f"{plain(found['value'], 2)} ({plain(found['low'], 2)} to {plain(found['high'], 2)})"
