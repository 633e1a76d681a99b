// The chip's two UARTs, and what is wired to them. The emulator's own have no FIFO level, no receive time-out, no overrun, and
// send in no time at all; these go at the pace of the line, as the data sheet has it (RP2040, 4.2; Arm PL011, DDI 0183).

import { Part } from './parts.js';

const DR = 0x00;
const RSR = 0x04;
const FR = 0x18;
const IBRD = 0x24;
const FBRD = 0x28;
const LCR_H = 0x2c;
const CR = 0x30;
const IFLS = 0x34;
const IMSC = 0x38;
const RIS = 0x3c;
const MIS = 0x40;
const ICR = 0x44;

/** Bits of the interrupt registers. */
const RX = 1 << 4;
const TX = 1 << 5;
const TIMEOUT = 1 << 6;
const OVERRUN = 1 << 10;

const DEPTH = 32;
const FRAMING = 1 << 8;
/** CTRL: the UART's pin. */
const BY_UART = 2;
const SECOND_NS = 1e9;
/** Start bit, eight of data, stop bit. */
const BITS = 10;

export class Uart extends Part {
  /** `pins`: the numbers of the pins that are wired, `tx` and `rx`. */
  constructor(rp, irq, pins) {
    super();
    Object.assign(this, { rp, irq, pins });
    this.registers = new Map([[CR, 0x300], [IFLS, 0x12]]);
    this.divisor = 0;
    this.raw = 0;
    this.overrun = false;
    this.rx = [];
    this.tx = [];
    this.timeout = rp.clock.createAlarm(() => this.raise(this.rx.length > 0 ? TIMEOUT : 0));
    this.shifter = rp.clock.createAlarm(() => this.sent());
    this.shifting = null;
    /** What came out of the line. */
    this.received = [];
  }

  get(register) {
    return this.registers.get(register) ?? 0;
  }

  get baud() {
    return this.rp.clkPeri / (16 * (this.divisor / 64));
  }

  get depth() {
    return this.get(LCR_H) & (1 << 4) ? DEPTH : 1;
  }

  /** From how many bytes on, or down, one of the two FIFOs calls. */
  level(shift) {
    return this.depth === 1 ? 1 : [4, 8, 16, 24, 28][(this.get(IFLS) >> shift) & 7];
  }

  on(way) {
    return (this.get(CR) & 1) !== 0 && (this.get(CR) & way) !== 0;
  }

  isWired(pin) {
    return pin !== null && this.rp.gpio[pin].functionSelect === BY_UART;
  }

  raise(bits) {
    this.raw |= bits;
    this.update();
  }

  lower(bits) {
    this.raw &= ~bits;
    this.update();
  }

  update() {
    this.rp.setInterrupt(this.irq, (this.raw & this.get(IMSC)) !== 0);
  }

  /** A byte has come in whole, at the talker's rate. */
  receive(byte, baud) {
    if (!this.on(1 << 9) || !this.isWired(this.pins.rx) || !this.rp.gpio[this.pins.rx].inputEnable) {
      return;
    }
    const bits = this.get(LCR_H) & 0b1101110;
    // Another rate or format is not understood. Talkers may be a little off themselves, so of what a receiver puts up with (half
    // a bit in ten) not much is left to its own divisor.
    const understood = bits === 0b1100000 && Math.abs(this.baud / baud - 1) < 0.01;
    if (this.rx.length >= this.depth) {
      this.overrun = true;
      this.raise(OVERRUN);
      return;
    }
    this.rx.push(understood ? byte : (byte ^ 0x55) | FRAMING);
    this.timeout.schedule((32 * SECOND_NS) / this.baud);
    this.raise(this.rx.length >= this.level(3) ? RX : 0);
  }

  take() {
    const word = (this.rx.shift() ?? 0) | (this.overrun ? 1 << 11 : 0);
    if (this.rx.length < this.level(3)) {
      this.lower(RX);
    }
    if (this.rx.length === 0) {
      this.timeout.cancel();
      this.lower(TIMEOUT);
    }
    return word;
  }

  send(byte) {
    if (!this.on(1 << 8)) {
      throw new Error('the firmware sends on a UART that is off');
    }
    if (this.tx.length >= this.depth) {
      throw new Error('the firmware sends into a full FIFO');
    }
    this.tx.push(byte);
    if (this.shifting === null) {
      this.shift();
    }
    if (this.tx.length > this.level(0)) {
      this.lower(TX);
    }
  }

  shift() {
    this.shifting = this.tx.shift() ?? null;
    if (this.shifting !== null) {
      this.shifter.schedule((BITS * SECOND_NS) / this.baud);
    }
  }

  sent() {
    if (this.isWired(this.pins.tx)) {
      this.received.push(this.shifting);
    }
    const before = this.tx.length;
    this.shift();
    // It calls on passing the level, not for being below it.
    if (before > this.level(0) && this.tx.length <= this.level(0)) {
      this.raise(TX);
    }
  }

  readUint32(offset) {
    switch (offset) {
      case DR:
        return this.take();
      case RSR:
        return this.overrun ? 1 << 3 : 0;
      case FR:
        return (
          (this.tx.length === 0 ? 1 << 7 : 0) |
          (this.rx.length >= this.depth ? 1 << 6 : 0) |
          (this.tx.length >= this.depth ? 1 << 5 : 0) |
          (this.rx.length === 0 ? 1 << 4 : 0) |
          (this.shifting !== null ? 1 << 3 : 0)
        );
      case RIS:
        return this.raw;
      case MIS:
        return this.raw & this.get(IMSC);
      default:
        return this.get(offset);
    }
  }

  writeUint32(offset, value) {
    switch (offset) {
      case DR:
        this.send(value & 0xff);
        return;
      case RSR:
        this.overrun = false;
        return;
      case ICR:
        this.lower(value);
        return;
    }
    this.registers.set(offset, value);
    if (offset === LCR_H) {
      this.divisor = this.get(IBRD) * 64 + this.get(FBRD);
    } else if (offset === IMSC) {
      this.update();
    }
  }
}

/** What speaks into a line: bytes one behind the other, at its own rate in bits per second. */
export class Talker {
  constructor(uart, clock, baud) {
    Object.assign(this, { uart, clock, baud });
    this.waiting = [];
    this.next = clock.createAlarm(() => this.arrive());
  }

  /** The first start bit comes `inMs` from now, or behind what is still being said. */
  say(bytes, inMs = 0) {
    if (inMs > 0) {
      this.clock.createAlarm(() => this.say(bytes)).schedule(inMs * 1e6);
      return;
    }
    if (this.waiting.length === 0) {
      this.next.schedule((BITS * SECOND_NS) / this.baud);
    }
    for (const byte of bytes) {
      this.waiting.push(byte);
    }
  }

  arrive() {
    this.uart.receive(this.waiting.shift(), this.baud);
    if (this.waiting.length > 0) {
      this.next.schedule((BITS * SECOND_NS) / this.baud);
    }
  }
}
