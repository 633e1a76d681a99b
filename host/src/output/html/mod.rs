//! Pages for people: report, work card and handover, each one HTML file that needs no network and no script.
//!
//! ```text
//!  book ──> words, first, rows, plot/... ──> a page's model ──> templates/*.html
//!           pure: data in, strings and shapes out              every string escaped by the template
//! ```

mod book;
mod card;
mod condition;
mod done;
// What the macro makes of a filter is public, whatever it is made from.
#[allow(unreachable_pub)]
mod filters;
mod findings;
mod first;
mod handover;
mod health;
mod plot;
mod report;
mod rows;
mod words;

pub use book::{Book, Health, Part, Renewal, Seen};

use askama::Template;

/// Everything on one page.
#[must_use]
pub fn report(book: &Book) -> String {
    written(&report::Page::of(book))
}

/// The work card of a part; `None`: there is no such part.
#[must_use]
pub fn card(book: &Book, radar: &str, part: &str) -> Option<String> {
    Some(written(&card::Page::of(book, radar, part)?))
}

/// One page for the relief or the auditor.
#[must_use]
pub fn handover(book: &Book) -> String {
    written(&handover::Page::of(book))
}

/// Writing strings into a string cannot fail.
fn written(page: &impl Template) -> String {
    page.render().unwrap_or_default()
}
