//! Pictures: well-formed, small, self-contained, and the same every time.

mod characters;
mod circuits;
mod drawing;
mod maps;
mod pages;
mod program;
mod seasons;
mod waveforms;
mod yards;
