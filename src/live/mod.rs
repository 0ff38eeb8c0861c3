//! The page on which a plan is changed and its coverage follows.
