//! Runs the built `halfglass` as a user does, each test in a folder of its own, and prints command, folder and
//! both streams when something is not as it should be.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// A ship with one radar and one part.
pub const SHIP: &str = r#"[ship]
name = "MV Calder Sound"

[[radar]]
name = "S-band"
logger = "3f9c11d2a07be458"
fed_from_radar = true
lines = { supply = 0, heater = 1, transmit = 2, motor = 3, isolated = 4 }

[[part]]
radar = "S-band"
name = "magnetron"
ages_by = "transmit"
limit_h = 3600
warn_h = 300
lead_time_days = 45
"#;

/// Its logger.
pub const DEVICE: u64 = 0x3f9c_11d2_a07b_e458;

/// The built program. It is built first if need be, into the folder and profile that this test itself was built for.
#[must_use]
pub fn halfglass() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(|| {
        // target/debug/deps/cli-0123: the profile's folder is two above.
        let own = std::env::current_exe().unwrap();
        let profile = own.parent().unwrap().parent().unwrap();
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let mut build = Command::new(cargo);
        build.args(["build", "--quiet", "--package", "halfglass", "--target-dir"]);
        build.arg(profile.parent().unwrap()).current_dir(env!("CARGO_MANIFEST_DIR"));
        if profile.ends_with("release") {
            build.arg("--release");
        }
        assert!(build.status().unwrap().success(), "halfglass does not build");
        profile.join("halfglass")
    })
}

/// A folder that goes away with the test, with a ship folder `ship` in it.
pub struct Place {
    dir: tempfile::TempDir,
}

/// How a run ended.
pub struct Run {
    /// The exit code.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
    story: String,
}

impl Place {
    /// An empty folder.
    #[must_use]
    pub fn empty() -> Place {
        Place { dir: tempfile::tempdir().unwrap() }
    }

    /// A folder with `ship/ship.toml`.
    #[must_use]
    pub fn with_ship(toml: &str) -> Place {
        let place = Place::empty();
        std::fs::create_dir(place.path("ship")).unwrap();
        place.write("ship/ship.toml", toml);
        place
    }

    /// A path in it.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// How many rows of facts the ship folder holds, over all tables; 0 without a database.
    #[must_use]
    pub fn rows(&self) -> i64 {
        let path = self.path("ship/halfglass.db");
        if !path.exists() {
            return 0;
        }
        let db = rusqlite::Connection::open(path).unwrap();
        let count = |table: &str| -> i64 {
            db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap()
        };
        let mut tables = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").unwrap();
        let tables: Vec<String> =
            tables.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        tables.iter().map(|table| count(table)).sum()
    }

    /// Writes a file.
    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), content).unwrap();
    }

    /// Runs `halfglass` in it.
    pub fn run<A: AsRef<OsStr>>(&self, args: &[A]) -> Run {
        self.run_command(Command::new(halfglass()).args(args))
    }

    /// Runs `halfglass --ship ship` in it.
    pub fn ship<A: AsRef<OsStr>>(&self, args: &[A]) -> Run {
        self.run_command(Command::new(halfglass()).args(["--ship", "ship"]).args(args))
    }

    /// Runs any command in it.
    pub fn run_command(&self, command: &mut Command) -> Run {
        let output: Output = command.current_dir(self.dir.path()).output().unwrap();
        let out = String::from_utf8_lossy(&output.stdout).into_owned();
        let err = String::from_utf8_lossy(&output.stderr).into_owned();
        let code = output.status.code().unwrap_or(-1);
        let story = format!(
            "command: {command:?}\nfolder: {:?} {:?}\nexit code: {code}\n--- stdout\n{out}--- stderr\n{err}---",
            self.dir.path(),
            self.files(""),
        );
        Run { code, out, err, story }
    }

    /// The names in one of its folders, sorted; empty if it is not there.
    #[must_use]
    pub fn files(&self, folder: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path(folder)).into_iter().flatten().flatten();
        let mut names: Vec<_> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

impl Run {
    /// It ended well.
    ///
    /// # Panics
    /// It did not.
    #[track_caller]
    pub fn fine(&self) -> &Run {
        assert_eq!(self.code, 0, "{}", self.story);
        self
    }

    /// It ended with this exit code, and its message holds each of the words.
    ///
    /// # Panics
    /// It did not.
    #[track_caller]
    pub fn fails(&self, code: i32, words: &[&str]) -> &Run {
        assert_eq!(self.code, code, "{}", self.story);
        assert!(!self.err.contains("panicked"), "{}", self.story);
        for word in words {
            assert!(self.err.contains(word), "`{word}` is missing\n{}", self.story);
        }
        self
    }

    /// Its output holds each of the words.
    ///
    /// # Panics
    /// It does not.
    #[track_caller]
    pub fn says(&self, words: &[&str]) -> &Run {
        for word in words {
            assert!(self.out.contains(word), "`{word}` is missing\n{}", self.story);
        }
        self
    }

    /// Its output as JSON.
    ///
    /// # Panics
    /// It is not JSON.
    #[must_use]
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{}", self.story))
    }
}
