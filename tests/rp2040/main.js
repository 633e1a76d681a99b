// The emulated board, spoken to over standard input and output: one order a line, one answer a line, both JSON.
//
//   node main.js FIRMWARE.elf
//
// | do | with | answer |
// |---|---|---|
// | on | how the pins are, the cable, the flash chip, the wires to the clock chip | state |
// | run | ms, a timeline of levels, an operation of the flash to stop before | state |
// | drive | levels, button, feed | state |
// | send | bytes for the serial port on USB, in hex | state |
// | say | wire (service, ship), in_ms, bytes in hex: from then on they arrive at that line's pace | state |
// | read | at, length | bytes of the flash, in hex |
// | ram | at, length | bytes of the RAM, in hex |
// | poke | at, bytes | state: the flash as a cut left it |
// | away | seconds without power | state |
// | clock | ppm by which the clock chip runs fast; at, bytes to put into its registers | its registers, in hex |
// | hang | | state: the processor does nothing more |
// | fault | | state: the processor is in its handler of hard faults |
// | stack | | the stack's high water, in bytes |
//
// Power goes when nothing more is run: `on` begins anew with the flash as it is, an operation that was stopped before undone.

import { createInterface } from 'node:readline';
import { Board, place, RAM } from './board.js';
import { Image } from './image.js';

const board = new Board(new Image(process.argv[2]));

const hex = (bytes) => Buffer.from(bytes).toString('hex');
const bytes = (text) => [...Buffer.from(text, 'hex')];

function state() {
  const { pending, host } = board;
  return {
    powered_ns: board.poweredNs,
    on_ns: board.onNs,
    operations: board.operations,
    resets: board.resets,
    lamp: board.rp.gpio[25].value === 1,
    device: host?.device ?? null,
    received: hex(host?.take() ?? []),
    wired: hex(board.wires.service.uart.received.splice(0)),
    stopped: pending && {
      erase: pending.kind === 'erase',
      at: place(pending),
      word: hex(pending.kind === 'erase' ? [] : pending.bytes.slice(place(pending) - pending.offset).subarray(0, 4)),
    },
  };
}

const orders = {
  on: (order) => board.on({ ...order, maker: bytes(order.maker), number: bytes(order.number) }),
  run: (order) => board.run(order),
  drive: (order) => board.drive(order),
  send: (order) => board.host.send(bytes(order.bytes)),
  say: ({ wire, in_ms, bytes: text }) => board.wires[wire].talker.say(bytes(text), in_ms),
  read: ({ at, length }) => ({ bytes: hex(board.flash.subarray(at, at + length)) }),
  ram: ({ at, length }) => ({ bytes: hex(board.rp.sram.subarray(at - RAM, at - RAM + length)) }),
  poke: (order) => board.flash.set(bytes(order.bytes), order.at),
  away: ({ seconds }) => {
    board.awayNs += 1e9 * seconds;
  },
  clock: ({ ppm, at, bytes: put }) => {
    board.clock.ppm = ppm ?? board.clock.ppm;
    if (put !== undefined) {
      board.clock.poke(at, bytes(put));
    }
    board.clock.sync();
    return { registers: hex(board.clock.registers) };
  },
  hang: () => board.hang(),
  fault: () => board.fault(),
  stack: () => ({ stack: board.stack() }),
};

for await (const line of createInterface({ input: process.stdin })) {
  const { do: name, ...order } = JSON.parse(line);
  const answer = orders[name](order) ?? state();
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
