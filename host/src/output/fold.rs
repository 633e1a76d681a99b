//! Sentences in lines that fit an ordinary terminal.

/// Columns of a line at most.
const WIDTH: usize = 80;

/// The text with its own line ends, and more where a line would be wider than 80 columns.
#[must_use]
pub fn fold(text: &str) -> String {
    text.lines().map(one).collect::<Vec<_>>().join("\n")
}

fn one(line: &str) -> String {
    let mut folded = String::new();
    let mut used = 0;
    for word in line.split_whitespace() {
        let len = word.chars().count();
        if used > 0 && used + 1 + len > WIDTH {
            folded.push('\n');
            used = 0;
        } else if used > 0 {
            folded.push(' ');
            used += 1;
        }
        folded.push_str(word);
        used += len;
    }
    folded
}

#[cfg(test)]
mod tests {
    use super::fold;

    #[test]
    fn lines_are_folded_between_words_and_keep_their_own_ends() {
        let long = "word ".repeat(40);
        let folded = fold(&format!("{long}\n\nshort"));
        assert!(folded.lines().all(|line| line.len() <= 80), "{folded}");
        assert_eq!(folded.split_whitespace().count(), 41);
        assert!(folded.ends_with("word\n\nshort"));
        // A word that does not fit stays whole.
        assert_eq!(fold(&"x".repeat(100)), "x".repeat(100));
    }
}
