// The harness itself: `node --test`.
import assert from "node:assert/strict";
import { test } from "node:test";
import { ConsoleLogger, LogLevel, RP2040 } from "rp2040js";
import { PioTime } from "./pio.mjs";
import { CODES, START_BYTES, account, start, timed } from "./records.mjs";
import { isWoken, repair } from "./repairs.mjs";
import { uf2 } from "./uf2.mjs";

const PIN = 2;
const GPIO_CTRL = 0x40014004 + 8 * PIN;
const PADS = 0x4001c004 + 4 * PIN;
const PIO_0 = 0x50200000;
const PULL = 0x80a0;
const X_NOT_TAKEN = 0xa02f;
/** Counts X down each second instruction; pushes its complement at a fall of the pin. */
const FALLS = [0x0041, 0x00c0, 0x0043, 0xa0c9, 0x0045, 0x8000, 0x0047, 0x00c0, 0x0047];
/** Lengths of levels, from a seed: some shorter than the machine can see. */
function lengths(seed, count) {
  let state = seed;
  const next = () => (state = Math.imul(state, 1664525) + 1013904223 >>> 0);
  return Array.from({ length: count }, () => 60 + (next() >>> 8) % (next() >>> 31 ? 900 : 200_000));
}

function quiet() {
  const mcu = new RP2040();
  mcu.logger = new ConsoleLogger(LogLevel.Error, false);
  return mcu;
}

/** What a machine that watches a pin hands over, and when; X begins shortly before it wraps. */
function watched(plain, levels, divider, x) {
  const mcu = quiet();
  const pushed = [];
  repair(mcu, { cycles: 0 });
  const pio = new PioTime(mcu, (slot, nanos, dropped) => pushed.push([nanos, dropped]), { plain });
  const set = (offset, value) => mcu.writeUint32(PIO_0 + offset, value);
  mcu.writeUint32(PADS, 0x40);
  mcu.writeUint32(GPIO_CTRL, 6);
  FALLS.forEach((word, n) => set(0x48 + 4 * n, word));
  set(0xc8, divider);
  set(0xcc, PIN << 24 | 8 << 12 | 7 << 7);
  set(0x10, ~x >>> 0);
  set(0xd8, PULL);
  set(0xd8, X_NOT_TAKEN);
  set(0xd8, 7);
  mcu.gpio[PIN].setInputValue(true);
  set(0x00, 1);
  const words = [];
  levels.forEach((length, n) => {
    mcu.clock.tick(length);
    pio.pinChanges(PIN);
    mcu.gpio[PIN].setInputValue(n % 2 === 1);
    // Not every word is taken at once, so that the FIFO is full now and then.
    if (n % 40 === 0) while (!(mcu.readUint32(PIO_0 + 4) >> 8 & 1)) {
      words.push(mcu.readUint32(PIO_0 + 0x20));
    }
  });
  return { pushed, words, flagged: mcu.readUint32(PIO_0 + 8) & 1 };
}

test("a machine that is moved on does what a stepped one does", () => {
  for (const [seed, divider] of [[1, 0x07d0_0000], [2, 0x003e_8000], [3, 0x0007_d000]]) {
    const levels = lengths(seed, 400);
    const [moved, stepped] = [false, true].map((plain) => watched(plain, levels, divider, 90));
    assert.deepEqual(moved, stepped);
    assert.ok(moved.pushed.length > 10, `${moved.pushed.length} falls were seen`);
  }
});

test("a full FIFO drops what comes, and says so", () => {
  const short = watched(false, lengths(4, 39).map((length) => length + 20_000), 0x0007_d000, 90);
  assert.ok(short.pushed.some(([, dropped]) => dropped));
  assert.equal(short.flagged, 1);
});

test("an interrupt ends the sleep while it is held back, and comes when it is let", () => {
  const mcu = quiet();
  const owed = { cycles: 0 };
  repair(mcu, owed);
  const { core } = mcu;
  const code = [0xb672, 0xbf30, 0xb662, 0x46c0, 0x46c0];
  code.forEach((word, n) => mcu.writeUint16(0x20000200 + 2 * n, word));
  mcu.writeUint32(0x20000000 + 4 * 23, 0x20000301);
  mcu.writeUint16(0x20000300, 0x4770);
  [core.VTOR, core.SP, core.PC] = [0x20000000, 0x20001000, 0x20000200];
  mcu.writeUint32(0xe000e100, 1 << 7);
  core.executeInstruction();
  core.executeInstruction();
  assert.ok(core.waiting && !isWoken(core));
  core.setInterrupt(7, true);
  core.setInterrupt(7, false);
  assert.ok(isWoken(core));
  core.waiting = false;
  core.executeInstruction();
  assert.equal(owed.cycles, 0);
  core.executeInstruction();
  assert.equal(core.IPSR, 0, "taken, and back again");
  assert.ok(owed.cycles > 0);
  assert.ok(!isWoken(core));
});

test("records are those of the package trundle-bench", () => {
  const edge = Buffer.from([1, 2, 3, 4, 5, 6, 7, 0, 2, 255, 0]);
  const seal = (bytes) => {
    bytes[bytes.length - 1] =
      bytes.subarray(0, -1).reduce((sum, byte) => (sum << 1 | sum >> 7) & 0xff ^ byte, 0x5a);
    return bytes;
  };
  assert.deepEqual(timed(seal(edge)), { nanos: 0x07060504030201, what: "radar", number: 255 });
  assert.equal(CODES.length, 26);
  edge[0] ^= 1;
  assert.throws(() => timed(edge), /damaged/);
  const given = Buffer.from(
    [8, 7, 6, 5, 4, 3, 2, 1, 0xf6, 255, 255, 255, 0x38, 0x31, 13, 12, 11, 10, 0xe8, 3, 0]);
  assert.equal(given.length, START_BYTES);
  assert.deepEqual(start(seal(given)), {
    uniqueId: 0x0102030405060708n, timerStart: 2 ** 32 - 10, supplyMv: 12600,
    pulseNanos: 0x0a0b0c0d, dropEvery: 1000,
  });
  assert.deepEqual([...account([1, 256]).subarray(0, 16)],
    [1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0]);
});

test("a file for the board has no gap in a sector, and nothing behind its end", () => {
  const flash = 0x10000000;
  const file = uf2([[flash, [1]], [flash + 0x1300, [2]], [flash + 0x5200, [3, 4]]]);
  const blocks = Array.from({ length: file.length / 512 }, (_, n) => file.subarray(512 * n));
  const addresses = blocks.map((block) => block.readUInt32LE(12) - flash);
  const sector = (from) => Array.from({ length: 16 }, (_, n) => from + 256 * n);
  assert.deepEqual(addresses, [...sector(0), ...sector(0x1000), 0x5000, 0x5100, 0x5200]);
  blocks.forEach((block, n) => {
    assert.equal(block.readUInt32LE(20), n);
    assert.equal(block.readUInt32LE(24), blocks.length);
  });
  const [gap, given] = [blocks[1], blocks.at(-1)].map((block) => [...block.subarray(32, 35)]);
  assert.deepEqual([gap, given], [[0xff, 0xff, 0xff], [3, 4, 0xff]]);
});
