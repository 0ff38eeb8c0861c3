//! The station of a channel on a site.

use perchline_link::{Terminal, TerminalError};
use perchline_plan::{Channel, Plan, Site, Stands};
use perchline_power::sharing::roof_noise;
use perchline_terrain::Terrain;
use perchline_units::Dbm;

/// The station of `channel` on the mast of `site`, in the noise of what
/// transmits on the same roof, and in the noise that was measured there if the
/// plan states it.
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
    Ok(station
        .with_roof_noise(roof_noise(plan, channel, site))
        .with_measured_noise(measured_noise(plan, channel, site)))
}

/// The noise floor that the plan states for the station of `channel`, where it
/// stands on `site`.
fn measured_noise(plan: &Plan, channel: &Channel, site: &Site) -> Option<Dbm> {
    let stations = &plan.power.stations;
    let station = stations.iter().find(|s| plan.is_channel(s.channel, channel))?;
    let here = plan.sites.iter().position(|s| s.name == site.name)?;
    station.noise_floor.filter(|_| station.stands == Stands::On(here))
}
