//! `halfglass schema`: how the JSON of an answer is built, for programs that read it.

use super::Outcome;
use crate::Result;
use crate::output;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  halfglass schema reconcile > reconcile.schema.json

JSON Schema, draft 2020-12. Keys may be added to an answer without a new version: a reader passes over
keys that it does not know.")]
pub struct Args {
    /// Which answer
    #[arg(value_name = "NAME")]
    pub name: Name,
}

/// The answers that have a schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Name {
    /// Of `halfglass due --json`
    Due,
    /// Of `halfglass feed json`
    Feed,
    /// The columns of `halfglass feed csv`, as W3C metadata for tabular data
    FeedCsv,
    /// Of `halfglass plan --json`
    Plan,
    /// Of `halfglass reconcile --json`
    Reconcile,
    /// Of each line of `halfglass watch --json`
    Watch,
}

/// Runs it.
///
/// # Errors
/// Standard output cannot be written.
pub fn run(args: &Args) -> Result<Outcome> {
    output::print(&match args.name {
        Name::Due => schema::<output::due::Json<'_>>(),
        Name::Feed => schema::<output::feed::Json>(),
        Name::FeedCsv => output::feed::columns(),
        Name::Plan => schema::<output::plan::Json<'_>>(),
        Name::Reconcile => schema::<output::reconcile::Json<'_>>(),
        Name::Watch => schema::<output::watch::Json<'_>>(),
    })?;
    Ok(Outcome::Fine)
}

fn schema<T: JsonSchema>() -> String {
    // As it is written: a key that may be null is there all the same.
    let schema = SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>();
    // Strings, numbers and lists: this cannot fail.
    serde_json::to_string_pretty(&schema).unwrap_or_default()
}
