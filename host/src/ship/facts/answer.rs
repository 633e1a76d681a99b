//! Answers: what an officer found out about a finding.

use super::checks;
use super::{Column, Fact, Fields, Known, needed, optional};
use crate::Result;
use crate::time::Moment;
use serde::{Deserialize, Serialize};

/// An answer closes a finding as long as the evidence is what it was when it was answered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// When it was given.
    #[serde(rename = "at_ms")]
    pub at: Moment,
    /// The finding's key, as `reconcile` prints it.
    pub finding: String,
    /// The digest of its evidence, as `reconcile` prints it.
    pub evidence: String,
    /// What was found out.
    pub text: String,
    /// Who says so.
    pub by: Option<String>,
}

impl Fact for Answer {
    const NAME: &'static str = "answer";
    const COLUMNS: &'static [Column] = &[
        needed("at", "TIME", "When it was found out"),
        needed("finding", "KEY", "Which finding: its key, as `halfglass reconcile` prints it"),
        needed(
            "evidence",
            "DIGEST",
            "On which evidence, as printed beside the key: new evidence opens it again",
        ),
        needed("text", "WORDS", "What was found out"),
        optional("by", "NAME", "Who says so"),
    ];
    const EXAMPLE: &'static str = "add answer --at 2026-03-02T10:00+00:00 --finding KEY --evidence DIGEST \
                                   --text 'the tube was changed at anchor; fitting added' --by 'Okoro, J'";

    fn check(fields: &impl Fields, known: &Known<'_>) -> Result<Answer> {
        let printed = "there is nothing here: copy it from what `halfglass reconcile` prints";
        Ok(Answer {
            at: checks::moment(fields, "at", known)?,
            finding: checks::words(fields, "finding", printed)?,
            evidence: checks::words(fields, "evidence", printed)?,
            text: checks::words(fields, "text", "there is no word here: write what was found out")?,
            by: checks::optional(fields, "by"),
        })
    }

    fn at(&self) -> Moment {
        self.at
    }

    fn row(&self) -> Vec<String> {
        vec![
            self.at.written(),
            self.finding.clone(),
            self.evidence.clone(),
            self.text.clone(),
            checks::text(self.by.as_ref()),
        ]
    }
}
