//! How much memory a plan takes, told before it is taken.

use serde::Serialize;

use perchline_plan::{Plan, PlanError};
use perchline_siting::demand::points_sampled;
use perchline_siting::sites_in_full;
use perchline_terrain::{Grid, TerrainError, TerrainSurvey};
use perchline_units::{Metres, Position};

use super::fit;

/// What a run takes whatever its plan, bytes: the program with its libraries,
/// GDAL's cache, the strips that files are read in, a drawing. Measured, and
/// rounded up.
const ALWAYS: f64 = 260e6;
/// A cell of bare terrain: its height, and what is drawn or written of it.
const GROUND: f64 = 12.0;
/// The same while gaps are filled.
const FILLED: f64 = 20.0;
/// The same while means are made: sums, counts, and the mean itself.
const MEANS: f64 = 24.0;
/// A cell that is resampled: read, in GDAL's hands, and what comes of it.
const RESAMPLED: f64 = 16.0;
/// A cell of a file on another grid than the window's, and a cell of the window
/// that says which file it is from.
const OWN: f64 = 4.0;
const OWNER: f64 = 2.0;
/// Map tiles at the most, as they are put together and drawn.
const TILES: f64 = 600e6;
/// A cell with what stands on it: cover, surface, trees, what is left without
/// them, water, and the numbers of footprints while they are burnt in.
const COVERED: f64 = 36.0;
/// A cell of a map that is kept: two margins, a probability, sight and outcome.
const KEPT: f64 = 14.0;
/// A cell of the map that is being computed, drawn or written, once more.
const WORKED: f64 = 16.0;

/// A site and a post in a ranking: names, margins, a reason, a remedy.
const PAIR: f64 = 800.0;
/// The same with both budgets line by line.
const PAIR_IN_FULL: f64 = 4500.0;
/// Two posts without a relay: names and margins, and those with radios worn as with
/// the relay.
const POSTS_PAIR: f64 = 600.0;
/// A site and a spot in the choice of sites: the contact, its chance, and what
/// the solver holds.
const CONTACT: f64 = 120.0;
/// A post in what is drawn, written and said of one site.
const POST: f64 = 30e3;
/// A report of the day with its prediction and its part in the statistics.
const REPORT: f64 = 700.0;

/// What a verb keeps beside the terrain while it works.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Holds {
    maps: usize,
    results: f64,
}

impl From<usize> for Holds {
    /// So many maps at a time.
    fn from(maps: usize) -> Self {
        Self { maps, results: 0.0 }
    }
}

impl Holds {
    /// One map, and the results of whichever verb has most of them.
    #[must_use]
    pub fn most(plan: &Plan) -> Self {
        let (simplex, stations): (Vec<_>, Vec<_>) =
            plan.channels.iter().partition(|channel| !channel.has_station());
        let one = Self::maps(1);
        [
            one.rankings(plan, stations.len()).site(plan),
            one.rankings(plan, 1).nets(plan, simplex.len()).site(plan),
            one.contacts(plan, true).site(plan),
        ]
        .into_iter()
        .fold(one, |most, verb| if verb.results > most.results { verb } else { most })
    }

    /// So many maps at a time, none of which is worked on where there are none.
    #[must_use]
    pub fn maps(maps: usize) -> Self {
        maps.into()
    }

    /// Bytes of all but the maps.
    #[must_use]
    pub fn results(self) -> f64 {
        self.results
    }

    fn and(self, results: f64) -> Self {
        Self { results: self.results + results, ..self }
    }

    /// And rankings of the plan's sites for so many channels.
    #[must_use]
    pub fn rankings(self, plan: &Plan, channels: usize) -> Self {
        let (sites, posts) = (plan.sites.len(), plan.posts.len());
        let full = (sites_in_full(posts).min(sites) * posts) as f64;
        let pairs = (sites * posts) as f64;
        self.and(channels as f64 * (full * PAIR_IN_FULL + pairs * PAIR))
    }

    /// And the posts among themselves on so many channels.
    #[must_use]
    pub fn nets(self, plan: &Plan, channels: usize) -> Self {
        let posts = plan.posts.len() as f64;
        self.and(channels as f64 * posts * posts / 2.0 * POSTS_PAIR)
    }

    /// And every site against all that is to be served.
    #[must_use]
    pub fn contacts(self, plan: &Plan, whole_area: bool) -> Self {
        let spots = points_sampled(plan, None, whole_area);
        self.and(plan.sites.len() as f64 * spots as f64 * CONTACT)
    }

    /// And one site against all posts, drawn and told.
    #[must_use]
    pub fn site(self, plan: &Plan) -> Self {
        self.and(plan.posts.len() as f64 * POST)
    }

    /// And so many reports of the day.
    #[must_use]
    pub fn reports(self, reports: usize) -> Self {
        self.and(reports as f64 * REPORT)
    }
}

/// The memory that a run takes at its most, bytes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Need {
    /// Whatever the plan.
    pub always: f64,
    /// For terrain and what stands on it.
    pub terrain: f64,
    /// For maps.
    pub maps: f64,
    /// For what is found of sites and posts.
    pub results: f64,
}

/// A plan's window before its heights are read, and what it takes to work on it.
pub struct Survey {
    pub(super) terrain: TerrainSurvey,
    window: Grid,
    /// Side of a cell of the window, and of a map's.
    cell: Metres,
    map_cell: Metres,
    /// Side of a cell of the surface, where the plan has buildings, and how many
    /// of those a cell of the window is cut into.
    surface: Option<Metres>,
    finer: f64,
    per_terrain_cell: f64,
    /// For files that are resampled, and archives that are held unpacked, bytes.
    resampled: f64,
    tiles: f64,
    map_cells: f64,
    holds: Holds,
    /// Sites and posts.
    counts: (usize, usize),
}

impl Survey {
    /// Surveys what a plan needs, with terrain around `more` too, and what the
    /// verb holds beside it.
    ///
    /// # Errors
    /// [`PlanError`] when the plan names no place, or its elevation files cannot
    /// be used or lie elsewhere.
    pub fn of(plan: &Plan, more: &[Position], holds: impl Into<Holds>) -> Result<Self, PlanError> {
        let extent = fit::extent(plan, more)?;
        let wrong = |error: TerrainError| plan.terrain_error(error.to_string());
        let terrain = TerrainSurvey::of(&plan.terrain, extent).map_err(wrong)?;
        let window = terrain.grid();
        let resampled = terrain.resampled_cells().map_err(wrong)?;
        let unpacked = terrain.held_bytes() as f64;
        let own_cells = terrain.own_cells().map_err(wrong)?;
        let (width, height) = window.cell_size().map_err(wrong)?;
        let cell = width.min(height);
        let cells = window.columns() as f64 * window.rows() as f64;
        let surface = plan.buildings.as_ref().map(|buildings| buildings.cell);
        let finer = match surface {
            Some(cell) => window.cuts(cell).map(|(across, down)| across * down).map_err(wrong)?,
            None => 1.0,
        };
        let own_map_cell = Metres::new(cell.value() / finer.sqrt());
        let map_cell = plan.map.cell.map_or(own_map_cell, |cell| cell.max(own_map_cell));
        let area = cells * width.value() * height.value();
        let map_cells = (area / map_cell.value().powi(2)).min(cells * finer);
        let covered = if plan.is_covered() { COVERED } else { GROUND };
        let owned = if own_cells > 0.0 { OWNER } else { 0.0 };
        let filled = if plan.terrain.fill_gaps { FILLED } else { 0.0 };
        let means = if plan.terrain.cell.is_some() { MEANS } else { 0.0 };
        Ok(Self {
            terrain,
            window,
            cell,
            map_cell,
            surface: surface.filter(|_| finer > 1.0),
            finer,
            per_terrain_cell: covered.max(filled).max(means) + owned,
            resampled: resampled * RESAMPLED + own_cells * OWN + unpacked,
            tiles: if plan.map.tiles.is_some() { TILES } else { 0.0 },
            map_cells,
            holds: holds.into(),
            counts: (plan.sites.len(), plan.posts.len()),
        })
    }

    /// What it takes.
    #[must_use]
    pub fn need(&self) -> Need {
        let kept = self.holds.maps;
        let maps = kept as f64 * KEPT + if kept > 0 { WORKED } else { 0.0 };
        Need {
            always: ALWAYS + self.tiles,
            terrain: self.terrain_cells() * self.per_terrain_cell + self.resampled,
            maps: self.map_cells * maps,
            results: self.holds.results,
        }
    }

    /// Cells of the terrain: those of the window, or of the surface on it.
    fn terrain_cells(&self) -> f64 {
        self.window.columns() as f64 * self.window.rows() as f64 * self.finer
    }

    /// Whether it fits into so many bytes; a sentence that says what would if
    /// it does not.
    ///
    /// # Errors
    /// That sentence.
    pub fn fits(&self, room: f64) -> Result<(), String> {
        let need = self.need();
        if need.total() <= room {
            return Ok(());
        }
        let gigabytes = |bytes: f64| format!("{:.1} GB", bytes / 1e9);
        let results = if need.results < 0.05e9 {
            String::new()
        } else {
            let (sites, posts) = self.counts;
            format!(", {} for results of {sites} sites and {posts} posts", gigabytes(need.results))
        };
        let mut text = format!(
            "this needs about {} of memory ({} for {} x {} cells of terrain, {} for maps{results}), and there are {}",
            gigabytes(need.total()),
            gigabytes(need.terrain),
            self.window.columns(),
            self.window.rows(),
            gigabytes(need.maps),
            gigabytes(room),
        );
        let left = room - need.always - need.results;
        if room > need.always && left <= 0.0 {
            text += "; what would fit: fewer sites or posts, or one channel at a time (--channel); or more room with --memory";
            return Err(text);
        }
        if left <= 0.0 {
            text += "; a run takes more than that whatever its plan: end other programs, or allow more with --memory";
            return Err(text);
        }
        let would: Vec<String> = [self.larger_terrain(left), self.larger_map(left), self.fewer()]
            .into_iter()
            .flatten()
            .collect();
        if !would.is_empty() {
            text += &format!("; what would fit: {}", would.join("; or "));
        }
        let share = (left / (need.terrain + need.maps)).sqrt();
        text += &format!(
            "; or a smaller [map] margin, so that the map is {:.0} % as wide and high; or more room with --memory",
            (100.0 * share).floor().max(1.0)
        );
        Err(text)
    }

    /// Cells so much larger that terrain and maps on them take no more than `left`.
    fn larger_terrain(&self, left: f64) -> Option<String> {
        let need = self.need();
        // With larger cells means are made, whatever was done before.
        let terrain = self.terrain_cells() * self.per_terrain_cell.max(MEANS) + self.resampled;
        let larger = ((terrain + need.maps) / left).sqrt();
        let told = |name: &str, cell: f64, most: f64| {
            let cell = (cell * larger * 1.01).ceil();
            (cell <= most)
                .then(|| format!("[{name}] cell = \"{cell:.0} m\" and no finer [map] cell"))
        };
        match self.surface {
            Some(cell) => told("buildings", cell.value(), 50.0),
            None => told("terrain", self.cell.value(), 1000.0),
        }
    }

    /// Map cells so much larger that they do, where terrain leaves room for any.
    fn larger_map(&self, left: f64) -> Option<String> {
        let need = self.need();
        let room = left - need.terrain;
        if room <= 0.0 || need.maps <= 0.0 {
            return None;
        }
        let cell = (self.map_cell.value() * (need.maps / room).sqrt() * 1.01).ceil();
        (cell <= 1000.0).then(|| format!("[map] cell = \"{cell:.0} m\""))
    }

    /// Fewer maps at a time, where many are kept.
    fn fewer(&self) -> Option<String> {
        (self.holds.maps > 2).then(|| "fewer maps at a time (--maps best, --channel)".to_owned())
    }
}

impl Need {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.always + self.terrain + self.maps + self.results
    }
}
