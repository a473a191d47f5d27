//! The program itself.

use std::io::Write;
use std::process::{Child, Command, Output, Stdio};

use super::read::time_zones;

/// The program at the root of the project, without the terminal and the time zone that the tests were started
/// in.
pub(crate) fn program() -> Command {
    time_zones();
    let mut program = Command::new(env!("CARGO_BIN_EXE_pilotwire"));
    program.current_dir(env!("CARGO_MANIFEST_DIR"));
    for name in ["TZ", "COLUMNS", "NO_COLOR"] {
        program.env_remove(name);
    }
    program
}

/// The output of a program that gets a text on standard input.
pub(crate) fn given(program: &mut Command, text: &[u8]) -> Output {
    let mut child = program
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut pipe = child.stdin.take().expect("it has a standard input");
    // It stops reading at the largest file it accepts.
    let _ = pipe.write_all(text);
    drop(pipe);
    child.wait_with_output().expect("the program ends")
}

/// A service that ends together with its test.
pub(crate) struct Running(pub(crate) Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
