"""Files that were altered: by bits, by words of their format, by parts of their tree; from a seed."""

import json

import rfc8785
import yaml
from damage import places, replaced

ODD = [
    None, True, False, 0, -1, 1, 2, 0.5, 1e308, 5e-324, 10**30, "", " ", "x", "no", "1e400", "nan", ".inf", "-0", "0x10", "1:30", "5 mm", "1e300 mm",
    "shop", "north", "\u202e", "\x1b[31m", "\x00", "\ud800", "é" * 300, "9" * 5000, "north|south", "a=b", [], {}, [[]], [{}], {"": ""}, {"x": "y"}, ["x"] * 50,
]  # fmt: skip


def mutant(rng, reader):
    """Return an altered file of *reader*'s kind, altered one to four times."""
    content = rng.choice(reader.whole)
    if reader.tree and rng.random() < 0.5:
        content = _tree(rng, content, reader.tree)
    for _ in range(rng.choice((0, 1, 1, 2, 3)) if reader.tree else rng.choice((1, 1, 2, 4))):
        content = rng.choice(_WAYS)(rng, content, reader)
    return content


def _flip(rng, content, _):
    if not content:
        return b"\0"
    at = rng.randrange(len(content))
    return content[:at] + bytes([content[at] ^ 1 << rng.randrange(8)]) + content[at + 1 :]


def _any_byte(rng, content, _):
    at = rng.randrange(len(content) + 1)
    return content[:at] + bytes([rng.randrange(256)]) + content[at + 1 :]


def _without(rng, content, _):
    at = rng.randrange(len(content) + 1)
    return content[:at] + content[at + rng.choice((1, 2, 4, 16, 64)) :]


def _cut(rng, content, _):
    return content[: rng.randrange(len(content) + 1)]


def _again(rng, content, _):
    at = rng.randrange(len(content) + 1)
    part = content[at : at + rng.choice((1, 4, 20, 100))]
    return content[:at] + part * rng.choice((2, 3, 50)) + content[at:]


def _spliced(rng, content, reader):
    other = rng.choice(reader.whole)
    return content[: rng.randrange(len(content) + 1)] + other[rng.randrange(len(other) + 1) :]


def _word(rng, content, reader):
    at = rng.randrange(len(content) + 1)
    over = rng.choice((0, 0, 1, 3, 10))
    word = rng.choice(reader.words) if reader.words else rng.randbytes(4)
    return content[:at] + word + content[at + over :]


def _lines(rng, content, _):
    lines = content.splitlines(keepends=True)
    rng.shuffle(lines)
    return (
        b"".join(lines[: rng.randrange(len(lines) + 1)])
        if rng.random() < 0.3
        else _swapped(rng, content)
    )


def _swapped(rng, content):
    lines = content.splitlines(keepends=True)
    if len(lines) > 1:
        one, other = rng.sample(range(len(lines)), 2)
        lines[one], lines[other] = lines[other], lines[one]
    return b"".join(lines)


_WAYS = (_flip, _any_byte, _without, _cut, _again, _spliced, _word, _word, _word, _lines)


def _tree(rng, content, kind):
    """Return a file with parts of its tree exchanged for others, moved, or gone."""
    if kind == "jsonl":
        lines = content.splitlines()
        at = rng.randrange(len(lines))
        lines[at] = _tree(rng, lines[at], "json").replace(b"\n", b" ")
        return b"\n".join(lines) + b"\n"
    data = yaml.load(content, yaml.CSafeLoader) if kind == "yaml" else json.loads(content)
    for _ in range(rng.choice((1, 1, 2, 5))):
        at = places(data)
        if at:
            data = _altered(rng, data, rng.choice(at))
    try:
        if kind == "yaml":
            return yaml.safe_dump(data, sort_keys=False, allow_unicode=True).encode()
        return rfc8785.dumps(data) if kind == "canonical" else json.dumps(data).encode()
    except (ValueError, yaml.YAMLError, rfc8785.CanonicalizationError):
        return json.dumps(data).encode("utf-8", "surrogatepass")


def _altered(rng, data, at):
    way = rng.randrange(4)
    if way == 0:
        return replaced(data, at, rng.choice(ODD))
    if way == 1:  # a part from elsewhere
        other = rng.choice(places(data))
        return replaced(data, at, _value(data, other))
    above = _value(data, at[:-1])
    if isinstance(above, dict):
        if way == 2:
            kept = {key: value for key, value in above.items() if key != at[-1]}
        else:
            name = rng.choice(["x", "", "given", "p", str(at[-1]) + "\u0430", "\x1b[2J", "north"])
            kept = {**above, name: above[at[-1]]}
    else:
        kept = [*above[: at[-1]], *above[at[-1] + 1 :]] if way == 2 else [*above, above[at[-1]]]
    return replaced(data, at[:-1], kept)


def _value(data, at):
    for step in at:
        data = data[step]
    return data
