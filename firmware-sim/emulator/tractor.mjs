// What happens at the board's pins and sockets: each stimulus of the bench as levels over time.

/** Input, pin, its level at rest: the input circuit inverts, see the firmware's own list. */
const INPUTS = {
  wheel: [2, true],
  radar: [3, true],
  pto: [4, true],
  working: [5, false],
  button: [6, true],
  gate: [7, true],
  pps: [8, true],
};
/** A press of a button, and the pulse of a receiver; common practice, no source. */
const MARK_NANOS = 50e6;
const PPS_NANOS = 100e6;
const IMPULSES = ["wheel", "radar", "pto"];

export class Tractor {
  /** `pulseNanos`: how long an impulse stands; `dropEvery`: a wire that loses each n-th, or 0. */
  constructor(line, { pulseNanos, dropEvery }) {
    Object.assign(this, { line, pulseNanos, dropEvery, impulses: 0, inWork: false });
  }

  /** At each start of the board: what was underway at its pins is over. */
  attach(pico) {
    this.pico = pico;
    for (const [name, [pin, rest]] of Object.entries(INPUTS)) {
      pico.pin(pin, name === "working" ? this.inWork : rest);
    }
    pico.onBridge = (pin, level) => {
      const [name, [, rest]] = Object.entries(INPUTS).find(([, [of]]) => of === pin);
      if (level !== rest && this.#isLost(name)) return;
      pico.pin(pin, level);
    };
    this.line.attach(pico);
  }

  #isLost(name) {
    if (!this.dropEvery || !IMPULSES.includes(name)) return false;
    this.impulses += 1;
    return this.impulses % this.dropEvery === 0;
  }

  #pulse(name, nanos) {
    const [pin, rest] = INPUTS[name];
    if (this.#isLost(name)) return;
    this.pico.pin(pin, !rest);
    this.pico.at(this.pico.nanos + nanos, () => this.pico.pin(pin, rest));
  }

  /** It happens now. */
  play(what) {
    const { pico, line } = this;
    const [verb, which] = what.split(" ");
    switch (verb) {
      case "wheel": case "radar": case "pto": return this.#pulse(verb, this.pulseNanos);
      case "button": case "gate": return this.#pulse(verb, MARK_NANOS);
      case "pps": return this.#pulse(verb, PPS_NANOS);
      case "out": case "in":
        this.inWork = verb === "in";
        return pico.pin(INPUTS.working[0], this.inWork);
      case "usb": return line.plug(which === "in");
      case "port": return line.open(which === "open");
      case "power": pico.starting = "power"; return undefined;
      case "reset": pico.starting = "pin"; return undefined;
      case "hang": pico.stuck = true; return undefined;
      case "bridge": return pico.bridge(which === "nothing" ? null : INPUTS[which][0]);
      default: throw new Error(`nobody can play: ${what}`);
    }
  }
}
