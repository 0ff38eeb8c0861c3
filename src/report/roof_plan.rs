//! The plan of a roof: antennas seen from above and how far to keep from them.

use perchline_plan::{Plan, UnitSystem};
use perchline_power::exposure::StationExposure;
use perchline_power::sharing::Roofmates;
use perchline_units::Metres;

use super::Provenance;
use super::cautions::{Caution, Output, UNNAMED, cautions};
use super::outputs::{OutboxSlot, OutputError};
use super::palette;
use super::sheet_layout::{Foot, Head, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, render};

const WIDTH: u32 = 1400;
/// Where the roof is drawn.
const DRAWING: Frame = Frame { left: 80.0, top: 190.0, width: 1240.0, height: 1000.0 };

/// One antenna from above.
struct Spot<'a> {
    exposure: &'a StationExposure,
    east: f64,
    north: f64,
}

/// What the plan of one roof shows.
#[derive(Debug, Clone, Copy)]
pub struct RoofPlan<'a> {
    /// The plan of the event.
    pub plan: &'a Plan,
    /// The roof and the stations on it.
    pub roof: &'a Roofmates,
    /// The distances to keep from every station's antenna.
    pub exposures: &'a [StationExposure],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes it as a PNG of 1400 by 1500 pixels.
pub(super) fn write_png(content: &RoofPlan<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&render(&drawn(content))?)
}

/// It as an SVG document.
fn drawn(content: &RoofPlan<'_>) -> String {
    let RoofPlan { plan, roof, exposures, provenance } = *content;
    let care: Vec<String> =
        cautions(plan, Output::RoofPlan).into_iter().map(Caution::said).collect();
    let care = format!("Take care ({UNNAMED}). {}", care.join(" "));
    let made = provenance.line_without_method();
    let foot = Foot {
        notes: &[],
        caveats: "",
        care: &[
            "Solid line, uncontrolled: nobody who has not been told goes nearer. Dashed line, controlled: nobody at all goes nearer while it may transmit.",
            "No parapet, wall or machine is drawn.",
            &care,
        ],
        made: Some(&made),
        remark: None,
    };
    let below = DRAWING.bottom() + 50.0;
    let mut layout = SheetLayout::plot(WIDTH, below + foot.height_on_plot(WIDTH));
    let spots: Vec<_> = roof
        .stations
        .iter()
        .filter_map(|name| {
            let station = plan.power.stations.iter().find(|s| &s.name == name)?;
            Some(Spot {
                exposure: exposures.iter().find(|e| &e.station == name)?,
                east: station.roof.east.value(),
                north: station.roof.north.value(),
            })
        })
        .collect();
    let name = roof.site.as_deref().unwrap_or("A roof");
    layout.head(&Head {
        title: &format!("{name} from above"),
        subtitle: &format!(
            "{}. Distances to keep from antennas while they may transmit.",
            plan.event.name
        ),
        lead: &[],
        figure: None,
    });
    let sheet = layout.sheet();
    let view = View::around(&spots);
    sheet.rectangle(DRAWING, 0.0, &Pen::line(palette::HAIRLINE, 2.0));
    for spot in &spots {
        rings(sheet, &view, spot);
    }
    for (index, spot) in spots.iter().enumerate() {
        antenna(sheet, &view, spot, index, plan.units);
    }
    scale(sheet, &view, plan.units);
    layout.foot_from(below, &foot);
    layout.into_svg()
}

/// Metres on the roof to pixels on the sheet; north is up.
struct View {
    pixels_a_metre: f64,
    middle: Point,
    centre: (f64, f64),
}

impl View {
    /// A view that holds every ring.
    fn around(spots: &[Spot<'_>]) -> Self {
        let (mut west, mut east) = (f64::INFINITY, f64::NEG_INFINITY);
        let (mut south, mut north) = (f64::INFINITY, f64::NEG_INFINITY);
        for spot in spots {
            let reach = spot.exposure.uncontrolled.keep_m.value() * 1.08 + 0.5;
            west = west.min(spot.east - reach);
            east = east.max(spot.east + reach);
            south = south.min(spot.north - reach);
            north = north.max(spot.north + reach);
        }
        if spots.is_empty() {
            (west, east, south, north) = (-5.0, 5.0, -5.0, 5.0);
        }
        let inner = DRAWING.grown(-30.0);
        Self {
            // Above and below, room for a name.
            pixels_a_metre: (inner.width / (east - west))
                .min((inner.height - 160.0) / (north - south)),
            middle: (inner.left + inner.width / 2.0, inner.top + inner.height / 2.0),
            centre: ((west + east) / 2.0, (south + north) / 2.0),
        }
    }

    fn at(&self, east: f64, north: f64) -> Point {
        (
            self.middle.0 + (east - self.centre.0) * self.pixels_a_metre,
            self.middle.1 - (north - self.centre.1) * self.pixels_a_metre,
        )
    }
}

fn rings(sheet: &mut Sheet, view: &View, spot: &Spot<'_>) {
    let at = view.at(spot.east, spot.north);
    let radius = |metres: Metres| metres.value() * view.pixels_a_metre;
    let public = radius(spot.exposure.uncontrolled.keep_m);
    let controlled = radius(spot.exposure.controlled.keep_m);
    sheet.circle(at, public, &Pen::fill(palette::ACCENT).faint(0.10));
    sheet.circle(at, public, &Pen::line(palette::ACCENT, 3.0));
    sheet.circle(at, controlled, &Pen::line(palette::ACCENT, 3.0).dashed("10 8"));
}

fn antenna(sheet: &mut Sheet, view: &View, spot: &Spot<'_>, index: usize, units: UnitSystem) {
    let at = view.at(spot.east, spot.north);
    sheet.circle(at, 9.0, &Pen::fill(palette::INK));
    // Outside of its ring; one above, the next below, so that near ones keep
    // clear of each other.
    let ring = spot.exposure.uncontrolled.keep_m.value() * view.pixels_a_metre;
    let (first, second) = if index.is_multiple_of(2) {
        (-ring - 42.0, -ring - 16.0)
    } else {
        (ring + 34.0, ring + 60.0)
    };
    let name = Lettering::new(24.0).bold().aligned(Align::Middle);
    let fact = Lettering::new(20.0).aligned(Align::Middle);
    let fitting = name.fitted(&spot.exposure.station, 500.0);
    sheet.text((at.0, at.1 + first), &fitting, &name);
    let words = format!(
        "uncontrolled {}, controlled {}",
        units.height(spot.exposure.uncontrolled.keep_m),
        units.height(spot.exposure.controlled.keep_m)
    );
    sheet.text((at.0, at.1 + second), &words, &fact);
}

/// A bar of a round length, and where north is.
fn scale(sheet: &mut Sheet, view: &View, units: UnitSystem) {
    let unit = match units {
        UnitSystem::Metric => 1.0,
        UnitSystem::Us => perchline_units::METRES_PER_FOOT,
    };
    let bars = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];
    let long = |length: f64| length * unit * view.pixels_a_metre;
    let length = bars.iter().copied().rev().find(|l| long(*l) <= 320.0).unwrap_or(1.0);
    let y = DRAWING.bottom() - 26.0;
    let left = DRAWING.left + 30.0;
    sheet.line((left, y), (left + long(length), y), &Pen::line(palette::INK, 4.0));
    let symbol = match units {
        UnitSystem::Metric => "m",
        UnitSystem::Us => "ft",
    };
    let small = Lettering::new(20.0);
    sheet.text((left, y - 12.0), &format!("{length:.0} {symbol}"), &small);
    let right = DRAWING.left + DRAWING.width - 46.0;
    let top = DRAWING.top + 40.0;
    sheet.line((right, top + 60.0), (right, top), &Pen::line(palette::INK, 3.0));
    sheet.line((right - 9.0, top + 16.0), (right, top), &Pen::line(palette::INK, 3.0));
    sheet.line((right + 9.0, top + 16.0), (right, top), &Pen::line(palette::INK, 3.0));
    sheet.text((right, top + 86.0), "N", &small.aligned(Align::Middle));
}
