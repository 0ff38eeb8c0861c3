//! What the codes of a land-cover raster stand for.

use std::collections::BTreeMap;
use std::path::Path;

use toml::Spanned;

use super::locate::line_of;
use perchline_units::{METRES_PER_FOOT, Metres, listed, parse_quantity, printable, shown};

/// What a class of land cover is to a radio wave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverKind {
    /// Nothing that stands higher than a person.
    Bare,
    /// Trees.
    Trees,
    /// Buildings; footprints say it better where the plan has them.
    Built,
    /// Water.
    Water,
}

/// One class of land cover.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverClass {
    /// Its code in the raster, 0 to 65535.
    pub code: u16,
    /// Its name.
    pub name: String,
    /// What it is to a radio wave.
    pub kind: CoverKind,
    /// Representative height above the ground, 0 to 100 m; 0 for bare ground and water.
    pub height: Metres,
}

/// What every code of a land-cover raster stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassMapping {
    /// Name of the shipped mapping, or the file's title.
    pub title: String,
    /// The classes by ascending code; one or more.
    pub classes: Vec<CoverClass>,
}

/// Mappings that come with the program, by the names that a plan uses.
const SHIPPED: &[(&str, &str)] = &[
    ("global-10", include_str!("global-10.toml")),
    ("national-30", include_str!("national-30.toml")),
];

/// A mapping file that cannot be used: where and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct MappingError {
    file: String,
    line: Option<usize>,
    text: String,
}

impl std::fmt::Display for MappingError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}", self.file, self.text),
            None => write!(f, "{}: {}", self.file, self.text),
        }
    }
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct MappingText {
    title: Option<String>,
    classes: BTreeMap<Spanned<String>, ClassText>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct ClassText {
    name: String,
    kind: CoverKindText,
    height: Option<String>,
}

#[derive(serde::Deserialize, Clone, Copy)]
#[serde(rename_all = "lowercase")]
enum CoverKindText {
    Bare,
    Trees,
    Built,
    Water,
}

impl ClassMapping {
    /// Names of the mappings that come with the program.
    pub fn shipped_names() -> impl Iterator<Item = &'static str> {
        SHIPPED.iter().map(|(name, _)| *name)
    }

    /// The mapping that comes with the program under this name.
    ///
    /// ```
    /// use perchline_plan::{ClassMapping, CoverKind};
    ///
    /// let mapping = ClassMapping::shipped("global-10").expect("it comes with the program");
    /// let trees = mapping.class(10).expect("10 is trees");
    /// assert_eq!((trees.kind, trees.height.value()), (CoverKind::Trees, 15.0));
    /// ```
    #[must_use]
    pub fn shipped(name: &str) -> Option<Self> {
        let (name, text) = SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
        Self::parse(Path::new(name), text).ok()
    }

    /// Reads a mapping file's text; `file` is what its problems are told of.
    ///
    /// # Errors
    /// [`MappingError`] with the line: no TOML, an unknown field or kind, a
    /// code that is no number, a height without unit or out of range.
    pub fn parse(file: &Path, text: &str) -> Result<Self, MappingError> {
        let problem = |at: Option<usize>, text_of: String| MappingError {
            file: file.display().to_string(),
            line: at.map(|byte| line_of(text, byte)),
            text: printable(&text_of),
        };
        let typed: MappingText = toml::from_str(text).map_err(|error| {
            let what = listed(error.message()).replace('\n', "; ").replace('`', "\"");
            problem(error.span().map(|span| span.start), format!("this is no class mapping: {what}; a mapping is a table [classes] with lines such as 10 = {{ name = \"trees\", kind = \"trees\", height = \"15 m\" }}"))
        })?;
        let mut classes = Vec::new();
        for (code, class) in typed.classes {
            let here = |text: String| problem(Some(code.span().start), text);
            let number = code.get_ref().parse::<u16>().map_err(|_| {
                here(format!(
                    "\"{}\" is no class code; codes are whole numbers from 0 to 65535",
                    shown(code.get_ref())
                ))
            })?;
            classes.push(class.checked(number).map_err(here)?);
        }
        classes.sort_by_key(|class| class.code);
        if let Some(twice) = classes.windows(2).find_map(|pair| match pair {
            [a, b] if a.code == b.code => Some(a.code),
            _ => None,
        }) {
            return Err(problem(None, format!("class {twice} is there twice; leave one out")));
        }
        if classes.is_empty() {
            return Err(problem(
                None,
                "the mapping has no class; add one line for each code under [classes]".to_owned(),
            ));
        }
        let title = typed.title.unwrap_or_else(|| file.display().to_string());
        Ok(Self { title, classes })
    }

    /// The class with this code.
    #[must_use]
    pub fn class(&self, code: u16) -> Option<&CoverClass> {
        let index = self.classes.binary_search_by_key(&code, |class| class.code).ok()?;
        self.classes.get(index)
    }
}

/// The highest that a class may be.
const HIGHEST: f64 = 100.0;

impl ClassText {
    fn checked(self, code: u16) -> Result<CoverClass, String> {
        let (kind, stands) = match self.kind {
            CoverKindText::Bare => (CoverKind::Bare, false),
            CoverKindText::Trees => (CoverKind::Trees, true),
            CoverKindText::Built => (CoverKind::Built, true),
            CoverKindText::Water => (CoverKind::Water, false),
        };
        let height = match &self.height {
            None if stands => {
                return Err(format!("class {code} needs a height, such as height = \"15 m\""));
            }
            None => 0.0,
            Some(text) => {
                let (value, unit) = parse_quantity(text, &["m", "ft"])
                    .map_err(|error| format!("class {code}: height: {error}"))?;
                if unit == 0 { value } else { value * METRES_PER_FOOT }
            }
        };
        if !(0.0..=HIGHEST).contains(&height) {
            return Err(format!(
                "class {code}: a height of {height} m is out of range; 0 to {HIGHEST} m is allowed"
            ));
        }
        if !stands && height > 0.0 {
            return Err(format!(
                "class {code}: bare ground and water have no height; leave it out, or make the class \"trees\" or \"built\""
            ));
        }
        Ok(CoverClass { code, name: self.name, kind, height: Metres::new(height) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> Result<ClassMapping, String> {
        ClassMapping::parse(Path::new("my.toml"), text).map_err(|error| error.to_string())
    }

    #[test]
    fn what_comes_with_the_program_can_be_read() {
        for (name, text) in SHIPPED {
            let mapping = parse(text).unwrap();
            assert!(mapping.classes.len() >= 11, "{name}");
            assert_eq!(ClassMapping::shipped(name).unwrap(), mapping);
            // The representative heights of P.1812: 0, 10, 15 or 20 m and no other.
            for class in &mapping.classes {
                assert!([0.0, 10.0, 15.0, 20.0].contains(&class.height.value()), "{class:?}");
            }
        }
        assert!(ClassMapping::shipped("none").is_none());
    }

    #[test]
    fn a_bad_mapping_is_told_with_its_line() {
        let line = |text: &str, expected: &str| {
            let said = parse(text).unwrap_err();
            assert!(said.contains(expected), "{said}");
        };
        line(
            "[classes]\n7 = { name = \"wood\", kind = \"trees\" }\n",
            "my.toml:2: class 7 needs a height",
        );
        line(
            "[classes]\nx = { name = \"wood\", kind = \"bare\" }\n",
            "my.toml:2: \"x\" is no class code",
        );
        line(
            "[classes]\n7 = { name = \"wood\", kind = \"forest\" }\n",
            "my.toml:2: this is no class mapping",
        );
        line("[classes]\n7 = { name = \"a\", kind = \"trees\", height = \"15\" }\n", "has no unit");
        line(
            "[classes]\n7 = { name = \"a\", kind = \"trees\", height = \"400 m\" }\n",
            "out of range",
        );
        line(
            "[classes]\n7 = { name = \"a\", kind = \"bare\", height = \"4 m\" }\n",
            "have no height",
        );
        line(
            "[classes]\n7 = { name = \"a\", kind = \"bare\", heigth = \"4 m\" }\n",
            "unknown field",
        );
        line(
            "[classes]\n7 = { name = \"a\", kind = \"bare\" }\n07 = { name = \"b\", kind = \"bare\" }\n",
            "twice",
        );
        line("[classes]\n", "no class");
    }

    #[test]
    fn feet_are_read_as_feet() {
        let mapping =
            parse("[classes]\n7 = { name = \"a\", kind = \"trees\", height = \"50 ft\" }\n");
        let height = mapping.unwrap().class(7).unwrap().height.value();
        assert!((height - 15.24).abs() < 1e-9, "{height}");
    }
}
