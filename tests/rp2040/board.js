// The board on the desk: the emulator, what it lacks, the flash that outlives the power, and the truth.
//
// Time is the emulator's own clock, in nanoseconds, which the firmware can read but not touch. How long each line was truly
// on is summed up here, whatever the firmware makes of it.

import { RP2040 } from 'rp2040js';
import { Clock, connect } from './clock.js';
import { Host } from './host.js';
import { ChipReset, Ssi } from './parts.js';
import { rom } from './rom.js';
import { Talker, Uart } from './uart.js';

export const RAM = 0x20000000;
/** Where the boot ROM puts the second boot stage. */
const BOOT2_RAM = 0x20041f00;
const BOOT2_LENGTH = 0x100;
const FLASH_LENGTH = 2 * 1024 * 1024;

/** The table in `boards/README.md`. */
const INPUTS = [2, 3, 4, 5, 6, 7, 8, 12];
const BUTTON = 10;
const FEED = 11;
const USB_POWER = 24;
const LAMP = 25;
const SERVICE = { base: 0x40034, irq: 20, pins: { tx: 0, rx: 1 }, baud: 115_200 };
const SHIP = { base: 0x40038, irq: 21, pins: { tx: null, rx: 9 }, baud: 4_800 };

const CYCLE_NS = 8;
/** A page takes so long; an erase is told. W25Q16JV data sheet, typical, from memory. */
const PROGRAM_NS = 400_000;
const MS = 1_000_000;

const PAINT = 0xcccccccc;

export class Board {
  constructor(image) {
    this.image = image;
    this.flash = new Uint8Array(FLASH_LENGTH).fill(0xff);
    for (const { offset, bytes } of image.pieces) {
      this.flash.set(bytes, offset);
    }
    this.onNs = INPUTS.map(() => 0);
    this.poweredNs = 0;
    this.levels = 0;
    this.resets = 0;
    this.rp = null;
    this.awayNs = 0;
    this.clock = new Clock(() => this.trueNs());
  }

  /** True time, power or no power. */
  trueNs() {
    return this.awayNs + this.poweredNs + (this.rp === null ? 0 : this.rp.clock.nanos - this.countedNs);
  }

  /** Power comes. */
  on({ levels, button, feed, usbPower, cable, eraseMs, maker, number, reset, clockWires }) {
    Object.assign(this, { clockWires, levels, cable, eraseMs, operations: 0, stopAt: null, pending: null, bootedNs: 0 });
    this.chip = { maker, number };
    this.pins = { [BUTTON]: !button, [FEED]: feed, [USB_POWER]: usbPower };
    this.lampLit = 0;
    this.boot(reset, null);
  }

  /** From the reset to the second boot stage, as the boot ROM does it. */
  boot(reset, watchdog) {
    const rp = new RP2040();
    rp.logger = { debug() {}, info() {}, warn() {}, error: (part, text) => { throw new Error(`${part}: ${text}`); } };
    const { words, stops } = rom({
      erase: (offset, length) => this.operate({ kind: 'erase', offset, length }),
      program: (offset, bytes) => this.operate({ kind: 'program', offset, bytes }),
    });
    rp.bootrom.set(words);
    rp.onBreak = (n) => this.atStop(stops[n], n);
    rp.peripherals[0x18000] = new Ssi(this.chip);
    rp.peripherals[0x40064] = new ChipReset(reset);
    rp.flash.set(this.flash);
    const old = this.rp;
    this.rp = rp;
    this.countedNs = 0;
    this.fixInterrupts();

    const dog = rp.peripherals[0x40058];
    if (watchdog !== null) {
      dog.scratchData.set(watchdog.scratchData);
      dog.reason = watchdog.reason;
      // A reset leaves the RAM as it was.
      rp.sram.set(old.sram);
    }
    // The machine is made anew after the instruction during which it bites; until then it must not bite again.
    dog.onWatchdogTrigger = () => {
      this.bitten = true;
      dog.alarm.enable = false;
    };
    this.bitten = false;

    this.host = this.cable ? new Host(rp.usbCtrl, rp.usbDPRAMView, rp.clock) : null;
    this.wires = {};
    for (const [name, { base, irq, pins, baud }] of Object.entries({ service: SERVICE, ship: SHIP })) {
      const uart = new Uart(rp, irq, pins);
      rp.peripherals[base] = uart;
      this.wires[name] = { uart, talker: new Talker(uart, rp.clock, baud) };
    }
    this.drivePins();
    connect(rp, this.clock, this.clockWires);
    rp.sram.set(this.flash.subarray(0, BOOT2_LENGTH), BOOT2_RAM - RAM);
    rp.core.SP = BOOT2_RAM;
    rp.core.PC = BOOT2_RAM;
    rp.core.LR = 0;
  }

  /** The emulator lets an interrupt into its handler when it ends a sleep with interrupts held off; the processor does not. */
  fixInterrupts() {
    const { core } = this.rp;
    const check = core.checkForInterrupts.bind(core);
    core.checkForInterrupts = () => {
      if (core.waiting && core.PM) {
        return (core.pendingInterrupts & core.enabledInterrupts) !== 0;
      }
      return check();
    };
  }

  drivePins() {
    INPUTS.forEach((pin, line) => this.drivePin(pin, (this.levels >> line) & 1));
    for (const [pin, high] of Object.entries(this.pins)) {
      this.drivePin(Number(pin), high);
    }
  }

  drivePin(number, high) {
    const pin = this.rp.gpio[number];
    // Setting a pin to what it is would count as an edge.
    if (pin.rawInputValue !== Boolean(high)) {
      pin.setInputValue(Boolean(high));
    }
  }

  /** Drives what is named, now. */
  drive({ levels, button, feed }) {
    this.count();
    this.levels = levels ?? this.levels;
    if (button !== undefined) {
      this.pins[BUTTON] = !button;
    }
    this.pins[FEED] = feed ?? this.pins[FEED];
    this.drivePins();
  }

  /** Brings the truth up to now. */
  count() {
    const now = this.rp.clock.nanos;
    const passed = now - this.countedNs;
    this.countedNs = now;
    this.poweredNs += passed;
    for (let line = 0; line < INPUTS.length; line++) {
      if ((this.levels >> line) & 1) {
        this.onNs[line] += passed;
      }
    }
    if (this.rp.gpio[LAMP].value === 1) {
      this.lampLit += 1;
    }
  }

  atStop(stop, n) {
    if (stop === undefined) {
      throw new Error(`the processor stopped by itself (bkpt ${n}) at ${this.rp.core.PC.toString(16)}`);
    }
    const { core, sram } = this.rp;
    const ram = (from, length) => {
      if (from < RAM || from + length > RAM + sram.length) {
        throw new Error(`the boot ROM is given the address ${from.toString(16)}, which is no RAM`);
      }
      return from - RAM;
    };
    const memory = {
      bytes: (from, length) => sram.slice(ram(from, length), ram(from, length) + length),
      copy: (to, from, length) => {
        for (let n = 0; n < length; n++) {
          this.rp.writeUint8(to + n, this.rp.readUint8(from + n));
        }
      },
      fill: (to, byte, length) => {
        for (let n = 0; n < length; n++) {
          this.rp.writeUint8(to + n, byte);
        }
      },
    };
    const [first] = core.registers;
    const result = stop([...core.registers.subarray(0, 4)], memory);
    core.registers[0] = result ?? first;
  }

  /** The firmware asks for a flash operation: it happens now, or the board stops before it. */
  operate(operation) {
    if (!this.rp.core.PM) {
      throw new Error('the flash is touched while interrupts are allowed');
    }
    this.pending = operation;
    const { stopAt } = this;
    if (stopAt !== null && matches(stopAt, operation)) {
      if (stopAt.skip === 0) {
        this.stopAt = null;
        this.stopped = true;
        return;
      }
      stopAt.skip -= 1;
    }
    this.happen();
  }

  /** The operation happens, whole: programming clears bits and never sets one. */
  happen() {
    const { kind, offset, length, bytes } = this.pending;
    this.pending = null;
    this.operations += 1;
    if (kind === 'erase') {
      this.flash.fill(0xff, offset, offset + length);
      this.rp.flash.fill(0xff, offset, offset + length);
    } else {
      bytes.forEach((byte, n) => {
        this.flash[offset + n] &= byte;
        this.rp.flash[offset + n] = this.flash[offset + n];
      });
    }
    // The processor waits in the boot ROM meanwhile.
    this.rp.clock.tick(kind === 'erase' ? this.eraseMs * MS : PROGRAM_NS);
  }

  /** Hangs the processor: it sleeps, and nothing can wake it. (In a loop it would hang too, but take us minutes.) */
  hang() {
    const { core } = this.rp;
    core.PM = true;
    core.enabledInterrupts = 0;
    core.waiting = true;
  }

  /** What a bus error comes to, which the emulator does not raise: the processor goes to the handler of hard faults. */
  fault() {
    const { core } = this.rp;
    core.PC = this.image.address('HardFault') & ~1;
    core.waiting = false;
  }

  /** Runs for so long, or to the operation that is asked for. `timeline`: when, from now, which levels. */
  run({ ms, stopAt = null, timeline = [] }) {
    this.stopped = false;
    this.stopAt = stopAt;
    for (const [at, levels] of timeline) {
      this.rp.clock.createAlarm(() => this.drive({ levels })).schedule(at * MS);
    }
    const began = this.rp.clock.nanos;
    if (this.pending !== null) {
      // Part of the timeline may lie within.
      this.happen();
      this.count();
    }
    let left = ms * MS - (this.rp.clock.nanos - began);
    while (left > 0 && !this.stopped) {
      const before = this.rp.clock.nanos;
      this.runUntil(before + left);
      left -= this.rp.clock.nanos - before;
      this.count();
      if (this.bitten) {
        this.resets += 1;
        this.boot('power', this.rp.peripherals[0x40058]);
      }
    }
  }

  runUntil(until) {
    const { core, clock } = this.rp;
    while (clock.nanosCounter < until && !this.stopped && !this.bitten) {
      if (core.waiting) {
        if ((core.pendingInterrupts & core.enabledInterrupts) !== 0) {
          core.waiting = false;
          continue;
        }
        const next = clock.nextAlarm === null ? until : Math.min(until, clock.nextAlarm.nanos);
        // Whole nanoseconds, and one at least: alarms may be due at fractions, which sums of fractions miss.
        clock.tick(Math.max(1, Math.ceil(next - clock.nanosCounter)));
      } else {
        const target = clock.nanosCounter + core.executeInstruction() * CYCLE_NS;
        if (clock.nextAlarm === null || clock.nextAlarm.nanos > target) {
          clock.nanosCounter = target;
        } else {
          clock.tick(target - clock.nanosCounter);
        }
      }
    }
  }

  /** How deep the stack ever went, in bytes. */
  stack() {
    const [end, start] = ['_stack_end', '_stack_start'].map((name) => this.image.address(name));
    let untouched = end;
    while (untouched < start && this.rp.sramView.getUint32(untouched - RAM, true) === PAINT) {
      untouched += 4;
    }
    return start - untouched;
  }
}

/** Where an operation begins: the sector, or the first word that is programmed. */
export function place({ kind, offset, bytes }) {
  return kind === 'erase' ? offset : offset + (Math.max(0, bytes.findIndex((byte) => byte !== 0xff)) & ~3);
}

function matches({ kinds, from, to }, operation) {
  const at = place(operation);
  return kinds.includes(operation.kind) && at >= from && at < to;
}
