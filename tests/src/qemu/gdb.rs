//! The emulator's debugger socket: breakpoints, watchpoints, single steps, registers. The remote serial protocol's
//! few packets that these tests need, and no more.

use super::qtest::{from_hex, to_hex};
use super::stream::Stream;

/// Register numbers.
pub const R0: u32 = 0;
/// The stack pointer.
pub const SP: u32 = 13;
/// The link register.
pub const LR: u32 = 14;
/// The program counter.
pub const PC: u32 = 15;

/// What stopped the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// A breakpoint or the end of a step.
    Break,
    /// A store to this watched address is about to happen.
    Watch(u32),
}

/// The connection.
pub struct Gdb(pub Stream);

impl Gdb {
    /// Says hello on a fresh connection: the emulator lets single registers be written only to those who know them.
    pub fn greet(&mut self) {
        let features = self.ask("qXfer:features:read:target.xml:0,ffb");
        assert!(features.contains("<target>"), "gdb: {features}");
    }

    fn send(&mut self, packet: &str) {
        let sum = packet.bytes().fold(0u8, u8::wrapping_add);
        self.0.send(format!("${packet}#{sum:02x}").as_bytes());
    }

    fn receive(&mut self) -> String {
        loop {
            let start = self.0.held.iter().position(|byte| *byte == b'$');
            let end = start.and_then(|start| {
                self.0.held[start..].iter().position(|byte| *byte == b'#').map(|end| start + end)
            });
            if let (Some(start), Some(end)) = (start, end)
                && self.0.held.len() >= end + 3
            {
                let packet = String::from_utf8(self.0.held[start + 1..end].to_vec()).unwrap();
                self.0.held.drain(..end + 3);
                self.0.send(b"+");
                return packet;
            }
            self.0.more();
        }
    }

    fn ask(&mut self, packet: &str) -> String {
        self.send(packet);
        self.receive()
    }

    fn must(&mut self, packet: &str) {
        let answer = self.ask(packet);
        assert_eq!(answer, "OK", "gdb: {packet}");
    }

    /// Sets or removes a breakpoint.
    pub fn breakpoint(&mut self, address: u32, on: bool) {
        self.must(&format!("{}1,{address:x},2", if on { 'Z' } else { 'z' }));
    }

    /// Sets or removes a watch over stores into `len` bytes.
    pub fn watch(&mut self, address: u32, len: u32, on: bool) {
        self.must(&format!("{}2,{address:x},{len:x}", if on { 'Z' } else { 'z' }));
    }

    /// Lets the machine run without waiting for a stop.
    pub fn release(&mut self) {
        self.send("c");
    }

    /// Runs until something stops the machine.
    pub fn resume(&mut self) -> Stop {
        self.send("c");
        self.stopped()
    }

    /// Carries out one instruction.
    pub fn step(&mut self) {
        self.send("s");
        self.stopped();
    }

    fn stopped(&mut self) -> Stop {
        let answer = self.receive();
        assert!(answer.starts_with('T'), "gdb: the machine ended with {answer}");
        let watched = answer.split(';').find_map(|part| part.strip_prefix("watch:"));
        watched.map_or(Stop::Break, |address| Stop::Watch(u32::from_str_radix(address, 16).unwrap()))
    }

    /// Where the store that a watchpoint stopped at is about to write a word. (The stop itself names only the start of the
    /// range that is watched.)
    pub fn store_address(&mut self) -> u32 {
        let all = from_hex(&self.ask("g"));
        let register = |number: u16| {
            let at = usize::from(number) * 4;
            u32::from_le_bytes(all[at..at + 4].try_into().unwrap())
        };
        let at = register(15);
        let code = from_hex(&self.ask(&format!("m{at:x},2")));
        let code = u16::from_le_bytes([code[0], code[1]]);
        // ARMv6-M: STR with an immediate, STR with a register, STMIA.
        let base = register(code >> 3 & 7);
        match code >> 9 {
            0b011_0000..=0b011_0011 => base + u32::from(code >> 6 & 31) * 4,
            0b010_1000 => base.wrapping_add(register(code >> 6 & 7)),
            0b110_0000..=0b110_0011 => register(code >> 8 & 7),
            _ => panic!("the code {code:04x} at {at:#x} stores no word"),
        }
    }

    /// Reads a register.
    pub fn register(&mut self, number: u32) -> u32 {
        let all = from_hex(&self.ask("g"));
        let at = number as usize * 4;
        u32::from_le_bytes(all[at..at + 4].try_into().unwrap())
    }

    /// Writes a register.
    pub fn set_register(&mut self, number: u32, value: u32) {
        self.must(&format!("P{number:x}={}", to_hex(&value.to_le_bytes())));
    }

    /// Has the processor itself store a word, by its own instruction (address, register that says where, register that
    /// says what), and puts everything back: its private registers cannot be reached otherwise.
    pub fn store_by_processor(&mut self, store: (u32, u32, u32), address: u32, value: u32) {
        let (instruction, base_register, value_register) = store;
        let touched = [base_register, value_register, PC];
        let kept = touched.map(|register| self.register(register));
        for (register, content) in touched.into_iter().zip([address, value, instruction]) {
            self.set_register(register, content);
        }
        self.step();
        for (register, content) in touched.into_iter().zip(kept) {
            self.set_register(register, content);
        }
    }
}
