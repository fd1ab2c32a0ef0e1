"""Our readers of the bus against others, frame by frame: bus.py BUS-FRAMES.

python-can's slcan bus reads the lines of an adapter on a pseudo-terminal, its recordings are read
and written in can-utils' form; cantools decodes by a DBC file of our own, from the table of ISO
11783-7; can-j1939 takes identifiers apart.
"""

import io
import os
import pty
import random
import subprocess
import sys
import tempfile
import threading
import tty

import can
import cantools
import j1939

FRAMES = 100_000
ON_THE_LINE = 20_000
SEED = 86
GROUPS = {0xFE48: "Wheel", 0xFE49: "Ground", 0xF022: "Selected", 0xFE43: "RearShaft"}
LAST_16, LAST_32 = 0xFAFF, 0xFAFF_FFFF
SOURCES = {0: "Some(Wheel)", 1: "Some(Ground)", 2: "Some(Navigation)", 3: "Some(Blended)",
           4: "Some(Simulated)", 5: "Some(Reserved(5))", 6: "None", 7: "None"}
DIRECTIONS = {0: "Some(Reverse)", 1: "Some(Forward)", 2: "None", 3: "None"}

# Start bit, length, little endian, unsigned, factor: ISO 11783-7, bytes counted from 1 there.
SPEED_SIGNALS = """ SG_ Speed : 0|16@1+ (0.001,0) [0|64.255] "m/s" X
 SG_ Distance : 16|32@1+ (0.001,0) [0|4211081.215] "m" X
 SG_ Direction : 56|2@1+ (1,0) [0|3] "" X
"""
DBC = f"""VERSION ""
NS_ :
BS_:
BU_: X
BO_ {0x80000000 | 0x18FE48F0} Wheel: 8 X
{SPEED_SIGNALS}
BO_ {0x80000000 | 0x18FE49F0} Ground: 8 X
{SPEED_SIGNALS}
BO_ {0x80000000 | 0x0CF022F0} Selected: 8 X
{SPEED_SIGNALS} SG_ Source : 58|3@1+ (1,0) [0|7] "" X

BO_ {0x80000000 | 0x18FE43F0} RearShaft: 8 X
 SG_ Shaft : 0|16@1+ (0.125,0) [0|8031.875] "rpm" X
 SG_ SetPoint : 16|16@1+ (0.125,0) [0|8031.875] "rpm" X
"""


def ours(program, what, data):
    """What our reader makes of bytes, a line each."""
    done = subprocess.run([program, what], input=data, capture_output=True, check=True)
    return done.stdout.decode().splitlines()


def words(message):
    """A frame in the words of bus-frames."""
    bits = 29 if message.is_extended_id else 11
    if message.is_remote_frame:
        return f"{message.arbitration_id:x} {bits} remote{message.dlc}"
    return f"{message.arbitration_id:x} {bits} {bytes(message.data).hex()}".rstrip()


def any_message(rng, remote=True):
    extended = rng.random() < 0.7
    raw = rng.getrandbits(29 if extended else 11)
    length = rng.randrange(9)
    if remote and rng.random() < 0.1:
        return can.Message(arbitration_id=raw, is_extended_id=extended, is_remote_frame=True,
                           dlc=length)
    return can.Message(arbitration_id=raw, is_extended_id=extended, data=rng.randbytes(length))


def line_of(message, rng):
    """As an adapter sends it, in either case of digits."""
    kind = {(True, False): "T", (True, True): "R", (False, False): "t", (False, True): "r"}[
        message.is_extended_id, message.is_remote_frame]
    digits = f"{message.arbitration_id:0{8 if message.is_extended_id else 3}X}{message.dlc}"
    digits += "" if message.is_remote_frame else bytes(message.data).hex().upper()
    return kind + (digits.lower() if rng.random() < 0.3 else digits) + "\r"


def check(what, a, b):
    for number, (one, other) in enumerate(zip(a, b)):
        if one.rstrip() != other.rstrip():
            sys.exit(f"{what}: frame {number}: {one!r} and {other!r}")
    if len(a) != len(b):
        sys.exit(f"{what}: {len(a)} and {len(b)} frames")
    print(f"{what}: {len(a)} frames, the same in all")


def adapter(program, rng):
    """A second reader of an adapter's lines."""
    sent = [any_message(rng) for _ in range(ON_THE_LINE)]
    text = "".join(line_of(message, rng) for message in sent).encode()
    master, slave = pty.openpty()
    tty.setraw(slave)
    bus = can.Bus(interface="slcan", channel=os.ttyname(slave), bitrate=250_000, listen_only=True,
                  sleep_after_open=0)

    def write():
        at = 0
        while at < len(text):
            at += os.write(master, text[at:at + rng.randrange(1, 200)])

    writer = threading.Thread(target=write)
    writer.start()
    read = []
    while len(read) < len(sent):
        message = bus.recv(timeout=30)
        if message is None:
            sys.exit(f"python-can read {len(read)} of {len(sent)} frames")
        read.append(words(message))
    writer.join()
    told = os.read(master, 4096).decode().split("\r")
    if "L" not in told or not set(told) <= {"C", "S5", "L", "O", "Y0", ""}:
        sys.exit(f"python-can set the adapter up with {told}")
    check("adapter, python-can", ours(program, "adapter", text), read)
    bus.shutdown()


def recordings(program, rng, folder):
    """Recordings: python-can's read by ours, ours read by python-can."""
    path = os.path.join(folder, "bus.log")
    time_s = 1_700_000_000.0
    with can.CanutilsLogWriter(path, channel="can0") as writer:
        for _ in range(FRAMES):
            time_s += rng.random() * 0.01
            message = any_message(rng)
            message.timestamp = time_s
            writer(message)
    with open(path, "rb") as file:
        text = file.read()
    theirs = list(can.CanutilsLogReader(path))
    expected = [f"{round(message.timestamp * 1e6)} can0 {words(message)}" for message in theirs]
    check("recording, python-can's", ours(program, "log", text), expected)
    again = subprocess.run([program, "rewrite"], input=text, capture_output=True, check=True)
    read = list(can.CanutilsLogReader(io.StringIO(again.stdout.decode())))
    expected = [f"{round(message.timestamp * 1e6)} can0 {words(message)}" for message in theirs]
    check("recording, ours read by python-can",
          [f"{round(message.timestamp * 1e6)} can0 {words(message)}" for message in read], expected)


def value(raw, last, scaled):
    return f"{scaled:.3f}" if raw <= last else "-"


def decoded(database, raw_id, data):
    """What cantools says, in the words of bus-frames."""
    group = raw_id >> 8 & 0x3FFFF
    source, name = raw_id & 0xFF, GROUPS[group]
    message = database.get_message_by_name(name)
    raw = message.decode(data, scaling=False, decode_choices=False)
    scaled = message.decode(data, decode_choices=False)
    if name == "RearShaft":
        shaft = value(raw["Shaft"], LAST_16, scaled["Shaft"])
        return f"{source} RearShaft {shaft} {value(raw['SetPoint'], LAST_16, scaled['SetPoint'])}"
    selected = SOURCES[raw["Source"]] if name == "Selected" else "None"
    return " ".join([str(source), name, value(raw["Speed"], LAST_16, scaled["Speed"]),
                     value(raw["Distance"], LAST_32, scaled["Distance"]),
                     DIRECTIONS[raw["Direction"]], selected])


def messages(program, rng):
    """A second decoder of the messages."""
    database = cantools.database.load_string(DBC, database_format="dbc")
    lines, expected = [], []
    for _ in range(FRAMES):
        group = rng.choice(list(GROUPS))
        raw_id = rng.getrandbits(3) << 26 | group << 8 | rng.getrandbits(8)
        data = bytearray(rng.randbytes(8))
        if rng.random() < 0.2:
            data[1] = rng.choice([0xFA, 0xFB, 0xFE, 0xFF])
            data[5] = rng.choice([0xFA, 0xFB, 0xFE, 0xFF])
        lines.append(f"(1.000000) can0 {raw_id:08X}#{data.hex()}\n")
        expected.append(decoded(database, raw_id, bytes(data)))
    check("messages, cantools", ours(program, "decode", "".join(lines).encode()), expected)


def identifiers(program, rng):
    """A second splitting of identifiers."""
    ids = [rng.getrandbits(29) for _ in range(FRAMES)]
    expected = []
    for raw in ids:
        message = j1939.MessageId(can_id=raw)
        group = j1939.ParameterGroupNumber()
        group.from_message_id(message)
        to_one = group.is_pdu1_format
        number = message.parameter_group_number & (0x3FF00 if to_one else 0x3FFFF)
        destination = group.pdu_specific if to_one else "-"
        expected.append(f"{message.priority} {number} {destination} {message.source_address}")
    text = "".join(f"{raw:08x}\n" for raw in ids).encode()
    check("identifiers, can-j1939", ours(program, "split", text), expected)


def main():
    program = sys.argv[1]
    rng = random.Random(SEED)
    print(f"seed {SEED}")
    identifiers(program, rng)
    messages(program, rng)
    with tempfile.TemporaryDirectory() as folder:
        recordings(program, rng, folder)
    adapter(program, rng)


if __name__ == "__main__":
    main()
