//! What came out on paper.

use super::browser::arguments;
use std::path::Path;
use std::process::Command;

/// A printed page.
#[derive(Clone, Debug)]
pub struct Paper {
    /// Its size in points.
    pub size: (f64, f64),
    /// Its words: left, top, right and bottom edge in points from the top left corner, and the word.
    pub words: Vec<([f64; 4], String)>,
    /// All of its words in reading order, without a space.
    pub run: String,
}

/// Prints a file as a browser does, to PDF, and reads that.
///
/// # Panics
/// It cannot be printed or read.
#[must_use]
pub fn print(file: &Path) -> Vec<Paper> {
    let profile = tempfile::tempdir().unwrap();
    let pdf = profile.path().join("page.pdf");
    let printed = Command::new(xtask::setup::browser().unwrap())
        .args(arguments(profile.path()))
        .args(["--no-pdf-header-footer", &format!("--print-to-pdf={}", pdf.display())])
        .arg(format!("file://{}", file.display()))
        .output()
        .unwrap();
    assert!(pdf.is_file(), "{}", String::from_utf8_lossy(&printed.stderr));
    let words = run(Command::new(xtask::setup::pdf_words().unwrap()).arg("-bbox").arg(&pdf).arg("-"));
    // In the order in which they were drawn: the lines of a cell come one after the other.
    let raw = run(Command::new(xtask::setup::pdf_words().unwrap()).arg("-raw").arg(&pdf).arg("-"));
    let runs = raw.split('\u{c}').map(|page| page.split_whitespace().collect::<String>());
    let pages = words.split("<page ").skip(1);
    pages.zip(runs).map(|(page, run)| paper(page, run)).collect()
}

fn run(command: &mut Command) -> String {
    let output = command.output().unwrap();
    assert!(output.status.success(), "{command:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn paper(page: &str, run: String) -> Paper {
    let figure = |text: &str, name: &str| -> f64 {
        let value = text.split(&format!("{name}=\"")).nth(1).and_then(|rest| rest.split('"').next());
        value.and_then(|value| value.parse().ok()).unwrap_or_else(|| panic!("{name}: {text}"))
    };
    let words = page.split("<word ").skip(1).map(|word| {
        let edges = ["xMin", "yMin", "xMax", "yMax"].map(|name| figure(word, name));
        let text = word.split('>').nth(1).and_then(|rest| rest.split('<').next()).unwrap_or_default();
        (edges, text.to_owned())
    });
    Paper { size: (figure(page, "width"), figure(page, "height")), words: words.collect(), run }
}
