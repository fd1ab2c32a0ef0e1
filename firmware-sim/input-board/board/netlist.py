"""The netlist, written by SKiDL after its own electrical rule check.

SKiDL's part libraries, settings and reports go to a folder that is thrown away; it asks for no
network and no other program. Of its netlist (the s-expression form that layout programs import)
only what the circuit determines is kept: no date, no random tag, no place in a source file.
"""

import contextlib
import importlib
import io
import logging
import os
import re
import tempfile

from board.circuit import GND, NO_CONNECTION, V5, Part

_VOLATILE = (
    re.compile(r'\n *\((tool|tstamps|source) ?"[^"]*"\)'),
    re.compile(r'\n *\(date ?("[^"]*")?\)'),
    re.compile(r'\n *\(field\s+\(name "SKiDL [A-Za-z]+"\) "[^"]*"\)'),
    re.compile(r'\n *\(comment\s+\(number "\d"\)\s+\(value ""\)\)'),
    re.compile(r'\n *\(field\s+\(name "(Description|Datasheet)"\)\)'),
)
# SKiDL wants no tag on the top of the circuit, and warns that it has none.
_OF_ITSELF = "Missing tag on  instantiated"
# Nets that are fed through a terminal or a lead, where no part says so.
_FED = (GND, V5, "PC_GND", "PC_5V")


class _Kept(logging.Handler):
    """Keeps what is logged as a warning or worse."""

    def __init__(self):
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record):
        self.said.append(record.getMessage().strip())


@contextlib.contextmanager
def _apart():
    """SKiDL in a working folder of its own; gives it and what it warns of from then on."""
    before = os.getcwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        kept = _Kept()
        try:
            # While it starts it looks for the libraries of layout programs; none is needed.
            with contextlib.redirect_stderr(io.StringIO()):
                skidl = importlib.import_module("skidl")
            loggers = (skidl.logger.rt_logger, skidl.logger.erc_logger)
            for logger in loggers:
                logger.handlers = [kept]
            yield skidl, kept.said
        finally:
            os.chdir(before)


def _fill(skidl, parts: list[Part]):
    """The circuit as SKiDL's objects."""
    made = skidl.Circuit()
    nets = {}
    for part in parts:
        pins = [
            skidl.Pin(num=number, name=name, func=getattr(skidl.Pin.types, sort))
            for number, name, sort in part.kind.legs
        ]
        one = skidl.Part(
            name=part.kind.value,
            ref=part.ref,
            value=part.kind.value,
            tool=skidl.SKIDL,
            footprint=part.kind.package,
            pins=pins,
            circuit=made,
            tag=part.ref,
        )
        for leg, name in part.nets.items():
            if name == NO_CONNECTION:
                made.NC += one[leg]
                continue
            if name not in nets:
                nets[name] = skidl.Net(name, circuit=made)
            nets[name] += one[leg]
    for name in _FED:
        if name in nets:
            nets[name].drive = skidl.POWER
    return made


def check_and_write(parts: list[Part]) -> tuple[str, list[str]]:
    """The netlist's text, and every error and warning of the rule check."""
    with _apart() as (skidl, said):
        made = _fill(skidl, parts)
        made.ERC()
        text = made.generate_netlist(tool=skidl.KICAD8, file_="board.net")
    for pattern in _VOLATILE:
        text = pattern.sub("", text)
    return text.rstrip() + "\n", [line for line in said if not line.startswith(_OF_ITSELF)]
