//! A whole picture: a file, or part of a page.
//!
//! A picture too long for a sheet of paper (ladders of many links, lamps of many runs, a season of many
//! times) comes in a page in parts that are each no higher than a sheet, so that no line of text is cut
//! where paper ends. Tried and dropped: one more size of letters, too small on paper.

use maud::{Markup, PreEscaped, html};

use super::look::{KEPT, STYLE, WIDE, number, plain};

/// Greatest height of a picture that stays readable when printed on one page [units]: at 24 cm, its letters of
/// 9.5 units are 7 pt on paper.
pub(super) const TALLEST: f64 = 920.0;

/// The same for a picture whose letters keep the size they were laid out for.
const TALLER: f64 = 1115.0;

/// A picture, with a title and a description for readers who cannot see it: a file of its own, or part of a
/// page.
#[derive(Debug, Clone)]
pub struct Picture {
    title: String,
    description: String,
    high: f64,
    /// Additional style rules of this picture.
    style: &'static str,
    backdrop: Option<Backdrop>,
    /// Marks that run through several of its parts.
    across: Markup,
    parts: Vec<Part>,
}

/// A part that a page break may separate from the next.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) drawn: Markup,
    /// Lower end, from the top of the picture.
    pub(super) until: f64,
}

/// A background that several panels share: drawn once, then repeated further down.
#[derive(Debug, Clone)]
pub(super) struct Backdrop {
    pub(super) drawn: Markup,
    /// The tops of the panels; it is drawn for the first.
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

    /// A picture that may be cut between its parts.
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

    /// Adds style rules of its own.
    pub(super) fn styled(self, style: &'static str) -> Self {
        Self { style, ..self }
    }

    pub(super) fn before(self, backdrop: Backdrop) -> Self {
        Self {
            backdrop: Some(backdrop),
            ..self
        }
    }

    /// Adds marks that run through its parts.
    pub(super) fn crossed(self, across: Markup) -> Self {
        Self { across, ..self }
    }

    /// Its height, with [`WIDE`] units across.
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

    /// The picture as part of an HTML page that has [`style`](super::style) in its head: one `svg`, or several
    /// below one another if it is taller than a page of paper. Every id in it begins with `prefix`, which must
    /// be unique within the page.
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

    /// Top and bottom of each page, with as many parts on each as fit.
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

    /// The stretch between two heights, as one `svg`.
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
