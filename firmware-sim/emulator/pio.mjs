// The PIO blocks, by simulated time.
//
// A state machine does one instruction each period of its divided clock. One that goes round a
// loop of jumps, or waits, is not stepped but moved on in one piece: exact, since a pin or a FIFO
// changes only after all machines were brought up to that time.

/** Nanoseconds of one cycle at 125 MHz. */
const CYCLE = 8;
/** Longest loop that is looked for, instructions. */
const LOOP = 8;
const JUMP_ALWAYS = 0;
const JUMP_X = 2;
const JUMP_Y = 4;
const JUMP_PIN = 6;

export class PioTime {
  /**
   * `clock` gives the time; `onPush(slot, nanos, dropped)` is told of every word that a
   * machine hands over, or loses for want of room. `plain`: every instruction is stepped.
   */
  constructor(mcu, onPush, { plain = false } = {}) {
    this.plain = plain;
    this.mcu = mcu;
    this.clock = mcu.clock;
    this.onPush = onPush;
    /** When something happens next that does not come from outside. */
    this.next = Infinity;
    /** Time of the instruction that is being done, if it is a machine's. */
    this.instant = null;
    this.slots = mcu.pio.flatMap((pio, block) => pio.machines.map((machine, number) => (
      { pio, machine, block, number, at: 0, seen: 0, idle: null })));
    for (const pio of mcu.pio) this.#takeOver(pio);
  }

  #takeOver(pio) {
    // Not by node's own timers: simulated time is all there is.
    pio.run = () => {};
    for (const machine of pio.machines) machine.clkDivRestart = () => {};
    const write = pio.writeUint32.bind(pio);
    const read = pio.readUint32.bind(pio);
    const slots = this.slots.filter((slot) => slot.pio === pio);
    pio.writeUint32 = (offset, value) => {
      this.upTo(this.clock.nanosCounter);
      const before = slots.map((slot) => slot.machine.enabled);
      write(offset, value);
      slots.forEach((slot, n) => {
        slot.idle = null;
        if (slot.machine.enabled && !before[n]) {
          slot.at = this.clock.nanosCounter;
          slot.seen = slot.machine.cycles;
        }
      });
      this.#outputs(pio);
      this.#look();
    };
    pio.readUint32 = (offset) => {
      this.upTo(this.clock.nanosCounter);
      const value = read(offset);
      // What was read may have let a machine go that waited for room.
      for (const slot of slots) if (slot.idle?.waits) slot.idle = null;
      this.#look();
      return value;
    };
  }

  /** All that is due up to this time, and at it, has happened afterwards. */
  upTo(nanos) {
    if (this.next <= nanos) {
      for (;;) {
        let first = null;
        for (const slot of this.slots) {
          if (!slot.machine.enabled || slot.at > nanos) continue;
          slot.idle ??= this.#loop(slot);
          const due = slot.idle ? slot.idle.until : slot.at;
          if (due <= nanos && (!first || due < first.due)) first = { slot, due };
        }
        if (!first) break;
        if (first.slot.idle) {
          this.#moveOn(first.slot, first.due);
          first.slot.idle = null;
        } else {
          this.#step(first.slot);
        }
      }
      this.#look();
    }
    for (const slot of this.slots) {
      if (slot.machine.enabled && slot.idle && slot.at <= nanos) this.#moveOn(slot, nanos);
    }
  }

  /** A pin is about to change, now: who looks at it will look again. */
  pinChanges(index) {
    const nanos = this.instant ?? this.clock.nanosCounter;
    this.upTo(nanos);
    for (const slot of this.slots) {
      if (slot.idle && slot.idle.pins >> index & 1) slot.idle = null;
    }
    this.next = Math.min(this.next, nanos);
  }

  #look() {
    let next = Infinity;
    for (const slot of this.slots) {
      if (!slot.machine.enabled) continue;
      slot.idle ??= this.#loop(slot);
      next = Math.min(next, slot.idle ? slot.idle.until : slot.at);
    }
    this.next = next;
  }

  #period({ machine }) {
    return ((machine.clockDivInt || 65536) + machine.clockDivFrac / 256) * CYCLE;
  }

  #step(slot) {
    const { machine, pio } = slot;
    const nanos = slot.at;
    const held = machine.rxFIFO.itemCount;
    machine.step();
    slot.at += Math.max(1, machine.cycles - slot.seen) * this.#period(slot);
    slot.seen = machine.cycles;
    const dropped = pio.rxStall >> slot.number & 1;
    if (machine.rxFIFO.itemCount > held || dropped) this.onPush(slot, nanos, dropped === 1);
    // The flag tells of what happened, not of what is so until somebody reads.
    pio.rxStall = 0;
    this.#outputs(pio, nanos);
  }

  #outputs(pio, nanos = this.clock.nanosCounter) {
    if (pio.pinValues === pio.oldPinValues && pio.pinDirections === pio.oldPinDirections) return;
    this.instant = nanos;
    pio.checkChangedPins();
    this.instant = null;
  }

  /** The loop that a machine goes round, and when it will leave it by itself; or null. */
  #loop(slot) {
    const { machine, pio } = slot;
    if (machine.waiting) {
      // Let go from outside: by a pin, by the processor, by another machine's flag.
      return { cycles: 1, x: 0, y: 0, pins: 0xffffffff, waits: true, until: Infinity };
    }
    if (machine.sidesetCount || this.plain) return null;
    let { pc } = machine;
    let [cycles, x, y, pins] = [0, 0, 0, 0];
    for (let k = 0; k < LOOP; k++) {
      const word = pio.instructions[pc];
      if (word >>> 13) return null;
      cycles += 1 + (word >> 8 & 31);
      let taken = true;
      switch (word >> 5 & 7) {
        case JUMP_ALWAYS: break;
        case JUMP_X: x += 1; break;
        case JUMP_Y: y += 1; break;
        case JUMP_PIN:
          taken = this.mcu.gpio[machine.jmpPin].inputValue;
          pins |= 1 << machine.jmpPin;
          break;
        default: return null;
      }
      const following = pc === machine.wrapTop ? machine.wrapBottom : pc + 1 & 31;
      pc = taken ? word & 31 : following;
      if (pc === machine.pc) {
        // As long as no count reaches zero on the way.
        const rounds = Math.min(x ? Math.floor(machine.x / x) - 1 : Infinity,
          y ? Math.floor(machine.y / y) - 1 : Infinity);
        if (rounds < 1) return null;
        const until = slot.at + rounds * cycles * this.#period(slot);
        return { cycles, x, y, pins, waits: false, until };
      }
    }
    return null;
  }

  /** Moves a machine in a loop on, to its first instruction after this time. */
  #moveOn(slot, nanos) {
    const { machine, idle } = slot;
    const period = this.#period(slot);
    const round = idle.cycles * period;
    const rounds = Math.floor((nanos - slot.at) / round);
    if (rounds > 0) {
      slot.at += rounds * round;
      machine.x = machine.x - rounds * idle.x >>> 0;
      machine.y = machine.y - rounds * idle.y >>> 0;
    }
    if (idle.waits) {
      if (slot.at <= nanos) slot.at += period;
      return;
    }
    while (slot.at <= nanos) {
      machine.step();
      slot.at += (machine.cycles - slot.seen) * period;
      slot.seen = machine.cycles;
    }
  }
}
