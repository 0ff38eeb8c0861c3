//! The station of a channel on a site.

use perchline_link::{Terminal, TerminalError};
use perchline_plan::{Channel, Plan, Site};
use perchline_power::sharing::roof_noise;
use perchline_terrain::Terrain;

/// The station of `channel` on the mast of `site`, in the noise of what
/// transmits on the same roof.
///
/// # Errors
/// [`TerminalError`] when the site does not fit the terrain.
pub fn station_on(
    plan: &Plan,
    channel: &Channel,
    site: &Site,
    terrain: &Terrain,
) -> Result<Terminal, TerminalError> {
    let station = Terminal::at_site(plan, channel, site, terrain)?;
    Ok(station.with_roof_noise(roof_noise(plan, channel, site)))
}
