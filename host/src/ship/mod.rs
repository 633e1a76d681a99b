//! What people write: the ship folder, ship.toml, facts by file and by hand.

pub mod facts;
mod place;
mod rows;
pub mod settings;
mod settings_check;

use crate::{Error, Result};
use std::fs;
use std::path::{Path, PathBuf};

pub use crate::time;
pub use settings::Settings;

/// A new ship.toml.
const TEMPLATE: &str = include_str!("template.toml");

/// A folder that holds one ship.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
}

impl Folder {
    /// Makes a folder for a ship, with a commented ship.toml.
    ///
    /// # Errors
    /// There is a ship.toml already, or the folder cannot be written.
    pub fn init(root: &Path) -> Result<Folder> {
        let folder = Folder { root: root.to_path_buf() };
        let settings = folder.settings_path();
        if settings.exists() {
            return Err(Error::input(
                format!("{} is there already; nothing was changed", settings.display()),
                "Edit it, or name another folder.",
            ));
        }
        fs::create_dir_all(root).map_err(|error| Error::file("make", root, &error))?;
        fs::write(&settings, TEMPLATE).map_err(|error| Error::file("write", &settings, &error))?;
        Ok(folder)
    }

    /// A folder that `init` made.
    ///
    /// # Errors
    /// It has no ship.toml.
    pub fn open(root: &Path) -> Result<Folder> {
        let folder = Folder { root: root.to_path_buf() };
        if folder.settings_path().is_file() {
            return Ok(folder);
        }
        Err(Error::input(
            format!("{} is not a ship folder: it has no ship.toml", root.display()),
            "Name the folder with --ship DIR, or make one with `halfglass init DIR`.",
        ))
    }

    /// The folder itself.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// ship.toml.
    #[must_use]
    pub fn settings_path(&self) -> PathBuf {
        self.root.join("ship.toml")
    }

    /// The database of facts.
    #[must_use]
    pub fn store_path(&self) -> PathBuf {
        self.root.join("halfglass.db")
    }

    /// Where pulled dumps are kept.
    #[must_use]
    pub fn dumps_path(&self) -> PathBuf {
        self.root.join("dumps")
    }

    /// Reads ship.toml.
    ///
    /// # Errors
    /// It cannot be read, or something in it is wrong: the message names the line.
    pub fn settings(&self) -> Result<Settings> {
        let path = self.settings_path();
        let text = fs::read_to_string(&path).map_err(|error| Error::file("read", &path, &error))?;
        Settings::parse(&text, &path.display().to_string())
    }
}
