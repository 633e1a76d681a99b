// The clock chip with a battery of its own, a DS3231, and the two wires to it. Registers and their ways: its data sheet (19-5170),
// "Timekeeping Registers", "Special-Purpose Registers" and "I2C Serial Data Bus".

const ADDRESS = 0x68;

const TIME = 7;
const CONTROL = 0x0e;
const STATUS = 0x0f;
const LAST = 0x12;
const STOPPED = 0x80;
/** Bits of the status that a program can clear and not set: the oscillator stood still, the two alarms. */
const CLEARED_ONLY = 0x83;
const TWELVE = 0x40;
const CENTURY = 0x80;

const SDA = 20;
const SCL = 21;

/** Of the register RESET of the chip's resets. */
const RESETS = 0x4000c;
const I2C0 = 1 << 3;

/** One bit at 100 kHz; a byte has nine. */
const BIT_NS = 10_000;
const MS = 1_000_000;

const digits = (n) => ((n / 10) << 4) | n % 10;
const number = (byte) => 10 * (byte >> 4) + (byte & 15);

export class Clock {
  /** `trueNs`: what tells the truth's time, power or no power. */
  constructor(trueNs) {
    this.trueNs = trueNs;
    this.registers = new Uint8Array(LAST + 1);
    // As when power first comes.
    this.registers.set([0x00, 0x00, 0x00, 0x01, 0x01, 0x01, 0x00]);
    this.registers[CONTROL] = 0x1c;
    this.registers[STATUS] = 0x88;
    this.pointer = 0;
    /** By how many parts in a million it runs fast. */
    this.ppm = 0;
    this.restart();
  }

  /** Counts on from what the registers say; a second begins now. */
  restart() {
    const [second, minute, hour, , day, month, year] = this.registers;
    const from = Date.UTC(
      2000 + number(year) + (month & CENTURY ? 100 : 0), number(month & 0x1f) - 1, number(day),
      number(hour & ~TWELVE), number(minute), number(second),
    );
    this.began = { ms: from, ns: this.trueNs() };
  }

  /** The registers of the time, as of now. */
  sync() {
    if (this.frozen) {
      return;
    }
    const gone = (this.trueNs() - this.began.ns) * (1 + this.ppm / 1e6);
    const now = new Date(this.began.ms + Math.floor(gone / 1e9) * 1_000);
    const century = now.getUTCFullYear() >= 2100 ? CENTURY : 0;
    this.registers.set([
      digits(now.getUTCSeconds()), digits(now.getUTCMinutes()), digits(now.getUTCHours()), now.getUTCDay() + 1,
      digits(now.getUTCDate()), digits(now.getUTCMonth() + 1) | century, digits(now.getUTCFullYear() % 100),
    ]);
  }

  /** Puts bytes into the registers by other means; a time put there stands still. */
  poke(at, bytes) {
    this.registers.set(bytes, at);
    this.frozen ||= at < TIME;
  }

  // What the chip sees of the wires.

  begin(isRead) {
    this.sync();
    this.pointed = isRead;
  }

  write(byte) {
    if (!this.pointed) {
      this.pointed = true;
      this.pointer = byte % (LAST + 1);
      return;
    }
    if (this.pointer === STATUS) {
      const was = this.registers[STATUS];
      byte = (byte & ~CLEARED_ONLY) | (byte & was & CLEARED_ONLY);
    }
    this.registers[this.pointer] = byte;
    // Every byte counts from its acknowledgement on.
    if (this.pointer < TIME) {
      this.frozen = false;
      this.restart();
    }
    this.pointer = (this.pointer + 1) % (LAST + 1);
  }

  read() {
    const byte = this.registers[this.pointer];
    this.pointer = (this.pointer + 1) % (LAST + 1);
    return byte;
  }
}

/** Joins the chip to the processor's I2C. `wires`: whether it is there, and what is wrong. */
export function connect(rp, clock, { present, sdaDown, sclDown, deafAfter }) {
  const i2c = rp.i2c[0];
  let then = () => {};
  const alarm = rp.clock.createAlarm(() => then());
  const later = (bits, next) => {
    then = next;
    alarm.schedule(bits * BIT_NS);
  };
  let bytes = 0;
  // Somebody keeps the clock's wire down for ever, in the middle of a message.
  const goesOn = () => deafAfter === null || bytes++ < deafAfter;

  i2c.onStart = () => later(1, () => i2c.completeStart());
  i2c.onConnect = (address, mode) => later(9, () => {
    const speaks = present && address === ADDRESS;
    if (speaks) {
      clock.begin(mode === 1);
    }
    i2c.completeConnect(speaks);
  });
  i2c.onWriteByte = (byte) => later(9, () => {
    if (goesOn()) {
      clock.write(byte);
      i2c.completeWrite(true);
    }
  });
  i2c.onReadByte = () => later(9, () => {
    if (goesOn()) {
      i2c.completeRead(clock.read());
    }
  });
  i2c.onStop = () => later(1, () => i2c.completeStop());

  // The emulator's resets reset nothing.
  const resets = rp.peripherals[RESETS];
  const reset = resets.writeUint32.bind(resets);
  resets.writeUint32 = (offset, value) => {
    if (offset === 0 && value & I2C0) {
      alarm.cancel();
      i2c.txFIFO.reset();
      i2c.rxFIFO.reset();
      Object.assign(i2c, { state: 0, busy: false, stop: false, pendingRestart: false, enable: 0, intRaw: 0 });
    }
    reset(offset, value);
  };

  rp.gpio[SDA].setInputValue(sdaDown === 0);
  rp.gpio[SCL].setInputValue(!sclDown);
  // A chip that was cut off in the middle of a byte lets go when it has been clocked through the rest of it.
  let clocked = 0;
  rp.gpio[SCL].addListener((state) => {
    if (state === 0 && ++clocked === sdaDown) {
      rp.gpio[SDA].setInputValue(true);
    }
  });
}
