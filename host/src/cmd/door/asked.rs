//! What every answer begins with: the ship folder opened, the date settled, and what the rooms say as of then.

use super::{Told, answers, foreseen};
use crate::due::{Answer, Question};
use crate::reconcile::{self, Account};
use crate::ship::settings::Part;
use crate::ship::{Folder, Settings};
use crate::store::Store;
use crate::{Error, Result, time};
use std::path::Path;

/// The date that an answer is for.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct AsOf {
    /// The date to answer for, with the offset from UTC; without it, now
    #[arg(long, value_name = "TIME")]
    pub as_of: Option<String>,
}

/// A ship folder, opened for an answer.
pub(in super::super) struct Asked {
    /// The folder.
    pub(in super::super) folder: Folder,
    /// Its ship.toml.
    pub(in super::super) settings: Settings,
    /// Its facts.
    pub(in super::super) store: Store,
    /// Now.
    pub(in super::super) now_ms: i64,
    /// The instant to answer for.
    pub(in super::super) as_of_ms: i64,
}

/// What is told, and which count is true.
pub(in super::super) struct Reconciled {
    /// What the room that reconciles was told.
    pub(in super::super) told: Told,
    /// What it says, in the order of the radars.
    pub(in super::super) accounts: Vec<Account>,
}

/// The same, and what is due when.
pub(in super::super) struct Foreseen<'a> {
    /// What was told.
    pub(in super::super) told: Told,
    /// Which count is true, in the order of the radars.
    pub(in super::super) accounts: Vec<Account>,
    /// What was asked about each part, in the order of ship.toml.
    pub(in super::super) questions: Vec<(&'a Part, Question)>,
    /// What was answered.
    pub(in super::super) answers: Vec<Answer>,
}

impl Asked {
    /// Opens a folder.
    ///
    /// # Errors
    /// It cannot be read, or the date is no date.
    pub(in super::super) fn open(ship: &Path, as_of: &AsOf) -> Result<Asked> {
        let folder = Folder::open(ship)?;
        let settings = folder.settings()?;
        let now_ms = time::now_ms();
        let as_of_ms = as_of.as_of.as_ref().map_or(Ok(now_ms), |text| {
            time::parse_ms(text).map_err(|what| Error::input(format!("--as-of: {what}"), ""))
        })?;
        let store = Store::open(&folder.store_path())?;
        Ok(Asked { folder, settings, store, now_ms, as_of_ms })
    }

    /// Which count is true.
    ///
    /// # Errors
    /// The ship's database cannot be read.
    pub(in super::super) fn reconciled(&self) -> Result<Reconciled> {
        let told = super::told(&self.settings, &self.store, self.as_of_ms, self.now_ms)?;
        let accounts = reconcile::reconcile(&told.facts);
        Ok(Reconciled { told, accounts })
    }

    /// What is due when.
    ///
    /// # Errors
    /// The ship's database cannot be read.
    pub(in super::super) fn foreseen(&self) -> Result<Foreseen<'_>> {
        let Reconciled { told, accounts } = self.reconciled()?;
        let questions = foreseen::questions(&self.settings, &told, &accounts);
        let answers = answers::answers(&questions, &told.kept, self.as_of_ms);
        Ok(Foreseen { told, accounts, questions, answers })
    }
}
