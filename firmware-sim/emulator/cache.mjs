// What it costs to fetch from the flash. The emulator has it all in no time; the chip keeps 16 KiB
// of it in a cache, two ways of 8-byte lines (2.6.3 of its data sheet, from memory), and waits for
// the serial flash otherwise.
const LINE_BITS = 3;
const SETS = 1024;
/** Bits of command, address and line, at a quarter of the processor's clock (the loader's own). */
const MISS_CYCLES = 4 * (8 + 24 + 64);
/** Address bits 31 to 24 of the flash through the cache, and of its aliases past it. */
const CACHED = 0x10;
const PAST = [0x12, 0x13];

/** Charges every reading of the flash; that the older line goes first is a guess. */
export function chargeFlash(core, owed) {
  const newer = new Int32Array(SETS).fill(-1);
  const older = new Int32Array(SETS).fill(-1);
  let last = -1;
  const touch = (address) => {
    const line = address >>> LINE_BITS;
    if (line === last) return;
    const upper = address >>> 24;
    if (upper !== CACHED) {
      if (PAST.includes(upper)) owed.cycles += MISS_CYCLES;
      return;
    }
    last = line;
    const set = line & SETS - 1;
    if (newer[set] === line) return;
    if (older[set] !== line) owed.cycles += MISS_CYCLES;
    older[set] = newer[set];
    newer[set] = line;
  };
  for (const name of ["readUint32", "readUint16", "readUint8"]) {
    const read = core[name].bind(core);
    core[name] = (address) => {
      touch(address);
      return read(address);
    };
  }
}
