//! Marks that tell outcomes apart by shape alone.

use crate::palette::{ACCENT, INK, PAPER};
use crate::svg_page::{Align, Lettering, Pen, Point, Sheet};
use perchline_link::Outcome;

/// Radius of a post's mark.
pub const POST_RADIUS: f64 = 13.0;
/// Radius of the mark of a site that the map is not of.
pub const OTHER_SITE_RADIUS: f64 = 11.0;
/// Radius of the site's mark.
pub const SITE_RADIUS: f64 = 25.0;

/// A post: the fuller its disc, the better it works; a cross is no contact.
pub fn post(sheet: &mut Sheet, at: Point, outcome: Outcome) {
    let (x, y) = at;
    let disc = Pen::fill(INK);
    sheet.circle(at, POST_RADIUS, &Pen::fill(PAPER));
    let ring = Pen::line(INK, 2.6);
    match outcome {
        Outcome::Strong => {
            sheet.circle(at, POST_RADIUS - 2.0, &ring);
            sheet.circle(at, 7.2, &disc);
        }
        Outcome::Clear => sheet.circle(at, POST_RADIUS - 2.2, &disc),
        Outcome::Patchy => {
            let r = POST_RADIUS - 2.0;
            sheet.circle(at, r, &ring);
            let half = format!("M{x:.1} {:.1}A{r} {r} 0 0 0 {x:.1} {:.1}Z", y - r, y + r);
            sheet.path(&half, &disc);
        }
        Outcome::OneWay => {
            sheet.circle(at, POST_RADIUS - 2.0, &ring);
            // An arrow that only goes, as on a one-way street.
            let arrow = format!(
                "M{:.1} {y:.1}L{:.1} {y:.1}M{:.1} {:.1}L{:.1} {y:.1}L{:.1} {:.1}",
                x - 6.5,
                x + 5.5,
                x + 1.0,
                y - 4.5,
                x + 6.0,
                x + 1.0,
                y + 4.5
            );
            sheet.path(&arrow, &Pen::line(INK, 2.4));
        }
        Outcome::NoContact => {
            sheet.circle(at, POST_RADIUS - 2.0, &ring);
            let d = 4.8;
            sheet.line((x - d, y - d), (x + d, y + d), &Pen::line(INK, 3.0));
            sheet.line((x - d, y + d), (x + d, y - d), &Pen::line(INK, 3.0));
        }
        Outcome::Unknown => {
            sheet.circle(at, POST_RADIUS - 2.0, &ring.dashed("4.6 3"));
            let question = Lettering::new(17.0).bold().aligned(Align::Middle);
            sheet.text((x, y + 6.2), "?", &question);
        }
    }
}

/// The relay's site: a mast with its perches, on a shield.
pub fn site(sheet: &mut Sheet, at: Point, radius: f64) {
    let (x, y) = at;
    let unit = radius / 25.0;
    sheet.circle(at, radius, &Pen::fill(PAPER));
    sheet.circle(at, radius - 3.0 * unit, &Pen::fill(ACCENT));
    let mast = Pen::line(PAPER, 3.4 * unit);
    sheet.line((x, y - 15.0 * unit), (x, y + 14.0 * unit), &mast);
    for (height, half) in [(-11.0, 4.5), (-4.5, 7.0), (2.0, 9.5)] {
        let y = y + height * unit;
        sheet.line((x - half * unit, y), (x + half * unit, y), &mast);
    }
}

/// A site that the map is not of: the same mast, small, on paper.
pub fn other_site(sheet: &mut Sheet, at: Point) {
    let (x, y) = at;
    sheet.circle(at, OTHER_SITE_RADIUS, &Pen::line(ACCENT, 2.0).filled(PAPER));
    let mast = Pen::line(ACCENT, 1.8);
    sheet.line((x, y - 7.0), (x, y + 7.0), &mast);
    for (height, half) in [(-5.0, 2.4), (-1.5, 3.8), (2.0, 5.2)] {
        sheet.line((x - half, y + height), (x + half, y + height), &mast);
    }
}

/// A post's mark by itself, on clear ground.
pub fn post_alone(outcome: Outcome) -> Sheet {
    alone(POST_RADIUS + 2.0, |sheet, at| post(sheet, at, outcome))
}

/// The relay's mark by itself.
pub fn site_alone() -> Sheet {
    alone(SITE_RADIUS + 1.0, |sheet, at| site(sheet, at, SITE_RADIUS))
}

/// The mark of another site by itself.
pub fn other_site_alone() -> Sheet {
    alone(POST_RADIUS + 2.0, other_site)
}

/// What a legend explains by itself.
pub fn explained_alone(draw: fn(&mut Sheet, Point)) -> Sheet {
    alone(22.0, draw)
}

/// A mark in the middle of a sheet of twice `half` pixels a side.
fn alone(half: f64, mark: impl FnOnce(&mut Sheet, Point)) -> Sheet {
    // Marks are some tens of pixels.
    let side = (2.0 * half).round() as u32;
    let mut sheet = Sheet::clear(side, side);
    mark(&mut sheet, (half, half));
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg_page::render;

    /// Shapes alone: every pair of marks differs in black and white in more
    /// than a twelfth of its disc.
    #[test]
    fn marks_differ_without_colour() {
        let pictures: Vec<(Outcome, Vec<bool>)> = Outcome::ALL
            .iter()
            .map(|outcome| {
                let mut sheet = Sheet::new(30, 30);
                post(&mut sheet, (15.0, 15.0), *outcome);
                let png = render(&sheet.into_svg()).unwrap();
                let grey = image::load_from_memory(&png).unwrap().to_luma8();
                (*outcome, grey.pixels().map(|p| p.0[0] < 128).collect())
            })
            .collect();
        let disc = std::f64::consts::PI * POST_RADIUS * POST_RADIUS;
        for (i, (a, one)) in pictures.iter().enumerate() {
            for (b, two) in pictures.iter().skip(i + 1) {
                let differ = one.iter().zip(two).filter(|(p, q)| p != q).count() as f64;
                assert!(differ > disc / 12.0, "{a:?} and {b:?} differ in {differ} pixels");
            }
        }
    }
}
