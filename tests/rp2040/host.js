// The computer at the other end of the USB cable: greets the device as a system does, opens its serial port, moves bytes.
// Requests: Universal Serial Bus Specification 2.0, chapter 9; class definitions for communication devices (PSTN), 6.3.

const AVAILABLE = 1 << 10;
const OUT_CONTROL = 0x84;
const PACKET = 64;

const DEVICE = 1;
const CONFIGURATION = 2;
const STRING = 3;
const INTERFACE = 4;
const ENDPOINT = 5;
const CDC_DATA = 10;
const BULK = 2;

const setup = (type, request, value, index, length) =>
  Uint8Array.of(type, request, value & 0xff, value >> 8, index & 0xff, index >> 8, length & 0xff, length >> 8);
const descriptor = (kind, number, length, language = 0) =>
  setup(0x80, 6, (kind << 8) | number, language, length);

const ENGLISH = 0x409;

/** Between one control transfer and the next. */
const PAUSE_NS = 20_000;

export class Host {
  constructor(usb, view, clock) {
    this.usb = usb;
    this.view = view;
    /** What the device said of itself; null until its port is open. */
    this.device = null;
    this.received = [];
    this.waiting = [];
    this.flying = new Set();
    this.transfer = null;
    this.bulk = { in: -1, out: -1 };
    this.pause = clock.createAlarm(() => this.session.next(this.answer));

    usb.onUSBEnabled = () => usb.resetDevice();
    usb.onResetReceived = () => {
      // Whoever resets the bus forgets what was going on.
      this.device = null;
      this.transfer = null;
      this.session = this.greet();
      this.session.next();
    };
    usb.onEndpointWrite = (endpoint, bytes) => this.fromDevice(endpoint, bytes);
    usb.onEndpointRead = (endpoint) => {
      // The emulator takes the buffer away at once; the chip does when a packet has come.
      this.setAvailable(endpoint, true);
      this.toDevice();
    };
    const finish = usb.finishRead.bind(usb);
    usb.finishRead = (endpoint, bytes) => {
      this.setAvailable(endpoint, false);
      this.flying.delete(endpoint);
      finish(endpoint, bytes);
      if (endpoint === 0 && this.transfer?.stage === 'confirmed') {
        this.done();
      }
    };
  }

  available(endpoint) {
    return (this.view.getUint32(OUT_CONTROL + 8 * endpoint, true) & AVAILABLE) !== 0 && !this.flying.has(endpoint);
  }

  setAvailable(endpoint, on) {
    const register = OUT_CONTROL + 8 * endpoint;
    const was = this.view.getUint32(register, true);
    this.view.setUint32(register, on ? was | AVAILABLE : was & ~AVAILABLE, true);
  }

  /** Queues bytes for the serial port. */
  send(bytes) {
    this.waiting.push(...bytes);
    this.toDevice();
  }

  /** Takes what has come from the serial port. */
  take() {
    return this.received.splice(0);
  }

  /** One control transfer after the other; each yields and is resumed with what the device answered. */
  *greet() {
    const said = yield* this.ask(descriptor(DEVICE, 0, 64));
    yield* this.tell(setup(0x00, 5, 1, 0, 0));
    const device = yield* this.ask(descriptor(DEVICE, 0, 18));
    if (said.length < 18 || device.length !== 18) {
      throw new Error(`the device descriptor is ${device.length} bytes long`);
    }
    const word = (bytes, at) => bytes[at] | (bytes[at + 1] << 8);
    const head = yield* this.ask(descriptor(CONFIGURATION, 0, 9));
    const configuration = yield* this.ask(descriptor(CONFIGURATION, 0, word(head, 2)));
    this.bulk = bulkEndpoints(configuration);
    const strings = [];
    for (const at of [14, 15, 16]) {
      const bytes = yield* this.ask(descriptor(STRING, device[at], 255, ENGLISH));
      strings.push(Buffer.from(bytes.slice(2)).toString('utf16le'));
    }
    yield* this.tell(setup(0x00, 9, configuration[5], 0, 0));
    // 115,200 baud, one stop bit, no parity, eight bits; then: a terminal is ready.
    yield* this.tell(setup(0x21, 0x20, 0, 0, 7), [0x00, 0xc2, 0x01, 0x00, 0, 0, 8]);
    yield* this.tell(setup(0x21, 0x22, 3, 0, 0));
    const [maker, product, serial] = strings;
    this.device = { vendor: word(device, 8), product: word(device, 10), maker, name: product, serial };
  }

  *ask(request) {
    return yield* this.control({ request, length: request[6] | (request[7] << 8), stage: 'answer', answer: [] });
  }

  *tell(request, data = []) {
    return yield* this.control({ request, data, stage: data.length > 0 ? 'data' : 'acknowledge', answer: [] });
  }

  *control(transfer) {
    this.transfer = transfer;
    this.usb.sendSetupPacket(transfer.request);
    this.toDevice();
    return yield;
  }

  done() {
    this.answer = this.transfer.answer;
    this.transfer = null;
    this.pause.schedule(PAUSE_NS);
  }

  fromDevice(endpoint, bytes) {
    if (endpoint === this.bulk.in) {
      this.received.push(...bytes);
    }
    const transfer = this.transfer;
    if (endpoint !== 0 || transfer === null) {
      return;
    }
    if (transfer.stage === 'acknowledge') {
      this.done();
    } else if (transfer.stage === 'answer') {
      transfer.answer.push(...bytes);
      if (bytes.length < PACKET || transfer.answer.length >= transfer.length) {
        transfer.stage = 'confirm';
        this.toDevice();
      }
    }
  }

  /** Sends what the device has room for. */
  toDevice() {
    const transfer = this.transfer;
    if (transfer !== null && this.available(0)) {
      if (transfer.stage === 'data') {
        this.packet(0, transfer.data);
        transfer.stage = 'acknowledge';
      } else if (transfer.stage === 'confirm') {
        this.packet(0, []);
        transfer.stage = 'confirmed';
      }
    }
    const { out } = this.bulk;
    if (this.device !== null && this.waiting.length > 0 && this.available(out)) {
      this.packet(out, this.waiting.splice(0, PACKET));
    }
  }

  packet(endpoint, bytes) {
    this.flying.add(endpoint);
    this.usb.endpointReadDone(endpoint, Uint8Array.from(bytes));
  }
}

function bulkEndpoints(bytes) {
  const found = { in: -1, out: -1 };
  let data = false;
  for (let at = 0; at < bytes.length; at += bytes[at]) {
    if (bytes[at + 1] === INTERFACE) {
      data = bytes[at + 5] === CDC_DATA;
    } else if (bytes[at + 1] === ENDPOINT && data && bytes[at + 3] === BULK) {
      found[bytes[at + 2] & 0x80 ? 'in' : 'out'] = bytes[at + 2] & 0xf;
    }
  }
  return found;
}
