//! The lettering of every drawing: one condensed face in three cuts, shipped
//! inside the program, so that a drawing looks the same on every machine.

use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb;
use ttf_parser::Face;

/// A cut of the typeface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// Upright.
    Regular,
    /// Upright and heavy.
    Bold,
    /// Slanted.
    Oblique,
}

/// How wide the letters of a cut are.
struct Widths {
    face: Face<'static>,
    /// Of an em, in the face's own units.
    per_em: f64,
    /// Of letters below [`OFTEN`], which are asked for again and again.
    often: Vec<Option<f64>>,
}

/// Latin, Greek and Cyrillic letters are below.
const OFTEN: u32 = 0x500;

impl Widths {
    fn of(font: &'static [u8]) -> Option<Self> {
        let face = Face::parse(font, 0).ok()?;
        let per_em = f64::from(face.units_per_em()).max(1.0);
        let mut widths = Self { face, per_em, often: Vec::new() };
        widths.often = (0..OFTEN).map(|code| widths.look_up(char::from_u32(code)?)).collect();
        Some(widths)
    }

    fn look_up(&self, letter: char) -> Option<f64> {
        let glyph = self.face.glyph_index(letter)?;
        Some(self.face.glyph_hor_advance(glyph).map_or(self.per_em, f64::from))
    }

    /// Of a letter, in the face's own units; nothing where the face does not have it.
    fn of_letter(&self, letter: char) -> Option<f64> {
        let often = usize::try_from(u32::from(letter)).ok().and_then(|code| self.often.get(code));
        often.map_or_else(|| self.look_up(letter), |width| *width)
    }
}

struct Faces {
    regular: Option<Widths>,
    bold: Option<Widths>,
    oblique: Option<Widths>,
}

static FACES: LazyLock<Faces> = LazyLock::new(|| Faces {
    regular: Widths::of(dejavu::sans_condensed::regular()),
    bold: Widths::of(dejavu::sans_condensed::bold()),
    oblique: Widths::of(dejavu::sans_condensed::oblique()),
});

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    for data in [
        dejavu::sans_condensed::regular(),
        dejavu::sans_condensed::bold(),
        dejavu::sans_condensed::oblique(),
    ] {
        fonts.load_font_data(data.to_vec());
    }
    Arc::new(fonts)
});

/// The families named in a drawing.
pub const FAMILY: &str = "DejaVu Sans, DejaVu Sans Condensed, sans-serif";

/// The fonts that a drawing may use; none of the machine's own.
pub fn fonts() -> Arc<fontdb::Database> {
    Arc::clone(&FONTS)
}

fn widths(cut: Cut) -> Option<&'static Widths> {
    let faces = &*FACES;
    match cut {
        Cut::Regular => faces.regular.as_ref(),
        Cut::Bold => faces.bold.as_ref(),
        Cut::Oblique => faces.oblique.as_ref(),
    }
}

/// Width of a text as set in one line, in the unit of `size`. Kerning is left
/// out; it only ever makes the line shorter.
#[must_use]
pub fn width(text: &str, size: f64, cut: Cut) -> f64 {
    let Some(widths) = widths(cut) else {
        return text.chars().count() as f64 * size;
    };
    let per_em = widths.per_em;
    let units: f64 = text.chars().map(|c| widths.of_letter(c).unwrap_or(per_em)).sum();
    units / per_em * size
}

/// The text with what cannot be set taken out: control and direction marks
/// go, white space becomes one blank, a letter that the typeface does not have
/// becomes an open square.
#[must_use]
pub fn printable(text: &str) -> String {
    let known = |c: char| {
        widths(Cut::Regular).is_some_and(|widths| widths.of_letter(c).is_some())
            && widths(Cut::Bold).is_some_and(|widths| widths.of_letter(c).is_some())
    };
    let mut out = String::new();
    for c in text.chars() {
        if c.is_whitespace() {
            if !out.is_empty() && !out.ends_with(' ') {
                out.push(' ');
            }
        } else if is_invisible(c) {
            // Joiners and direction marks could reorder the text around a name.
        } else if known(c) {
            out.push(c);
        } else if !out.ends_with(MISSING) {
            out.push(MISSING);
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// Stands for letters that the typeface does not have.
const MISSING: char = '\u{25a1}';

const fn is_invisible(c: char) -> bool {
    turns(c)
        || matches!(c,
            '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{ad}' | '\u{200b}'..='\u{200d}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}' | '\u{e0000}'..='\u{e0fff}')
}

/// Whether the character turns the direction of what follows it (Unicode
/// Standard Annex 9, section 2).
pub(super) const fn turns(c: char) -> bool {
    matches!(c,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The text, cut with an ellipsis where it is wider than `room`.
#[must_use]
pub fn fitted(text: &str, size: f64, cut: Cut, room: f64) -> String {
    if width(text, size, cut) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    for c in text.chars() {
        kept.push(c);
        if width(&kept, size, cut) + width("…", size, cut) > room {
            kept.pop();
            break;
        }
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

/// The text in lines no wider than `room`; a single word that is wider is cut.
#[must_use]
pub fn wrapped(text: &str, size: f64, cut: Cut, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        if let Some(line) = lines.last_mut() {
            let longer = format!("{line} {word}");
            if width(&longer, size, cut) <= room {
                *line = longer;
                continue;
            }
        }
        lines.push(fitted(word, size, cut, room));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Widths that are kept are those of the face, letter by letter, and so are others.
    #[test]
    fn a_letter_is_as_wide_as_the_face_has_it() {
        for cut in [Cut::Regular, Cut::Bold, Cut::Oblique] {
            let widths = widths(cut).unwrap();
            let letters = (0..0x3000).filter_map(char::from_u32);
            for letter in letters {
                assert_eq!(widths.of_letter(letter), widths.look_up(letter), "{letter:?}");
            }
            assert!(widths.of_letter('m') > widths.of_letter('i'));
            assert_eq!(widths.of_letter('\u{4e2d}'), None);
        }
    }

    #[test]
    fn unprintable_text_is_made_harmless() {
        assert_eq!(printable("First\u{202e} aid\t\n 3"), "First aid 3");
        assert_eq!(printable("Tea 🫖🫖 tent"), "Tea □ tent");
        assert_eq!(printable("<b>A & B</b>"), "<b>A & B</b>");
    }

    #[test]
    fn a_long_name_ends_in_an_ellipsis_within_its_room() {
        let name = "The old customs house behind the upper ferry landing";
        let cut = fitted(name, 20.0, Cut::Bold, 200.0);
        assert!(cut.ends_with('…') && name.starts_with(cut.trim_end_matches('…').trim_end()));
        assert!(width(&cut, 20.0, Cut::Bold) <= 200.0);
        assert_eq!(fitted("Start", 20.0, Cut::Bold, 200.0), "Start");
    }

    #[test]
    fn lines_stay_within_their_room_and_lose_no_word() {
        let text = "A prediction from bare terrain: buildings and trees are not in it.";
        let lines = wrapped(text, 18.0, Cut::Regular, 220.0);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|l| width(l, 18.0, Cut::Regular) <= 220.0));
        assert_eq!(lines.join(" "), text);
    }

    /// The renderer's own layout, kerning included, is the check: a line is
    /// never wider than measured, and hardly narrower.
    #[test]
    fn lines_are_set_no_wider_than_measured() {
        for (style, cut) in [
            ("", Cut::Regular),
            ("font-weight=\"bold\"", Cut::Bold),
            ("font-style=\"oblique\"", Cut::Oblique),
        ] {
            for text in ["Water stop AVATAR To. 12", "Mill bridge", "Łódź ferry – 41 %"] {
                let drawing = format!(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"900\" height=\"90\">\
                     <text x=\"10\" y=\"60\" font-size=\"40\" font-stretch=\"condensed\" \
                     font-family=\"{FAMILY}\" {style}>{text}</text></svg>"
                );
                let options =
                    resvg::usvg::Options { fontdb: fonts(), ..resvg::usvg::Options::default() };
                let tree = resvg::usvg::Tree::from_str(&drawing, &options).unwrap();
                let set = f64::from(tree.root().abs_bounding_box().width());
                let measured = width(text, 40.0, cut);
                assert!(set <= measured + 0.5, "{text} in {cut:?}: {set} over {measured}");
                assert!(set > measured * 0.93, "{text} in {cut:?}: {set} under {measured}");
            }
        }
    }
}
