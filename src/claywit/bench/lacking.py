"""What a certificate of a piece still lacks, in the words of the pages."""

import re

from claywit.model.schema import Model

_QUOTED = re.compile("`([^`]*)`")
_OPTION = re.compile(r" \(--[^)]*\)")  # what only a command line understands


def lack_said(model: Model, lack: str) -> tuple[str, str]:
    """Return what is missing as the page names it, and what is meant by it."""
    name, _, what = lack.partition(": ")
    if name.startswith("findings."):
        node, _, measure = name.removeprefix("findings.").partition(".")
        label = model.node(node).title
        named = f"{label}, {measure}" if measure else label
        return named, "its standard uncertainty, the ± beside the value"
    shown = name.removeprefix("engagement.").replace("_", " ").replace(".", ", ")
    return shown[:1].upper() + shown[1:], _QUOTED.sub(r"“\1”", _OPTION.sub("", what))
