"""The XML form of the interchange format, XMLBIF 0.3, read strictly and without entities.

Source of the format: Cozman, "The Interchange Format for Bayesian Networks" (1998, from
memory). A table lists the node's own states fastest, then those of the last GIVEN.
"""

from collections.abc import Mapping
from typing import NoReturn
from xml.parsers import expat
from xml.sax.saxutils import escape

from claywit.errors import ModelError, did_you_mean
from claywit.model.discrete import Discrete, Variable, configurations, in_rows
from claywit.model.tokens import probability

_ALLOWED = {
    "": ("BIF",),
    "BIF": ("NETWORK",),
    "NETWORK": ("NAME", "PROPERTY", "VARIABLE", "DEFINITION"),
    "VARIABLE": ("NAME", "OUTCOME", "PROPERTY"),
    "DEFINITION": ("FOR", "GIVEN", "TABLE", "PROPERTY"),
}
_ONCE = {"BIF", "NETWORK", "NAME", "FOR", "TABLE"}  # within one parent


class _Element:
    """An element: its name, its line, the text and the elements within it."""

    def __init__(self, name: str, line: int) -> None:
        self.name = name
        self.line = line
        self.within: list[_Element] = []
        self.text = ""

    def all(self, name: str) -> list["_Element"]:
        return [element for element in self.within if element.name == name]

    def texts(self, name: str) -> tuple[str, ...]:
        return tuple(element.text.strip() for element in self.all(name))


class _Reader:
    """Builds the tree of one file, and refuses all that the format does not have."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.root = _Element("", 1)
        self.open = [self.root]
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True  # else each line of a table is a text of its own
        self.parser.buffer_size = 2**20
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.StartDoctypeDeclHandler = self.doctype
        self.parser.EntityDeclHandler = self.entity

    def refuse(self, text: str, line: int | None = None) -> NoReturn:
        at = self.parser.CurrentLineNumber if line is None else line
        raise ModelError(f"{self.name}:{at}: {text}")

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        above = self.open[-1]
        allowed = _ALLOWED.get(above.name, ())
        if name not in allowed:
            known = ", ".join(allowed) or "text only"
            self.refuse(f"<{name[:60]}> within <{above.name}>; expected {known}")
        if name in _ONCE and above.all(name):
            self.refuse(f"a second <{name}> within <{above.name}>")
        if name == "VARIABLE" and attributes.get("TYPE", "nature") != "nature":
            self.refuse(f"a variable of type {attributes['TYPE'][:60]}; only nature is read")
        element = _Element(name, self.parser.CurrentLineNumber)
        above.within.append(element)
        self.open.append(element)

    def end(self, _name: str) -> None:
        element = self.open.pop()
        if element.name in _ALLOWED and element.text.strip():
            self.refuse(f"stray text within <{element.name}>: '{element.text.strip()[:60]}'")

    def characters(self, text: str) -> None:
        self.open[-1].text += text

    def doctype(self, _name: str, system: str | None, public: str | None, _inside: int) -> None:
        if system or public:
            self.refuse("a document type from elsewhere; nothing outside the file is read")

    def entity(self, name: str, *_rest: object) -> None:
        self.refuse(f"entity {name[:60]}; entities are not read, write the text out")


def read_xmlbif(text: str, name: str) -> Discrete:
    """Return the network that *text* states; *name* is what messages call the file.

    Raises:
        ModelError: it is not whole XML, declares entities, or has other elements than the
            format; anything stands twice, is missing, or does not add up in number.
    """
    reader = _Reader(name)
    try:
        reader.parser.Parse(text, True)
    except expat.ExpatError as wrong:
        what = expat.errors.messages[wrong.code]
        raise ModelError(f"{name}:{wrong.lineno}: not whole XML: {what}") from None
    network = reader.root.all("BIF")[0].all("NETWORK")
    if not network:
        reader.refuse("no <NETWORK>")
    states: dict[str, tuple[str, ...]] = {}
    for element in network[0].all("VARIABLE"):
        node = _one(reader, element, "NAME")
        if node in states:
            reader.refuse(f"variable {node} stands twice", element.line)
        states[node] = element.texts("OUTCOME")
    found: dict[str, Variable] = {}
    for element in network[0].all("DEFINITION"):
        variable = _definition(reader, element, states)
        if variable.name in found:
            reader.refuse(f"a second table for {variable.name}; keep one", element.line)
        found[variable.name] = variable
    missing = [node for node in states if node not in found]
    if missing or not found:
        reader.refuse(f"no <DEFINITION> for {missing[0] if missing else 'any variable'}")
    title = "".join(network[0].texts("NAME"))
    return Discrete(title, tuple(found[node] for node in states))


def _one(reader: _Reader, element: _Element, name: str) -> str:
    texts = element.texts(name)
    if not texts or not texts[0]:
        reader.refuse(f"<{element.name}> without <{name}>", element.line)
    return texts[0]


def _definition(
    reader: _Reader, element: _Element, states: Mapping[str, tuple[str, ...]]
) -> Variable:
    node, parents = _one(reader, element, "FOR"), element.texts("GIVEN")
    for name in (node, *parents):
        if name not in states:
            reader.refuse(f"no variable {name}; {did_you_mean(name, states)}", element.line)
    words = _one(reader, element, "TABLE").split()
    size = configurations(states, parents) * len(states[node])
    if len(words) != size:
        reader.refuse(f"{node}: {len(words)} numbers, expected {size}", element.line)
    numbers = [probability(word) for word in words]
    for word, number in zip(words, numbers, strict=True):
        if number is None:
            text = f"{node}: '{word[:60]}' is no probability, a number from 0 to 1"
            reader.refuse(text, element.line)
    shares = in_rows([number or 0.0 for number in numbers], len(states[node]))
    return Variable(node, states[node], parents, shares)


def write_xmlbif(network: Discrete) -> str:
    """Return *network* as an XMLBIF file; every number as its shortest exact decimal."""
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>\n<BIF VERSION="0.3">\n<NETWORK>\n',
        f"<NAME>{escape(network.name)}</NAME>\n",
    ]
    for node in network.variables:
        outcomes = "".join(f"  <OUTCOME>{escape(state)}</OUTCOME>\n" for state in node.states)
        name = f"  <NAME>{escape(node.name)}</NAME>\n"
        parts.append(f'<VARIABLE TYPE="nature">\n{name}{outcomes}</VARIABLE>\n')
    for node in network.variables:
        given = "".join(f"  <GIVEN>{escape(parent)}</GIVEN>\n" for parent in node.parents)
        rows = "\n".join(f"    {' '.join(map(repr, row))}" for row in node.shares)
        table = f"  <TABLE>\n{rows}\n  </TABLE>\n"
        name = f"  <FOR>{escape(node.name)}</FOR>\n"
        parts.append(f"<DEFINITION>\n{name}{given}{table}</DEFINITION>\n")
    return "".join([*parts, "</NETWORK>\n</BIF>\n"])
