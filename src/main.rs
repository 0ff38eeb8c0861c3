//! The `perchline` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    perchline::cli::run()
}
