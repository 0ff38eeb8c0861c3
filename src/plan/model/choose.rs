//! What a set of sites has to keep.

use perchline_units::Metres;

/// How many relays there are and what their sites have to keep together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChooseInputs {
    /// Sites to choose at most, 1 to 4.
    pub relays: usize,
    /// Index into [`super::Plan::channels`] of the relay channel that is
    /// predicted; nothing for the first one.
    pub channel: Option<usize>,
    /// Whether the relays pass words on to each other over the air.
    pub linked: bool,
    /// Sites behind a locked door at most.
    pub locked_doors: Option<u32>,
    /// Masts of all sites together at most.
    pub total_mast: Option<Metres>,
    /// Whether the whole map counts as an area of weight 1.
    pub whole_area: bool,
    /// Whether a site for the packet digipeater is chosen as well.
    pub digipeater: bool,
}

impl ChooseInputs {
    /// Relays that a plan without `[choose]` is taken to have.
    pub const RELAYS: usize = 2;

    /// The most relays that are chosen sites for.
    pub const MOST_RELAYS: usize = 4;
}

impl Default for ChooseInputs {
    fn default() -> Self {
        Self {
            relays: Self::RELAYS,
            channel: None,
            linked: false,
            locked_doors: None,
            total_mast: None,
            whole_area: false,
            digipeater: true,
        }
    }
}
