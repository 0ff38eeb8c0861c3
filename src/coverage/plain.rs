//! The plain engine.
