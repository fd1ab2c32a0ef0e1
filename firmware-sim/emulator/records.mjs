// The records of the bench's line, as the package `trundle-bench` describes them.

export const START_BYTES = 21;
export const TIMED_BYTES = 11;

/** What happens, by its code. */
export const CODES = [
  "run to", "wheel", "radar", "pto", "button", "gate", "pps", "out of work", "in work", "account",
  "usb out", "usb in", "port closed", "port open", "power", "reset pin", "hang",
  "bridge nothing", "bridge wheel", "bridge radar", "bridge pto", "bridge button", "bridge gate",
  "bridge pps", "bridge working", "told",
];

const check = (bytes) => bytes.reduce((sum, byte) => (sum << 1 | sum >> 7) & 0xff ^ byte, 0x5a);

function sealed(bytes) {
  if (check(bytes.subarray(0, -1)) !== bytes.at(-1)) throw new Error("a damaged record");
  return bytes;
}

/** The first record. */
export function start(bytes) {
  sealed(bytes);
  return {
    uniqueId: bytes.readBigUInt64LE(0),
    timerStart: bytes.readUInt32LE(8),
    supplyMv: bytes.readUInt16LE(12),
    pulseNanos: bytes.readUInt32LE(14),
    dropEvery: bytes.readUInt16LE(18),
  };
}

/** A stimulus and its time. */
export function timed(bytes) {
  sealed(bytes);
  if (bytes[8] >= CODES.length) throw new Error(`an unknown stimulus, ${bytes[8]}`);
  return { nanos: Number(bytes.readBigUInt64LE(0)), what: CODES[bytes[8]], number: bytes[9] };
}

/** What the image needed so far: numbers of eight bytes and a check. */
export function account(numbers) {
  const bytes = Buffer.alloc(8 * numbers.length + 1);
  numbers.forEach((number, n) => bytes.writeBigUInt64LE(BigInt(Math.floor(number)), 8 * n));
  bytes[8 * numbers.length] = check(bytes.subarray(0, -1));
  return bytes;
}
