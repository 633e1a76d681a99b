// The firmware's ELF file: what of it lies where in flash, and what its symbols are called.

import { readFileSync } from 'node:fs';

const LOADED = 1;
const SYMBOLS = 2;

/** Where the flash is mapped. */
export const FLASH = 0x10000000;

export class Image {
  constructor(path) {
    const file = readFileSync(path);
    if (file.toString('latin1', 1, 4) !== 'ELF' || file[4] !== 1) {
      throw new Error(`${path} is no 32-bit ELF file`);
    }
    /** Pieces of flash: offset from its first byte, and content. */
    this.pieces = [];
    const headers = file.readUInt32LE(28);
    for (let n = 0; n < file.readUInt16LE(44); n++) {
      const at = headers + n * file.readUInt16LE(42);
      const [kind, from, , physical, length] = [0, 4, 8, 12, 16].map((field) => file.readUInt32LE(at + field));
      if (kind === LOADED && length > 0) {
        this.pieces.push({ offset: physical - FLASH, bytes: file.subarray(from, from + length) });
      }
    }
    this.symbols = symbols(file);
  }

  /** A symbol's address. */
  address(name) {
    const address = this.symbols.get(name);
    if (address === undefined) {
      throw new Error(`no symbol ${name} in the firmware`);
    }
    return address;
  }
}

function symbols(file) {
  const found = new Map();
  const sections = file.readUInt32LE(32);
  const section = (n) => {
    const at = sections + n * file.readUInt16LE(46);
    return [4, 16, 20, 24].map((field) => file.readUInt32LE(at + field));
  };
  for (let n = 0; n < file.readUInt16LE(48); n++) {
    const [kind, from, length, names] = section(n);
    if (kind !== SYMBOLS) {
      continue;
    }
    const [, namesFrom] = section(names);
    for (let at = from; at < from + length; at += 16) {
      const name = namesFrom + file.readUInt32LE(at);
      found.set(file.toString('latin1', name, file.indexOf(0, name)), file.readUInt32LE(at + 4));
    }
  }
  return found;
}
