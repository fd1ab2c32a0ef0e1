// What an image holds: bytes and where they lie, and the addresses of its names.
import { readFileSync } from "node:fs";

const LOADED = 1;
const SYMBOLS = 2;

/** An ELF file of a 32-bit processor: segments `[address, bytes]` and a map of symbols. */
export function loadElf(path) {
  const bytes = readFileSync(path);
  if (bytes.toString("latin1", 0, 4) !== "\x7fELF" || bytes[4] !== 1) {
    throw new Error(`${path} is no ELF file of a 32-bit processor`);
  }
  const word = (at) => bytes.readUInt32LE(at);
  const half = (at) => bytes.readUInt16LE(at);
  const table = (at, size, count) => Array.from({ length: count }, (_, n) => at + n * size);
  const segments = table(word(28), half(42), half(44))
    .filter((at) => word(at) === LOADED && word(at + 16) > 0)
    .map((at) => [word(at + 12), bytes.subarray(word(at + 4), word(at + 4) + word(at + 16))]);
  const sections = table(word(32), half(46), half(48));
  const symbols = new Map();
  for (const section of sections.filter((at) => word(at + 4) === SYMBOLS)) {
    const names = word(sections[word(section + 24)] + 16);
    const first = word(section + 16);
    for (let at = first; at < first + word(section + 20); at += 16) {
      const name = names + word(at);
      symbols.set(bytes.toString("latin1", name, bytes.indexOf(0, name)), word(at + 4));
    }
  }
  return { segments, symbols };
}

const UF2_BLOCK = 512;
const UF2_MAGIC = [0x0a324655, 0x9e5d5157, 0x0ab16f30];

/** A UF2 file, as it is dragged onto the board's drive; it holds no names. */
export function loadUf2(path) {
  const bytes = readFileSync(path);
  const segments = [];
  for (let at = 0; at < bytes.length; at += UF2_BLOCK) {
    const magic = [0, 4, UF2_BLOCK - 4].map((offset) => bytes.readUInt32LE(at + offset));
    if (magic.some((word, n) => word !== UF2_MAGIC[n])) throw new Error(`${path}: no UF2 file`);
    const size = bytes.readUInt32LE(at + 16);
    segments.push([bytes.readUInt32LE(at + 12), bytes.subarray(at + 32, at + 32 + size)]);
  }
  return { segments, symbols: new Map() };
}

/** Either of the two, by its name. */
export const load = (path) => (path.endsWith(".uf2") ? loadUf2(path) : loadElf(path));
