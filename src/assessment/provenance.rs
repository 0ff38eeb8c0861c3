//! What made a result: program, method, settings, inputs and time.

use std::time::SystemTime;

use jiff::Timestamp;
use serde::Serialize;
use sha2::{Digest, Sha256};

use perchline_link::{Propagator, frequencies, location_spread, model_error};
use perchline_plan::{InputFile, Plan, hexadecimal};
use perchline_terrain::{Grid, Terrain};
use perchline_units::{Db, Percent, Refractivity, RefractivityLapse};

/// What made a result; every output carries it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Provenance {
    /// The program.
    pub program: &'static str,
    /// Its version.
    pub version: &'static str,
    /// The propagation method.
    pub method: &'static str,
    /// The publication behind the method.
    pub method_source: &'static str,
    /// The instruction set on which maps were swept; it does not show in them.
    pub instructions: &'static str,
    /// Effective-earth factor.
    pub k_factor: f64,
    /// Fall of the air's refractivity in N-units per kilometre, if the factor is from it.
    pub delta_n: Option<RefractivityLapse>,
    /// Refractivity of the air at sea level in N-units; `p1812` alone counts it.
    pub n0: Refractivity,
    /// Share of the time for which losses hold in percent; `p1812` alone counts it.
    pub time_percent: Percent,
    /// Share of locations that must work, 0 to 1.
    pub reliability: f64,
    /// Standard deviation over locations, dB: the greatest of the channels'.
    pub location_spread_db: Db,
    /// Standard deviation of the method's own error, dB.
    pub model_error_db: Db,
    /// When it was made, UTC, to the second. `SOURCE_DATE_EPOCH` sets it for
    /// runs that must repeat to the byte.
    pub made_at: String,
    /// Plan, terrain and vector files, with their SHA-256.
    pub inputs: Vec<InputFile>,
}

impl Provenance {
    /// The provenance of a run over this plan and terrain.
    #[must_use]
    pub fn of(plan: &Plan, terrain: &Terrain, propagator: &Propagator) -> Self {
        let inputs = [InputFile { path: plan.file.clone(), sha256: plan.sha256.clone() }]
            .into_iter()
            .chain(terrain.files().iter().cloned())
            .chain(plan.vector_files.iter().cloned())
            .collect();
        Self {
            program: "perchline",
            version: env!("CARGO_PKG_VERSION"),
            method: propagator.method.name(),
            method_source: propagator.method.source(),
            instructions: perchline_coverage::sweep::instructions(),
            k_factor: plan.prediction.k_factor,
            delta_n: plan.prediction.delta_n,
            n0: plan.prediction.n0,
            time_percent: plan.prediction.time,
            reliability: plan.prediction.reliability,
            location_spread_db: plan
                .channels
                .iter()
                .map(|c| {
                    let frequencies = frequencies(&c.service);
                    location_spread(&plan.prediction, frequencies, terrain.spacing())
                })
                .fold(Db::new(0.0), Db::max),
            model_error_db: plan
                .channels
                .iter()
                .map(|c| model_error(&plan.prediction, frequencies(&c.service), terrain.spacing()))
                .fold(Db::new(0.0), Db::max),
            made_at: now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
            inputs,
        }
    }
}

/// A digest of all that shows in maps of these results, the time aside: program,
/// settings, inputs, the heights themselves, and the cells of the map.
#[must_use]
pub fn digest(provenance: &Provenance, terrain: &Terrain, grid: &Grid) -> String {
    // A build of the same version may be another program.
    let program = std::env::current_exe().and_then(std::fs::metadata).ok();
    let program = program.map(|file| (file.len(), file.modified().ok()));
    digest_with(&format!("{} {program:?}", provenance.instructions), provenance, terrain, grid)
}

/// The same of a run of which several machines do a part each: their copies of the
/// program have other times, and the instructions do not show in results.
#[must_use]
pub fn digest_of_parts(provenance: &Provenance, terrain: &Terrain, grid: &Grid) -> String {
    digest_with("", provenance, terrain, grid)
}

fn digest_with(program: &str, provenance: &Provenance, terrain: &Terrain, grid: &Grid) -> String {
    let mut digest = Sha256::new();
    // Where the files lie on this machine does not show either.
    let mut timeless =
        Provenance { made_at: String::new(), instructions: "", ..provenance.clone() };
    for input in &mut timeless.inputs {
        input.path = input.path.file_name().map(Into::into).unwrap_or_default();
    }
    digest.update(format!("{timeless:?} {program} {grid:?} {:?}", terrain.grid()));
    // Files that a virtual raster refers to are not among the inputs; heights are.
    let window = [Some(terrain.heights()), terrain.cover(), terrain.woods()];
    for layer in window.into_iter().flatten().chain(terrain.own_heights()) {
        for row in layer.rows() {
            let bytes: Vec<u8> = row.iter().flat_map(|height| height.to_le_bytes()).collect();
            digest.update(bytes);
        }
    }
    hexadecimal(&digest.finalize())
}

impl Provenance {
    /// When and with what it was made from which plan, for the foot of a sheet.
    #[must_use]
    pub fn made_from_plan(&self) -> String {
        let plan = self.inputs.first().map_or("", |plan| plan.sha256.as_str());
        let digest: String = plan.chars().take(12).collect();
        format!("Made {} with Perchline {} from plan {digest}", self.made_at, self.version)
    }

    /// In one line for the foot of a drawing that rests on a prediction.
    #[must_use]
    pub fn line(&self) -> String {
        let method =
            format!(", method {}, effective-earth factor {:.2}", self.method, self.k_factor);
        self.made_line(&method)
    }

    /// The same for a drawing that rests on the plan alone.
    #[must_use]
    pub fn line_without_method(&self) -> String {
        self.made_line("")
    }

    fn made_line(&self, with: &str) -> String {
        let inputs = self.inputs.iter().map(|input| {
            let digest: String = input.sha256.chars().take(12).collect();
            format!("{} ({digest})", input.name())
        });
        format!(
            "Made {} with Perchline {}{with}. From: {}",
            self.made_at,
            self.version,
            inputs.collect::<Vec<_>>().join(", ")
        )
    }

    /// Settings and inputs as lines of text, for files that have room for them.
    #[must_use]
    pub fn lines(&self) -> String {
        let mut lines = format!(
            "method {}; k-factor {:.3}; N0 {}; time {}; instructions {}\n",
            self.method, self.k_factor, self.n0, self.time_percent, self.instructions
        );
        for input in &self.inputs {
            lines += &format!("{}  {}\n", input.sha256, input.name());
        }
        lines
    }
}

/// The time that results are made at: that of the clock, or the one that is fixed.
#[must_use]
pub fn now() -> Timestamp {
    fixed_time().ok().flatten().unwrap_or_else(|| time_of(SystemTime::now()))
}

/// A clock's time; that of a clock beyond all calendars is the first of 1970.
fn time_of(clock: SystemTime) -> Timestamp {
    Timestamp::try_from(clock).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// The time that `SOURCE_DATE_EPOCH` fixes for results, if it does.
///
/// # Errors
/// A sentence when it is no number of seconds.
pub fn fixed_time() -> Result<Option<Timestamp>, String> {
    let Some(text) = std::env::var_os("SOURCE_DATE_EPOCH") else { return Ok(None) };
    let text = text.to_string_lossy();
    let seconds = text.parse().ok().and_then(|seconds| Timestamp::from_second(seconds).ok());
    seconds.map(Some).ok_or_else(|| {
        format!("SOURCE_DATE_EPOCH is \"{text}\": write seconds since 1970 (UTC), or unset it")
    })
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn any_clock_gives_a_time() {
        let second = Duration::from_secs(1);
        let year = second * 31_556_952;
        let before = SystemTime::UNIX_EPOCH - second;
        assert_eq!(time_of(before).to_string(), "1969-12-31T23:59:59Z");
        let far = SystemTime::UNIX_EPOCH + year * 300;
        assert!(time_of(far).to_string().starts_with("2269-12-3"), "{}", time_of(far));
        let beyond = SystemTime::UNIX_EPOCH + year * 20_000;
        assert_eq!(time_of(beyond), Timestamp::UNIX_EPOCH);
    }
}
