//! The look of every picture: style, letters, shades.
//!
//! Lit bands are striped: without colour, on paper, the yellow of a lamp is as light as twilight.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};

use super::scale::whole;
use crate::link::Verdict;

/// Width of every picture [units].
pub(super) const WIDE: f64 = 420.0;

/// Left and right edge of text [units].
pub(super) const EDGE: f64 = 10.0;

/// Height of letters, drawn narrow [units].
pub(super) const LETTER: f64 = 11.5;

/// Height of a heading's letters [units].
pub(super) const HEAD: f64 = 14.0;

/// Distance from one line of text to the next.
pub(super) const LINE: f64 = 14.0;

/// Width of an ordinary sans-serif letter, as a fraction of its height, on the wide side.
const SPREAD: f64 = 0.57;

/// The same for a bold letter.
const BOLD_SPREAD: f64 = 0.62;

/// Light, dark, paper; smaller letters where there is room. Every rule applies to pictures only.
pub(super) const STYLE: &str = "\
.pwp{font:11.5px system-ui,sans-serif;font-variant-numeric:tabular-nums;\
width:100%;max-width:46rem;height:auto}\
.pwp text{fill:#20302e}\
.pwp .head{font-size:14px;font-weight:600}\
.pwp .name{font-weight:600}\
.pwp .quiet{fill:#55645f}\
.pwp .halo{paint-order:stroke;stroke:#fcfbf7;stroke-width:3px;stroke-linejoin:round}\
.pwp .paper{fill:#fcfbf7}\
.pwp .tint{fill:#e3eee6}\
.pwp .faint{opacity:.4}\
.pwp .grid{stroke:#dedfd8;stroke-width:.6}\
.pwp .axis{stroke:#66756f;stroke-width:.9}\
.pwp .curve{fill:none;stroke:#14584f;stroke-width:1.5;stroke-linejoin:round}\
.pwp .solid{fill:#14584f}\
.pwp .hollow{fill:#fcfbf7;stroke:#14584f;stroke-width:1.4}\
.pwp .bold{fill:none;stroke:#20302e;stroke-width:2.6;stroke-linecap:square}\
.pwp .stroke{fill:none;stroke:#20302e;stroke-width:1.5;stroke-linecap:round}\
.pwp .ink{fill:#20302e}\
.pwp .bar{fill:#e3eee6;stroke:#14584f;stroke-width:1}\
.pwp .part{fill:#fcfbf7;stroke:#20302e;stroke-width:1}\
.pwp .wire{fill:none;stroke:#14584f;stroke-width:1.1}\
.pwp .feed{fill:none;stroke:#20302e;stroke-width:1.6}\
.pwp .level{fill:none;stroke:#8a4b0f;stroke-width:1.1}\
.pwp .hatch{fill:none;stroke:#8a4b0f;stroke-width:.7;stroke-opacity:.5}\
.pwp .wide{stroke-width:2}\
.pwp .mark{stroke:#55645f;stroke-width:.8}\
.pwp .dots{stroke-dasharray:1 2.5}\
.pwp .dashes{stroke-dasharray:5 3}\
@media (min-width:600px),print{.pwp{font-size:9.5px}.pwp .head{font-size:12px}}\
@media screen and (prefers-color-scheme:dark){\
.pwp text{fill:#e4e8e2}\
.pwp .quiet{fill:#a3b0aa}\
.pwp .halo{stroke:#151b1a}\
.pwp .paper{fill:#151b1a}\
.pwp .tint{fill:#1e3029}\
.pwp .grid{stroke:#2c3533}\
.pwp .axis{stroke:#8b9993}\
.pwp .curve{stroke:#86cbb9}\
.pwp .solid{fill:#86cbb9}\
.pwp .hollow{fill:#151b1a;stroke:#86cbb9}\
.pwp .bold,.pwp .stroke{stroke:#e4e8e2}\
.pwp .ink{fill:#e4e8e2}\
.pwp .bar{fill:#1e3029;stroke:#86cbb9}\
.pwp .part{fill:#151b1a;stroke:#e4e8e2}\
.pwp .wire{stroke:#86cbb9}\
.pwp .feed{stroke:#e4e8e2}\
.pwp .level{stroke:#e0a768}\
.pwp .hatch{stroke:#e0a768}\
.pwp .mark{stroke:#a3b0aa}}\
@media print{.pwp{max-width:36rem;max-height:24cm;break-inside:avoid}\
.pwp.tall{font-size:11.5px}.pwp.tall .head{font-size:14px}.pwp.long{max-height:none}.pwp .paper{fill:#fff}.pwp .halo{stroke:#fff}}";

/// Heading and subtitle from the top; returns where they end.
pub(super) fn heading(title: &str, subtitle: &str) -> (Markup, f64) {
    let mut y = 6.0;
    let room = WIDE - 2.0 * EDGE;
    let heads = lines(title, room, HEAD * BOLD_SPREAD);
    let below = lines(subtitle, room, LETTER * SPREAD);
    let markup = html! {
        @for line in &heads {
            ({ y += HEAD; y += 3.0; PreEscaped("") })
            text class="head" x=(EDGE) y=(number(y - 3.0)) { (line) }
        }
        @for line in &below {
            ({ y += LINE; PreEscaped("") })
            text class="quiet" x=(EDGE) y=(number(y - 1.0)) { (line) }
        }
    };
    (markup, y)
}

/// The mark of a verdict: a disc, an open diamond, a cross.
pub(super) fn mark(verdict: Verdict, x: f64, y: f64) -> Markup {
    let place = format!("M{} {}", number(x), number(y));
    html! {
        @match verdict {
            Verdict::Go => circle class="solid" cx=(number(x)) cy=(number(y)) r="3.6" {},
            Verdict::Caution => path class="hollow" d={ (place) "m0 -4.6l4.6 4.6l-4.6 4.6l-4.6 -4.6z" } {},
            Verdict::NoGo => path class="stroke" d={ (place) "m-3.4 -3.4l6.8 6.8m0 -6.8l-6.8 6.8" } {},
        }
    }
}

/// Strokes that fill an area. Drawn one by one: pattern fills become pixels when printed to a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hatch {
    Level,
    Falling,
    /// Falling and rising.
    Crossed,
}

impl Hatch {
    /// The strokes of a verdict; none for one that works.
    pub(super) fn of(verdict: Verdict) -> Option<Self> {
        match verdict {
            Verdict::Go => None,
            Verdict::Caution => Some(Self::Falling),
            Verdict::NoGo => Some(Self::Crossed),
        }
    }

    /// The strokes as a path.
    pub(super) fn path(self, x: f64, y: f64, wide: f64, high: f64) -> String {
        let mut pen = Pen::default();
        let mut stroke = |from: (f64, f64), by: (f64, f64)| {
            let from = (x + from.0, y + from.1);
            pen.stroke(from, (from.0 + by.0, from.1 + by.1));
        };
        if self == Self::Level {
            for n in 1..=whole((high / LEVEL_STEP).floor()) {
                stroke((0.0, n as f64 * LEVEL_STEP), (wide, 0.0));
            }
            return pen.path;
        }
        for n in 1..=whole(((wide + high) / SLANTED_STEP).floor()) {
            // From the left or upper edge to the lower or right one.
            let along = n as f64 * SLANTED_STEP;
            let (left, top) = ((along - high).max(0.0), (high - along).max(0.0));
            let long = (wide - left).min(high - top);
            if long > 0.0 {
                stroke((left, top), (long, long));
                if self == Self::Crossed {
                    stroke((left, high - top), (long, -long));
                }
            }
        }
        pen.path
    }
}

/// Writes a path in as few characters as possible: each place is relative to the one before, as rounded, so
/// rounding errors do not add up.
#[derive(Default)]
pub(super) struct Pen {
    path: String,
    /// Where it is [tenths of a unit].
    at: (i64, i64),
}

impl Pen {
    fn tenths(place: (f64, f64)) -> (i64, i64) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "places of a picture are below a million"
        )]
        let tenths = |units: f64| (10.0 * units).round() as i64;
        (tenths(place.0), tenths(place.1))
    }

    /// Appends a number of tenths; a blank separates it from the number before.
    fn put(&mut self, tenths: i64) {
        if tenths >= 0 && self.path.ends_with(|c: char| c.is_ascii_digit()) {
            self.path.push(' ');
        }
        if tenths < 0 {
            self.path.push('-');
        }
        let (units, rest) = (tenths.abs() / 10, tenths.abs() % 10);
        if units > 0 || rest == 0 {
            let _ = write!(self.path, "{units}");
        }
        if rest > 0 {
            let _ = write!(self.path, ".{rest}");
        }
    }

    fn by(&mut self, to: (i64, i64)) {
        self.put(to.0 - self.at.0);
        self.put(to.1 - self.at.1);
        self.at = to;
    }

    /// Moves without drawing.
    pub(super) fn go(&mut self, to: (f64, f64)) {
        self.path.push(if self.path.is_empty() { 'M' } else { 'm' });
        self.by(Self::tenths(to));
    }

    /// A line from here through all of these.
    pub(super) fn lines(&mut self, through: impl IntoIterator<Item = (f64, f64)>) {
        let mut letter = Some('l');
        for to in through {
            self.path.extend(letter.take());
            self.by(Self::tenths(to));
        }
    }

    /// One stroke, from its nearer end.
    fn stroke(&mut self, from: (f64, f64), to: (f64, f64)) {
        let away = |end: (f64, f64)| {
            let (x, y) = Self::tenths(end);
            (x - self.at.0).abs() + (y - self.at.1).abs()
        };
        let (from, to) = if !self.path.is_empty() && away(to) < away(from) {
            (to, from)
        } else {
            (from, to)
        };
        self.go(from);
        self.lines([to]);
    }

    pub(super) fn finished(self) -> String {
        self.path
    }
}

/// Distance between level strokes.
const LEVEL_STEP: f64 = 3.0;

/// Distance between slanted strokes, along the edge.
const SLANTED_STEP: f64 = 6.0;

/// The shade of a verdict: a plain tint, falling strokes, strokes both ways.
pub(super) fn shade(verdict: Verdict, x: f64, y: f64, wide: f64, high: f64) -> Markup {
    html! {
        @match Hatch::of(verdict) {
            None => rect class="tint" x=(number(x)) y=(number(y)) width=(number(wide))
                height=(number(high)) {},
            Some(hatch) => path class="hatch" d=(hatch.path(x, y, wide, high)) {},
        }
    }
}

/// What the marks and shades mean, on one line.
pub(super) fn key(left: f64, y: f64) -> Markup {
    let entries = [
        (Verdict::Go, "works"),
        (Verdict::Caution, "thin"),
        (Verdict::NoGo, "does not"),
    ];
    let mut x = left;
    html! {
        @for (verdict, word) in entries {
            (shade(verdict, x, y - 11.0, 16.0, 14.0))
            (mark(verdict, x + 8.0, y - 4.0))
            text class="quiet" x=(number(x + 20.0)) y=(number(y)) { (word) }
            ({ x += 34.0 + width(word); PreEscaped("") })
        }
    }
}

/// A text that stays on one line: its spaces become [`KEPT`] until lines are broken.
pub(super) fn kept(text: &str) -> String {
    text.replace(' ', KEPT)
}

/// A space where a line may not break.
pub(super) const KEPT: &str = "\u{a0}";

/// A text in lines no wider than `room`.
fn lines(text: &str, room: f64, letter: f64) -> Vec<String> {
    in_columns(text, whole((room / letter).floor()))
}

/// A text in lines of so many letters at most; longer words are split, after a hyphen if they have one.
pub(super) fn in_columns(text: &str, columns: usize) -> Vec<String> {
    let mut words = Vec::new();
    for word in plain(text).split(' ') {
        let long = word.chars().count() > columns;
        // A group kept together is split all the same if it is too long for a line.
        let word = if long {
            word.replace(KEPT, " ")
        } else {
            word.to_owned()
        };
        words.extend(word.split(' ').flat_map(|word| parted(word, columns)));
    }
    crate::text::wrapped(&words.join(" "), columns)
        .lines()
        .filter(|line| !line.is_empty())
        .map(|line| cut(&line.replace(KEPT, " "), columns))
        .collect()
}

/// A word in pieces of so many letters at most.
fn parted(word: &str, columns: usize) -> Vec<String> {
    let mut rest: Vec<char> = word.chars().collect();
    let mut pieces = Vec::new();
    while rest.len() > columns.max(1) {
        let hyphen = rest[..columns.max(1)].iter().rposition(|c| *c == '-');
        let behind = rest.split_off(hyphen.map_or(columns.max(1), |at| at + 1));
        pieces.push(rest.into_iter().collect());
        rest = behind;
    }
    pieces.push(rest.into_iter().collect());
    pieces
}

/// A text in lines of ordinary letters no wider than `room`.
pub(super) fn broken(text: &str, room: f64) -> Vec<String> {
    lines(text, room, LETTER * SPREAD)
}

/// The same in so many lines at most, with an ellipsis for the rest.
pub(super) fn broken_in(text: &str, room: f64, most: usize) -> Vec<String> {
    let mut lines = broken(text, room);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            let letters = whole((room / (LETTER * SPREAD)).floor());
            *last = format!(
                "{}…",
                cut(last, letters.saturating_sub(1)).trim_end_matches('…')
            );
        }
    }
    lines
}

/// At most so many letters, the last an ellipsis if there were more.
pub(super) fn cut(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let mut out: String = text.chars().take(letters.saturating_sub(1)).collect();
    out.push('…');
    out
}

/// Width of a text in bold letters, on the wide side [units].
pub(super) fn bold_width(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER * BOLD_SPREAD
}

/// Width of a text in ordinary letters, on the wide side [units].
pub(super) fn width(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER * SPREAD
}

/// A coordinate with at most one decimal.
pub(super) fn number(place: f64) -> String {
    let text = format!("{:.1}", place + 0.0);
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0" } else { text }.to_owned()
}

/// A text without characters that XML or terminals do not accept.
pub(super) fn plain(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') {
                ' '
            } else {
                c
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_words_are_parted_and_short_ones_are_not() {
        assert_eq!(
            in_columns("the lower-garden-wall,\u{a0}lit", 9),
            ["the", "lower-", "garden-", "wall, lit"]
        );
        assert_eq!(in_columns("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(
            in_columns("fuse\u{a0}7.5\u{a0}A in it", 10),
            ["fuse 7.5 A", "in it"]
        );
    }

    #[test]
    fn strokes_stay_in_their_area() {
        for hatch in [Hatch::Level, Hatch::Falling, Hatch::Crossed] {
            let path = hatch.path(10.0, 20.0, 38.0, 14.0);
            let numbers = path.replace('-', " -").replace(['M', 'm', 'l'], " ");
            let numbers: Vec<f64> = numbers
                .split_whitespace()
                .map(|number| number.parse().unwrap())
                .collect();
            assert!(numbers.len() >= 16, "{path}");
            let (mut x, mut y) = (0.0, 0.0);
            for by in numbers.chunks(2) {
                (x, y) = (x + by[0], y + by[1]);
                assert!((9.95..=48.05).contains(&x), "{path}");
                assert!((19.95..=34.05).contains(&y), "{path}");
            }
        }
    }

    #[test]
    fn a_pen_says_every_place_from_the_one_before_it() {
        let mut pen = Pen::default();
        pen.go((54.0, 147.0));
        pen.lines([
            (54.56, 144.61),
            (54.9, 144.2),
            (54.9, 144.2),
            (200.0, 144.25),
        ]);
        pen.go((0.04, 0.0));
        // 54.6 144.6, 54.9 144.2, the same, 200 144.3.
        assert_eq!(
            pen.finished(),
            "M54 147l.6-2.4 .3-.4 0 0 145.1 .1m-200-144.3"
        );
    }
}
