"""Writes all that is made of the description into a folder: `python make.py made`."""

import sys
from pathlib import Path

from board.circuit import circuit
from board.layout import layout
from board.netlist import check_and_write
from draw import lists, pictures, schematic, strip_board, wiring


def made() -> dict[str, str]:
    """The text of every file by its name."""
    parts, isolated, places = circuit(), circuit(isolated=True), layout()
    out = {}
    for name, some in (("input-board.net", parts), ("input-board-isolated.net", isolated)):
        out[name], warned = check_and_write(some)
        if warned:
            raise ValueError(f"{name}: {warned}")
    out["parts.csv"] = lists.as_csv(parts)
    out["parts.txt"] = lists.as_text(parts)
    out["parts.md"] = lists.as_markdown(parts, isolated[len(parts) :])
    out["build-list.md"] = lists.build_list(parts, places)
    out["board-parts.svg"] = strip_board.parts_side(parts, places)
    out["board-wires.svg"] = strip_board.wires_side(parts, places)
    out["board-copper.svg"] = strip_board.copper_side(places)
    out["wiring.svg"] = wiring.drawing(parts)
    return out | schematic.sheets(parts, isolated) | pictures.all_pictures(parts, places)


def main(folder: str):
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    for name, text in made().items():
        (target / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(sys.argv[1])
