"""Reads a netlist back: what a layout program would make of it."""

import re

_NET = re.compile(r'\(net\s+\(code \d+\)\s+\(name "([^"]+)"\)(.*?)(?=\(net\s+\(code|\Z)', re.S)
_NODE = re.compile(r'\(node\s+\(ref "([^"]+)"\)\s+\(pin "([^"]+)"\)')


def nets_of(text: str) -> dict[str, set[tuple[str, str]]]:
    """The legs (part, leg) on each net of a netlist's text."""
    return {name: set(_NODE.findall(body)) for name, body in _NET.findall(text)}
