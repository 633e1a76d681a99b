//! A powered board on the desk.

use super::gdb::{LR, PC, R0, SP, Stop};
use super::image::{EraseTear, FROM, TO, tear_erase, torn_word};
use super::life::Life;
use super::machine::{Cable, Machine};
use super::symbols::Symbols;
use fastrand::Rng;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Reply, Request, Status};
use std::path::Path;
use std::time::{Duration, Instant};

/// The truth clock's rate: 31,250 Hz.
pub const TICKS_PER_S: u64 = 31_250;
/// The same in tenths of a second.
pub const TICKS_PER_TENTH: u64 = 3_125;

/// The longest run in one piece: the clock comes round after 38 hours.
const RUN_TICKS_MAX: u64 = 10 * 3_600 * TICKS_PER_S;

/// GPIO numbers of the inputs: the table in `boards/README.md`.
const PINS: [u32; 8] = [3, 2, 1, 18, 23, 22, 21, 16];
/// The presence button, low while held.
const BUTTON: u32 = 17;
/// The edge interrupt of all pins.
const GPIOTE: u32 = 6;

const TIMER0: u32 = 0x4000_8000;
const TIMER1: u32 = 0x4000_9000;
const TIMER2: u32 = 0x4000_A000;
const TIMER2_INTERRUPT: u32 = 10;
const RNG: u32 = 0x4000_D000;
const ERASE_REGISTER: u32 = 0x4001_E508;
const PAINT: [u8; 4] = [0xCC; 4];

/// What the firmware is about to do to its flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operation {
    /// Program the word at this address.
    Program(u32),
    /// Erase a page.
    Erase,
}

/// Where to watch for flash operations.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Watched {
    /// The first byte watched.
    pub from: u32,
    /// One past the last.
    pub to: u32,
    /// Erases of any page too.
    pub erases: bool,
}

/// A board under power.
pub struct Desk {
    /// The emulator.
    pub machine: Machine,
    symbols: Symbols,
    life: Life,
    levels: u8,
    /// The truth clock as last read, its turns included.
    now: u64,
    tag: u8,
    /// The machine stands at the alarm's handler.
    at_alarm: bool,
    /// How far behind the wanted instant the latest stop was, in ticks.
    pub late_ticks_max: u64,
}

impl Desk {
    /// Powers a board with these levels on its lines; it stands before the first instruction.
    #[must_use]
    pub fn power_on(firmware: &Path, life: &Life, levels: u8, cable: Cable) -> Desk {
        let machine = Machine::start(firmware, &life.image, life.device_id, cable);
        let mut desk = Desk {
            machine,
            symbols: Symbols::of(firmware),
            life: life.clone(),
            levels: 0,
            now: 0,
            tag: 0,
            at_alarm: false,
            late_ticks_max: 0,
        };
        desk.machine.qtest.set_line("/machine/nrf51", BUTTON, true);
        for pin in PINS {
            desk.machine.qtest.set_line("/machine/nrf51", pin, false);
        }
        if cable == Cable::Test {
            desk.start_clocks();
        }
        desk.drive(levels);
        desk
    }

    /// Powers a board that runs on a clock like ours; with it, the name of the port that its cable is.
    #[must_use]
    pub fn running(firmware: &Path, life: &Life, levels: u8) -> (Desk, String) {
        let mut desk = Desk::power_on(firmware, life, levels, Cable::Terminal);
        desk.machine.gdb.release();
        let port = desk.machine.terminal().to_str().expect("a name in plain letters").to_owned();
        (desk, port)
    }

    fn start_clocks(&mut self) {
        let qtest = &mut self.machine.qtest;
        for timer in [TIMER1, TIMER2] {
            qtest.write_word(timer + 0x510, 9);
            qtest.write_word(timer + 0x508, 3);
            qtest.write_word(timer + 0x504, 0);
            for compare in 0..4 {
                // A compare value that equals the count would match for as long as it does.
                qtest.write_word(timer + 0x540 + 4 * compare, u32::MAX);
            }
        }
        qtest.write_word(TIMER2 + 0x304, 1 << 17);
        for timer in [TIMER1, TIMER2] {
            qtest.write_word(timer + 0x00C, 1);
            qtest.write_word(timer, 1);
        }
        self.machine.gdb.store_by_processor(self.symbols.store, 0xE000_E100, 1 << TIMER2_INTERRUPT);
        self.machine.gdb.breakpoint(self.symbols.unused_handler, true);
    }

    /// While the machine is being stopped the emulator's clock still jumps to its next deadline, and sometimes on to those
    /// after it. The random number generator, which the firmware does not use, makes a deadline every 5 ms.
    fn cushion(&mut self, on: bool) {
        self.machine.qtest.write_word(if on { RNG } else { RNG + 4 }, 1);
    }

    /// The truth clock, in ticks since power came.
    ///
    /// # Panics
    /// It went back, which a clock does not.
    pub fn now(&mut self) -> u64 {
        self.machine.qtest.write_word(TIMER2 + 0x040, 1);
        let count = self.machine.qtest.read_word(TIMER2 + 0x540);
        self.passed_to(count)
    }

    /// The instant of the flash operation that was stopped at. The emulator's clock has jumped since; what the board's own timer
    /// captured just before the operation has not. (It was started a few ticks after the truth clock.)
    fn at_operation(&mut self) -> u64 {
        let count = self.machine.qtest.read_word(TIMER0 + 0x540);
        if u64::from(count) > self.now { self.passed_to(count) } else { self.now }
    }

    fn passed_to(&mut self, count: u32) -> u64 {
        let low = u64::from(count);
        let mut now = (self.now & !0xFFFF_FFFF) | low;
        if now < self.now {
            now += 1 << 32;
        }
        assert!(now - self.now < 1 << 31, "the emulated clock went back or ran away: {} to {now}", self.now);
        let passed = now - self.now;
        self.life.powered_ticks += passed;
        for (line, on) in self.life.on_ticks.iter_mut().enumerate() {
            if self.levels >> line & 1 != 0 {
                *on += passed;
            }
        }
        self.now = now;
        now
    }

    /// The truth so far.
    #[must_use]
    pub fn life(&self) -> &Life {
        &self.life
    }

    /// Drives the lines, now, and lets the board's edge interrupt come.
    pub fn drive(&mut self, levels: u8) {
        if self.now != 0 {
            self.now();
        }
        let changed = self.levels ^ levels;
        for (line, pin) in PINS.iter().enumerate() {
            if changed >> line & 1 != 0 {
                self.machine.qtest.set_line("/machine/nrf51", *pin, levels >> line & 1 != 0);
                self.life.starts[line] += u32::from(levels >> line & 1);
            }
        }
        self.levels = levels;
        if changed != 0 && self.now != 0 {
            self.interrupt(GPIOTE);
        }
    }

    /// Drives the lines of a board that runs on a clock like ours, with a cable to a terminal.
    pub fn drive_running(&mut self, levels: u8) {
        self.drive(levels);
        self.interrupt(GPIOTE);
    }

    /// Drives the lines without an edge interrupt: the board finds out at its next look.
    pub fn drive_unnoticed(&mut self, levels: u8) {
        self.now();
        for (line, pin) in PINS.iter().enumerate() {
            if (self.levels ^ levels) >> line & 1 != 0 {
                self.machine.qtest.set_line("/machine/nrf51", *pin, levels >> line & 1 != 0);
                self.life.starts[line] += u32::from(levels >> line & 1);
            }
        }
        self.levels = levels;
    }

    /// Raises an interrupt for a moment.
    pub fn interrupt(&mut self, number: u32) {
        self.machine.qtest.set_line("/machine/nrf51/armv6m", number, true);
        self.machine.qtest.set_line("/machine/nrf51/armv6m", number, false);
    }

    /// Holds the presence button, or lets it go.
    pub fn button(&mut self, held: bool) {
        self.machine.qtest.set_line("/machine/nrf51", BUTTON, !held);
    }

    /// Sets the alarm, and behind it deadlines for the clock to jump to while the machine is being stopped.
    fn set_alarm(&mut self, at: u64) {
        let registers =
            [(TIMER2, 1), (TIMER2, 2), (TIMER2, 3), (TIMER1, 0), (TIMER1, 1), (TIMER1, 2), (TIMER1, 3)];
        for (behind, (timer, compare)) in (0..).zip(registers) {
            let count = (at.wrapping_add(behind) & 0xFFFF_FFFF) as u32;
            self.machine.qtest.write_word(timer + 0x540 + 4 * compare, count);
        }
        for (timer, compare) in registers {
            // A compare value whose event stands is passed over.
            self.machine.qtest.write_word(timer + 0x140 + 4 * compare, 0);
        }
    }

    /// Puts the alarm out of the way.
    fn silence_alarm(&mut self) {
        self.machine.qtest.write_word(TIMER2 + 0x544, u32::MAX);
        self.machine.qtest.write_word(TIMER2 + 0x144, 0);
    }

    /// Leaves the alarm's handler as if it had returned.
    fn leave_alarm(&mut self) {
        if self.at_alarm {
            self.at_alarm = false;
            // What R0 held is on the stack, where the interrupt has put it.
            let gdb = &mut self.machine.gdb;
            let link = gdb.register(LR);
            gdb.set_register(R0, link);
            gdb.set_register(PC, self.symbols.handler_return);
        }
    }

    /// Runs to an instant of the truth clock.
    ///
    /// # Panics
    /// Something else stops the machine.
    pub fn run_until(&mut self, at: u64) {
        while self.now < at {
            let next = at.min(self.now + RUN_TICKS_MAX);
            self.cushion(false);
            self.set_alarm(next);
            self.leave_alarm();
            let stop = self.machine.gdb.resume();
            self.stopped(stop, next);
        }
    }

    fn stopped(&mut self, stop: Stop, at: u64) {
        let pc = self.machine.gdb.register(PC);
        assert!(
            stop == Stop::Break && pc == self.symbols.unused_handler,
            "the board stopped at {pc:#x} by {stop:?} (hard fault handler: {:#x})",
            self.symbols.hard_fault
        );
        self.at_alarm = true;
        self.silence_alarm();
        let now = self.now();
        self.late_ticks_max = self.late_ticks_max.max(now.saturating_sub(at));
    }

    /// Runs for so many seconds.
    pub fn run_s(&mut self, seconds: f64) {
        let at = self.now + (seconds * TICKS_PER_S as f64) as u64;
        self.run_until(at);
    }

    /// Runs until the next flash operation that is watched, at most to `at`. The operation has not happened yet.
    pub fn run_to_operation(&mut self, watched: Watched, at: u64) -> Option<Operation> {
        self.set_alarm(at);
        self.leave_alarm();
        self.watch(watched, true);
        self.cushion(true);
        let stop = self.machine.gdb.resume();
        self.watch(watched, false);
        match stop {
            Stop::Watch(address) => {
                self.at_operation();
                if !(FROM..TO).contains(&address) {
                    return Some(Operation::Erase);
                }
                let address = self.machine.gdb.store_address() & !3;
                assert!((FROM..TO).contains(&address), "a store to {address:#x} is no program");
                Some(Operation::Program(address))
            }
            Stop::Break => {
                self.stopped(stop, at);
                None
            }
        }
    }

    fn watch(&mut self, watched: Watched, on: bool) {
        if watched.to > watched.from {
            self.machine.gdb.watch(watched.from, watched.to - watched.from, on);
        }
        if watched.erases {
            self.machine.gdb.watch(ERASE_REGISTER, 4, on);
        }
    }

    /// Lets the operation that was stopped at happen.
    pub fn let_happen(&mut self) {
        self.machine.gdb.step();
    }

    /// Cuts power between two instructions.
    #[must_use]
    pub fn cut(mut self) -> Life {
        self.now();
        self.life.image = self.machine.image();
        self.life.cuts += 1;
        self.life
    }

    /// Cuts power in the middle of the operation that was stopped at. How an erase was torn is said.
    #[must_use]
    pub fn cut_torn(mut self, operation: Operation, tear: EraseTear, rng: &mut Rng) -> Life {
        self.life.cuts += 1;
        let before = self.machine.image();
        match operation {
            Operation::Program(address) => {
                let old = self.machine.qtest.read_word(address);
                self.machine.gdb.step();
                let new = self.machine.qtest.read_word(address);
                self.life.image = before;
                self.life.image.set_word(address, torn_word(old, new, rng));
            }
            Operation::Erase => {
                self.machine.gdb.step();
                let after = self.machine.image();
                let page = before.differing_page(&after);
                self.life.image = before;
                if let Some(page) = page {
                    tear_erase(&mut self.life.image, page, tear, rng);
                }
            }
        }
        self.life
    }

    /// Sends a request over the cable and does not wait: it arrives while the board runs on.
    pub fn send(&mut self, request: &Request) {
        self.tag = self.tag.wrapping_add(1);
        let mut body = [0; frame::BODY_MAX];
        let mut bytes = [0; FRAME_MAX];
        let body = message::encode(self.tag, request, &mut body).expect("a request fits");
        let bytes = frame::encode(Channel::Request, body, &mut bytes).expect("a frame fits");
        self.machine.serial.as_mut().expect("a cable to this test").send(bytes);
    }

    /// Asks the board over the cable; what `read` makes of the reply. Time passes meanwhile.
    ///
    /// # Panics
    /// No reply within twenty seconds of ours.
    pub fn ask<T>(&mut self, request: &Request, mut read: impl FnMut(Reply<'_>) -> T) -> T {
        self.send(request);
        let until = Instant::now() + Duration::from_secs(20);
        let mut decoder = Decoder::<FRAME_MAX>::new();
        loop {
            // A little at a time: the emulated clock would run far ahead of the cable.
            self.run_s(0.05);
            let serial = self.machine.serial.as_mut().expect("a cable to this test");
            serial.poll();
            for byte in serial.held.drain(..) {
                if let Some((Channel::Reply, body)) = decoder.push(byte) {
                    let (tag, reply) = message::decode::<Reply<'_>>(body).expect("a tag");
                    if tag == self.tag {
                        return read(reply.expect("a reply of this version"));
                    }
                }
            }
            assert!(Instant::now() < until, "no answer to {request:?}");
        }
    }

    /// The board's status.
    pub fn status(&mut self) -> Status {
        self.ask(&Request::Status, |reply| match reply {
            Reply::Status(status) => status,
            other => panic!("asked for the status, got {other:?}"),
        })
    }

    /// How much of the stack was ever used, in bytes.
    pub fn stack_high_water(&mut self) -> u64 {
        let (end, start) = (self.symbols.stack_end, self.symbols.stack_start);
        let stack = self.machine.qtest.read(end, (start - end) as usize);
        let untouched = stack.chunks_exact(4).take_while(|word| **word == PAINT).count();
        (stack.len() - 4 * untouched) as u64
    }

    /// Puts the stack pointer to the stack's very end and lets a function push, as the deepest call of an overflow would.
    /// True if the processor faults, with every static as it was. The board has reset itself afterwards and stands
    /// before its first instruction.
    pub fn overflow(&mut self) -> bool {
        let (from, to) = self.symbols.statics;
        let before = self.machine.qtest.read(from, (to - from) as usize);
        let gdb = &mut self.machine.gdb;
        gdb.breakpoint(self.symbols.hard_fault, true);
        gdb.set_register(SP, self.symbols.stack_end);
        gdb.set_register(PC, self.symbols.pushing_handler);
        let stop = gdb.resume();
        let faulted = stop == Stop::Break && gdb.register(PC) == self.symbols.hard_fault;
        gdb.breakpoint(self.symbols.hard_fault, false);
        let kept = self.machine.qtest.read(from, (to - from) as usize) == before;

        let gdb = &mut self.machine.gdb;
        gdb.breakpoint(self.symbols.reset, true);
        gdb.resume();
        gdb.breakpoint(self.symbols.reset, false);
        gdb.breakpoint(self.symbols.unused_handler, false);
        self.at_alarm = false;
        self.now = 0;
        self.start_clocks();
        faulted && kept
    }
}
