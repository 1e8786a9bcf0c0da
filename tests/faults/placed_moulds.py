"""Where the numbers of `moulds` stand in its text."""

from placed import Table, counted, row, said

SHOWN = 12


def places(data):
    """Yield the place of each number that the answer may print."""
    often = {int(k): n for k, n in data["frequencies"].items()}
    shown = list(often)[:SHOWN]
    yield from said(
        f"{counted(data['pieces'])} of {counted(data['moulds'], 'mould')}, {often.get(1, 0):,} of"
        " them met once",
        f"{counted(data['apart'])} left apart",
        f"and {len(often) - SHOWN} more, up to {max(often):,} pieces",
        f"coverage {share(data['covered'])} (95 %: {share(data['covered_low'])} to"
        f" {share(data['covered_high'])})",
        *data["cautions"],
    )
    yield Table("pieces of a mould", (row(" ".join(map(str, shown))),))
    yield Table("moulds", (row(" ".join(str(often[k]) for k in shown)),))
    for one in data["estimates"]:
        yield from said(one["source"])
        if one["moulds"] is not None:
            high = "no limit" if one["high"] is None else f"{one['high']:.1f}"
            reach = "" if one["low"] is None else f" (95 %: {one['low']:.1f} to {high})"
            yield from said(f"{one['name']} {one['moulds']:.1f}{reach} {one['assumes']}")
    if data["low"] is not None:
        low, high = f"{data['low']:.0f}", f"{data['high']:.0f}"
        moulds = f"{high} mould{'s' * (high != '1')}"
        yield from said(f"Between {low} and {moulds}" if low != high else f"About {moulds}")


def share(p):
    if p > 0.9995:
        return "over 0.999"
    return "under 0.001" if p < 0.0005 else f"{p:.3f}"
