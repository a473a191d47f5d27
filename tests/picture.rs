//! Pictures: well-formed, small, with nothing outside, the same every time.

#[path = "picture/characters.rs"]
mod characters;
#[path = "picture/circuits.rs"]
mod circuits;
#[path = "picture/drawing.rs"]
mod drawing;
#[path = "picture/maps.rs"]
mod maps;
#[path = "picture/pages.rs"]
mod pages;
#[path = "picture/program.rs"]
mod program;
#[path = "picture/seasons.rs"]
mod seasons;
#[path = "picture/waveforms.rs"]
mod waveforms;
#[path = "picture/yards.rs"]
mod yards;
