//! The worked examples of P.1812, 63 runs over three grounds, as
//! `tests/reference/make_p1812.py` puts them into tables; its head names their
//! source.

use std::collections::BTreeMap;

use csv::StringRecord;
use geo::{Bearing, Destination};
use perchline::propagation::{Climate, EffectiveEarth, Path, Profile};
use perchline::units::{Degrees, Megahertz, Metres, Percent, Polarization};

fn table(name: &str) -> csv::Reader<std::fs::File> {
    let file = format!("{}/tests/reference/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(&file).unwrap_or_else(|error| panic!("{file}: {error}"))
}

#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Zone {
    Inland,
    Coast,
    Sea,
}

#[derive(serde::Deserialize)]
struct Inputs {
    run: String,
    ground: String,
    points: usize,
    /// `inland` where the zones of the ground do not count.
    zones: String,
    cover: String,
    frequency_mhz: f64,
    polarization: String,
    time_percent: f64,
    tx_height_m: f64,
    rx_height_m: f64,
    tx_latitude_deg: f64,
    tx_longitude_deg: f64,
    rx_latitude_deg: f64,
    rx_longitude_deg: f64,
    delta_n: f64,
    n0: f64,
    tx_to_coast_km: f64,
    rx_to_coast_km: f64,
    power_kw: f64,
}

/// One run: what went in, and what should come out.
pub struct Run {
    inputs: Inputs,
    zones: Vec<Zone>,
    profile: Profile,
    values: Vec<(String, f64)>,
}

/// All of them.
pub fn runs() -> Vec<Run> {
    let mut grounds = BTreeMap::new();
    let mut values = table("p1812_values");
    let head = values.headers().unwrap().clone();
    let values: Vec<StringRecord> = values.records().map(Result::unwrap).collect();
    let inputs: Vec<Inputs> = table("p1812_runs").deserialize().map(Result::unwrap).collect();
    assert_eq!((inputs.len(), values.len(), head.len()), (63, 63, 50));
    let runs = inputs.into_iter().zip(values).map(|(inputs, row)| {
        assert_eq!(inputs.run, row[0]);
        let values = head.iter().zip(&row).skip(1).map(|(c, v)| (c.to_owned(), v.parse().unwrap()));
        let ground = grounds.entry(inputs.ground.clone()).or_insert_with_key(|g| Ground::read(g));
        let (zones, profile) = ground.under(&inputs);
        Run { values: values.collect(), inputs, zones, profile }
    });
    runs.collect()
}

/// Columns of a ground, by their heads, and the zones.
struct Ground {
    columns: BTreeMap<String, Vec<f64>>,
    zones: Vec<Zone>,
}

impl Ground {
    fn read(name: &str) -> Self {
        let mut table = table(&format!("p1812_{name}"));
        let head = table.headers().unwrap().clone();
        let (mut columns, mut zones) = (BTreeMap::<_, Vec<f64>>::new(), Vec::new());
        for row in table.records() {
            for (column, cell) in head.iter().zip(&row.unwrap()) {
                if column == "zone" {
                    zones.push(StringRecord::from(vec![cell]).deserialize(None).unwrap());
                } else {
                    columns.entry(column.to_owned()).or_default().push(cell.parse().unwrap());
                }
            }
        }
        Self { columns, zones }
    }

    fn under(&self, inputs: &Inputs) -> (Vec<Zone>, Profile) {
        let column = |name: &str| self.columns[name][..inputs.points].to_vec();
        let distance = column("distance_km").into_iter().map(|km| km * 1e3).collect();
        let profile = Profile::new(distance, column("height_m")).unwrap();
        let zones = match inputs.zones.as_str() {
            "inland" => vec![Zone::Inland; inputs.points],
            "listed" => self.zones[..inputs.points].to_vec(),
            other => panic!("{}: zones {other}", inputs.run),
        };
        (zones, profile.with_cover(column(&inputs.cover)).unwrap())
    }
}

impl Run {
    pub fn name(&self) -> &str {
        &self.inputs.run
    }

    /// Columns and what they list.
    pub fn values(&self) -> &[(String, f64)] {
        &self.values
    }

    pub fn value(&self, column: &str) -> f64 {
        self.values.iter().find(|(name, _)| name == column).unwrap().1
    }

    pub fn frequency(&self) -> Megahertz {
        Megahertz::new(self.inputs.frequency_mhz)
    }

    pub fn power_kw(&self) -> f64 {
        self.inputs.power_kw
    }

    /// Whether anything stands on the ground.
    pub fn is_covered(&self) -> bool {
        self.profile.cover().iter().any(|cover| *cover > 0.0)
    }

    /// Whether a part of the path is sea.
    pub fn is_wet(&self) -> bool {
        self.zones.contains(&Zone::Sea)
    }

    pub fn is_vertical(&self) -> bool {
        match self.inputs.polarization.as_str() {
            "horizontal" => false,
            "vertical" => true,
            other => panic!("{}: polarization {other}", self.inputs.run),
        }
    }

    /// Latitude half the length of the profile along the great circle from the
    /// transmitter, as the examples have it: their ends do not lie quite as far
    /// apart as their profiles are long.
    fn middle(&self) -> Degrees {
        let i = &self.inputs;
        let transmitter = geo::Point::new(i.tx_longitude_deg, i.tx_latitude_deg);
        let receiver = geo::Point::new(i.rx_longitude_deg, i.rx_latitude_deg);
        let bearing = geo::Haversine.bearing(transmitter, receiver);
        let half = self.profile.length().value() / 2.0;
        Degrees::new(geo::Haversine.destination(transmitter, bearing, half).y())
    }

    /// Metres of each stretch in such zones, where a point owns half the way to
    /// its neighbours.
    fn stretches(&self, counts: impl Fn(Zone) -> bool) -> Vec<f64> {
        let distance = self.profile.distances();
        let last = distance.len() - 1;
        let mut stretches = vec![0.0];
        for (at, zone) in self.zones.iter().enumerate() {
            if counts(*zone) {
                let (before, after) = (distance[at.saturating_sub(1)], distance[last.min(at + 1)]);
                *stretches.last_mut().unwrap() += (after - before) / 2.0;
            } else {
                stretches.push(0.0);
            }
        }
        stretches
    }

    /// The path of this run, with its climate.
    pub fn path(&self) -> Path<'_> {
        let longest = |stretches: Vec<f64>| stretches.into_iter().fold(0.0, f64::max);
        let sea: f64 = self.stretches(|zone| zone == Zone::Sea).iter().sum();
        let i = &self.inputs;
        let climate = Climate {
            time: Percent::new(i.time_percent),
            latitude: self.middle(),
            surface_refractivity: i.n0,
            sea_share: sea / self.profile.length().value(),
            longest_land: Some(Metres::new(longest(self.stretches(|zone| zone != Zone::Sea)))),
            longest_inland: Some(Metres::new(longest(self.stretches(|zone| zone == Zone::Inland)))),
            transmitter_to_coast: Metres::new(i.tx_to_coast_km * 1e3),
            receiver_to_coast: Metres::new(i.rx_to_coast_km * 1e3),
            ..Climate::DEFAULT
        };
        let polarization =
            if self.is_vertical() { Polarization::Vertical } else { Polarization::Horizontal };
        let (tx, rx) = (Metres::new(i.tx_height_m), Metres::new(i.rx_height_m));
        Path::new(&self.profile, tx, rx, self.frequency())
            .with_earth(EffectiveEarth::from_refractivity_lapse(i.delta_n))
            .with_polarization(polarization)
            .with_climate(climate)
            .unwrap()
    }
}
