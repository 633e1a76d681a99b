//! One board for all of its life.

use crate::qemu::image::{EraseTear, tear_page, torn_word};
use fastrand::Rng;
use halfglass_protocol::LINES_MAX;
use halfglass_protocol::frame::{self, Channel, Decoder, FRAME_MAX};
use halfglass_protocol::message::{self, Reply, Request, Status};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// A sector of the flash.
pub const SECTOR: u32 = 4_096;

/// How long one order may take the emulator.
const ANSWER_MAX: Duration = Duration::from_secs(120);

/// How the board finds the world when power comes.
#[derive(Clone, Debug)]
pub struct World {
    /// Levels of the inputs.
    pub levels: u8,
    /// The feed is good.
    pub feed: bool,
    /// There is power on the USB plug.
    pub usb_power: bool,
    /// How long a sector takes to erase.
    pub erase_ms: u32,
    /// What the flash chip says of its maker, in hex.
    pub maker: &'static str,
    /// The number that the flash chip was made with.
    pub number: u64,
    /// The wires to the clock chip.
    pub wires: Wires,
}

/// The wires to the clock chip, and what is at their other end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wires {
    /// Nothing.
    Loose,
    /// The chip.
    Sound,
    /// The chip, which holds the data wire down until it was clocked so often.
    SdaDown(u32),
    /// The chip, with the clock wire held down.
    SclDown,
    /// The chip, which after so many bytes holds the clock wire down for ever.
    DeafAfter(u32),
}

impl Wires {
    fn order(self) -> Value {
        let (sda_down, deaf_after) = match self {
            Wires::SdaDown(clocks) => (clocks, None),
            Wires::DeafAfter(bytes) => (0, Some(bytes)),
            _ => (0, None),
        };
        json!({
            "present": self != Wires::Loose, "sdaDown": sda_down, "sclDown": self == Wires::SclDown,
            "deafAfter": deaf_after,
        })
    }
}

/// A sector's erase takes so long as a rule, and so long at most (W25Q16JV data sheet, from memory).
pub const ERASE_MS: (u32, u32) = (45, 400);

impl World {
    /// A Pico with a good feed, no power on its plug, everything off, and no clock chip.
    #[must_use]
    pub fn usual(number: u64) -> World {
        World {
            levels: 0,
            feed: true,
            usb_power: false,
            erase_ms: ERASE_MS.0,
            maker: "ef7015",
            number,
            wires: Wires::Loose,
        }
    }
}

/// Where a host can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Port {
    /// The USB plug.
    Usb,
    /// The service port, on a serial line.
    Service,
}

/// A flash operation that is about to happen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Operation {
    /// It is the erase of a sector, not the programming of a word.
    pub erase: bool,
    /// Where, from the first byte of the flash.
    pub at: u32,
    /// The word.
    pub word: u32,
}

/// Which operation to stop before.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// Programming counts.
    pub programs: bool,
    /// Erasing counts.
    pub erases: bool,
    /// Places that count: from, and one past.
    pub places: (u32, u32),
    /// So many are let by.
    pub skip: u32,
}

/// What the device said of itself to the computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Device {
    /// Vendor and product.
    pub id: (u16, u16),
    /// Its maker, its name, its number.
    pub strings: [String; 3],
}

/// A board.
pub struct Desk {
    child: Child,
    orders: ChildStdin,
    answers: Receiver<String>,
    /// The truth: how long each line was on, in nanoseconds.
    pub on_ns: [u64; LINES_MAX],
    /// True time under power, in nanoseconds.
    pub powered_ns: u64,
    away_ns: u64,
    /// How often the chip was reset by its watchdog.
    pub resets: u64,
    /// Flash operations since power came.
    pub operations: u64,
    /// The lamp is lit.
    pub lamp: bool,
    /// What is at the other end of the cable, once its port is open.
    pub device: Option<Device>,
    /// The operation that the board stands before.
    pub stopped: Option<Operation>,
    /// How often each line went on, or was on at power-up.
    pub starts: [u32; LINES_MAX],
    /// Power cuts.
    pub cuts: u32,
    levels: u8,
    received: Vec<u8>,
    wired: Vec<u8>,
    tag: u8,
    /// All orders so far, to be given again after a failure.
    given: String,
}

impl Desk {
    /// A new board with this firmware; it has no power yet.
    ///
    /// # Panics
    /// The emulator is missing; the message says what to do.
    #[must_use]
    pub fn new(firmware: &Path) -> Desk {
        let emulator = xtask::setup::rp2040().unwrap_or_else(|fault| {
            panic!(
                "these tests need node, npm and the emulator that they run (`cargo xtask setup`): {fault:#}"
            )
        });
        let mut child = Command::new(emulator.node)
            .arg(emulator.folder.join("main.js"))
            .arg(firmware)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the emulator starts");
        let orders = child.stdin.take().expect("asked for");
        let output = BufReader::new(child.stdout.take().expect("asked for"));
        let (sender, answers) = channel();
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        Desk {
            child,
            orders,
            answers,
            on_ns: [0; LINES_MAX],
            powered_ns: 0,
            away_ns: 0,
            resets: 0,
            operations: 0,
            lamp: false,
            device: None,
            stopped: None,
            starts: [0; LINES_MAX],
            cuts: 0,
            levels: 0,
            received: Vec::new(),
            wired: Vec::new(),
            tag: 0,
            given: String::new(),
        }
    }

    fn order(&mut self, order: &Value) -> Value {
        writeln!(self.given, "{order}").expect("text takes text");
        writeln!(self.orders, "{order}").expect("the emulator takes orders");
        let answer = self.answers.recv_timeout(ANSWER_MAX);
        let answer = answer.unwrap_or_else(|fault| panic!("the emulator does not answer {order}: {fault}"));
        serde_json::from_str(&answer).expect("an answer in JSON")
    }

    /// An order that is answered by the board's state.
    fn tell(&mut self, order: &Value) {
        let state = self.order(order);
        let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("no number in {state}")) as u64;
        self.powered_ns = number(&state["powered_ns"]);
        for (line, on_ns) in self.on_ns.iter_mut().enumerate() {
            *on_ns = number(&state["on_ns"][line]);
        }
        self.resets = number(&state["resets"]);
        self.operations = number(&state["operations"]);
        self.lamp = state["lamp"] == true;
        self.received.extend(from_hex(text(&state["received"])));
        self.wired.extend(from_hex(text(&state["wired"])));
        self.device = state["device"].is_object().then(|| Device {
            id: (number(&state["device"]["vendor"]) as u16, number(&state["device"]["product"]) as u16),
            strings: ["maker", "name", "serial"].map(|name| text(&state["device"][name]).to_owned()),
        });
        self.stopped = state["stopped"].is_object().then(|| {
            let word = from_hex(text(&state["stopped"]["word"]));
            Operation {
                erase: state["stopped"]["erase"] == true,
                at: number(&state["stopped"]["at"]) as u32,
                word: word.try_into().map_or(u32::MAX, u32::from_le_bytes),
            }
        });
    }

    /// Power comes. If it never went: it goes for a moment, between two instructions.
    pub fn power(&mut self, world: &World) {
        self.note_starts(0);
        self.levels = 0;
        self.note_starts(world.levels);
        self.received.clear();
        self.wired.clear();
        self.tell(&json!({
            "do": "on", "levels": world.levels, "button": false, "feed": world.feed, "usbPower": world.usb_power,
            "cable": true, "eraseMs": world.erase_ms, "maker": world.maker,
            "number": format!("{:016x}", world.number), "reset": "power", "clockWires": world.wires.order(),
        }));
    }

    fn note_starts(&mut self, levels: u8) {
        for (line, starts) in self.starts.iter_mut().enumerate() {
            *starts += u32::from((levels & !self.levels) >> line & 1);
        }
        self.levels = levels;
    }

    /// True on-time of a line in tenths, rounded down.
    #[must_use]
    pub fn on_tenths(&self, line: usize) -> u64 {
        self.on_ns[line] / 100_000_000
    }

    /// Lets so much time pass.
    pub fn run_ms(&mut self, ms: f64) {
        self.tell(&json!({ "do": "run", "ms": ms }));
        assert_eq!(self.stopped, None, "nothing was to be stopped before");
    }

    /// Lets so many seconds pass.
    pub fn run_s(&mut self, seconds: f64) {
        self.run_ms(1_000.0 * seconds);
    }

    /// Lets time pass while the lines follow a script: instants, in milliseconds from now, and the levels from then on.
    pub fn follow(&mut self, script: &[(f64, u8)], ms: f64) {
        for (_, levels) in script {
            self.note_starts(*levels);
        }
        self.tell(&json!({ "do": "run", "ms": ms, "timeline": script }));
    }

    /// Runs until the board is about to do what is wanted, at most for so long. True if it stands there.
    pub fn run_to(&mut self, wanted: Wanted, seconds: f64) -> bool {
        let kinds: Vec<&str> = [("program", wanted.programs), ("erase", wanted.erases)]
            .into_iter()
            .filter_map(|(kind, counts)| counts.then_some(kind))
            .collect();
        let (from, to) = wanted.places;
        let stop = json!({ "kinds": kinds, "from": from, "to": to, "skip": wanted.skip });
        self.tell(&json!({ "do": "run", "ms": 1_000.0 * seconds, "stopAt": stop }));
        self.stopped.is_some()
    }

    /// Drives the lines, now.
    pub fn drive(&mut self, levels: u8) {
        self.note_starts(levels);
        self.tell(&json!({ "do": "drive", "levels": levels }));
    }

    /// Holds the presence button, or lets it go.
    pub fn button(&mut self, held: bool) {
        self.tell(&json!({ "do": "drive", "button": held }));
    }

    /// The feed is good, or fails.
    pub fn feed(&mut self, good: bool) {
        self.tell(&json!({ "do": "drive", "feed": good }));
    }

    /// Leaves the processor in an endless loop with its interrupts off.
    pub fn hang(&mut self) {
        self.tell(&json!({ "do": "hang" }));
    }

    /// Sends the processor to its handler of hard faults, as a bus error would.
    pub fn fault(&mut self) {
        self.tell(&json!({ "do": "fault" }));
    }

    /// What the flash holds.
    pub fn flash(&mut self, at: u32, length: u32) -> Vec<u8> {
        from_hex(text(&self.order(&json!({ "do": "read", "at": at, "length": length }))["bytes"]))
    }

    /// What the RAM holds, as a debug probe reads it while the board runs.
    pub fn ram(&mut self, at: u32, length: u32) -> Vec<u8> {
        from_hex(text(&self.order(&json!({ "do": "ram", "at": at, "length": length }))["bytes"]))
    }

    /// Puts bytes into the flash, whatever was there.
    pub fn poke(&mut self, at: u32, bytes: &[u8]) {
        self.tell(&json!({ "do": "poke", "at": at, "bytes": to_hex(bytes) }));
    }

    /// Cuts power in the middle of the operation that the board stands before; nothing runs until power comes again.
    ///
    /// # Panics
    /// It stands before none.
    pub fn cut_torn(&mut self, tear: EraseTear, rng: &mut Rng) -> Operation {
        let operation = self.stopped.clone().expect("the board stands before an operation");
        self.cuts += 1;
        if operation.erase {
            let mut sector = self.flash(operation.at, SECTOR);
            tear_page(&mut sector, tear, rng);
            self.poke(operation.at, &sector);
        } else {
            let before = self.flash(operation.at, 4);
            let before = u32::from_le_bytes(before.try_into().expect("four bytes"));
            // A one leaves its cell as it is.
            let torn = torn_word(before, before & operation.word, rng);
            self.poke(operation.at, &torn.to_le_bytes());
        }
        operation
    }

    /// Power is gone for so long; nothing has run since before. The clock chip counts on.
    pub fn away_s(&mut self, seconds: f64) {
        self.tell(&json!({ "do": "away", "seconds": seconds }));
        self.away_ns += (1e9 * seconds) as u64;
    }

    /// True time since the beginning, power or no power, in milliseconds.
    #[must_use]
    pub fn true_ms(&self) -> u64 {
        (self.powered_ns + self.away_ns) / 1_000_000
    }

    /// The clock chip runs fast by so many parts in a million from now on. (What it has counted so far changes with it: say it before it is set.)
    pub fn clock_runs(&mut self, ppm: f64) {
        self.order(&json!({ "do": "clock", "ppm": ppm }));
    }

    /// The clock chip's registers.
    pub fn clock_registers(&mut self) -> Vec<u8> {
        from_hex(text(&self.order(&json!({ "do": "clock" }))["registers"]))
    }

    /// Puts bytes into the clock chip's registers; a time put there stands still until it is set.
    pub fn clock_poke(&mut self, at: u8, bytes: &[u8]) {
        self.order(&json!({ "do": "clock", "at": at, "bytes": to_hex(bytes) }));
    }

    /// The stack's high water since power came, in bytes.
    pub fn stack_high_water(&mut self) -> u64 {
        self.order(&json!({ "do": "stack" }))["stack"].as_u64().expect("a number")
    }

    /// Sends bytes over the USB cable; they arrive while the board runs on.
    pub fn send_bytes(&mut self, bytes: &[u8]) {
        self.send_to(Port::Usb, bytes);
    }

    /// Sends bytes to a port; they arrive while the board runs on.
    pub fn send_to(&mut self, port: Port, bytes: &[u8]) {
        let bytes = to_hex(bytes);
        self.tell(&match port {
            Port::Usb => json!({ "do": "send", "bytes": bytes }),
            Port::Service => json!({ "do": "say", "wire": "service", "in_ms": 0, "bytes": bytes }),
        });
    }

    /// The ship's talker says this, its first start bit so many milliseconds from now, at 4800 bits a second.
    pub fn talk(&mut self, in_ms: f64, bytes: &[u8]) {
        self.tell(&json!({ "do": "say", "wire": "ship", "in_ms": in_ms, "bytes": to_hex(bytes) }));
    }

    /// Takes what came from a port.
    pub fn take_from(&mut self, port: Port) -> Vec<u8> {
        std::mem::take(match port {
            Port::Usb => &mut self.received,
            Port::Service => &mut self.wired,
        })
    }

    /// Asks the board over the USB cable; what `read` makes of the reply. Some milliseconds pass.
    ///
    /// # Panics
    /// No reply within five seconds of the board's.
    pub fn ask<T>(&mut self, request: &Request, read: impl FnMut(Reply<'_>) -> T) -> T {
        self.ask_at(Port::Usb, request, read)
    }

    /// Asks the board at a port; what `read` makes of the reply. Some milliseconds pass.
    ///
    /// # Panics
    /// No reply within five seconds of the board's.
    pub fn ask_at<T>(&mut self, port: Port, request: &Request, mut read: impl FnMut(Reply<'_>) -> T) -> T {
        self.tag = self.tag.wrapping_add(1);
        let (mut body, mut bytes) = ([0; frame::BODY_MAX], [0; FRAME_MAX]);
        let body = message::encode(self.tag, request, &mut body).expect("a request fits");
        let bytes = frame::encode(Channel::Request, body, &mut bytes).expect("a frame fits").to_vec();
        self.send_to(port, &bytes);
        let mut decoder = Decoder::<FRAME_MAX>::new();
        for _ in 0..2_500 {
            self.run_ms(2.0);
            for byte in self.take_from(port) {
                if let Some((Channel::Reply, body)) = decoder.push(byte) {
                    let (tag, reply) = message::decode::<Reply<'_>>(body).expect("a tag");
                    if tag == self.tag {
                        return read(reply.expect("a reply of this version"));
                    }
                }
            }
        }
        panic!("no answer to {request:?}");
    }

    /// The board's status.
    pub fn status(&mut self) -> Status {
        self.ask(&Request::Status, |reply| match reply {
            Reply::Status(status) => status,
            other => panic!("asked for the status, got {other:?}"),
        })
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // Its own process and no other.
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            let file = xtask::root().join(format!("target/pico-{}.jsonl", self.child.id()));
            if std::fs::write(&file, &self.given).is_ok() {
                let file = file.display();
                eprintln!(
                    "to see it again: node tests/rp2040/main.js target/firmware/.../halfglass-pico < {file}"
                );
            }
        }
    }
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("no text: {value}"))
}

fn to_hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn from_hex(text: &str) -> Vec<u8> {
    let byte = |at| u8::from_str_radix(&text[at..at + 2], 16).unwrap_or_else(|_| panic!("no hex: {text}"));
    (0..text.len()).step_by(2).map(byte).collect()
}
