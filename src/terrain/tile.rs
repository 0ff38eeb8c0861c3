//! One elevation file.
