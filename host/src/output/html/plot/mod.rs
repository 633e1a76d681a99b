//! Figures as shapes: scales turn instants and hours into places, a template turns shapes into inline SVG.

mod conditions;
mod hours;
mod labels;
mod scale;
mod thin;

pub(super) use conditions::trend;
pub(super) use hours::radar;

/// A drawn figure, with its alternatives in words and as a table.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figure {
    /// Unique on its page.
    pub(super) id: String,
    /// What it shows, in a few words.
    pub(super) title: String,
    /// What there is to see, in sentences.
    pub(super) desc: String,
    /// As wide as this, in its own units.
    pub(super) width: f64,
    /// As high as this.
    pub(super) height: f64,
    /// What is drawn, from back to front.
    pub(super) marks: Vec<Mark>,
    /// The same as figures.
    pub(super) tables: Vec<Table>,
}

/// One thing drawn. Coordinates run to the right and down.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    /// A line or area by SVG's path words.
    Path { d: String, class: &'static str },
    /// An upright rectangle.
    Rect { x: f64, y: f64, w: f64, h: f64, class: &'static str },
    /// A circle.
    Dot { x: f64, y: f64, r: f64, class: &'static str },
    /// Words; `class` also says on which side of x they stand.
    Text { x: f64, y: f64, text: String, class: String },
}

/// Figures in rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Table {
    /// What it shows.
    pub(super) caption: String,
    /// Column headings: the first column names the row, the others hold figures.
    pub(super) heading: Vec<String>,
    /// Its rows.
    pub(super) rows: Vec<Vec<String>>,
}

impl Mark {
    fn line(x0: f64, y0: f64, x1: f64, y1: f64, class: &'static str) -> Mark {
        Mark::Path { d: format!("M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}"), class }
    }

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64, class: &'static str) -> Mark {
        Mark::Rect { x: tenth(x0), y: tenth(y0), w: tenth(x1 - x0), h: tenth(y1 - y0), class }
    }

    /// A line through points.
    fn polyline(points: &[(f64, f64)], class: &'static str) -> Option<Mark> {
        let (first, rest) = points.split_first()?;
        let mut d = format!("M{:.1} {:.1}", first.0, first.1);
        for (x, y) in rest {
            d.push_str(&format!("L{x:.1} {y:.1}"));
        }
        Some(Mark::Path { d, class })
    }

    /// A square on its corner.
    fn diamond(x: f64, y: f64, r: f64, class: &'static str) -> Mark {
        let d = format!("M{:.1} {y:.1}L{x:.1} {:.1}L{:.1} {y:.1}L{x:.1} {:.1}Z", x - r, y - r, x + r, y + r);
        Mark::Path { d, class }
    }

    /// A triangle that points up to (x, y).
    fn triangle(x: f64, y: f64, r: f64, class: &'static str) -> Mark {
        let d = format!("M{x:.1} {y:.1}L{:.1} {:.1}L{:.1} {:.1}Z", x - r, y + 1.7 * r, x + r, y + 1.7 * r);
        Mark::Path { d, class }
    }
}

/// No picture shows less.
fn tenth(figure: f64) -> f64 {
    (figure * 10.0).round() / 10.0
}
