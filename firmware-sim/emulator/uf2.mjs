// Writes the file that is dragged onto the board: node uf2.mjs ELF UF2
//
// The format is the one of README.md of microsoft/uf2 ("File format", "Flags", "Payload sizes"):
// blocks of 512 bytes, each with 256 bytes of flash and its address, padded with 0xff.
import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { load } from "./elf.mjs";

const FLASH = 0x10000000;
const FLASH_END = 0x11000000;
const PAGE = 256;
const SECTOR = 4096;
const BLOCK = 512;
const START_MARKS = [0x0a324655, 0x9e5d5157];
const END_MARK = 0x0ab16f30;
/** A family of processors is given; which follows in the block's last word of the head. */
const HAS_FAMILY = 0x2000;
const RP2040 = 0xe48bff56;

/**
 * The boot ROM may not write what follows a sector that a file fills in part (erratum RP2040-E14,
 * as restated by who met it): gaps in a sector are filled, but nothing behind the last page.
 */
function fillSectors(pages) {
  const last = Math.max(...pages.keys());
  for (const touched of [...pages.keys()]) {
    const from = touched - touched % SECTOR;
    for (let page = from; page < from + SECTOR && page < last; page += PAGE) {
      if (!pages.has(page)) pages.set(page, Buffer.alloc(PAGE, 0xff));
    }
  }
}

/** Segments, `[address, bytes]`, as a file; what lies outside the flash is an error. */
export function uf2(segments) {
  const pages = new Map();
  for (const [address, bytes] of segments) {
    bytes.forEach((byte, n) => {
      const at = address + n;
      if (at < FLASH || at >= FLASH_END) throw new Error(`${at.toString(16)} is not in the flash`);
      const page = at - at % PAGE;
      if (!pages.has(page)) pages.set(page, Buffer.alloc(PAGE, 0xff));
      pages.get(page)[at % PAGE] = byte;
    });
  }
  fillSectors(pages);
  const sorted = [...pages].sort(([a], [b]) => a - b);
  return Buffer.concat(sorted.map(([address, bytes], number) => {
    const block = Buffer.alloc(BLOCK, 0xff);
    const head = [...START_MARKS, HAS_FAMILY, address, PAGE, number, sorted.length, RP2040];
    head.forEach((word, n) => block.writeUInt32LE(word, 4 * n));
    bytes.copy(block, 32);
    block.writeUInt32LE(END_MARK, BLOCK - 4);
    return block;
  }));
}

/** The second stage of a UF2 must end with its checksum, or the boot ROM does not run it. */
export function hasSecondStage(file) {
  const stage = file.subarray(32, 32 + PAGE);
  let sum = 0xffffffff;
  // CRC-32/MPEG-2 over the first 252 bytes (section 2.8.1.3.1, from memory).
  for (const byte of stage.subarray(0, PAGE - 4)) {
    sum ^= byte << 24;
    for (let bit = 0; bit < 8; bit++) sum = sum & 0x80000000 ? sum << 1 ^ 0x04c11db7 : sum << 1;
  }
  return file.readUInt32LE(12) === FLASH && sum >>> 0 === stage.readUInt32LE(PAGE - 4);
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const [elf, out] = process.argv.slice(2);
  if (!out) throw new Error("give the ELF file and the file to write");
  const file = uf2(load(elf).segments);
  if (!hasSecondStage(file)) throw new Error("the image has no second stage that would be run");
  writeFileSync(out, file);
  if (!readFileSync(out).equals(file)) throw new Error(`${out} was not written whole`);
  console.log(`${out}: ${file.length / BLOCK} blocks, ${file.length} bytes`);
}
