//! The emulator's process.

use super::gdb::Gdb;
use super::image::{FROM, Image, PAGE, TO};
use super::qtest::Qtest;
use super::stream::Stream;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Where the board's serial line goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cable {
    /// To a socket of this test; the emulated clock jumps over idle time.
    Test,
    /// To a pseudo-terminal, for a host program; the emulated clock runs with ours.
    Terminal,
}

/// A running emulator. It ends with this value.
pub struct Machine {
    child: Child,
    folder: TempDir,
    /// Pins, registers, memory.
    pub qtest: Qtest,
    /// Stops.
    pub gdb: Gdb,
    /// The board's serial line, unless it goes to a terminal.
    pub serial: Option<Stream>,
}

/// Controller registers and their values.
const NVMC_CONFIG: u32 = 0x4001_E504;
const NVMC_ERASE: u32 = 0x4001_E508;
/// The logger's number.
const UICR_CUSTOMER: u32 = 0x1000_1080;

impl Machine {
    /// Starts the emulator with this firmware and this flash; it stands before the first instruction.
    #[must_use]
    pub fn start(firmware: &Path, image: &Image, device_id: u64, cable: Cable) -> Machine {
        let program = xtask::setup::emulator().unwrap_or_else(|fault| {
            panic!("the emulator tests need qemu-system-arm (run `cargo xtask setup`): {fault:#}")
        });
        let folder = tempfile::Builder::new().prefix("hg").tempdir().unwrap();
        let socket = |name: &str| format!("unix:{},server=on,wait=off", folder.path().join(name).display());
        let mut command = Command::new(program);
        command.args([
            "-M",
            "microbit",
            "-nodefaults",
            "-display",
            "none",
            "-S",
            "-accel",
            "tcg",
            "-monitor",
            "none",
        ]);
        command.args([
            "-action",
            "shutdown=pause",
            "-qtest-log",
            "/dev/null",
            "-qtest",
            &socket("qtest"),
            "-gdb",
            &socket("gdb"),
        ]);
        command.args(["-global", "driver=nrf51_soc.rng,property=period_unfiltered_us,value=5000"]);
        match cable {
            Cable::Test => command.args(["-icount", "shift=6,sleep=off", "-serial", &socket("serial")]),
            Cable::Terminal => command.args(["-serial", "pty"]),
        };
        let said = File::create(folder.path().join("said")).unwrap();
        command.arg("-kernel").arg(firmware).stdin(Stdio::null());
        command.stdout(said.try_clone().unwrap()).stderr(said);
        let child = command.spawn().expect("the emulator starts");
        let path = |name: &str| folder.path().join(name);
        let qtest = Qtest(Stream::connect("qtest", &path("qtest")));
        let gdb = Gdb(Stream::connect("gdb", &path("gdb")));
        let serial = (cable == Cable::Test).then(|| Stream::connect("serial", &path("serial")));
        let mut machine = Machine { child, folder, qtest, gdb, serial };
        machine.gdb.greet();
        machine.load(image, device_id);
        machine
    }

    fn load(&mut self, image: &Image, device_id: u64) {
        self.qtest.write_word(NVMC_CONFIG, 2);
        for page in Image::pages() {
            self.qtest.write_word(NVMC_ERASE, page);
        }
        self.qtest.write_word(NVMC_CONFIG, 1);
        for page in Image::pages() {
            let content = image.page(page);
            if content.iter().any(|byte| *byte != 0xFF) {
                self.qtest.write(page, content);
            }
        }
        self.qtest.write(UICR_CUSTOMER, &device_id.to_le_bytes());
        self.qtest.write_word(NVMC_CONFIG, 0);
    }

    /// What is in flash now.
    pub fn image(&mut self) -> Image {
        Image(self.qtest.read(FROM, (TO - FROM) as usize))
    }

    /// One page of what is in flash now.
    pub fn page(&mut self, address: u32) -> Vec<u8> {
        self.qtest.read(address, PAGE as usize)
    }

    /// The pseudo-terminal that the serial line goes to.
    ///
    /// # Panics
    /// The emulator names none within five seconds.
    #[must_use]
    pub fn terminal(&self) -> PathBuf {
        let until = Instant::now() + Duration::from_secs(5);
        loop {
            let mut said = String::new();
            File::open(self.folder.path().join("said")).unwrap().read_to_string(&mut said).unwrap();
            let named = said.split_whitespace().find(|word| word.starts_with("/dev/"));
            if let Some(path) = named {
                return path.into();
            }
            assert!(Instant::now() < until, "the emulator names no terminal: {said}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Machine {
    fn drop(&mut self) {
        // Its own process and no other; nothing is lost, power cuts are what it is for.
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            let said = std::fs::read_to_string(self.folder.path().join("said")).unwrap_or_default();
            eprintln!("the emulator said: {said}");
        }
    }
}
