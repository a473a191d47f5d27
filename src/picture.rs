//! Pictures of a yard, as SVG: its diagram, its season, voltages of links and lamps, waveforms and margins; for
//! a terminal too, where characters can show them.
//!
//! Every picture tells everything by shape, label and text; colour only repeats it. So it can be printed, and a
//! colour-blind reader misses nothing. Its style is inside: light, dark, paper. It needs no script, no font of
//! its own, and fetches nothing.
//!
//! A picture is 420 units wide, drawn for a telephone. On a wider screen the letters get smaller in units, so a
//! layout made for the large ones never collides.

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

/// The style of all pictures, for the head of a page that has some [inline](Picture::inline). It styles nothing
/// but pictures.
pub fn style() -> String {
    [look::STYLE, season::STYLE].concat()
}
