//! Words in a picture: none over another, none out of the picture. What finds no room is left to the table below.

use super::Mark;
use crate::output::html::words;

/// Which side of its place a label stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Right,
    Middle,
    Left,
}

impl Side {
    fn class(self) -> &'static str {
        match self {
            Side::Right => "",
            Side::Middle => "mid",
            Side::Left => "end",
        }
    }
}

/// Height of a line of words, from its foot up, and what hangs below, at the size that the style sheet gives.
const UP: f64 = 10.5;
const DOWN: f64 = 3.5;

/// What was placed so far.
#[derive(Debug)]
pub(super) struct Labels {
    width: f64,
    taken: Vec<[f64; 4]>,
}

impl Labels {
    /// For a picture of this width.
    pub(super) fn new(width: f64) -> Labels {
        Labels { width, taken: Vec::new() }
    }

    /// Places words at the first of these places where there is room.
    pub(super) fn place(
        &mut self,
        places: &[(f64, f64, Side)],
        text: &str,
        class: &'static str,
    ) -> Option<Mark> {
        let wide = width(text, class.contains("strong"));
        places.iter().find_map(|&(x, y, side)| {
            let left = match side {
                Side::Right => x,
                Side::Middle => x - wide / 2.0,
                Side::Left => x - wide,
            };
            let own = [left - 2.0, y - UP, left + wide + 2.0, y + DOWN];
            let inside = own[0] >= 0.0 && own[2] <= self.width;
            if !inside || self.taken.iter().any(|taken| overlap(taken, &own)) {
                return None;
            }
            self.taken.push(own);
            let class = [class, side.class()].join(" ").trim().to_owned();
            Some(Mark::Text { x: super::tenth(x), y: super::tenth(y), text: text.to_owned(), class })
        })
    }
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// How wide words are at most, in the usual fonts at 11 units.
fn width(text: &str, strong: bool) -> f64 {
    let one = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | ' ' | '.' | ',' | ':' | ';' | '\'' | '|' | '(' | ')' | '-' => 5.0,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 11.2,
        c if c.is_ascii_uppercase() => 8.6,
        c if c.is_ascii() => 7.1,
        c if (c as u32) < 0x2000 => 8.6,
        _ => 13.0,
    };
    text.chars().map(one).sum::<f64>() * if strong { 1.13 } else { 1.0 }
}

/// A name short enough for a picture.
pub(super) fn short(name: &str, most: usize) -> String {
    let name = words::shown(name);
    if name.chars().count() <= most {
        return name;
    }
    name.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_without_room_moves_or_is_left_out() {
        let mut labels = Labels::new(200.0);
        assert!(labels.place(&[(10.0, 20.0, Side::Right)], "limit 4900 h", "").is_some());
        assert!(labels.place(&[(20.0, 24.0, Side::Right)], "due", "").is_none(), "over the first");
        let moved = labels.place(&[(20.0, 24.0, Side::Right), (20.0, 60.0, Side::Right)], "due", "");
        assert!(matches!(moved, Some(Mark::Text { y: 60.0, .. })));
        assert!(labels.place(&[(190.0, 100.0, Side::Right)], "beyond the edge", "").is_none());
    }

    #[test]
    fn long_names_are_cut_by_characters() {
        assert_eq!(short("scanner motor", 20), "scanner motor");
        assert_eq!(short(&"é".repeat(200), 5), "éééé…");
    }
}
