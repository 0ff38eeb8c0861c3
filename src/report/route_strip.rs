//! A route from end to end as a strip: what radio comes to by distance, both ways and
//! each way alone, the stretches without, the posts at their distance, and the ground.

mod on_paper;

use image::{Rgb, RgbImage};

use serde::Serialize;

use perchline_assessment::Assessment;
use perchline_link::Outcome;
use perchline_plan::{Plan, UnitSystem};
use perchline_siting::{ClassStretch, PassedPost, RouteCourse, RouteScore, SiteScore, Stretch};
use perchline_units::{METRES_PER_FOOT, METRES_PER_MILE, Metres};

use super::basemap::swatch;
use super::brief::picture::data_url;
use super::map::MapContent;
use super::outputs::{OutboxSlot, OutputError};
use super::palette::{ACCENT, HAIRLINE, INK, QUIET};
use super::sheet_layout::{Foot, Head, PLOT_BORDER, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Sheet, outline, render};
use super::typeface::{printable, wrapped};
use super::{Provenance, ReportError, axis, words};

pub(super) use on_paper::on_paper;

/// A shorter stretch is walked through in a minute or so (ours).
pub(super) const SHORTEST_GAP: Metres = Metres::new(100.0);

/// The ground in a tint that parts from paper on a grey copy.
const GROUND: &str = "#b9b2a3";
/// Width of the drawing of a site's routes in pixels.
const WIDTH: u32 = 2000;
/// Size of its lettering.
const SIZE: f64 = 24.0;

// Heights of the parts of a strip, against the size of its lettering.
const TITLE: f64 = 1.7;
const NUMBERS: f64 = 1.35;
const BOTH: f64 = 1.7;
const EACH: f64 = 0.95;
const APART: f64 = 0.3;
const POSTS: f64 = 1.25;
const RELIEF: f64 = 3.6;
const AXIS: f64 = 1.9;
const LEADING: f64 = 1.3;
const BELOW: f64 = 1.0;

/// What each bar says, from the upper one on.
const BARS: [&str; 3] = ["Both ways", "You are heard", "You hear"];

/// What the strips of a plan's routes are made from.
#[derive(Debug, Clone, Copy)]
pub struct Routes<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// How the site does, its routes with it.
    pub site: &'a SiteScore,
    /// The plan's routes on their ground, in the plan's order.
    pub courses: &'a [RouteCourse],
    /// Name of the channel.
    pub channel: &'a str,
    /// Share of spots that was wanted, 0 to 1: where clear begins.
    pub reliability: f64,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

impl<'a> Routes<'a> {
    /// The routes of a plan with the relay of `channel` on a site.
    #[must_use]
    pub fn of(
        assessment: &'a Assessment,
        channel: &'a str,
        site: &'a SiteScore,
        reliability: f64,
    ) -> Self {
        Self {
            plan: &assessment.plan,
            site,
            courses: assessment.courses(),
            channel,
            reliability,
            provenance: &assessment.provenance,
        }
    }

    /// How many stretches of all routes have no radio both ways, and how long the longest
    /// is.
    #[must_use]
    pub fn headline(&self) -> String {
        let strips = self.strips(Told::Numbered);
        let without: Vec<_> = strips.iter().filter(|strip| !strip.score.gaps.is_empty()).collect();
        let longest = without.iter().filter_map(|s| Some((s, s.score.longest_gap?))).reduce(
            |longest, other| {
                if other.1.length() > longest.1.length() { other } else { longest }
            },
        );
        match (strips.as_slice(), longest) {
            ([], _) => "The plan has no route".to_owned(),
            ([one], _) => one.headline(),
            (all, None) => format!("{NO_GAP} on {} routes", all.len()),
            (all, Some((strip, gap))) => format!(
                "{} of {} routes have stretches without radio both ways, the longest {} on {}",
                without.len(),
                all.len(),
                lasting(self.plan.units, strip.course, gap),
                strip.name()
            ),
        }
    }

    fn strips(&self, told: Told) -> Vec<RouteStrip<'a>> {
        let routes = self.site.routes.iter().zip(self.courses);
        let known = routes.filter(|(score, _)| score.length_m > Metres::new(0.0));
        let plan = self.plan;
        known.map(|(score, course)| RouteStrip { plan, score, course, told }).collect()
    }
}

impl<'a> From<&MapContent<'a>> for Routes<'a> {
    fn from(map: &MapContent<'a>) -> Self {
        Self {
            plan: map.plan,
            site: map.site,
            courses: map.courses,
            channel: map.channel,
            reliability: map.coverage.reliability,
            provenance: map.provenance,
        }
    }
}

/// What a strip says of its stretches without radio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Told {
    /// Nothing: the page around it does.
    Elsewhere,
    /// It numbers them; what the numbers are stands around it.
    Numbered,
    /// It numbers and tells them below it, and names the posts there.
    Below,
}

/// A route with what radio comes to along it.
#[derive(Debug, Clone, Copy)]
pub(super) struct RouteStrip<'a> {
    plan: &'a Plan,
    score: &'a RouteScore,
    course: &'a RouteCourse,
    told: Told,
}

/// The strips of a map's routes for a sheet that tells of them in its own text.
pub(super) fn strips<'a>(map: &MapContent<'a>) -> Vec<RouteStrip<'a>> {
    Routes::from(map).strips(Told::Elsewhere)
}

/// Writes the strips of a map's routes, if the plan has any.
pub(super) fn write_map(content: &MapContent<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    write_png(&Routes::from(content), slot)
}

/// Writes the strips of a plan's routes, if it has any.
pub(super) fn write_png(routes: &Routes<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    match draw(routes)? {
        Some(picture) => slot.bytes(&picture),
        None => Ok(()),
    }
}

/// The strips of a plan's routes as a PNG 2000 pixels wide; nothing where the plan has no
/// route.
///
/// # Errors
/// [`ReportError`] when the picture cannot be made.
pub fn draw(routes: &Routes<'_>) -> Result<Option<Vec<u8>>, ReportError> {
    draw_svg(routes)?.map(|drawing| render(&drawing)).transpose()
}

/// The same as an SVG document.
///
/// # Errors
/// [`ReportError`] when a bar cannot be packed.
pub fn draw_svg(routes: &Routes<'_>) -> Result<Option<String>, ReportError> {
    let strips = routes.strips(Told::Below);
    if strips.is_empty() {
        return Ok(None);
    }
    let width = f64::from(WIDTH) - 2.0 * PLOT_BORDER;
    let top = 250.0;
    let below: f64 = strips.iter().map(|strip| strip.height(width, SIZE)).sum();
    let caveats = words::foot(routes.plan.houses()).join(" ");
    let made = routes.provenance.line();
    let foot = Foot {
        notes: &[HOW.to_owned()],
        caveats: &caveats,
        care: &[],
        made: Some(&made),
        remark: None,
    };
    let there = outcomes(&strips);
    let legend = LEGEND_ROW * there.len().div_ceil(LEGEND_COLUMNS) as f64;
    let height = top + below + legend + 40.0 + foot.height_on_plot(WIDTH);
    let mut layout = SheetLayout::plot(WIDTH, height);
    let facts = format!(
        "{}  ·  channel {}  ·  {}",
        routes.plan.event.name, routes.channel, routes.site.site
    );
    layout.head(&Head {
        title: "Radio along the routes",
        subtitle: &facts,
        lead: &[("From the start of each route on", Lettering::new(25.0).bold())],
        figure: None,
    });
    let mut y = top;
    for strip in &strips {
        let frame = Frame { left: PLOT_BORDER, top: y, width, height: strip.height(width, SIZE) };
        strip.draw(layout.sheet(), frame, SIZE)?;
        y = frame.bottom();
    }
    explain(layout.sheet(), (PLOT_BORDER, y), width, &there, routes.reliability)?;
    layout.foot_from(y + legend + 30.0, &foot);
    Ok(Some(layout.into_svg()))
}

/// How a strip is read.
pub const HOW: &str = "Upper bar: both ways in the same spot. Lower bars: each direction alone, \
    clear in the wanted share of spots, patchy in half of them. A radio carried as the channel says.";

/// Classes beside each other in the legend, and the height of a row of them, pixels.
const LEGEND_COLUMNS: usize = 3;
const LEGEND_ROW: f64 = 46.0;

/// The classes that occur.
fn outcomes(strips: &[RouteStrip<'_>]) -> Vec<Outcome> {
    let occurs = |outcome: &Outcome| {
        let classes = strips.iter().flat_map(|strip| &strip.score.classes);
        classes
            .flat_map(|c| [c.outcome, alone(c, c.talk_in), alone(c, c.talk_out)])
            .any(|there| there == *outcome)
    };
    Outcome::ALL.into_iter().filter(occurs).collect()
}

/// Says what the tints of these classes mean.
fn explain(
    sheet: &mut Sheet,
    (left, top): (f64, f64),
    width: f64,
    there: &[Outcome],
    reliability: f64,
) -> Result<(), ReportError> {
    let room = width / LEGEND_COLUMNS as f64;
    for (outcome, number) in there.iter().zip(0..) {
        let x = left + room * (number % LEGEND_COLUMNS) as f64;
        let y = top + LEGEND_ROW * (number / LEGEND_COLUMNS) as f64;
        let patch = Frame { left: x, top: y, width: 44.0, height: 28.0 };
        sheet.image(patch, &swatch(*outcome, 44, 28))?;
        sheet.rectangle(patch, 0.0, &Pen::line(INK, 1.2));
        let text = words::legend(*outcome, reliability);
        sheet.text_within((x + 54.0, y + 21.0), &text, &Lettering::new(20.0), room - 64.0);
    }
    Ok(())
}

impl RouteStrip<'_> {
    /// The route's name.
    pub(super) fn name(&self) -> &str {
        &self.score.share.name
    }

    /// Height that it takes in lettering of this size, pixels.
    pub(super) fn height(&self, width: f64, size: f64) -> f64 {
        let numbers = if self.told == Told::Elsewhere { 0.0 } else { NUMBERS };
        let rows = self.post_rows(self.plot_width(width, size), size).len() as f64;
        let parts =
            TITLE + numbers + BOTH + 2.0 * (APART + EACH) + rows * POSTS + RELIEF + AXIS + BELOW;
        let lines = if self.told == Told::Below { self.told_lines(width, size).len() } else { 0 };
        size * (parts + lines as f64 * LEADING)
    }

    /// Draws it into `frame`, which is as high as [`RouteStrip::height`] says.
    pub(super) fn draw(
        &self,
        sheet: &mut Sheet,
        frame: Frame,
        size: f64,
    ) -> Result<(), ReportError> {
        self.title(sheet, frame, size);
        self.draw_untitled(sheet, frame, size)
    }

    /// Its name and its length.
    fn title(&self, sheet: &mut Sheet, frame: Frame, size: f64) {
        let title = format!("{}, {}", self.name(), self.plan.units.distance(self.score.length_m));
        let at = (frame.left, frame.top + size * (TITLE - 0.55));
        sheet.text_within(at, &title, &Lettering::new(size).bold(), frame.width);
    }

    /// All of it below its title.
    fn draw_untitled(&self, sheet: &mut Sheet, frame: Frame, size: f64) -> Result<(), ReportError> {
        let left = frame.left + gutter(size);
        let width = self.plot_width(frame.width, size);
        let x = |along: Metres| left + self.part(along) * width;
        let mut y = frame.top + size * TITLE;
        if self.told != Told::Elsewhere {
            self.numbers(sheet, (left, width), y + size, size);
            y += size * NUMBERS;
        }
        let bars_top = y;
        let ways: [fn(&ClassStretch) -> Outcome; 3] =
            [|c| c.outcome, |c| alone(c, c.talk_in), |c| alone(c, c.talk_out)];
        for ((name, way), height) in BARS.iter().zip(ways).zip([BOTH, EACH, EACH]) {
            let bar = Frame { left, top: y, width, height: size * height };
            sheet.image(bar, &self.bar(bar, way))?;
            sheet.rectangle(bar, 0.0, &Pen::line(INK, 1.6));
            let small = Lettering::new(size * 0.85);
            let base = y + bar.height / 2.0 + small.size * 0.36;
            sheet.text_within((frame.left, base), name, &small, gutter(size) - size * 0.4);
            y = bar.bottom() + size * APART;
        }
        y -= size * APART;
        let rows = self.post_rows(width, size);
        let relief =
            Frame { left, top: y + rows.len() as f64 * POSTS * size, width, height: RELIEF * size };
        self.ground(sheet, relief, frame.left, size);
        for (row, posts) in rows.iter().enumerate() {
            let base = y + (row as f64 + 1.0) * POSTS * size - size * 0.2;
            for (number, along) in posts {
                let (at, label) = (x(*along), number.to_string());
                let bold = Lettering::new(size * 0.85).bold().aligned(Align::Middle);
                let half = bold.width(&label) / 2.0;
                sheet.line((at, base + 3.0), (at, relief.bottom()), &Pen::line(INK, 1.3));
                sheet.line((at, bars_top), (at, y), &Pen::line(INK, 1.0).faint(0.5));
                let middle = at.clamp(left + half, (left + width - half).max(left + half));
                sheet.text((middle, base), &label, &bold);
            }
        }
        self.axis(sheet, relief, size);
        y = relief.bottom() + size * (AXIS + 0.9);
        if self.told == Told::Below {
            for line in self.told_lines(frame.width, size) {
                sheet.text((frame.left, y), &line, &Lettering::new(size * 0.92));
                y += size * LEADING;
            }
        }
        Ok(())
    }

    fn plot_width(&self, width: f64, size: f64) -> f64 {
        width - gutter(size) - size
    }

    /// Where a distance lies along the route, 0 to 1.
    fn part(&self, along: Metres) -> f64 {
        (along.value() / self.score.length_m.value()).clamp(0.0, 1.0)
    }

    /// A bar's tints, pixel by pixel.
    fn bar(&self, frame: Frame, way: fn(&ClassStretch) -> Outcome) -> RgbImage {
        // A few thousand pixels at most.
        let (across, down) =
            (frame.width.round().max(1.0) as u32, frame.height.round().max(1.0) as u32);
        let tints: Vec<(Outcome, RgbImage)> =
            Outcome::ALL.into_iter().map(|o| (o, swatch(o, across, down))).collect();
        let mut classes = self.score.classes.iter().peekable();
        let outcomes: Vec<Outcome> = (0..across)
            .map(|x| {
                let along = (f64::from(x) + 0.5) / f64::from(across) * self.score.length_m.value();
                while classes.peek().is_some_and(|c| c.stretch.to_m.value() < along) {
                    classes.next();
                }
                classes.peek().map_or(Outcome::Unknown, |c| way(c))
            })
            .collect();
        RgbImage::from_fn(across, down, |x, y| {
            let outcome = usize::try_from(x).ok().and_then(|x| outcomes.get(x));
            let tint = tints.iter().find(|(o, _)| Some(o) == outcome);
            tint.map_or(Rgb([255; 3]), |(_, tint)| *tint.get_pixel(x, y))
        })
    }

    /// The stretches without that are told one by one, and how many are too short for it.
    fn gaps(&self) -> (Vec<Stretch>, usize) {
        told_gaps(self.score)
    }

    /// A number over each stretch without; over several where they are too near for one each.
    fn numbers(&self, sheet: &mut Sheet, (left, width): (f64, f64), base: f64, size: f64) {
        let bold = Lettering::new(size * 0.85).bold().aligned(Align::Middle).in_colour(ACCENT);
        let mut groups: Vec<(usize, usize, f64, f64)> = Vec::new();
        for (gap, number) in self.gaps().0.iter().zip(1usize..) {
            let (from, to) = (self.part(gap.from_m), self.part(gap.to_m));
            let (from, to) = (left + from * width, left + to * width);
            let own = bold.width("00") + size * 0.4;
            match groups.last_mut() {
                // Two numbers and a dash take no more than twice that.
                Some(last)
                    if f64::midpoint(last.2, last.3) + 1.5 * own > f64::midpoint(from, to) =>
                {
                    last.1 = number;
                    last.3 = to;
                }
                _ => groups.push((number, number, from, to)),
            }
        }
        for (first, last, from, to) in groups {
            let label = if first == last { first.to_string() } else { format!("{first}–{last}") };
            let half = bold.width(&label) / 2.0;
            let middle =
                f64::midpoint(from, to).clamp(left + half, (left + width - half).max(left + half));
            sheet.text((middle, base - size * 0.1), &label, &bold);
            let line = Pen::line(ACCENT, 3.0);
            sheet.line((from, base + size * 0.18), (to, base + size * 0.18), &line);
        }
    }

    /// Numbers of the posts in rows in which none touches another, and where each is passed.
    fn post_rows(&self, width: f64, size: f64) -> Vec<Vec<(usize, Metres)>> {
        let mut rows: Vec<(f64, Vec<(usize, Metres)>)> = Vec::new();
        let bold = Lettering::new(size * 0.85).bold();
        for passed in &self.course.posts {
            let number = passed.post + 1;
            let half = bold.width(&number.to_string()) / 2.0;
            let middle = (self.part(passed.along_m) * width).clamp(half, (width - half).max(half));
            let (from, to) = (middle - half - size * 0.3, middle + half);
            match rows.iter_mut().find(|(end, _)| *end <= from) {
                Some((end, posts)) => {
                    posts.push((number, passed.along_m));
                    *end = to;
                }
                None => rows.push((to, vec![(number, passed.along_m)])),
            }
        }
        rows.into_iter().map(|(_, posts)| posts).collect()
    }

    /// The ground under the route, its lowest and highest beside it.
    fn ground(&self, sheet: &mut Sheet, frame: Frame, label: f64, size: f64) {
        /// Flat land is drawn flat: no less than this from foot to head, metres.
        const LEAST: f64 = 20.0;
        let known: Vec<(f64, f64)> = self
            .course
            .ground
            .iter()
            .filter_map(|(along, height)| Some((self.part(*along), (*height)?.value())))
            .collect();
        let low = known.iter().map(|(_, h)| *h).fold(f64::INFINITY, f64::min);
        let high = known.iter().map(|(_, h)| *h).fold(f64::NEG_INFINITY, f64::max);
        sheet.line(
            (frame.left, frame.bottom()),
            (frame.right(), frame.bottom()),
            &Pen::line(INK, 1.6),
        );
        let small = Lettering::new(size * 0.75).quiet();
        if !(low.is_finite() && high.is_finite()) {
            sheet.text((label, frame.bottom()), "height not known", &small);
            return;
        }
        let span = (high - low).max(LEAST);
        let at = |(part, height): (f64, f64)| {
            let up = 0.08 + 0.86 * (height - low) / span;
            (frame.left + part * frame.width, frame.bottom() - up * frame.height)
        };
        // A piece without a height parts the ground.
        let mut run: Vec<(f64, f64)> = Vec::new();
        let mut runs = Vec::new();
        for (along, height) in &self.course.ground {
            match height {
                Some(height) => run.push((self.part(*along), height.value())),
                None => runs.push(std::mem::take(&mut run)),
            }
        }
        runs.push(run);
        for run in runs.into_iter().filter(|run| !run.is_empty()) {
            let ends = run.last().zip(run.first()).map(|(last, first)| [last.0, first.0]);
            let base = ends.into_iter().flatten();
            let base = base.map(|part| (frame.left + part * frame.width, frame.bottom()));
            let path = outline(run.iter().copied().map(at).chain(base), true);
            sheet.path(&path, &Pen::line(QUIET, 1.2).filled(GROUND));
        }
        let height = |metres: f64| self.plan.units.height(Metres::new(metres));
        let top = at((0.0, high)).1.max(frame.top + size * 0.75);
        sheet.text((label, top), &height(high), &small);
        let second = (at((0.0, low)).1).max(top + size * 0.85);
        sheet.text((label, second), &height(low), &small);
    }

    fn axis(&self, sheet: &mut Sheet, frame: Frame, size: f64) {
        let (unit, name) = match self.plan.units {
            UnitSystem::Metric if self.score.length_m.value() < 2_000.0 => (1.0, "m"),
            UnitSystem::Metric => (1_000.0, "km"),
            UnitSystem::Us if self.score.length_m.value() < METRES_PER_MILE => {
                (METRES_PER_FOOT, "ft")
            }
            UnitSystem::Us => (METRES_PER_MILE, "miles"),
        };
        let length = self.score.length_m.value() / unit;
        let small = Lettering::new(size * 0.8).aligned(Align::Middle);
        // Room for a number of five digits beside the next.
        let most = (frame.width / (size * 4.0)).clamp(2.0, 24.0) as usize;
        let ticks = axis::ticks(0.0, length, most);
        let step = ticks.first().zip(ticks.get(1)).map_or(length.max(1.0), |(a, b)| b - a);
        let unit_room = small.width(name) + size * 0.5;
        for value in ticks {
            let x = frame.left + value / length * frame.width;
            sheet.line((x, frame.bottom()), (x, frame.bottom() + size * 0.3), &Pen::line(INK, 1.6));
            let label = axis::label(value, step);
            if x + small.width(&label) / 2.0 < frame.right() + size - unit_room {
                sheet.text((x, frame.bottom() + size * 1.2), &label, &small);
            }
        }
        let end = (frame.right() + size, frame.bottom() + size * 1.2);
        sheet.text(end, name, &small.aligned(Align::Right));
        sheet.line(
            (frame.left, frame.top),
            (frame.left, frame.bottom()),
            &Pen::line(HAIRLINE, 1.2),
        );
    }

    /// Every stretch without that is told, by the numbers on the drawing.
    fn gap_lines(&self) -> Vec<String> {
        let units = self.plan.units;
        let gaps = self.gaps().0.into_iter().zip(1usize..);
        gaps.map(|(gap, number)| {
            let from = units.distance(gap.from_m);
            format!("{number}: {} from {from} on", lasting(units, self.course, gap))
        })
        .collect()
    }

    /// The posts on the way, and where they are passed.
    fn post_lines(&self) -> Vec<String> {
        let line = |passed: &PassedPost| {
            let post = self.plan.posts.get(passed.post)?;
            let along = self.plan.units.distance(passed.along_m);
            Some(format!("{} {} {along}", passed.post + 1, post.name))
        };
        self.course.posts.iter().filter_map(line).collect()
    }

    /// The stretches without in a sentence.
    fn stretches(&self) -> String {
        let gaps = self.gap_lines();
        if gaps.is_empty() {
            return format!("{NO_GAP}.");
        }
        let (all, short) = (gaps.join("; "), self.gaps().1);
        format!("Stretches without radio both ways: {all}{}.", shorter(short))
    }

    /// What the strip shows, for whoever does not see it.
    pub(super) fn in_words(&self) -> String {
        format!("{} from end to end. {}", self.name(), self.stretches())
    }

    /// Every stretch without, and the posts by name.
    fn sentences(&self) -> Vec<String> {
        let mut texts = vec![self.stretches()];
        if !self.gaps().0.is_empty() {
            texts.extend(pace(self.course));
        }
        let names = self.post_lines().join("; ");
        if !names.is_empty() {
            texts.push(format!("Posts on the way: {names}."));
        }
        texts
    }

    /// The same in lines that stand below it.
    fn told_lines(&self, width: f64, size: f64) -> Vec<String> {
        let lettering = Lettering::new(size * 0.92);
        let sentences = self.sentences();
        let lines = sentences
            .iter()
            .flat_map(|text| wrapped(&printable(text), lettering.size, lettering.cut, width));
        lines.collect()
    }

    /// How many stretches have no radio both ways, and how long the longest is.
    fn headline(&self) -> String {
        let (gaps, short) = self.gaps();
        let Some(longest) = self.score.longest_gap else { return NO_GAP.to_owned() };
        let lasts = lasting(self.plan.units, self.course, longest);
        let without = match gaps.len() {
            1 => format!("1 stretch without radio both ways, {lasts}"),
            many => format!("{many} stretches without radio both ways, the longest {lasts}"),
        };
        without + &shorter(short)
    }

    fn words(&self) -> StripWords {
        let units = self.plan.units;
        let classes = self.score.classes.iter().map(|class| StripClass {
            from: units.distance(class.stretch.from_m),
            to: units.distance(class.stretch.to_m),
            ways: [class.outcome, alone(class, class.talk_in), alone(class, class.talk_out)]
                .map(|outcome| StripWay { outcome, words: words::short(outcome) }),
        });
        StripWords {
            name: self.name().to_owned(),
            length: units.distance(self.score.length_m),
            headline: self.headline(),
            gaps: self.gap_lines(),
            pace: pace(self.course).filter(|_| !self.score.gaps.is_empty()),
            posts: self.post_lines(),
            classes: classes.collect(),
        }
    }
}

/// What is said of a route that works all along.
const NO_GAP: &str = "No stretch without radio both ways";

/// A strip in words: for a page that has them beside its picture, and for whoever sees
/// none.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StripWords {
    /// The route's name.
    pub name: String,
    /// Its length.
    pub length: String,
    /// How many stretches have no radio both ways, and how long the longest is.
    pub headline: String,
    /// Every stretch without that is told, by the numbers on its picture.
    pub gaps: Vec<String>,
    /// Whose minutes are told, where they are.
    pub pace: Option<String>,
    /// The posts on the way, and where they are passed.
    pub posts: Vec<String>,
    /// What radio comes to, from its start to its end.
    pub classes: Vec<StripClass>,
}

/// A stretch of one class each way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StripClass {
    /// Where it begins.
    pub from: String,
    /// Where it ends.
    pub to: String,
    /// Both ways, to the relay alone, from it alone: in the order of [`StripWords::WAYS`].
    pub ways: [StripWay; 3],
}

/// A class and its words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct StripWay {
    /// The class.
    pub outcome: Outcome,
    /// The same in words.
    pub words: &'static str,
}

impl StripWords {
    /// What the bars of a strip say, the upper one first.
    pub const WAYS: [&'static str; 3] = BARS;
}

/// The class of one direction: where both together are strong each of them is.
fn alone(stretch: &ClassStretch, way: Outcome) -> Outcome {
    if stretch.outcome == Outcome::Strong { Outcome::Strong } else { way }
}

/// Room left of the bars for what they say.
fn gutter(size: f64) -> f64 {
    let small = Lettering::new(size * 0.85);
    BARS.iter().map(|name| small.width(name)).fold(0.0, f64::max) + size * 0.6
}

/// The stretches without that are told one by one, and how many more there are: those
/// that are not short, or the longest where all are.
pub(super) fn told_gaps(score: &RouteScore) -> (Vec<Stretch>, usize) {
    let long: Vec<Stretch> =
        score.gaps.iter().copied().filter(|gap| gap.length() >= SHORTEST_GAP).collect();
    let told = if long.is_empty() { score.longest_gap.into_iter().collect() } else { long };
    let more = score.gaps.len().saturating_sub(told.len());
    (told, more)
}

/// `, and N shorter`, or nothing.
pub(super) fn shorter(count: usize) -> String {
    match count {
        0 => String::new(),
        1 => ", and one shorter".to_owned(),
        more => format!(", and {more} shorter"),
    }
}

/// How long a stretch is, and how many minutes the slowest are in it, if that is known.
pub(super) fn lasting(units: UnitSystem, course: &RouteCourse, gap: Stretch) -> String {
    let length = units.distance(gap.length());
    match &course.slowest {
        // Somebody is in it for a part of the last minute too.
        Some(slowest) => {
            format!("{length} ({:.0} min)", (slowest.takes(gap).value() / 60.0).ceil().max(1.0))
        }
        None => length,
    }
}

/// Whose minutes those are, if any are told.
pub(super) fn pace(course: &RouteCourse) -> Option<String> {
    let slowest = course.slowest.as_ref()?;
    Some(format!("Minutes are those of {}, the slowest on the route.", slowest.tracker))
}

/// A strip as a picture with its words.
#[derive(Debug, Clone)]
pub struct StripPicture {
    /// The strip in words.
    pub words: StripWords,
    /// Pixels across and down.
    pub size: (u32, u32),
    /// The picture as PNG.
    pub png: Vec<u8>,
}

impl StripPicture {
    /// The picture inside an address.
    #[must_use]
    pub fn address(&self) -> String {
        data_url("image/png", &self.png)
    }
}

/// The strips of a plan's routes in words.
#[must_use]
pub fn told(routes: &Routes<'_>) -> Vec<StripWords> {
    routes.strips(Told::Numbered).iter().map(RouteStrip::words).collect()
}

/// The strips of a plan's routes for a page, `across` pixels wide, their words beside them.
///
/// # Errors
/// [`ReportError`] when a picture cannot be made.
pub fn for_page(routes: &Routes<'_>, across: u32) -> Result<Vec<StripPicture>, ReportError> {
    /// On a screen of two pixels a point these are 13 points.
    const LETTERS: f64 = 26.0;
    routes
        .strips(Told::Numbered)
        .iter()
        .map(|strip| {
            let width = f64::from(across);
            let height = strip.height(width, LETTERS);
            // Some hundred pixels.
            let size = (across, height.ceil() as u32);
            let mut sheet = Sheet::new(size.0, size.1);
            let frame = Frame { left: 0.0, top: 0.0, width, height };
            strip.draw(&mut sheet, frame, LETTERS)?;
            let png = render(&sheet.into_svg())?;
            Ok(StripPicture { words: strip.words(), size, png })
        })
        .collect()
}
