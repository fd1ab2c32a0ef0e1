// What lies around the emulated processor and the emulator leaves out: the flash chip behind its
// serial interface, noise, and the cause of a reset. There is no boot ROM, and none is missed.
import { BasePeripheral } from "rp2040js";

/** Sizes and times of a W25Q16: erase and program as its data sheet gives them (from memory). */
const SECTOR = 4096;
const PAGE = 256;
const ERASE_NANOS = 45e6;
const PROGRAM_NANOS = 0.7e6;

/** A part of the chip that is only a handful of registers. */
class Registers extends BasePeripheral {
  constructor(mcu, name, read, write = () => {}) {
    super(mcu, name);
    this.readUint32 = read;
    this.writeUint32 = write;
  }
}

/** The flash chip: commands over the serial interface, one byte at a time. */
class FlashChip {
  constructor(mcu, uniqueId, busy) {
    Object.assign(this, { mcu, busy, writable: false, selected: false, sent: [], answers: [] });
    this.uniqueId = Buffer.alloc(8);
    this.uniqueId.writeBigUInt64BE(BigInt(uniqueId));
  }

  select(on) {
    if (this.selected && !on) this.#finish();
    this.selected = on;
    this.sent = [];
  }

  byte(value) {
    const at = this.sent.push(value) - 1;
    const [command, ...bytes] = this.sent;
    const address = (bytes[0] << 16 | bytes[1] << 8 | bytes[2]) + at - 4;
    switch (command) {
      case 0x4b: return at >= 5 ? this.uniqueId[at - 5 & 7] : 0;
      case 0x9f: return [0, 0xef, 0x40, 0x15][at & 3];
      case 0x05: return this.writable ? 2 : 0;
      case 0x03: return at >= 4 ? this.mcu.flash[address] : 0;
      default: return 0;
    }
  }

  #finish() {
    const [command, high, middle, low, ...data] = this.sent;
    const address = high << 16 | middle << 8 | low;
    if (command === 0x06) this.writable = true;
    if (command === 0x20 && this.writable) this.erase(address, SECTOR);
    if (command === 0x02 && this.writable) this.program(address, data);
    if (command !== 0x06 && command !== 0x05) this.writable = false;
  }

  erase(address, count) {
    const from = address - address % SECTOR;
    this.mcu.flash.fill(0xff, from, from + count);
    this.busy(ERASE_NANOS * Math.ceil(count / SECTOR));
  }

  /** Bits only ever become 0; what runs over a page's end begins it anew. */
  program(address, data) {
    const page = address - address % PAGE;
    data.forEach((byte, n) => { this.mcu.flash[page + (address + n) % PAGE] &= byte; });
    this.busy(PROGRAM_NANOS * Math.ceil(data.length / PAGE));
  }
}

const SSI_SR = 0x28;
const SSI_DR0 = 0x60;
const SSI_TFE_TFNF = 0x06;
const SSI_RFNE = 0x08;

function serialInterface(mcu, chip) {
  const ssi = mcu.peripherals[0x18000];
  const [read, write] = [ssi.readUint32.bind(ssi), ssi.writeUint32.bind(ssi)];
  ssi.readUint32 = (offset) => {
    if (offset === SSI_SR) return SSI_TFE_TFNF | (chip.answers.length ? SSI_RFNE : 0);
    if (offset === 0x24) return chip.answers.length;
    return offset === SSI_DR0 && chip.selected ? chip.answers.shift() ?? 0 : read(offset);
  };
  ssi.writeUint32 = (offset, value) => {
    if (offset === SSI_DR0 && chip.selected) chip.answers.push(chip.byte(value & 0xff));
    else write(offset, value);
  };
}

/** IO_QSPI: chip select is its second pin, forced low (2) or high (3). */
const QSPI_SS_CTRL = 0x0c;

function chipSelect(mcu, chip) {
  const words = new Uint32Array(64);
  return new Registers(mcu, "IO_QSPI", (offset) => words[offset >> 2] ?? 0, (offset, value) => {
    words[offset >> 2] = value;
    if (offset === QSPI_SS_CTRL) {
      chip.select((value >> 8 & 3) === 2);
      if (!chip.selected) chip.answers = [];
    }
  });
}

/** A small generator (xorshift); its seed is the board's number and how often it was started. */
function noise(seed) {
  let state = seed >>> 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return state >>> 31;
  };
}

const POWER_ON = 1 << 8;
const RUN_PIN = 1 << 16;

/** `cause`: "power", "pin" or "watchdog"; `busy(nanos)` holds the processor for that long. */
export function surround(mcu, { uniqueId, cause, starts, busy }) {
  const chip = new FlashChip(mcu, uniqueId, busy);
  const random = noise(Number(BigInt(uniqueId) & 0xffffffffn) ^ starts * 0x9e3779b1);
  serialInterface(mcu, chip);
  mcu.onBreak = () => {
    throw new Error(`the firmware stops itself at ${(mcu.core.PC - 2).toString(16)}`);
  };
  mcu.peripherals[0x40018] = chipSelect(mcu, chip);
  const ring = { 0x18: () => 0x80001000, 0x1c: random };
  mcu.peripherals[0x40060] = new Registers(mcu, "ROSC", (offset) => ring[offset]?.() ?? 0);
  const reset = cause === "pin" ? RUN_PIN : POWER_ON;
  mcu.peripherals[0x40064] =
    new Registers(mcu, "VREG_AND_CHIP_RESET", (offset) => (offset === 8 ? reset : 0));
  return chip;
}
