//! What a set of sites has to keep.

use crate::typed::choose;
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
    /// The most relays that are chosen sites for.
    pub const MOST_RELAYS: usize = 4;
}

/// What a plan without `[choose]` is taken to ask for.
impl Default for ChooseInputs {
    fn default() -> Self {
        let declared = choose::FIELDS;
        Self {
            relays: declared.relays.usual(),
            channel: None,
            linked: declared.linked.usual(),
            locked_doors: None,
            total_mast: None,
            whole_area: declared.whole_area.usual(),
            digipeater: declared.digipeater.usual(),
        }
    }
}
