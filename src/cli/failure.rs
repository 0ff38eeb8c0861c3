//! What stops the program, and the exit code that tells.

use std::process::ExitCode;

/// Why a verb did not do its work.
#[derive(Debug)]
pub(super) enum Failure {
    /// Something in the command, the plan or the terrain that its owner can fix.
    Input(String),
    /// A result that could not be written or drawn.
    Output(String),
}

impl Failure {
    /// Something its owner can fix.
    pub(super) fn input(error: impl ToString) -> Self {
        Self::Input(error.to_string())
    }

    /// A result that could not be written or drawn.
    pub(super) fn output(error: impl ToString) -> Self {
        Self::Output(error.to_string())
    }

    /// Says what is wrong on standard error and gives the exit code.
    pub(super) fn report(&self) -> ExitCode {
        let (text, code) = match self {
            Self::Input(text) => (text, 2),
            Self::Output(text) => (text, 1),
        };
        super::say(text.trim_end());
        ExitCode::from(code)
    }
}
