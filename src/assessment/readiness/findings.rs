//! What a site, its posts, its areas and routes, its roof and its duplexer come
//! to.

use perchline_coverage::Coverage;
use perchline_plan::{Channel, Site};
use perchline_power::sharing::{Interference, worst_on_one_roof};
use perchline_siting::choose::ChooseError;
use perchline_siting::{Aid, PostScore, Ranking, SiteScore};

use perchline_units::{Db, Metres};

use super::{Fix, Gravity, Judged, Matter, ReadinessError};

/// A share of an area or route from which nothing is told of it.
const ALL: f64 = 1.0;

/// A post may be moved so far before another site is cheaper (ours).
const NEAR: Metres = Metres::new(100.0);

/// What helps at a post: what is cheaper than another site, and what is not.
struct Here {
    near: Option<Fix>,
    far: Option<Fix>,
}

impl Judged<'_> {
    pub(super) fn site(&mut self, score: &SiteScore) {
        if !score.posts.iter().any(|post| post.must) {
            self.require(Matter::NoMustPosts, Some(Fix::NameMustPosts), "rank");
        }
        if score.available {
            return;
        }
        let best = self.order.sites.iter().find(|site| site.may_be_used());
        let fix = best.map(|best| Fix::OtherSite {
            channel: self.channel.name.clone(),
            site: best.site.clone(),
        });
        self.require(Matter::SiteUnavailable { site: score.site.clone() }, fix, "rank");
    }

    pub(super) fn posts(
        &mut self,
        score: &SiteScore,
        coverage: &Coverage,
    ) -> Result<(), ReadinessError> {
        let assessment = self.assessment;
        let aids = assessment.aids(self.inputs, self.channel, score, coverage)?;
        let elsewhere = self.elsewhere(score)?;
        for (post, aid) in score.posts.iter().zip(&aids) {
            if post.outcome.works() {
                continue;
            }
            let matter = Matter::Post {
                post: post.post.clone(),
                must: post.must,
                outcome: post.outcome,
                probability: post.probability,
                missing_db: post.remedy.as_ref().map(|remedy| remedy.missing_db),
                short_db: post.budgets.as_ref().map(|budgets| budgets.shortfall_db()),
                limiting: post.budgets.as_ref().map(|budgets| budgets.governing),
            };
            let fixes = self.on_the_spot(score, post, aid.as_ref());
            if post.must {
                let fix = fixes.near.or_else(|| elsewhere.clone()).or(fixes.far);
                self.require(matter, fix, "path");
            } else {
                self.find(Gravity::Told, matter, fixes.near.or(fixes.far), "path");
            }
        }
        Ok(())
    }

    /// The cheapest fixes of a post with the relay where it is.
    fn on_the_spot(&self, score: &SiteScore, post: &PostScore, aid: Option<&Aid>) -> Here {
        let name = || post.post.clone();
        if aid.is_some_and(|aid| aid.held_at_the_head) {
            return Here { near: Some(Fix::HoldAtHead { posts: vec![name()] }), far: None };
        }
        let moved = aid.and_then(|aid| aid.spot).map(|spot| {
            let (distance_m, bearing_degrees) = (spot.distance_m, spot.bearing_degrees);
            (distance_m, Fix::MovePost { post: name(), distance_m, bearing_degrees })
        });
        match moved {
            Some((away, fix)) if away <= NEAR => Here { near: Some(fix), far: None },
            moved => Here { near: self.more_mast(score, post), far: moved.map(|(_, fix)| fix) },
        }
    }

    /// The mast with which the post works, if the plan's highest is not exceeded.
    fn more_mast(&self, score: &SiteScore, post: &PostScore) -> Option<Fix> {
        let extra_m = post.remedy.as_ref()?.extra_mast_m?;
        let plan = &self.assessment.plan;
        let site: &Site = plan.sites.iter().find(|site| site.name == score.site)?;
        self.may_grow(site, extra_m).then(|| Fix::MoreMast { site: score.site.clone(), extra_m })
    }

    /// What would serve every must-have post where this site does not: the best
    /// site of the ranking, else the relays that the plan has on the best set of
    /// sites.
    fn elsewhere(&self, score: &SiteScore) -> Result<Option<Fix>, ReadinessError> {
        if score.must_posts_met {
            return Ok(None);
        }
        let best = self.order.sites.first().filter(|site| site.may_be_used());
        if let Some(best) = best.filter(|best| best.must_posts_met && best.site != score.site) {
            return Ok(Some(Fix::OtherSite {
                channel: self.channel.name.clone(),
                site: best.site.clone(),
            }));
        }
        let asked = self.assessment.plan.choose;
        if asked.relays < 2 {
            return Ok(None);
        }
        let stop = self.inputs.stop;
        match self.assessment.choice(self.channel, &asked, self.inputs.grid, &|| (), stop) {
            Ok(choice) => Ok(Some(Fix::MoreRelays { sites: choice.first.sites.clone() })),
            // No set keeps all that is asked: that is no fix.
            Err(ChooseError::Impossible { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    pub(super) fn parts(&mut self, score: &SiteScore) {
        for area in score.areas.iter().filter(|area| area.share < ALL) {
            let matter = Matter::Area { area: area.name.clone(), share: area.share };
            self.find(Gravity::Told, matter, None, "coverage");
        }
        for route in score.routes.iter().filter(|route| route.share.share < ALL) {
            let matter = Matter::Route {
                route: route.share.name.clone(),
                share: route.share.share,
                gap: route.longest_gap,
            };
            self.find(Gravity::Told, matter, None, "coverage");
        }
    }

    /// That the digipeater's best site is the relay's, where the two disturb each
    /// other, and that all here is worked out for another one.
    pub(super) fn apart(&mut self, channel: &Channel, relay: &str, instead: &str) {
        let matter = self.shared(channel, relay, Some(instead.to_owned()));
        self.find(Gravity::Told, matter, None, "cosite");
    }

    /// That no site is left for a digipeater.
    pub(super) fn nowhere(&mut self, channel: &Channel, relay: &str, order: &Ranking) {
        if order.sites.iter().any(SiteScore::may_be_used) {
            let matter = self.shared(channel, relay, None);
            self.require(matter, None, "cosite");
        }
    }

    fn shared(&self, channel: &Channel, relay: &str, instead: Option<String>) -> Matter {
        let plan = &self.assessment.plan;
        let place = plan.sites.iter().position(|site| site.name == relay);
        let worst = place.and_then(|site| worst_on_one_roof(plan, [self.channel, channel], site));
        Matter::SharedRoof {
            site: relay.to_owned(),
            channel: channel.name.clone(),
            desense_db: worst.map_or(Db::new(0.0), |pair| pair.desense_db),
            instead,
        }
    }

    /// What stations do to each other that the plan itself puts on one roof.
    pub(super) fn roofs(&mut self) {
        let assessment = self.assessment;
        let settled = assessment.cosite().roofs.iter().filter(|roof| roof.settled);
        let disturbed = settled
            .flat_map(|roof| &roof.pairs)
            .filter(|pair| pair.separation.is_some() && pair.is_too_much());
        for pair in disturbed {
            self.disturbed(pair);
        }
    }

    fn disturbed(&mut self, pair: &Interference) {
        let matter = Matter::Desense {
            from: pair.from.clone(),
            to: pair.to.clone(),
            desense_db: pair.desense_db,
            overloaded: pair.overloaded,
        };
        let fix = Fix::Separate {
            from: pair.from.clone(),
            to: pair.to.clone(),
            along_m: pair.move_along_m,
            up_m: pair.move_up_m,
        };
        // Margins count the desense already, but an overload has no figure.
        let gravity = if pair.overloaded { Gravity::Condition } else { Gravity::Told };
        self.find(gravity, matter, Some(fix), "cosite");
    }

    /// A duplexer that is taken as perfect, where a real one costs a must-have
    /// post.
    pub(super) fn duplexer(&mut self, score: &SiteScore) {
        let failing = score.duplexers.iter().filter(|tried| !tried.must_posts_met);
        let worst = failing.min_by(|a, b| a.isolation.value().total_cmp(&b.isolation.value()));
        let Some(worst) = worst.filter(|_| score.must_posts_met) else { return };
        let enough = score.duplexers.iter().filter(|tried| tried.must_posts_met);
        let least =
            enough.map(|tried| tried.isolation).min_by(|a, b| a.value().total_cmp(&b.value()));
        let channel = self.channel.name.clone();
        let matter = Matter::Duplexer {
            channel: channel.clone(),
            isolation_db: worst.isolation,
            posts_covered: worst.posts_covered,
            perfect_posts: score.posts_covered,
        };
        let fix = Fix::MeasureDuplexer { channel, least_db: least };
        self.find(Gravity::Condition, matter, Some(fix), "rank");
    }
}
