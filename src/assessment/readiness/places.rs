//! Sites where stations stand, and what goes up to them.

use perchline_plan::Site;
use perchline_power::place::SitePlace;
use perchline_units::Metres;

use super::{Fix, Gravity, Judged, Matter, Standing};

impl Judged<'_> {
    /// What is in the way on each site where a station stands.
    pub(super) fn places(&mut self) {
        for place in self.sites_where_stations_stand() {
            self.place(place);
        }
        let assessment = self.assessment;
        for kit in assessment.energy().kits.iter().filter(|kit| !kit.can_be_carried()) {
            let fix = Fix::MoreCarriers { station: kit.station.clone() };
            let matter = Matter::Kit {
                station: kit.station.clone(),
                weight_kg: kit.weight_kg,
                carriers: kit.carriers,
                trips: kit.trips,
                too_heavy: kit.too_heavy.iter().map(|piece| piece.what.clone()).collect(),
            };
            self.require(matter, Some(fix), "power");
        }
    }

    /// Each site where a station stands, with that station.
    pub(super) fn sites_where_stations_stand(&self) -> Vec<SitePlace> {
        let plan = &self.assessment.plan;
        let of = |standing: &Standing| {
            let on = plan.channels.iter().find(|known| known.name == standing.channel)?;
            let at = plan.sites.iter().find(|known| known.name == standing.site)?;
            Some(self.assessment.site_place(on, at))
        };
        self.places.iter().filter_map(of).collect()
    }

    fn place(&mut self, place: SitePlace) {
        let too_heavy = place.roof.is_some_and(|roof| roof.is_too_much);
        let closed = !place.access.open_throughout() || !place.changes_missed.is_empty();
        if place.line_is_near || too_heavy {
            // No word with an owner moves a line or bears a roof.
            let fix = self.another(&place);
            self.require(Matter::Place { place: Box::new(place) }, fix, "rank");
        } else if closed {
            let access = &place.access;
            let fix = Fix::Opened {
                site: place.site.clone(),
                key_holder: access.key_holder.clone(),
                phone: access.phone.clone(),
                from: access.on.clone(),
                until: access.tear_down.clone(),
            };
            self.require(Matter::Place { place: Box::new(place) }, Some(fix), "rank");
        } else if place.guardrail_is_low {
            self.find(Gravity::Told, Matter::Place { place: Box::new(place) }, None, "rank");
        }
    }

    /// The next best site for the relay that is open, and where no line or roof
    /// forbids the mast.
    fn another(&self, place: &SitePlace) -> Option<Fix> {
        if place.channel != self.channel.name {
            return None;
        }
        let plan = &self.assessment.plan;
        let sites = self.order.sites.iter();
        let usable = sites.filter(|s| s.may_be_used() && s.must_posts_met && s.site != place.site);
        let fit = usable.filter_map(|s| plan.sites.iter().find(|site| site.name == s.site)).find(
            |site| {
                let at = self.assessment.site_place(self.channel, site);
                let bears = at.roof.is_none_or(|roof| !roof.is_too_much);
                !at.line_is_near && bears && at.access.open_throughout()
            },
        );
        fit.map(|site| Fix::OtherSite {
            channel: self.channel.name.clone(),
            site: site.name.clone(),
        })
    }

    /// Whether a site's mast may be this much longer: within the plan's highest, and
    /// not nearer to a power line than it may fall.
    pub(super) fn may_grow(&self, site: &Site, extra: Metres) -> bool {
        let taller = Site { mast: site.mast + extra, ..site.clone() };
        taller.mast <= self.assessment.plan.masts.highest
            && !self.assessment.site_place(self.channel, &taller).line_is_near
    }
}
