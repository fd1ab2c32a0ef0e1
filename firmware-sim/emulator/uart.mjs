// The other end of the serial line of the second build: 115 200 baud, 8 data bits, no parity, one
// stop bit, both ways. The emulator's own sends a byte in no time and never has a full FIFO.
const BYTE_NANOS = 10e9 / 115200;
const FIFO = 32;
const UARTDR = 0x00;
const TXFE = 1 << 7;
const TXFF = 1 << 5;
const BUSY = 1 << 3;

export class UartLine {
  /** `onData(bytes)`: what the device sent. */
  constructor(onData) {
    this.onData = onData;
    this.configurations = 0;
  }

  /** After each start of the chip. */
  attach(pico) {
    this.pico = pico;
    [this.sentBy, this.givenBy] = [0, 0];
    const uart = pico.mcu.uart[0];
    this.uart = uart;
    const write = uart.writeUint32.bind(uart);
    uart.writeUint32 = (offset, value) => {
      if (offset !== UARTDR) return write(offset, value);
      this.sentBy = Math.max(this.sentBy, pico.nanos) + BYTE_NANOS;
      pico.at(this.sentBy, () => this.onData(Buffer.from([value & 0xff])));
      return undefined;
    };
    const waiting = () => Math.ceil((this.sentBy - pico.nanos) / BYTE_NANOS);
    Object.defineProperty(uart, "flags", {
      get: () => (uart.rxFIFO.full ? 1 << 6 : 0) | (uart.rxFIFO.empty ? 1 << 4 : 0)
        | (waiting() > 0 ? BUSY : TXFE) | (waiting() >= FIFO ? TXFF : 0),
    });
  }

  send(bytes) {
    for (const byte of bytes) {
      this.givenBy = Math.max(this.givenBy, this.pico.nanos) + BYTE_NANOS;
      this.pico.at(this.givenBy, () => this.uart.feedByte(byte));
    }
  }

  plug() { throw new Error("this line is not plugged in; it is soldered"); }

  open() {}
}
