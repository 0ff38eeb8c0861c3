//! What a set of sites has to keep.

use super::ChooseInputs;

impl ChooseInputs {
    /// The most relays that are chosen sites for.
    pub const MOST_RELAYS: usize = 4;
}
