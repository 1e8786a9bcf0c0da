"""Where the numbers of `evaluate` stand in its text and on its page."""

from placed import Table, counted, odds, percent, plain, row, said, signed

COUNTED = 1_000_000  # to 1: where the words of a bound end
FIXED = (
    "95% band", "0 would be foresight", "1 is no better than no LR at all", "have an LR below 1",
    "have one above 1", "0.2 0.4 0.6 0.8 1", "0 0.2 0.4 0.6 0.8 1", "0.4 0.6 0.8 1", "0 0.5 1",
    "0.6 0.7 0.8 0.9 1", "0.8 0.85 0.9 0.95 1", "0 0.5 1 1.5 2",
    "in bits: 0 faultless, 1 no better than no LR", "Cllr: 0 faultless, 1 no better than no LR",
    "The bands are the middle 95% over 1,000 sets", "the 95% bands are drawn from so few",
    "the model gave probability 0 to what", "the model gives these findings probability 0",
    "an LR of 0 or without limit", "would in 95 of 100 files without slips", "as many pieces",
    "Learned from fewer than 5 pieces in some part", "0 to 2",
)  # fmt: skip
TIMES = ("1", "10", "100", "1,000", "10,000", "100,000", "10⁶", "10⁷", "10⁸", "10⁹")
COVERAGES = (0.25, 0.5, 0.75, 0.9, 1.0)


def places(data):
    """Yield the place of each number that the answer may print."""
    question = data["nodes"][data["question"]]
    names = [question["states"][s["state"]]["label"] for s in data["states"]]
    model, how = data["model"], data["how"]
    pieces = data["answers"]["pieces"] if data["answers"] else 0
    yield from said(*FIXED, *(_axis(reach) for reach in range(2, len(TIMES))))
    yield from said(
        f"{model['title'] or model['name']} {model['version']}: {question['label']},"
        f" {counted(pieces)}",
        f"{how['folds']} parts, drawn with seed {how['seed']}",
        f"{how['folds']} parts, one for each",
        f"{model['name']} {model['version']}, SHA-256 {model['digest']}",
    )
    yield from _tables(data, question["label"], names)
    if data["answers"]:
        yield from said(*_of_answers(data["answers"], question["label"].lower()))
        yield from _bins(data["answers"], question["label"].lower())
    if data["ratios"]:
        yield from said(*_of_ratios(data["ratios"], data))
    yield from said(*_cautions(data, names, question["label"].lower()), *_odd(data))


def _axis(reach):
    """Return the odds beside an axis that goes from -reach to +reach bans."""
    step = 1 if reach <= 3 else 2
    up = [TIMES[k] for k in range(1, reach + 1) if k % step == 0]
    return " ".join([*(f"1 : {t}" for t in up[::-1]), "even", *(f"{t} : 1" for t in up)])


def _tables(data, label, names):
    learned = any(s["learned_from"] is not None for s in data["states"])
    states = tuple(_state(name, s) for name, s in zip(names, data["states"], strict=True))
    yield Table(f"{label} pieces sources right led given Cllr{' learned' * learned}", states)
    from_ = " learned from" * bool(data["how"]["folds"])
    yield Table(f"{label} pieces sources right led given to the truth Cllr{from_}", states)
    yield Table("Figures value 95% from to best", tuple(_figures(data, on_page=False)))
    yield Table("Figure value 95% from to", tuple(_figures(data, on_page=True)))
    if data["answers"]:
        taken = tuple(
            _taken(name, line)
            for name, line in zip(names, data["answers"]["confusion"], strict=True)
        )
        short = " ".join(n if len(n) <= 10 else f"{n[:9]}…" for n in names)
        yield Table(f"True (down), led (across) {short}", taken)
        heads = names if len(names) <= 6 else [s["state"] for s in data["states"]]
        yield Table(f"true, down; led, across {' '.join(heads)}", taken)


def _taken(name, line):
    return row(name, *(f"{n:,}" if n else "" for n in line))


def _state(name, s):
    return row(
        name, f"{s['pieces']:,}", f"{s['sources']:,}", f"{s['right']:,}" if s["pieces"] else "–",
        f"{s['led']:,}", "–" if s["given"] is None else percent(s["given"]), plain(s["cllr"], 3),
        "" if s["learned_from"] is None else f"{s['learned_from']:,}",
    )  # fmt: skip


def _figures(data, *, on_page):
    best = (lambda _: "") if on_page else str

    def three(name, found, good):
        ends = [plain(found[key], 4) if found[key] is not None else "" for key in ("low", "high")]
        without = "no limit" if on_page else ""
        value = without if found["value"] is None else plain(found["value"], 4)
        return row(name, value, *ends, best(good))

    def one(name, value, good=""):
        return row(name, "" if value is None else plain(value, 4), best(good))

    if a := data["answers"]:
        parts = a["parts"]
        yield three("Accuracy", a["accuracy"], 1)
        yield three("Log score, nats", a["log_score"], 0)
        over = "Brier score over all states"
        yield three(over if on_page else f"{over}, 0 to 2", a["brier"], 0)
        yield one("reliability", parts["reliability"], 0)
        off = "resolution, taken off" if on_page else "resolution (taken off)"
        yield one(off, parts["resolution"], "large")
        yield one("uncertainty of the set", parts["uncertainty"])
        yield one("within bins", parts["within"])
        yield one("Expected calibration error", a["calibration_error"], 0)
        yield one("by chance alone", a["calibration_error_by_chance"])
    if r := data["ratios"]:
        if not on_page:
            yield row(f"LR of {' against '.join(_sides(data))}")
        yield three("Cllr, bits", r["cllr"], 0)
        yield one("least, with the same order", r["least_cllr"], 0)
        if r["calibration_loss"] is not None or not on_page:
            yield one("calibration loss", r["calibration_loss"], 0)
        if not on_page:
            yield row(f"misleading, of {r['pieces_for']:,}", f"{r['misleading_for']:,}", "0")
            against = f"misleading, of {r['pieces_against']:,} others"
            yield row(against, f"{r['misleading_against']:,}", "0")
        for name, span in (("n sources", r["by_sources"]), ("ELUB", r["empirical"])):
            ends = signed(span["least_bans"]), signed(span["most_bans"])
            yield row(f"{'Bounds' if on_page else 'bounds'} in bans, {name}", *ends)


def _sides(data):
    nodes = data["nodes"]

    def label(proposition):
        node, _, state = proposition.partition("=")
        return nodes[node]["states"][state]["label"]

    if data["chosen"] == "commonest" and len(data["states"]) > 2:
        return label(data["for"]), f"any other {nodes[data['question']]['label'].lower()}"
    return label(data["for"]), label(data["against"])


def _band(found, shown):
    if found["low"] is None:
        return ""
    return f", 95% band {shown(found['low'])} to {shown(found['high'])}"


def three(value):
    return f"{value:.3f}"


def right(of, pieces):
    return ("all" if of else "none") if of in {0, pieces} else percent(of / pieces)


def _of_answers(a, label):
    yield (
        f"The leading {label} was the right one for {a['right']:,} of {counted(a['pieces'])}"
        f" ({right(a['right'], a['pieces'])}{_band(a['accuracy'], percent)})"
    )
    if a["log_score"]["value"] is not None:
        yield f"Log score {a['log_score']['value']:.3f} nats a piece{_band(a['log_score'], three)}"
    if a["prior_log_score"] is not None:
        yield f"its priors alone score {a['prior_log_score']:.3f}"
    yield (
        f"differ by {100 * a['calibration_error']:.1f} points on average; faultless probabilities"
        f" would show {100 * a['calibration_error_by_chance']:.1f} points on as many pieces"
    )
    yield f"what is true of {counted(len(a['excluded']))} ({', '.join(a['excluded'][:8])}"
    yield f" and {len(a['excluded']) - 8} more)"
    yield f"in {len(a['reliability'])} bins"
    yield f"Abstention curve: all named, {percent(a['right'] / a['pieces'])} are right"
    yield f"Only {counted(a['sources'], 'source')}: the 95% bands"


def _bins(a, label):
    yield Table(
        "Leading share pieces said right expected", tuple(_bin(b) for b in a["reliability"])
    )
    yield Table(
        f"If the {label} is named only where it leads with named right share",
        tuple(_held_back(a, share) for share in COVERAGES),
    )
    for b in a["reliability"]:
        yield from said(f"{b['right']} of {b['pieces']} right, {percent(b['said'])} said")


def _bin(b):
    ends = [b["least"], b["most"]]
    outside = "" if ends[0] <= b["right"] <= ends[1] else " (outside)"
    expected = "–".join(f"{n:,}" for n in dict.fromkeys(ends))
    return row(f"{b['low']:.1f} to {b['high']:.1f}{outside}",
               f"{b['pieces']:,}", percent(b["said"]), f"{b['right']:,}", expected)  # fmt: skip


def _held_back(a, share):
    point = next(p for p in a["abstention"] if p["answered"] >= share * a["pieces"] - 1e-9)
    return row(
        f"{percent(point['least'])} or more", f"{point['answered']:,} of {a['pieces']:,}",
        f"{point['right']:,}", right(point["right"], point["answered"]),
    )  # fmt: skip


def _of_ratios(r, data):
    one, other = _sides(data)
    of = r["pieces_for"] + r["pieces_against"]

    def passing(span):
        return f"{span['beyond']:,} of {of:,} {'passes' if span['beyond'] == 1 else 'pass'} that"

    yield f"{one} against {other}: {r['pieces_for']:,} and {counted(r['pieces_against'])}"
    if r["cllr"]["value"] is not None:
        yield (
            f"Cllr {three(r['cllr']['value'])} bits{_band(r['cllr'], three)}:"
            f" {three(r['least_cllr'])} because the LRs do not tell the two apart,"
            f" {three(r['calibration_loss'])} because they are too large or too small"
        )
    fewest = min(r["sources_for"], r["sources_against"])
    yield f"The smaller side has {counted(fewest, 'source')}. An LR that passes {fewest:,} to 1"
    yield f"printed as it stands. {passing(r['by_sources'])}"
    ends = [odds(10 ** r["empirical"][key], COUNTED) for key in ("least_bans", "most_bans")]
    yield f"are good from {ends[0]} up to {ends[1]}. {passing(r['empirical'])}"
    yield (
        f"of {r['pieces_for']} pieces for which A is true {r['misleading_for']} have an LR below 1,"
        f" of {r['pieces_against']} for which B is true {r['misleading_against']} have one above 1"
    )
    yield f"what {fewest} sources can support"
    yield f"{counted(r['undefined'])} without an LR"


def _cautions(data, names, label):
    how = data["how"]
    yield f"{counted(how['drawn'])} of known {label} bear ids"
    yield f"{counted(how['without_group'])} without a group"
    yield f"{counted(how['without_truth'])} of unknown {label} left out"
    yield f"{counted(how['refused'], 'row')} of the file could not be read"
    yield f"{counted(len(how['impossible']))} ({', '.join(how['impossible'][:8])}"
    yield f" and {len(how['impossible']) - 8} more)"
    few = [(n, s["pieces"]) for n, s in zip(names, data["states"], strict=True)
           if 0 < s["pieces"] < 10]  # fmt: skip
    if few:
        worst = max(100 / pieces for _, pieces in few)
        named = ", ".join(f"{name} {pieces}" for name, pieces in few)
        yield f"Few pieces of {named}: their own figures say little"
        yield f"moves a share by up to {worst:.0f} points"
    thin = ", ".join(
        f"{name} {s['learned_from']}" for name, s in zip(names, data["states"], strict=True)
        if s["learned_from"] is not None and s["learned_from"] < 5
    )  # fmt: skip
    yield f"in some part: {thin}; there it is"


def _odd(data):
    yield f"{counted(len(data['odd']), 'measured value')} may be slips"
    yield f"and {len(data['odd']) - 8:,} more; --json has them all"
    for odd in data["odd"]:
        node = data["nodes"][odd["node"]]
        measure = f" ({odd['measure']})" if odd["measure"] else ""
        kind = " and ".join(data["nodes"][n]["states"][s]["label"] for n, s in odd["kind"].items())
        yield (
            f"{odd['piece']}, line {odd['line']}, {node['label'].lower()}{measure}"
            f" {odd['value']:g} where {odd['others']} others{f' of {kind}' if kind else ''} have"
            f" {odd['middle']:.3g} ± {odd['spread']:.2g}"
        )
