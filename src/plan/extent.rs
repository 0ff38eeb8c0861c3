//! Where a plan is.

use perchline_units::Position;

use super::Plan;

impl Plan {
    /// Every position that the plan names: posts, sites, corners of areas and
    /// points of routes.
    pub fn extent_points(&self) -> impl Iterator<Item = Position> {
        let posts = self.posts.iter().map(|post| post.at);
        let sites = self.sites.iter().map(|site| site.at);
        let corners = self.areas.iter().flat_map(|area| area.outline.exterior().points());
        let points = self.routes.iter().flat_map(|route| route.line.points());
        posts.chain(sites).chain(
            // The reader has checked every coordinate, so none is dropped here.
            corners.chain(points).filter_map(|point| Position::from_point(point).ok()),
        )
    }
}
