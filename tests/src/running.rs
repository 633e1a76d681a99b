//! The built program while it runs: what it prints, line by line as it comes, and a simulated logger on a port of its own
//! whose switches are worked meanwhile.

use crate::command::{DEVICE, halfglass};
use halfglass::simulate::{Geometry, Options, Simulation};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A program that runs. It is ended with this value.
pub struct Running {
    child: Child,
    lines: Receiver<(Instant, String)>,
    /// Everything that it printed so far.
    pub said: String,
}

impl Running {
    /// Starts `halfglass` in a folder, its output read line by line.
    #[must_use]
    pub fn start(folder: &Path, args: &[&str]) -> Running {
        let mut command = Command::new(halfglass());
        command.args(args).current_dir(folder).stdin(Stdio::null()).stdout(Stdio::piped());
        let mut child = command.spawn().expect("halfglass starts");
        let out = BufReader::new(child.stdout.take().expect("its output"));
        let (send, lines) = channel();
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                if send.send((Instant::now(), line)).is_err() {
                    return;
                }
            }
        });
        Running { child, lines, said: String::new() }
    }

    /// Waits for the next line that holds all of these words; the line, and when it came.
    ///
    /// # Panics
    /// It does not come within ten seconds.
    pub fn wait_for(&mut self, words: &[&str]) -> (Instant, String) {
        let until = Instant::now() + Duration::from_secs(10);
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok((at, line)) => {
                    self.said.push_str(&format!("{line}\n"));
                    if words.iter().all(|word| line.contains(word)) {
                        return (at, line);
                    }
                }
                Err(_) => panic!("no line with {words:?} came; what came:\n{}", self.said),
            }
        }
    }

    /// Presses Ctrl-C.
    pub fn interrupt(&self) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-INT", &id]).status().expect("kill runs").success());
    }

    /// Waits for its end; the exit code. What it still printed is in `said`.
    ///
    /// # Panics
    /// It does not end within twenty seconds.
    pub fn end(&mut self) -> i32 {
        let until = Instant::now() + Duration::from_secs(20);
        loop {
            if let Some(status) = self.child.try_wait().expect("its state") {
                while let Ok((_, line)) = self.lines.recv_timeout(Duration::from_secs(1)) {
                    self.said.push_str(&format!("{line}\n"));
                }
                return status.code().unwrap_or(-1);
            }
            assert!(Instant::now() < until, "it does not end; what came:\n{}", self.said);
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // Its own process and no other.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A simulated logger on a port, its clock running with ours. The port is a link: after the cable was pulled, another
/// pseudo-terminal takes its place under the same name, as a USB port does.
pub struct Plugged {
    levels: Arc<AtomicU8>,
    pulled: Arc<AtomicBool>,
    thread: Option<JoinHandle<Simulation>>,
    port: PathBuf,
}

impl Plugged {
    /// A new logger, all lines off, at the port `folder/logger`.
    #[must_use]
    pub fn new(folder: &Path) -> Plugged {
        let options = Options { device_id: DEVICE, geometry: Geometry::default(), seed: 1, warm_up_s: 0 };
        let mut simulation = Simulation::new(0, &options).expect("a simulated logger");
        simulation.advance(5_000).expect("five seconds");
        let mut plugged = Plugged {
            levels: Arc::default(),
            pulled: Arc::default(),
            thread: None,
            port: folder.join("logger"),
        };
        plugged.plug(simulation);
        plugged
    }

    fn plug(&mut self, mut simulation: Simulation) {
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).expect("a terminal");
        grantpt(&end).and_then(|()| unlockpt(&end)).expect("a terminal of our own");
        let name = ptsname(&end, Vec::new()).expect("its name").into_string().expect("plain letters");
        // Held open as long as the cable is in, or this end reads errors while no program has the port open.
        let held = File::options().read(true).write(true).open(&name).expect("its other end");
        let _ = std::fs::remove_file(&self.port);
        std::os::unix::fs::symlink(&name, &self.port).expect("a link");
        let (mut end, began, began_ms) = (File::from(end), Instant::now(), simulation.now_ms());
        let (levels, pulled) = (Arc::clone(&self.levels), Arc::clone(&self.pulled));
        pulled.store(false, Ordering::Relaxed);
        let mut driven = None;
        self.thread = Some(std::thread::spawn(move || {
            let (mut buffer, mut answer) = ([0; 256], Vec::new());
            while let Ok(count) = end.read(&mut buffer) {
                if pulled.load(Ordering::Relaxed) {
                    break;
                }
                let now_ms = began_ms + i64::try_from(began.elapsed().as_millis()).expect("no long test");
                simulation.advance(now_ms).expect("time passes");
                let wanted = levels.load(Ordering::Relaxed);
                if driven.replace(wanted) != Some(wanted) {
                    simulation.set_levels(wanted);
                }
                simulation.receive(&buffer[..count], &mut answer);
                if end.write_all(&answer).is_err() {
                    break;
                }
                answer.clear();
            }
            drop(held);
            simulation
        }));
    }

    /// The port's name.
    #[must_use]
    pub fn port(&self) -> &str {
        self.port.to_str().expect("plain letters")
    }

    /// Works the switches: one bit an input.
    pub fn drive(&self, levels: u8) {
        self.levels.store(levels, Ordering::Relaxed);
    }

    /// Pulls the cable, at the next question; the logger runs on.
    ///
    /// # Panics
    /// Nobody asks any more.
    pub fn pull_cable(&mut self) -> Simulation {
        self.pulled.store(true, Ordering::Relaxed);
        let simulation = self.thread.take().expect("a cable").join().expect("a sound logger");
        let _ = std::fs::remove_file(&self.port);
        simulation
    }

    /// Plugs it in again, under the same name.
    pub fn plug_again(&mut self, simulation: Simulation) {
        self.plug(simulation);
    }
}
