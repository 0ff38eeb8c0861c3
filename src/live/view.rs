//! What a page is told of the desk.

use serde::Serialize;
use toml_edit::DocumentMut;

use perchline_link::Outcome;
use perchline_plan::{Plan, Problem, Service};
use perchline_propagation::METHODS;
use perchline_report::words;
use perchline_siting::SiteScore;
use perchline_terrain::Projector;
use perchline_units::{Metres, Position};

use super::check::{Finding, Place, findings};
use super::desk::{Look, MOST_VARIANTS, State};
use super::edit::typed;
use super::offer::{Offer, difference};
use super::together::TogetherView;
use super::work::Stage;

/// Everything that a page shows but for the pictures.
#[derive(Debug, Serialize)]
pub struct View {
    revision: u64,
    aim: u64,
    /// Number of the latest picture.
    picture: u64,
    stage: Option<Stage>,
    event: String,
    file: String,
    /// "metric" or "us".
    units: &'static str,
    changed: bool,
    can_undo: bool,
    can_redo: bool,
    board: BoardView,
    look: Look,
    /// Which site was shown first, and why.
    opening: String,
    together: TogetherView,
    channels: Vec<ChannelView>,
    sites: Vec<SiteView>,
    posts: Vec<PostView>,
    areas: Vec<ShapeView>,
    routes: Vec<ShapeView>,
    method: String,
    methods: Vec<MethodView>,
    station: Option<RadioView>,
    carried: Option<RadioView>,
    score: Option<ScoreView>,
    /// How much of the board the picture spans, in columns and rows.
    span: Option<(f64, f64)>,
    /// Whether the picture is of an earlier state.
    old_picture: bool,
    variants: Vec<VariantView>,
    most_variants: usize,
    trouble: Option<String>,
    underneath: Option<UnderneathView>,
    /// The file that holds what is unsaved.
    kept_in: Option<String>,
    offers: Vec<OfferView>,
    warnings: Vec<String>,
    took_ms: [Option<f64>; 2],
    check: Vec<Finding>,
}

#[derive(Debug, Serialize)]
struct BoardView {
    number: u64,
    columns: usize,
    rows: usize,
    contours: Option<String>,
    /// Whether the plan names the ground.
    named: bool,
    metres_per_cell: f64,
    /// Whether the land is a picture out of map tiles.
    tiles: bool,
}

#[derive(Debug, Serialize)]
struct ChannelView {
    name: String,
    /// "relay" or "digipeater".
    station: &'static str,
}

#[derive(Debug, Serialize)]
struct PointView {
    column: f64,
    row: f64,
}

#[derive(Debug, Serialize)]
struct SiteView {
    name: String,
    at: PointView,
    typed_at: String,
    mast: String,
    available: bool,
    access: Option<String>,
    notes: Option<String>,
}

#[derive(Debug, Serialize)]
struct PostView {
    name: String,
    at: PointView,
    typed_at: String,
    must: bool,
    outcome: Option<Outcome>,
    words: Option<&'static str>,
    spots: Option<String>,
    reason: Option<String>,
}

#[derive(Debug, Serialize)]
struct ShapeView {
    name: String,
    points: Vec<(f64, f64)>,
    spots: Option<String>,
}

#[derive(Debug, Serialize)]
struct MethodView {
    name: &'static str,
    summary: &'static str,
}

#[derive(Debug, Serialize)]
struct RadioView {
    name: String,
    power: String,
    carry: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct ScoreView {
    covered: usize,
    of: usize,
    missed: Vec<String>,
    map_percent: f64,
}

#[derive(Debug, Serialize)]
struct VariantView {
    id: u64,
    name: String,
    site: String,
    channel: String,
    score: ScoreView,
    span: (f64, f64),
    /// Whether it lies on the ground that is shown.
    same_board: bool,
}

/// Something wrong with a plan, for a page.
#[derive(Debug, Serialize)]
pub struct ProblemView {
    line: Option<usize>,
    field: String,
    text: String,
    place: Option<Place>,
}

#[derive(Debug, Serialize)]
struct UnderneathView {
    text: String,
    problems: Vec<ProblemView>,
}

/// Unsaved text of an earlier page, for a page or a machine.
#[derive(Debug, Serialize)]
pub struct OfferView {
    id: usize,
    file: String,
    /// In UTC.
    written_at: Option<String>,
    /// What the file is, with `{when}` for the time.
    heading: String,
    text: Vec<String>,
    lines: Vec<String>,
    refusal: Option<&'static str>,
    problems: Vec<ProblemView>,
    can_be_continued: bool,
    can_be_discarded: bool,
}

impl OfferView {
    /// An offer beside the plan's text.
    #[must_use]
    pub fn of(offer: &Offer, plan: &str) -> Self {
        Self {
            id: offer.id,
            file: offer.path.display().to_string(),
            written_at: offer.written_at(),
            heading: offer.heading("{when}"),
            text: offer.told(plan),
            lines: offer.text.as_ref().map_or_else(|_| vec![], |text| difference(plan, text).lines),
            refusal: offer.refusal(),
            problems: offer.problems.iter().map(ProblemView::from).collect(),
            can_be_continued: offer.is_sound(),
            can_be_discarded: offer.can_be_discarded(),
        }
    }
}

impl From<&Problem> for ProblemView {
    fn from(problem: &Problem) -> Self {
        Self {
            line: problem.line(),
            field: problem.field().to_owned(),
            text: problem.text().to_owned(),
            place: Place::told(problem.field()),
        }
    }
}

impl View {
    /// The desk as it stands; nothing where a place cannot be put on the board.
    #[must_use]
    pub fn of(state: &State) -> Option<Self> {
        let plan = &state.opened.plan;
        let document: DocumentMut = state.text().parse().unwrap_or_default();
        let projector = state.board.projector().ok()?;
        let channel = plan.channels.iter().find(|c| c.name == state.look.channel);
        let station = match channel?.service {
            Service::Relay { station, .. } | Service::Packet { station, .. } => Some(station),
            Service::Simplex { .. } => None,
        };
        let radio = |index: usize| radio(plan, index, &document);
        let score = state.latest.score.as_deref();
        let grid = &state.board.grid;
        let (can_undo, can_redo) = state.can_step();
        let picture = state.latest.picture.as_ref().or(state.before.as_ref());
        Some(Self {
            revision: state.revision,
            aim: state.aim,
            picture: state.pictures,
            stage: state.latest.stage,
            event: plan.event.name.clone(),
            file: state.file.named().display().to_string(),
            units: plan.units.word(),
            changed: state.is_changed(),
            can_undo,
            can_redo,
            board: BoardView {
                number: state.board_number,
                columns: grid.columns(),
                rows: grid.rows(),
                contours: state.board.contours.clone(),
                named: plan.place_names.is_some(),
                metres_per_cell: grid.cell_size().ok()?.0.value(),
                tiles: state.opened.terrain.picture().is_some(),
            },
            look: state.look.clone(),
            opening: state.opening.words.clone(),
            together: state.together.view(),
            channels: plan
                .channels
                .iter()
                .filter(|c| c.has_station())
                .map(|c| ChannelView { name: c.name.clone(), station: words::station(c.service) })
                .collect(),
            sites: sites(plan, &projector, &document)?,
            posts: posts(plan, &projector, &document, score)?,
            areas: shapes(
                plan.areas.iter().map(|a| (&a.name, a.outline.exterior())),
                &projector,
                |n| Some(score?.areas.iter().find(|a| a.name == n)?.probability),
            ),
            routes: shapes(plan.routes.iter().map(|r| (&r.name, &r.line)), &projector, |n| {
                Some(score?.routes.iter().find(|r| r.share.name == n)?.share.probability)
            }),
            method: plan.prediction.method.clone(),
            methods: METHODS
                .iter()
                .map(|m| MethodView { name: m.name(), summary: m.summary() })
                .collect(),
            station: station.and_then(radio),
            carried: channel.and_then(|c| radio(c.carried)),
            score: score.map(score_view),
            span: picture.map(|p| p.span),
            old_picture: state.latest.picture.is_none() && picture.is_some(),
            variants: state
                .variants
                .iter()
                .map(|v| VariantView {
                    id: v.id,
                    name: v.name.clone(),
                    site: v.look.site.clone(),
                    channel: v.look.channel.clone(),
                    score: score_view(&v.score),
                    span: v.picture.span,
                    same_board: std::sync::Arc::ptr_eq(&v.board, &state.board),
                })
                .collect(),
            most_variants: MOST_VARIANTS,
            trouble: state.latest.trouble.clone(),
            underneath: state.underneath.as_ref().map(|u| UnderneathView {
                text: u.text.clone(),
                problems: u.problems.iter().map(ProblemView::from).collect(),
            }),
            kept_in: state.kept_in().map(|file| file.display().to_string()),
            offers: state.offers.iter().map(|o| OfferView::of(o, &state.kept.text)).collect(),
            warnings: state.warnings(),
            took_ms: state.latest.took_ms,
            check: findings(&state.opened),
        })
    }
}

fn score_view(score: &SiteScore) -> ScoreView {
    ScoreView {
        covered: score.posts_covered,
        of: score.posts.len(),
        missed: score.missed_must_posts().into_iter().map(str::to_owned).collect(),
        // Every score here has its map.
        map_percent: score.map_share.unwrap_or_default() * 100.0,
    }
}

fn point(projector: &Projector, at: Position) -> Option<PointView> {
    let (column, row) = projector.to_cell(at).ok()?;
    Some(PointView { column, row })
}

/// A position as it was typed, where that is text, and as degrees elsewhere.
fn typed_at(document: &DocumentMut, kind: &str, name: &str, at: Position) -> String {
    typed(document, kind, name, "at").unwrap_or_else(|| degrees(at))
}

/// A position as a plan takes it, to a tenth of a metre.
#[must_use]
pub fn degrees(at: Position) -> String {
    format!("{:.6}, {:.6}", at.latitude().value(), at.longitude().value())
}

fn metres(length: Metres) -> String {
    format!("{:.1} m", length.value())
}

fn sites(plan: &Plan, projector: &Projector, document: &DocumentMut) -> Option<Vec<SiteView>> {
    plan.sites
        .iter()
        .map(|site| {
            Some(SiteView {
                name: site.name.clone(),
                at: point(projector, site.at)?,
                typed_at: typed_at(document, "site", &site.name, site.at),
                mast: typed(document, "site", &site.name, "mast")
                    .unwrap_or_else(|| metres(site.mast)),
                available: site.available,
                access: site.access.clone(),
                notes: site.notes.clone(),
            })
        })
        .collect()
}

fn posts(
    plan: &Plan,
    projector: &Projector,
    document: &DocumentMut,
    score: Option<&SiteScore>,
) -> Option<Vec<PostView>> {
    plan.posts
        .iter()
        .map(|post| {
            let scored = score.and_then(|s| s.posts.iter().find(|p| p.post == post.name));
            Some(PostView {
                name: post.name.clone(),
                at: point(projector, post.at)?,
                typed_at: typed_at(document, "post", &post.name, post.at),
                must: post.must,
                outcome: scored.map(|p| p.outcome),
                words: scored.map(|p| words::meaning(p.outcome)),
                spots: scored.and_then(|p| p.probability).map(words::spots),
                reason: scored.map(|p| p.reason.clone()),
            })
        })
        .collect()
}

fn shapes<'a>(
    lines: impl Iterator<Item = (&'a String, &'a geo::LineString)>,
    projector: &Projector,
    probability: impl Fn(&str) -> Option<f64>,
) -> Vec<ShapeView> {
    lines
        .map(|(name, line)| ShapeView {
            name: name.clone(),
            points: line
                .points()
                .filter_map(|p| Position::from_point(p).ok())
                .filter_map(|p| projector.to_cell(p).ok())
                .collect(),
            spots: probability(name).map(words::spots),
        })
        .collect()
}

fn radio(plan: &Plan, index: usize, document: &DocumentMut) -> Option<RadioView> {
    let radio = plan.radios.get(index)?;
    let power = typed(document, "radio", &radio.name, "power");
    Some(RadioView {
        name: radio.name.clone(),
        power: power.unwrap_or_else(|| format!("{:.1} dBm", radio.power.value())),
        carry: radio.carry.map(perchline_plan::Carry::word),
    })
}
