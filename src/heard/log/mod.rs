//! Reading what was reported.
