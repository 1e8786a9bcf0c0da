"""Where the numbers of `fit` stand in its text."""

from placed import said

SHOWN = 10


def places(data):
    """Yield the place of each number that the answer may print."""
    yield from said(*_account(data), *_moved(data), *_unfiled(data), *_visible(data))
    yield from said(*_far(data), *_rest(data), *data["cautions"])


def _account(data):
    yield f"{data['read']:,} pieces read: {data['used']:,} used, {data['rejected']:,} rejected"
    yield f"{data['model']} {data['version_before']} -> {data['version']}"
    yield f"converged after {data['rounds']} rounds: the last gained less than {data['enough']:.0e}"
    yield (
        f"after {data['rounds']} rounds: the last still gained {data['last_gain']:.1e} nats a piece,"
        f" {data['enough']:.0e} is enough"
    )
    before, after = (
        data[key] / data["used"] for key in ("log_likelihood_before", "log_likelihood")
    )
    yield f"a piece {before:.3f} -> {after:.3f} nats ({after - before:+.3f})"


def four(value):
    shown = f"{value:.4g}"
    return "above 0.9999" if shown == "1" and value < 1 else shown


def _moved(data):
    yield f"What changed most (of {len(data['moved'])} places)"
    for one in data["moved"][:SHOWN]:
        before, after = one["before"], one["after"]
        pairs = [f"{name} {four(before[name])} -> {four(p)}" for name, p in after.items()
                 if four(before[name]) != four(p)]  # fmt: skip
        yield (
            f"{one['place']}{', '.join(pairs[:4])}{', …' * (len(pairs) > 4)} elicited n"
            f" {one['elicited_n']:g}, counted n {one['counted_n']:.1f}"
        )


def share(p):
    if p in {0, 1}:
        return "all" if p else "none seen"
    shown = f"{100 * p:.1f} %"
    return {"0.0 %": "under 0.1 %", "100.0 %": "over 99.9 %"}.get(shown, shown)


def _unfiled(data):
    for one in data["unfiled"]:
        yield (
            f"{one['node']}={one['state']}: {one['pieces']} pieces of {one['states']} named states,"
            f" {one['once']} of them seen once"
        )
        reach = f"(95 %: {share(one['low'])} to {share(one['high'])})"
        yield f"so {share(one['uncovered'])} of all pieces are of states not seen {reach}"
        yield f"likely to be little (95 %: up to {share(one['high'])})"
        yield (
            f"its share: elicited {share(one['elicited'])}, as counted {share(one['counted'])}, in"
            f" the new model {share(one['now'])}"
        )


def _visible(data):
    for one in data["visibility"]:
        yield f"Visibility under {one['node']} was learned: {one['recorded']} pieces"
        yield f"keeps its elicited values: {one['recorded']} pieces record obstruction, 30 are asked"


def _far(data):
    yield f"Far from all that the model predicted ({len(data['far'])})"
    for one in data["far"]:
        yield (
            f"line {one['line']}, {one['piece']}: {one['node']}, {one['scales']:.3g} times its"
            " spread away"
        )
    yield from _more(data["far"])


def _rest(data):
    yield f"No piece touched {len(data['untouched'])} place{'s' * (len(data['untouched']) != 1)}"
    yield f"{len(data['exact'])} places have no n"
    yield "1 place has no n"
    yield f"`claywit check` finds {data['faults']} fault"
    yield from (*data["untouched"], *data["exact"], *_more(data["untouched"]))


def _more(listed):
    yield f"and {len(listed) - SHOWN} more (--json lists them)"
