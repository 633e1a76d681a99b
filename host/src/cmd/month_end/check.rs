//! Readings that are about to be kept, set against everything known as if they had been.

use crate::Result;
use crate::cmd::door::{self, Asked, Reconciled};
use crate::output::reconcile::told;
use crate::reconcile::{self, Account, FactId, Finding};
use crate::ship::facts::Reading;
use crate::store::Kept;

/// What is known before.
#[derive(Debug)]
pub(super) struct Check {
    pub(super) facts: reconcile::Facts,
    pub(super) before: Vec<Account>,
}

/// What speaks against a reading.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Doubt {
    /// Which reading.
    pub(super) reading: usize,
    /// What is suspected, and the figures that say so.
    pub(super) sentences: Vec<String>,
}

impl Check {
    /// Gathers what is known for readings taken at or before an instant.
    ///
    /// # Errors
    /// The ship's database cannot be read.
    pub(super) fn new(asked: &Asked) -> Result<Check> {
        let Reconciled { told, accounts } = asked.reconciled()?;
        Ok(Check { facts: told.facts, before: accounts })
    }

    /// What is found with these readings that is not found without them, and rests on one of them.
    pub(super) fn doubts(&self, readings: &[Reading]) -> Vec<Doubt> {
        let mut facts = self.facts.clone();
        for (at, reading) in readings.iter().enumerate() {
            let radar = facts.radars.iter_mut().find(|radar| radar.name == reading.radar);
            let kept = Kept { id: trial_id(at), fact: reading.clone() };
            if let (Some(radar), Some(reading)) = (radar, door::reading(&kept, facts.as_of_ms)) {
                radar.readings.push(reading);
            }
        }
        let mut doubts = Vec::new();
        for (account, before) in reconcile::reconcile(&facts).iter().zip(&self.before) {
            for finding in account.findings.iter().filter(|finding| !stood(finding, &before.findings)) {
                let rests_on = |at: &usize| finding.facts.contains(&FactId::Reading(trial_id(*at)));
                // The last: what came before it is known.
                let reading = (0..readings.len()).rfind(rests_on);
                doubts.extend(reading.map(|reading| Doubt { reading, sentences: told(finding) }));
            }
        }
        doubts
    }
}

/// A number that no fact in the database has.
fn trial_id(at: usize) -> i64 {
    -1 - i64::try_from(at).unwrap_or(i64::MAX - 1)
}

/// Whether the same was found before: its evidence may have grown.
fn stood(finding: &Finding, before: &[Finding]) -> bool {
    before.iter().any(|old| {
        old.kind == finding.kind && old.line == finding.line && old.facts.first() == finding.facts.first()
    })
}
