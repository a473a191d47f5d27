//! A picture as a whole: a file, or a part of a page.
//!
//! A picture too long for a sheet of paper (ladders of many links, lamps of many runs, a season of many
//! times) comes in a page in parts that are each no higher than a sheet, so that no line of text is cut
//! where paper ends. Tried and dropped: one more size of letters, too small on paper.

use maud::{Markup, PreEscaped, html};

use super::look::{KEPT, STYLE, WIDE, number, plain};

/// Height of a picture whose letters are not too small when it is printed on one page [units]: at 24 cm, 7 pt
/// of the 9.5 units that letters have on paper.
pub(super) const TALLEST: f64 = 920.0;

/// The same of one whose letters are drawn as large as they were laid out for.
const TALLER: f64 = 1115.0;

/// A picture, named and described for those who do not see it: a file of its own, or a part of a page.
#[derive(Debug, Clone)]
pub struct Picture {
    title: String,
    description: String,
    high: f64,
    /// Shades of its own.
    style: &'static str,
    backdrop: Option<Backdrop>,
    /// What runs through several of its parts.
    across: Markup,
    parts: Vec<Part>,
}

/// What may stand on one page of paper and the next part on another.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) drawn: Markup,
    /// Where it ends, from the top of the picture.
    pub(super) until: f64,
}

/// What stands behind several panels alike: drawn once, and again so much further down.
#[derive(Debug, Clone)]
pub(super) struct Backdrop {
    pub(super) drawn: Markup,
    /// Where the panels begin; it is drawn for the first of them.
    pub(super) tops: Vec<f64>,
}

impl Picture {
    pub(super) fn new(title: &str, description: &str, high: f64, body: Markup) -> Self {
        let part = Part {
            drawn: body,
            until: high,
        };
        Self::of_parts(title, description, vec![part])
    }

    /// One that may be cut between its parts.
    pub(super) fn of_parts(title: &str, description: &str, parts: Vec<Part>) -> Self {
        Self {
            title: plain(title).replace(KEPT, " "),
            description: plain(description).replace(KEPT, " "),
            high: parts.last().map_or(0.0, |part| part.until.ceil()),
            style: "",
            backdrop: None,
            across: html! {},
            parts,
        }
    }

    /// The same with shades of its own.
    pub(super) fn styled(self, style: &'static str) -> Self {
        Self { style, ..self }
    }

    /// The same with something behind it.
    pub(super) fn before(self, backdrop: Backdrop) -> Self {
        Self {
            backdrop: Some(backdrop),
            ..self
        }
    }

    /// The same with something that runs through its parts.
    pub(super) fn crossed(self, across: Markup) -> Self {
        Self { across, ..self }
    }

    /// How high it is, of [`WIDE`] units across.
    pub(super) fn high(&self) -> f64 {
        self.high
    }

    /// The picture as a file: SVG with its style inside.
    pub fn file(&self) -> String {
        let style = html! { style { (PreEscaped(STYLE)) (PreEscaped(self.style)) } };
        let mut out = self
            .drawn("pwp", &style, &self.title, (0.0, self.high))
            .into_string();
        out.push('\n');
        out
    }

    /// The picture as a part of an HTML page that has [`style`](super::style) in its head: one `svg`, or,
    /// if it is higher than a page of paper, several, to be put one below the other. Every id in it begins
    /// with `prefix`, which no other picture of the page may have.
    pub fn inline(&self, prefix: &str) -> Markup {
        let pages = self.pages();
        let many = pages.len();
        html! {
            @for (index, page) in pages.into_iter().enumerate() {
                @let title = match many {
                    1 => self.title.clone(),
                    _ => format!("{}, part {} of {many}", self.title, index + 1),
                };
                (self.drawn(prefix, &html! {}, &title, page))
            }
        }
    }

    /// From where to where each page goes: as many parts on each as it takes.
    fn pages(&self) -> Vec<(f64, f64)> {
        if self.high <= TALLER {
            return vec![(0.0, self.high)];
        }
        let mut pages: Vec<(f64, f64)> = Vec::new();
        for part in &self.parts {
            match pages.last_mut() {
                Some((from, to)) if part.until - *from <= TALLEST => *to = part.until,
                last => {
                    let from = last.map_or(0.0, |(_, to)| *to);
                    pages.push((from, part.until));
                }
            }
        }
        pages
    }

    /// What of it is between two heights, as one `svg`.
    fn drawn(&self, prefix: &str, style: &Markup, title: &str, (from, to): (f64, f64)) -> Markup {
        let high = number(to - from);
        let size = match to - from {
            high if high <= TALLEST => "",
            high if high <= TALLER => " tall",
            _ => " long",
        };
        let inside = |end: f64| end > from && end <= to;
        html! {
            svg xmlns="http://www.w3.org/2000/svg" class={ "pwp" (size) } role="img"
                aria-label=(title) preserveAspectRatio="xMinYMin"
                viewBox={ "0 " (number(from)) " " (WIDE) " " (high) } width=(WIDE) height=(high) {
                title { (title) }
                desc { @if from > 0.0 { "continued" } @else { (self.description) } }
                (style)
                rect class="paper" y=[(from > 0.0).then(|| number(from))] width=(WIDE)
                    height=(high) {}
                @if let Some(Backdrop { drawn, tops }) = &self.backdrop {
                    @let id = format!("{prefix}-backdrop");
                    @for (index, top) in tops.iter().enumerate().filter(|(_, top)| inside(**top)) {
                        @if index == 0 {
                            g id=(id) { (drawn) }
                        } @else {
                            use href={ "#" (id) } y=(number(top - tops[0])) {}
                        }
                    }
                }
                (self.across)
                @for part in self.parts.iter().filter(|part| inside(part.until.min(self.high))) {
                    (part.drawn)
                }
            }
        }
    }
}
