//! The verbs of the `perchline` program.
