// The other end of the USB: a host that enumerates a serial function (CDC-ACM) and carries bytes.
// It can be unplugged and plugged in again, and its program may close the port and open it.

/** A packet of 64 bytes at 12 Mbit/s with what goes around it, nanoseconds. */
const PACKET_NANOS = 50e3;
/** A host takes its time to notice a device, and between one request and the next. */
const NOTICE_NANOS = 100e6;
const RESET_NANOS = 10e6;
const REQUEST_NANOS = 200e3;
/** A bus without frames for 3 ms is suspended (USB 2.0, 7.1.7.6). */
const SUSPEND_NANOS = 3e6;
/** The pin at which a Pico sees that USB supplies it. */
const VBUS_PIN = 24;

const BUF_FULL = 1 << 15;
const BUF_AVAILABLE = 1 << 10;
const BUF_STALL = 1 << 11;
const BUF_LENGTH = 0x3ff;
const CONTROLS = 0x80;
const SIE_BUS_RESET = 1 << 19;
const SIE_SUSPENDED = 1 << 4;
const SIE_SETUP = 1 << 17;
const SIE_CONNECTED = 1 << 16;

const DEVICE = 1;
const CONFIGURATION = 2;
const STRING = 3;
const INTERFACE = 4;
const ENDPOINT = 5;
const CLASS_DATA = 10;

const descriptor = (kind, size, index = 0, language = 0) =>
  [0x80, 6, index, kind, language & 255, language >> 8, size & 255, size >> 8];
/** 115 200 baud, 8 data bits, no parity, one stop bit. */
const LINE_CODING = [0x00, 0xc2, 0x01, 0x00, 0, 0, 8];

export class UsbHost {
  /** `onData(bytes)`: what the device sent. Plugged in and open from the beginning. */
  constructor(onData) {
    Object.assign(this, { onData, plugged: true, wanted: true, waiting: [] });
    this.generation = 0;
    this.configurations = 0;
    this.product = "";
  }

  /** After each start of the chip. */
  attach(pico) {
    Object.assign(this, { pico, mcu: pico.mcu, usb: pico.mcu.usbCtrl });
    this.#forget();
    this.usb.onArmed = () => this.#poll();
    this.usb.onUSBEnabled = () => this.#notice();
    this.usb.onResetReceived = () => this.#enumerate();
    pico.pin(VBUS_PIN, this.plugged);
  }

  /** Pulled out, or put in. What was on its way to the device is lost with the cable. */
  plug(on) {
    if (on === this.plugged) return;
    this.plugged = on;
    this.#forget();
    this.waiting = [];
    this.pico.pin(VBUS_PIN, on);
    if (on) return this.#notice();
    this.#later(SUSPEND_NANOS, () => this.#status(SIE_SUSPENDED, SIE_CONNECTED));
  }

  /** A program opens or closes the port: a closed one is not read, and says so by DTR. */
  open(on) {
    this.wanted = on;
    if (this.ready) this.#request([0x21, 0x22, on ? 3 : 0, 0, 0, 0, 0, 0], [], () => {});
  }

  send(bytes) {
    for (const byte of bytes) this.waiting.push(byte);
    this.#poll();
  }

  #forget() {
    this.generation += 1;
    this.ready = false;
    this.transfer = null;
    this.polling = false;
    this.in = this.out = -1;
  }

  /** Does something later, unless cable or chip were taken away in between. */
  #later(nanos, what) {
    const { generation } = this;
    this.pico.at(this.pico.nanos + nanos, () => {
      if (generation === this.generation) what();
    });
  }

  #status(set, clear = 0) {
    this.usb.sieStatus = (this.usb.sieStatus & ~clear | set) >>> 0;
    this.usb.sieStatusUpdated();
  }

  #notice() {
    if (!this.plugged) return;
    this.#later(NOTICE_NANOS, () => this.#status(SIE_BUS_RESET, SIE_SUSPENDED));
  }

  #enumerate() {
    this.#forget();
    if (!this.plugged) return;
    const steps = [
      [descriptor(DEVICE, 8)],
      [[0, 5, 1, 0, 0, 0, 0, 0]],
      [descriptor(DEVICE, 18), (data) => { this.device = data; }],
      [() => descriptor(STRING, 255, this.device[15], 0x409), (data) => {
        this.product = Buffer.from(data.slice(2)).toString("utf16le");
      }],
      [descriptor(CONFIGURATION, 9), (data) => { this.size = data[2] | data[3] << 8; }],
      [() => descriptor(CONFIGURATION, this.size), (data) => this.#endpoints(data)],
      [[0, 9, 1, 0, 0, 0, 0, 0]],
      [[0x21, 0x20, 0, 0, 0, 0, LINE_CODING.length, 0], () => {}, LINE_CODING],
      [[0x21, 0x22, this.wanted ? 3 : 0, 0, 0, 0, 0, 0]],
    ];
    const go = (number) => {
      if (number === steps.length) {
        this.ready = true;
        this.configurations += 1;
        return this.#poll();
      }
      const [request, take = () => {}, data = []] = steps[number];
      this.#request(typeof request === "function" ? request() : request, data, (got) => {
        take(got);
        go(number + 1);
      });
    };
    this.#later(RESET_NANOS, () => go(0));
  }

  #endpoints(data) {
    for (let at = 0, cdc = false; at < data.length; at += data[at]) {
      if (data[at + 1] === INTERFACE) cdc = data[at + 5] === CLASS_DATA;
      if (!cdc || data[at + 1] !== ENDPOINT) continue;
      if (data[at + 2] & 0x80) this.in = data[at + 2] & 15;
      else this.out = data[at + 2] & 15;
    }
    if (this.in < 0 || this.out < 0) throw new Error("the device has no serial function");
  }

  /** One control transfer; one after another. */
  #request(bytes, data, done) {
    this.#later(REQUEST_NANOS, () => {
      const fromDevice = (bytes[0] & 0x80) !== 0;
      const want = bytes[6] | bytes[7] << 8;
      this.transfer = { fromDevice, want, data: [...data], got: [], done };
      this.transfer.stage = want ? "data" : "status";
      this.usb.sendSetupPacket(new Uint8Array(bytes));
      this.#poll();
    });
  }

  #control(offset, value = null) {
    if (value !== null) this.mcu.usbDPRAMView.setUint32(offset, value, true);
    return this.mcu.usbDPRAMView.getUint32(offset, true);
  }

  /** Looks a packet's time from now at what the device has handed over. */
  #poll() {
    if (this.polling || !this.plugged) return;
    this.polling = true;
    this.#later(PACKET_NANOS, () => {
      this.polling = false;
      const more = [this.#controlTransfer(), this.#take(), this.#give()];
      if (more.includes(true)) this.#poll();
    });
  }

  /** Takes a packet that the device holds ready, or null. */
  #packetIn(endpoint) {
    const control = this.#control(CONTROLS + 8 * endpoint);
    if (control & BUF_STALL) throw new Error(`the device refuses endpoint ${endpoint}`);
    if (!(control & BUF_AVAILABLE) || !(control & BUF_FULL)) return null;
    const from = this.usb.getEndpointBufferOffset(endpoint, false);
    const bytes = Buffer.from(this.mcu.usbDPRAM.slice(from, from + (control & BUF_LENGTH)));
    this.#control(CONTROLS + 8 * endpoint, control & ~(BUF_AVAILABLE | BUF_FULL));
    this.usb.indicateBufferReady(endpoint, false);
    return bytes;
  }

  /** Gives the device a packet of these bytes, if it has room for one; says how many it took. */
  #packetOut(endpoint, bytes) {
    const control = this.#control(CONTROLS + 8 * endpoint + 4);
    if (control & BUF_STALL) throw new Error(`the device refuses endpoint ${endpoint}`);
    if (!(control & BUF_AVAILABLE) || control & BUF_FULL) return -1;
    const count = Math.min(bytes.length, control & BUF_LENGTH);
    const to = this.usb.getEndpointBufferOffset(endpoint, true);
    this.mcu.usbDPRAM.set(bytes.slice(0, count), to);
    const kept = control & ~(BUF_AVAILABLE | BUF_LENGTH);
    this.#control(CONTROLS + 8 * endpoint + 4, kept | BUF_FULL | count);
    this.usb.indicateBufferReady(endpoint, true);
    return count;
  }

  #controlTransfer() {
    const { transfer } = this;
    // Until the device has seen the request, it answers nothing.
    if (!transfer || this.usb.sieStatus & SIE_SETUP) return false;
    const { fromDevice, want, data, got } = transfer;
    if (transfer.stage === "data" && fromDevice) {
      const bytes = this.#packetIn(0);
      if (!bytes) return false;
      got.push(...bytes);
      if (got.length >= want || bytes.length < 64) transfer.stage = "status";
      return true;
    }
    if (transfer.stage === "data") {
      const count = this.#packetOut(0, data);
      if (count < 0) return false;
      data.splice(0, count);
      if (!data.length) transfer.stage = "status";
      return true;
    }
    if (fromDevice ? this.#packetOut(0, []) < 0 : this.#packetIn(0) === null) return false;
    this.transfer = null;
    transfer.done(got);
    return true;
  }

  /** Serial bytes from the device; a host whose port is closed asks for none. */
  #take() {
    if (!this.ready || !this.wanted) return false;
    const bytes = this.#packetIn(this.in);
    if (bytes?.length) this.onData(bytes);
    return bytes !== null;
  }

  /** Serial bytes to the device. */
  #give() {
    if (!this.ready || !this.waiting.length) return false;
    const count = this.#packetOut(this.out, this.waiting.slice(0, 64));
    if (count > 0) this.waiting.splice(0, count);
    return count > 0;
  }
}
