// The board: an RP2040 with what lies around it, driven by simulated time, in lock step with what
// happens at its pins. Time is counted in processor cycles; the wall clock has no part in it.
import { ConsoleLogger, LogLevel, RP2040 } from "rp2040js";
import { surround } from "./around.mjs";
import { chargeFlash } from "./cache.mjs";
import { PioTime } from "./pio.mjs";
import { isWoken, repair } from "./repairs.mjs";

/** Nanoseconds of one cycle at 125 MHz. */
const CYCLE = 8;
const FLASH = 0x10000000;
const RAM = 0x20000000;
/** The vector table lies behind the second stage of 256 bytes, which the boot ROM would run. */
const VECTORS = FLASH + 0x100;
const WATCHDOG = 0x40058;
const PINS = 30;
const TEST_SIGNAL = 15;
const LAMP = 25;
/** What the firmware paints its stack with; what is left of it shows how deep it went. */
const PAINT = 0x5afe57ac;
/** What a divider of 100 kohm over 10 kohm leaves of the supply, at 3.3 V full scale. */
const DIVIDER = 11;
const FULL_SCALE_MV = 3300;
const ADC_TOP = 4095;

export class Pico {
  /**
   * `image`: see elf.mjs. `timerStart`: reading of the 32-bit microsecond timer at power-on;
   * `uniqueId`: of the flash chip. `onStart(pico)` is called at each start, before anything runs.
   */
  constructor(image, { timerStart = 0, uniqueId = 1n, supplyMv = 0, onStart = () => {} } = {}) {
    Object.assign(this, { image, timerStart, uniqueId, supplyMv, onStart });
    this.levels = new Array(PINS).fill(false);
    this.asleepNanos = 0;
    this.stuck = false;
    this.starts = 0;
    /** Measured: what waited longest in a FIFO, and how often one was full. */
    this.lateNanos = 0;
    this.dropped = 0;
    this.queued = 0;
    this.lampChanges = 0;
    this.deepest = 0;
    this.bridged = null;
    this.starting = null;
    this.#start("power", 0, null);
  }

  /** Nanoseconds since power-on of the bench; goes on over restarts. */
  get nanos() { return this.clock.nanosCounter - this.offset; }

  #start(cause, nanos, before) {
    const mcu = new RP2040();
    mcu.logger = new ConsoleLogger(LogLevel.Error, false);
    this.mcu = mcu;
    this.clock = mcu.clock;
    this.clock.nanosCounter = this.timerStart * 1000;
    this.offset = this.clock.nanosCounter - nanos;
    this.starts += 1;
    this.owed = { cycles: 0 };
    repair(mcu, this.owed);
    chargeFlash(mcu.core, this.owed);
    this.waiting = new Map();
    this.pio = new PioTime(mcu, (slot, at, dropped) => this.#pushed(slot, at, dropped));
    this.#load(before, cause);
    const busy = (time) => { this.owed.cycles += time / CYCLE; };
    const { uniqueId, starts } = this;
    this.flash = surround(mcu, { uniqueId, cause, starts, busy });
    mcu.adc.channelValues[0] = this.#adc();
    const { core } = mcu;
    const watchdog = mcu.peripherals[WATCHDOG];
    watchdog.onWatchdogTrigger = () => {
      // Or it would go off again at once, without end.
      watchdog.timer.enable = false;
      this.starting = "watchdog";
    };
    if (cause === "watchdog") {
      const old = before.peripherals[WATCHDOG];
      watchdog.reason = old.reason;
      watchdog.scratchData.set(old.scratchData);
    }
    // What boot ROM and second stage leave behind.
    core.VTOR = VECTORS;
    core.SP = mcu.readUint32(VECTORS);
    core.PC = mcu.readUint32(VECTORS + 4) & ~1;
    this.levels.forEach((level, index) => mcu.gpio[index].setInputValue(level));
    mcu.gpio[TEST_SIGNAL].addListener(() => this.#bridge());
    mcu.gpio[LAMP].addListener(() => { this.lampChanges += 1; });
    this.stuck = false;
    this.onStart(this);
  }

  /** Flash is kept over every start, memory only where power stayed on. */
  #load(before, cause) {
    const { flash, sram } = this.mcu;
    if (before) flash.set(before.flash);
    if (before && cause !== "power") sram.set(before.sram);
    else new Uint32Array(sram.buffer).fill(PAINT);
    if (before) return;
    for (const [address, bytes] of this.image.segments) {
      if (address >= FLASH && address < FLASH + flash.length) flash.set(bytes, address - FLASH);
      else if (address >= RAM && address < RAM + sram.length) sram.set(bytes, address - RAM);
      else throw new Error(`the image has something at ${address.toString(16)}`);
    }
  }

  #adc() {
    const millivolts = Math.min(this.supplyMv / DIVIDER, FULL_SCALE_MV);
    return Math.round(millivolts / FULL_SCALE_MV * ADC_TOP);
  }

  /** Starts anew: "power" (it was gone), "pin" (the reset pin) or "watchdog". */
  restart(cause) {
    this.stackBytes();
    this.queueMost();
    this.#start(cause, this.nanos, this.mcu);
  }

  supply(millivolts) {
    this.supplyMv = millivolts;
    this.mcu.adc.channelValues[0] = this.#adc();
  }

  #pushed({ block, number, machine }, at, dropped) {
    if (dropped) {
      this.dropped += 1;
      return;
    }
    const key = block * 4 + number;
    const times = this.waiting.get(key) ?? this.#watch(key, machine);
    times.push(at);
  }

  /** Remembers when each word came into a FIFO, to see how long it stays. */
  #watch(key, machine) {
    const times = [];
    this.waiting.set(key, times);
    const read = machine.readFIFO.bind(machine);
    machine.readFIFO = () => {
      if (!machine.rxFIFO.empty) {
        this.lateNanos = Math.max(this.lateNanos, this.clock.nanosCounter - times.shift());
      }
      return read();
    };
    return times;
  }

  /** A pin has another level from now on. */
  pin(index, level) {
    if (this.levels[index] === level) return;
    this.levels[index] = level;
    this.pio.pinChanges(index);
    this.mcu.gpio[index].setInputValue(level);
  }

  /** A wire from the pin of the test signal to an input; `null` takes it away. */
  bridge(index) {
    this.bridged = index;
    this.#bridge();
  }

  #bridge() {
    const { outputEnable, outputValue } = this.mcu.gpio[TEST_SIGNAL];
    if (this.bridged !== null && outputEnable) this.onBridge(this.bridged, outputValue);
  }

  /** What a wire does; the bench puts a bad one here. */
  onBridge(index, level) { this.pin(index, level); }

  /** Does something at a time since power-on, nanoseconds; lost when the board starts anew. */
  at(nanos, what) {
    this.clock.createAlarm(what).schedule(Math.max(0, nanos - this.nanos));
  }

  /** Lets time pass up to this, or until `until()` holds, which is asked now and then. */
  runTo(nanos, until = null) {
    while (this.nanos < nanos) {
      if (until?.()) return true;
      const part = until ? Math.min(nanos, this.nanos + 1e5) : nanos;
      this.#run(part + this.offset);
      if (this.starting) {
        const cause = this.starting;
        this.starting = null;
        this.restart(cause);
      }
    }
    return until?.() ?? true;
  }

  #run(end) {
    const { clock, pio, owed, mcu: { core } } = this;
    while (clock.nanosCounter < end) {
      if (core.waiting && isWoken(core)) {
        core.waiting = false;
        core.interruptsUpdated = true;
      }
      if (core.waiting || this.stuck) {
        const alarm = clock.nextAlarm ? clock.nextAlarm.nanos : Infinity;
        const target = Math.max(clock.nanosCounter, Math.min(end, alarm, pio.next));
        const before = clock.nanosCounter;
        clock.tick(target - before);
        this.asleepNanos += target - before;
      } else {
        const cycles = core.executeInstruction() + owed.cycles;
        const then = clock.nanosCounter + cycles * CYCLE;
        owed.cycles = 0;
        if (clock.nextAlarm?.nanos <= then) clock.tick(cycles * CYCLE);
        else clock.nanosCounter = then;
      }
      if (clock.nanosCounter >= pio.next) pio.upTo(clock.nanosCounter);
      if (this.starting) return;
    }
  }

  /** Deepest stack of all starts so far, bytes, by what is left of the paint. */
  stackBytes() {
    const { symbols } = this.image;
    const [bottom, top] = ["__sheap", "_stack_start"].map((name) => symbols.get(name) - RAM >> 2);
    const words = new Uint32Array(this.mcu.sram.buffer);
    let at = bottom;
    while (at < top && words[at] === PAINT) at += 1;
    this.deepest = Math.max(this.deepest, 4 * (top - at));
    return this.deepest;
  }

  /** Most edges that waited for the main loop at once, over all starts; the firmware counts. */
  queueMost() {
    const account = this.image.symbols.get("ACCOUNT");
    if (account !== undefined) {
      this.queued = Math.max(this.queued, this.mcu.readUint32(account + 4));
    }
    return this.queued;
  }
}
