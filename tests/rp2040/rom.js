// A stand-in for the chip's boot ROM, which the emulator lacks: a table of functions, each of which stops the processor for
// a moment and is carried out here. Table and names: RP2040 data sheet, 2.8.3.

const FIRST = 0x100;
const LOOK_UP = 0;
/** Two instructions: stop with a number, return. */
const STOP = 0xbe00;
const RETURN = 0x4770;

/**
 * The ROM's words and what to do at each stop.
 *
 * `flash`: what carries out erase(offset, length) and program(offset, bytes).
 */
export function rom(flash) {
  // By the two letters under which a program looks them up.
  const functions = {
    IF: () => {},
    EX: () => {},
    FC: () => {},
    CX: () => {},
    RE: ([offset, length]) => flash.erase(offset, length),
    RP: ([offset, from, length], memory) => flash.program(offset, memory.bytes(from, length)),
    MC: ([to, from, length], memory) => memory.copy(to, from, length),
    C4: ([to, from, length], memory) => memory.copy(to, from, length),
    MS: ([to, byte, length], memory) => memory.fill(to, byte, length),
    S4: ([to, byte, length], memory) => memory.fill(to, byte, length),
    P3: ([word]) => word.toString(2).replaceAll('0', '').length,
    R3: ([word]) => parseInt(word.toString(2).padStart(32, '0').split('').reverse().join(''), 2),
    L3: ([word]) => Math.clz32(word),
    T3: ([word]) => (word === 0 ? 32 : 31 - Math.clz32(word & -word)),
  };
  const names = Object.keys(functions);
  const pointer = (n) => (FIRST + 4 * n) | 1;
  const lookUp = ([, code]) => {
    const name = String.fromCharCode(code & 0xff, code >> 8);
    const n = names.indexOf(name);
    if (n < 0) {
      throw new Error(`the firmware asks the boot ROM for ${name}, which this one does not have`);
    }
    return pointer(n + 1);
  };
  const stops = [lookUp, ...names.map((name) => functions[name])];

  const bytes = new Uint8Array(0x4000);
  const view = new DataView(bytes.buffer);
  bytes.set([0x4d, 0x75, 0x01, 0x03], 0x10);
  view.setUint16(0x14, 0x200, true);
  view.setUint16(0x16, 0x300, true);
  view.setUint16(0x18, pointer(LOOK_UP), true);
  stops.forEach((_, n) => {
    view.setUint16(FIRST + 4 * n, STOP | n, true);
    view.setUint16(FIRST + 4 * n + 2, RETURN, true);
  });
  return { words: new Uint32Array(bytes.buffer), stops };
}
