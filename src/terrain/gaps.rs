//! Cells without a height.
