"""The pictures of the building guide that show hands at work, all drawn here."""

from board.circuit import Part
from board.layout import Layout
from draw.pictures_tractor import ground_loop, in_the_box, measure
from draw.svg import Svg


def _pico(s: Svg, x: float, y: float, marks: bool = True):
    """A Pico lying flat, its USB socket to the left."""
    s.rect(x, y, 60, 25, fill="white", line=0.6, round_mm=1)
    s.rect(x - 2, y + 8.5, 8, 8, fill="#cccccc")
    s.rect(x + 24, y + 9, 8, 8, fill="#eeeeee")
    for i in range(20):
        for row in (2.0, 23.0):
            s.circle(x + 5 + i * 2.7, y + row, 0.6, fill="#bbbbbb", line=0.2)
    s.rect(x + 12, y + 5, 5, 5, fill="white")
    s.circle(x + 14.5, y + 7.5, 1.4, fill="#999999")
    if marks:
        s.text(x + 42, y + 14, "Pico", 3.4, "middle")


def load_file() -> str:
    """Hold the button, plug in, a drive appears, drag the file."""
    s = Svg(190, 118, "Putting the firmware file on")
    s.text(5, 8, "Putting the firmware file on", 4.2, bold=True)
    s.text(5, 20, "1", 8, bold=True)
    s.text(15, 19, "Hold the white button of the Pico down ...", 3.4)
    _pico(s, 22, 30)
    s.arrow((36.5, 25), (36.5, 34))
    s.text(5, 76, "2", 8, bold=True)
    s.lines(15, 70, ["... and plug the USB cable in.", "Let the button go after a second."], 3.4)
    s.rect(20, 82, 20, 10, fill="white")
    s.rect(40, 84, 8, 6, fill="#cccccc")
    s.line((5, 87), (20, 87), width=1.4)
    s.arrow((51, 87), (63, 87))
    s.rect(66, 78, 14, 18, fill="#eeeeee")
    s.text(73, 88.5, "Pico", 3, "middle")
    s.text(100, 20, "3", 8, bold=True)
    s.text(110, 19, "A drive appears on the computer.", 3.4)
    s.rect(110, 25, 72, 40, fill="white", line=0.6, round_mm=1)
    s.rect(110, 25, 72, 7, fill="#dddddd")
    s.text(113, 30, "files", 3)
    s.rect(116, 40, 24, 12, fill="#eeeeee", round_mm=1)
    s.text(128, 47.2, "RPI-RP2", 3.2, "middle")
    s.lines(146, 43, ["looks like", "a USB stick"], 3.0)
    s.text(100, 76, "4", 8, bold=True)
    s.text(110, 75, "Drag the firmware file onto it.", 3.4)
    s.rect(110, 83, 34, 12, fill="white")
    s.text(127, 90.2, "firmware .uf2", 3.2, "middle")
    s.arrow((146, 89), (156, 89))
    s.rect(158, 83, 24, 12, fill="#eeeeee", round_mm=1)
    s.text(170, 90.2, "RPI-RP2", 3.2, "middle")
    s.lines(
        110,
        103,
        ["The drive vanishes by itself: the board has", "started. Look for it with: trundle ports"],
        3.2,
    )
    return s.svg()


def test_pins(parts: list[Part], places: Layout) -> list[Part]:
    """The test pins in the order in which they stand on the board, from above."""
    pins = [part for part in parts if part.role == "test pin"]
    return sorted(pins, key=lambda part: places.legs[part.ref, "1"])


def bench(parts: list[Part], places: Layout) -> str:
    """The bridge from the test signal to each input in turn."""
    pins = test_pins(parts, places)
    s = Svg(190, 112, "Bench test: the bridge")
    s.text(5, 8, "Bench test: one wire from P1 to each input in turn", 4.2, bold=True)
    s.text(5, 15, "Nothing else is connected: no signal plug, no button. Only USB.", 3.4, bold=True)
    s.rect(5, 22, 118, 84, fill="white", line=0.6, round_mm=1)
    s.rect(12, 28, 30, 72, fill="#eeeeee", round_mm=1)
    s.text(28, 64, "Pico", 4, "middle", turn=-90)
    s.rect(22, 97, 10, 7, fill="#cccccc")
    s.text(27, 102, "USB", 2.8, "middle")
    first = (70, 33)
    for i, part in enumerate(pins):
        x, y = first if i == 0 else (70, 46 + (i - 1) * 8)
        s.rect(x - 1.8, y - 1.8, 3.6, 3.6, fill="black" if i == 0 else "white", line=0.8)
        name = part.nets["1"].removesuffix("_OUT")
        words = "test signal (GP15)" if i == 0 else name
        s.text(x + 5, y + 1.2, f"{part.ref}  {words}", 3.4, bold=i == 0)
    # The wheel's, which is asked for first, stands last.
    s.line((68, 33), (52, 33), (52, 94), (66, 94), width=1.2)
    for i in range(6):
        s.line((52, 46 + i * 8), (66, 46 + i * 8), width=0.5, dash="2 1.5")
    s.lines(
        130,
        30,
        [
            "Start on the computer:",
            "",
            "trundle check --bench",
            "",
            "It names one input after",
            "the other. Bridge P1 to it",
            "and leave it there until the",
            "next one is named (dashed).",
            "No key has to be pressed.",
            "",
            "WORK is called implement;",
            "PPS is not asked for.",
            "",
            "At the end: pass, or what",
            "failed and what to look at.",
        ],
        3.5,
    )
    return s.svg()


def hints() -> str:
    """Which way round: diodes, chips, cuts, standing diodes."""
    s = Svg(190, 92, "Which way round")
    s.text(5, 8, "Which way round", 4.2, bold=True)
    s.text(8, 20, "Diode: its ring is the line in the drawing", 3.3)
    s.line((10, 32), (50, 32), width=0.7)
    s.rect(20, 28.5, 20, 7, fill="white", round_mm=1)
    s.rect(34, 28.5, 2.4, 7, fill="black")
    s.text(52, 33, "K", 3.4, bold=True)
    s.text(100, 20, "Chip: notch or dot at leg 1", 3.3)
    s.rect(112, 30, 36, 14, fill="white", round_mm=0.6)
    s.circle(112, 37, 2.2, fill="#cccccc")
    for i in range(7):
        x = 115 + i * 5
        for y in (28, 44):
            s.rect(x - 1, y, 2, 2, fill="black")
    s.text(115, 51, "1", 3.4, "middle", bold=True)
    s.text(145, 51, "7", 3.4, "middle")
    s.text(115, 26.8, "14", 3.4, "middle")
    s.text(145, 26.8, "8", 3.4, "middle")
    s.text(8, 58, "Cut: no copper left, all the way through", 3.3)
    for y in (64, 71, 78):
        s.line((10, y), (66, y), width=4.2, colour="#cfcfcf")
        s.dots((14, y), (64, y), 7, size=1.6, colour="white")
    s.circle(35, 71, 3.1, fill="white", stroke="white")
    s.line((32, 68), (38, 74), width=0.8)
    s.line((32, 74), (38, 68), width=0.8)
    s.text(72, 72, "turn a 4 mm drill by hand", 3.0)
    s.text(118, 58, "Diode that stands (D72, D82)", 3.3)
    s.line((118, 84), (160, 84), width=1.6, colour="#999999")
    s.rect(128, 66, 6, 14, fill="white", round_mm=1)
    s.rect(128, 67.5, 6, 2, fill="black")
    s.line((131, 66), (131, 62.5), (138, 62.5), (138, 88), width=0.7)
    s.line((131, 80), (131, 88), width=0.7)
    s.lines(141, 68, ["stands in the hole", "of A; ring up; the", "long leg is K"], 3.0)
    return s.svg()


def all_pictures(parts: list[Part], places: Layout) -> dict[str, str]:
    """Every picture by the name of its file."""
    return {
        "load-file.svg": load_file(),
        "bench.svg": bench(parts, places),
        "which-way-round.svg": hints(),
        "measure.svg": measure(),
        "ground-loop.svg": ground_loop(),
        "in-the-box.svg": in_the_box(),
    }
