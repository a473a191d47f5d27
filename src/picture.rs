//! A yard to look at, as SVG: its diagram, its season, what links and lamps get, waveforms and margins; where
//! characters can show it, for a terminal as well.
//!
//! Every picture says in shape, label and text what it shows; colour only repeats it. So it can be
//! printed, and read by eyes that do not tell colours apart. Its style is inside: light, dark, paper.
//! No script, no font of its own, nothing to fetch.
//!
//! A picture is 420 units wide, drawn for a telephone; where there is more room the letters shrink,
//! in units, so that nothing laid out for the large ones collides.

pub mod chain;
mod characters;
mod document;
mod labels;
pub mod ladder;
pub mod lamps;
mod line;
mod look;
pub mod margin_map;
mod scale;
pub mod season;
pub mod waveform;
pub mod yard;

pub use document::Picture;

/// The style of every picture, for the head of a page that has some [inline](Picture::inline). It
/// restyles nothing but them.
pub fn style() -> String {
    [look::STYLE, season::STYLE].concat()
}
