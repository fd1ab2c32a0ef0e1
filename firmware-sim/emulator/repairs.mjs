// What is repaired in rp2040js 1.4.1, and why. Each stands in the way of the board's firmware. The
// clauses are those of the "RP2040 Datasheet" that the emulator differs from, all from memory. Its
// input machines, which it steps by node's timers, are in `pio.mjs`.
import { FIFO } from "rp2040js";

/** Cycles from an interrupt to its first instruction, and back; both from memory. */
const ENTRY_CYCLES = 15;
const RETURN_CYCLES = 13;
const NVIC_ICPR = 0x280;
const FJOIN_RX = 1 << 31;
const FJOIN_TX = 1 << 30;
const SM0_SHIFTCTRL = 0xd0;
const SM_STRIDE = 0x18;
const SIE_STATUS = 0x50;
const SIE_SUSPENDED = 1 << 4;
const AVAILABLE = 1 << 10;
const EP0_IN = 0x80;
const LAST_BUFFER_CONTROL = 0xfc;

/** All of them. Cycles that interrupts cost are added to `owed.cycles`. */
export function repair(mcu, owed) {
  joinFifos(mcu);
  interrupts(mcu, owed);
  leaveUsbToHost(mcu);
  keepAdcStatus(mcu.adc);
}

/**
 * Both FIFOs of a state machine joined hold 8 words (3.5.4); the emulator keeps 4, and would lose
 * edges that the chip does not.
 */
function joinFifos({ pio }) {
  for (const block of pio) {
    const write = block.writeUint32.bind(block);
    block.writeUint32 = (offset, value) => {
      write(offset, value);
      const number = (offset - SM0_SHIFTCTRL) / SM_STRIDE;
      if (!Number.isInteger(number) || number < 0 || number > 3) return;
      const machine = block.machines[number];
      for (const [name, joined] of [["rxFIFO", FJOIN_RX], ["txFIFO", FJOIN_TX]]) {
        const size = value & joined ? 8 : 4;
        if (machine[name].size !== size) machine[name] = new FIFO(size);
      }
    };
  }
}

/**
 * An interrupt ends the sleep of WFI also while PRIMASK holds it back, and is then not taken but
 * waits for PRIMASK (ARMv6-M manual, B1.5.19, from memory). The emulator takes it at once, and
 * sleeps on when it came before the WFI.
 *
 * What is pending stays so until the processor takes it, and is pending again if its line still
 * calls when its handler ends (ARMv6-M manual, B3.4.1, from memory). In the emulator one that a
 * program makes pending stays so for ever, and one whose line falls silent is forgotten.
 */
function interrupts({ core, ppb }, owed) {
  let lines = 0;
  core.setInterrupt = (irq, on) => {
    const bit = 1 << irq;
    if (on && !(lines & bit)) {
      core.pendingInterrupts |= bit;
      core.interruptsUpdated = true;
    }
    lines = on ? lines | bit : lines & ~bit;
  };
  const [enter, leave] = [core.exceptionEntry, core.exceptionReturn].map((it) => it.bind(core));
  core.exceptionEntry = (number) => {
    if (number >= 16) core.pendingInterrupts &= ~(1 << number - 16);
    // The emulator takes an interrupt in no time. It would make every edge look early.
    owed.cycles += ENTRY_CYCLES;
    enter(number);
  };
  core.exceptionReturn = (how) => {
    const number = core.IPSR;
    leave(how);
    if (number >= 16) core.pendingInterrupts |= lines & 1 << number - 16;
    owed.cycles += RETURN_CYCLES;
  };
  const write = ppb.writeUint32.bind(ppb);
  ppb.writeUint32 = (offset, value) => {
    if (offset === NVIC_ICPR) core.pendingInterrupts = core.pendingInterrupts & ~value | lines;
    else write(offset, value);
  };
}

/** Whether a WFI ends at once. */
export const isWoken = (core) => (core.pendingInterrupts & core.enabledInterrupts) !== 0
  || core.pendingSystick || core.pendingPendSV;

/**
 * The emulator sends a packet the moment that the firmware hands it over, whether or not a host is
 * there, and answers with empty ones. Here handed-over buffers stay until the host of `usb.mjs`
 * takes or fills them, as on a bus (4.1.2.5); without a host they stay for good.
 */
function leaveUsbToHost(mcu) {
  const { usbCtrl } = mcu;
  // A suspended bus is told of once, until that is cleared by writing (table of SIE_STATUS); the
  // emulator cannot clear it, and interrupts without end.
  const write = usbCtrl.writeUint32.bind(usbCtrl);
  usbCtrl.writeUint32 = (offset, value) => {
    if (offset === SIE_STATUS) usbCtrl.sieStatus &= ~(usbCtrl.rawWriteValue & SIE_SUSPENDED);
    write(offset, value);
  };
  usbCtrl.onArmed = () => {};
  usbCtrl.DPRAMUpdated = (offset, value) => {
    if (offset < EP0_IN || offset > LAST_BUFFER_CONTROL || !(value & AVAILABLE)) return;
    usbCtrl.onArmed(offset - EP0_IN >> 3, (offset & 4) !== 0);
  };
}

/** A conversion that is started is no part of the status that is read back (4.9.6). */
function keepAdcStatus(adc) {
  const read = adc.readUint32.bind(adc);
  adc.readUint32 = (offset) => (offset === 0 ? read(offset) & ~(1 << 2) : read(offset));
}
