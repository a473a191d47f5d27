//! What a link does, to look at: waveforms and margins as SVG, and as plain characters for a terminal.
//!
//! Every picture says in shape, label and text what it shows; colour only repeats it. So it can be
//! printed, and read by eyes that do not tell colours apart. Its style is inside: light, dark, paper.
//! No script, no font of its own, nothing to fetch.
//!
//! A picture is 420 units wide, drawn for a telephone; where there is more room the letters shrink,
//! in units, so that nothing laid out for the large ones collides.

mod labels;
mod line;
mod look;
pub mod margin_map;

mod scale;
pub mod waveform;
