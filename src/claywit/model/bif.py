"""The Bayesian network interchange format BIF 0.15, read strictly and written plainly.

Source of the format: Cozman, "The Interchange Format for Bayesian Networks" (1998, from
memory). `table` lists the node's own states slowest; a row `(parents) shares` is plainer,
and is what is written.
"""

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence

from claywit.errors import ModelError, did_you_mean
from claywit.model.discrete import MOST, Discrete, Shares, Variable, configurations, in_rows
from claywit.model.tokens import Token, Tokens

_TOKEN = re.compile(
    r'(?P<space>\s+|//[^\n]*|/\*.*?\*/)|"(?P<quoted>[^"\n]*)"|(?P<mark>[{}()\[\]|,;])'
    r'|(?P<word>(?:(?!//|/\*)[^\s{}()\[\]|,;"])+)',
    re.DOTALL,
)
States = dict[str, tuple[str, ...]]


def read_bif(text: str, name: str) -> Discrete:
    """Return the network that *text* states; *name* is what messages call the file.

    Raises:
        ModelError: anything is cut off, stands twice, is missing, or does not add up in
            number; with the line.
    """
    tokens = Tokens(name, _tokens(text, name))
    tokens.expect("network")
    title = tokens.take("the name of the network")
    tokens.expect("{")
    _properties(tokens)
    tokens.expect("}")
    states: States = {}
    found: dict[str, Variable] = {}
    while not tokens.ended():
        if tokens.skip("variable"):
            _variable(tokens, states)
        else:
            tokens.expect("probability")
            node = _probability(tokens, states)
            if node.name in found:
                tokens.refuse(f"a second table for {node.name}; keep one")
            found[node.name] = node
    missing = [node for node in states if node not in found]
    if missing or not found:
        raise ModelError(f"{name}: no table for {missing[0] if missing else 'any node'}; cut off?")
    return Discrete(title, tuple(found[node] for node in states))


def _tokens(text: str, name: str) -> Iterator[Token]:
    at, line = 0, 1
    while at < len(text):
        found = _TOKEN.match(text, at)
        if not found:
            what = "a comment or quote that never ends" if text[at] in '/"' else "a stray character"
            raise ModelError(f"{name}:{line}: {what}")
        if found.lastgroup != "space":
            yield Token(found[found.lastgroup or 0], line, quoted=found.lastgroup == "quoted")
        line += text.count("\n", at, found.end())
        at = found.end()


def _properties(tokens: Tokens) -> None:
    while tokens.skip("property"):
        while not tokens.skip(";"):
            if tokens.take("';'") in ("{", "}"):
                tokens.refuse("a brace within a property; end it with ';'")


def _variable(tokens: Tokens, states: States) -> None:
    node = tokens.take("the name of a variable")
    if node in states:
        tokens.refuse(f"variable {node} stands twice")
    tokens.expect("{")
    _properties(tokens)
    tokens.expect("type")
    tokens.expect("discrete")
    tokens.expect("[")
    count = tokens.count("a number of states")
    tokens.expect("]")
    names = _listed(tokens, "{", "}")
    tokens.expect(";")
    _properties(tokens)
    tokens.expect("}")
    if len(names) != count:
        tokens.refuse(f"variable {node}: {count} states announced, {len(names)} listed")
    if len(set(names)) < count:
        tokens.refuse(f"variable {node}: a state stands twice among {', '.join(names)}")
    states[node] = names


def _listed(tokens: Tokens, opening: str, closing: str) -> tuple[str, ...]:
    tokens.expect(opening)
    names = []
    while not tokens.skip(closing):
        names.append(tokens.take(f"a name or '{closing}'"))
        tokens.skip(",")
    return tuple(names)


def _probability(tokens: Tokens, states: States) -> Variable:
    tokens.expect("(")
    node = tokens.take("the name of a variable")
    tokens.skip("|")
    parents = []
    while not tokens.skip(")"):
        parents.append(tokens.take("the name of a parent or ')'"))
        tokens.skip(",")
    for name in (node, *parents):
        if name not in states:
            tokens.refuse(f"no variable {name} before its table; {did_you_mean(name, states)}")
    width, height = len(states[node]), configurations(states, parents)
    if width * height > MOST:
        tokens.refuse(f"{node}: {width * height:,} numbers; at most {MOST:,} are read")
    tokens.expect("{")
    _properties(tokens)
    if tokens.skip("table"):
        numbers = _numbers(tokens, node, width * height)
        columns = in_rows(numbers, height)  # one line for each state of the node itself
        shares = tuple(zip(*columns, strict=True))
    else:
        shares = _by_row(tokens, node, parents, states)
    _properties(tokens)
    tokens.expect("}")
    return Variable(node, states[node], tuple(parents), shares)


def _numbers(tokens: Tokens, node: str, count: int) -> list[float]:
    numbers = []
    while not tokens.skip(";"):
        numbers.append(tokens.share())
        tokens.skip(",")
    if len(numbers) != count:
        tokens.refuse(f"{node}: {len(numbers)} numbers, expected {count}")
    return numbers


def _by_row(
    tokens: Tokens, node: str, parents: Sequence[str], states: Mapping[str, tuple[str, ...]]
) -> tuple[Shares, ...]:
    width = len(states[node])
    rows: dict[tuple[str, ...], Shares] = {}
    default: Shares | None = None
    while tokens.sees("(") or tokens.sees("default"):
        if tokens.skip("default"):
            if default is not None:
                tokens.refuse(f"{node}: a second default")
            default = tuple(_numbers(tokens, node, width))
            continue
        held = _listed(tokens, "(", ")")
        said = f"{node}, given {', '.join(held)}"
        if len(held) != len(parents):
            tokens.refuse(f"{said}: {len(held)} states for {len(parents)} parents")
        for parent, state in zip(parents, held, strict=True):
            if state not in states[parent]:
                hint = did_you_mean(state, states[parent])
                tokens.refuse(f"{said}: {parent} has no state {state}; {hint}")
        if held in rows:
            tokens.refuse(f"{said}: a second row")
        rows[held] = tuple(_numbers(tokens, node, width))
    every = itertools.product(*(states[parent] for parent in parents))
    return tuple(_row(tokens, node, held, rows.get(held, default)) for held in every)


def _row(tokens: Tokens, node: str, held: tuple[str, ...], row: Shares | None) -> Shares:
    if row is None:
        tokens.refuse(f"{node}: no row for {', '.join(held) or 'it'}")
    return row


def write_bif(network: Discrete) -> str:
    """Return *network* as a BIF file; every number as its shortest exact decimal."""
    states = {node.name: node.states for node in network.variables}
    parts = [f"network {network.name} {{\n}}\n"]
    for node in network.variables:
        listed = f"[ {len(node.states)} ] {{ {', '.join(node.states)} }}"
        parts.append(f"variable {node.name} {{\n  type discrete {listed};\n}}\n")
    for node in network.variables:
        if node.parents:
            head = f"{node.name} | {', '.join(node.parents)}"
            every = itertools.product(*(states[parent] for parent in node.parents))
            rows = zip(every, node.shares, strict=True)
            lines = [f"  ({', '.join(held)}) {_shown(row)};\n" for held, row in rows]
        else:
            head, lines = node.name, [f"  table {_shown(node.shares[0])};\n"]
        parts.append(f"probability ( {head} ) {{\n{''.join(lines)}}}\n")
    return "".join(parts)


def _shown(row: Shares) -> str:
    return ", ".join(map(repr, row))
