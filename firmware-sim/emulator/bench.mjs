// The board's firmware on an emulated processor, with a tractor at its pins:
//
//   node bench.mjs IMAGE LINK BENCH usb|uart
//
// Two sockets: LINK carries the bytes between board and host, BENCH what happens at the pins, see
// the package `trundle-bench`. The firmware knows nothing of it. Time stands still while the next
// stimulus is waited for, so that none ever comes late.
import { connect } from "node:net";
import { Pico } from "./chip.mjs";
import { load } from "./elf.mjs";
import { START_BYTES, TIMED_BYTES, account, start, timed } from "./records.mjs";
import { Tractor } from "./tractor.mjs";
import { UartLine } from "./uart.mjs";
import { UsbHost } from "./usb.mjs";

/** Longest time from power-on until the firmware looks at its inputs, and then a rest. */
const BOOT_NANOS = 2e9;
const SETTLE_NANOS = 1e6;

const [path, linkPath, benchPath, kind] = process.argv.slice(2);
const link = connect(linkPath);
const bench = connect(benchPath);
const gone = () => process.exit(0);
for (const socket of [link, bench]) socket.on("error", gone).on("close", gone);

/** Reads whole records, waiting for bytes when there are too few. */
class Records {
  constructor(socket) {
    [this.chunks, this.held, this.at, this.wake] = [[], Buffer.alloc(0), 0, null];
    socket.on("data", (bytes) => {
      this.chunks.push(bytes);
      this.wake?.();
    });
  }

  async take(count) {
    while (this.held.length - this.at < count) {
      if (!this.chunks.length) await new Promise((next) => { this.wake = next; });
      this.held = Buffer.concat([this.held.subarray(this.at), ...this.chunks]);
      this.chunks = [];
      this.at = 0;
    }
    this.at += count;
    return this.held.subarray(this.at - count, this.at);
  }
}

const records = new Records(bench);
const fromHost = new Records(link);
let told = 0;
const toHost = [];
const hear = (bytes) => { toHost.push(bytes); };
const line = kind === "uart" ? new UartLine(hear) : new UsbHost(hear);
const given = start(await records.take(START_BYTES));
const tractor = new Tractor(line, given);
const pico = new Pico(load(path), { ...given, onStart: (chip) => tractor.attach(chip) });

const looking = () => pico.pio.slots.some((slot) => slot.machine.enabled);
if (!pico.runTo(BOOT_NANOS, looking)) throw new Error("the firmware never looks at its inputs");
pico.runTo(pico.nanos + SETTLE_NANOS);
const zero = pico.nanos;
pico.asleepNanos = 0;

function figures() {
  return account([
    pico.stackBytes(), pico.queueMost(), pico.lateNanos, pico.dropped, pico.starts,
    line.configurations, pico.lampChanges, pico.asleepNanos / 1000, (pico.nanos - zero) / 1000,
  ]);
}

let expected = 0;
for (;;) {
  const { nanos: since, what, number } = timed(await records.take(TIMED_BYTES));
  if (number !== expected) throw new Error("a stimulus was lost on the line");
  expected = expected + 1 & 0xff;
  if (what === "told") {
    line.send(await fromHost.take(since - told));
    told = since;
    continue;
  }
  const nanos = zero + since;
  if (what === "run to" || what === "account") {
    pico.runTo(nanos);
    // What the host is to hear lies in its socket before the answer does.
    const heard = Buffer.concat(toHost.splice(0));
    if (heard.length) await new Promise((done) => { link.write(heard, done); });
    bench.write(what === "account" ? figures() : Buffer.from([number]));
  } else if (nanos > pico.nanos) {
    // Between two instructions, at its time to the nanosecond.
    pico.at(nanos, () => tractor.play(what));
    pico.runTo(nanos);
  } else {
    tractor.play(what);
  }
}
