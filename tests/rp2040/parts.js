// Parts of the chip that the emulator lacks, or has otherwise than the firmware needs them.

/** What a peripheral of the emulator answers to. Registers are words; the two bits above the offset mean xor, set and clear. */
export class Part {
  writeUint32Atomic(offset, value, kind) {
    const was = kind === 0 ? 0 : this.readUint32(offset);
    this.writeUint32(offset, [value, was ^ value, was | value, was & ~value][kind] >>> 0);
  }
}

/** VREG_AND_CHIP_RESET: why the chip was last reset. */
export class ChipReset extends Part {
  constructor(reason) {
    super();
    this.reason = { power: 1 << 8, pin: 1 << 16, debugger: 1 << 20 }[reason];
  }

  readUint32(offset) {
    return offset === 8 ? this.reason : 0;
  }

  writeUint32() {}
}

const CTRLR0 = 0x00;
const SSIENR = 0x08;
const SR = 0x28;
const DR0 = 0x60;
const COMMAND_THEN_ANSWER = 3;

/** The serial interface to the flash chip, and of the chip what answers to commands. Flash content is not read this way. */
export class Ssi extends Part {
  /** `chip`: the bytes that answer READ ID and READ UNIQUE ID. */
  constructor(chip) {
    super();
    this.answers = new Map([
      [0x05, [0]],
      // Quad mode is on, so that the second boot stage has nothing to write.
      [0x35, [2]],
      [0x9f, chip.maker],
      [0x4b, [0, 0, 0, 0, ...chip.number]],
    ]);
    this.registers = new Map();
    this.begin();
  }

  begin() {
    this.sent = [];
    this.taken = 0;
  }

  /** The n-th byte that came in since the command began. */
  answer(n) {
    const answer = this.answers.get(this.sent[0]) ?? [];
    const mode = ((this.registers.get(CTRLR0) ?? 0) >> 8) & 3;
    const at = mode === COMMAND_THEN_ANSWER ? n : n - 1;
    // A chip that knows no more says its last byte.
    return at < 0 ? 0 : (answer[at] ?? answer.at(-1) ?? 0);
  }

  readUint32(offset) {
    switch (offset) {
      case SR:
        // Sent all, room for more, something came in.
        return 0b1110;
      case DR0: {
        const byte = this.answer(this.taken);
        this.taken += 1;
        const mode = ((this.registers.get(CTRLR0) ?? 0) >> 8) & 3;
        if (mode !== COMMAND_THEN_ANSWER && this.taken >= this.sent.length) {
          this.begin();
        }
        return byte;
      }
      default:
        return this.registers.get(offset) ?? 0;
    }
  }

  writeUint32(offset, value) {
    if (offset === DR0) {
      this.sent.push(value & 0xff);
      return;
    }
    if (offset === SSIENR) {
      this.begin();
    }
    this.registers.set(offset, value);
  }
}
