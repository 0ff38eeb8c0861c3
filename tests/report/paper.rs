//! The sheets of paper: each size whole, nothing over another, readable from where it is
//! read, and in the order in which somebody has it read out.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use crate::support::wanted::Wanted;
use crate::support::{self, perchline_long, said};
use lopdf::{Dictionary, Document, Object, ObjectId};

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");
const HEARD: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/heard.csv");

type Files = BTreeMap<String, Vec<u8>>;

/// Every size that a briefing is laid out for.
const EVERY_PAPER: [&str; 10] = [
    "--paper", "a4", "--paper", "letter", "--paper", "a3", "--paper", "tabloid", "--paper",
    "poster",
];

/// The PDFs that a verb writes.
fn papers(folder: &Path, arguments: &[&str]) -> Files {
    let output = perchline_long(folder, &[arguments, &["--out", "out"]].concat());
    assert!(output.status.code().is_some_and(|code| code < 2), "{}", said(&output));
    fs::read_dir(folder.join("out"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "pdf"))
        .map(|path| {
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&path).unwrap())
        })
        .collect()
}

/// The sample's briefing on every paper, made once.
fn sample() -> &'static Files {
    static FILES: OnceLock<Files> = OnceLock::new();
    FILES.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        papers(folder.path(), &[&["brief", SAMPLE], &EVERY_PAPER[..]].concat())
    })
}

/// The same with US units and so many more posts in the radio shadow.
fn crowded(posts: usize) -> Files {
    let sample = support::live::copy("ferry-lights.toml", |text| {
        let more: String = (0..posts)
            .map(|n| {
                let (east, north) = (n % 8, n / 8);
                format!(
                    "\n[[post]]\nname = \"Old lane crossing {n}\"\nat = \"{:.4}, {:.4}\"\n",
                    46.9790 + 0.0012 * north as f64,
                    -34.9420 + 0.0016 * east as f64,
                )
            })
            .collect();
        let gridded = support::changed(&text, &[("[map]\n", "[map]\ngrid = \"utm\"\n")]);
        format!("{gridded}{more}\n[report]\nunits = \"us\"\n")
    });
    papers(
        sample.folder.path(),
        &[&["brief", "plan.toml", "--site", "Hotel"], &EVERY_PAPER[..]].concat(),
    )
}

/// A word on a page: left, top, right and bottom in points, and the word.
#[derive(Debug)]
struct Word {
    box_: [f64; 4],
    text: String,
}

impl Word {
    /// Its lettering's size in points, which is how high its box is.
    fn size(&self) -> f64 {
        self.box_[3] - self.box_[1]
    }
}

/// Width and height of each page in points, and its words, as another program finds them;
/// nothing where that does not run here.
fn words(pdf: &[u8]) -> Option<Vec<([f64; 2], Vec<Word>)>> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.pdf");
    fs::write(&path, pdf).unwrap();
    let Ok(output) = Command::new("pdftotext").arg("-bbox").arg(&path).arg("-").output() else {
        Wanted::Browser.is_missing("there is no pdftotext");
        return None;
    };
    let text = String::from_utf8(output.stdout).unwrap();
    let number = |line: &str, name: &str| -> f64 {
        let (_, after) = line.split_once(&format!(" {name}=\"")).unwrap();
        after.split('"').next().unwrap().parse().unwrap()
    };
    let mut pages: Vec<([f64; 2], Vec<Word>)> = Vec::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page ") {
            pages.push(([number(line, "width"), number(line, "height")], Vec::new()));
        } else if line.starts_with("<word ") {
            let word = line.split('>').nth(1).unwrap().split('<').next().unwrap().to_owned();
            let box_ = ["xMin", "yMin", "xMax", "yMax"].map(|name| number(line, name));
            pages.last_mut().unwrap().1.push(Word { box_, text: word });
        }
    }
    assert!(!pages.is_empty(), "{text}");
    Some(pages)
}

/// ISO 216, ANSI A and B, Arch C: points across and down, and pages.
const SIZES: [(&str, [f64; 2], usize); 5] = [
    ("brief-a4.pdf", [595.276, 841.890], 2),
    ("brief-letter.pdf", [612.0, 792.0], 2),
    ("brief-a3.pdf", [841.890, 1190.551], 2),
    ("brief-tabloid.pdf", [792.0, 1224.0], 2),
    ("brief-poster.pdf", [1190.551, 1683.780], 1),
];

/// Whether two boxes share more than a hair.
fn overlap(a: &[f64; 4], b: &[f64; 4]) -> bool {
    const HAIR: f64 = 0.4;
    a[0] < b[2] - HAIR && b[0] < a[2] - HAIR && a[1] < b[3] - HAIR && b[1] < a[3] - HAIR
}

/// No word lies over another, none is cut, and all keep as far from the edge as printers
/// do not print.
fn holds_together(name: &str, pages: &[([f64; 2], Vec<Word>)]) {
    /// 6 mm.
    const BLANK: f64 = 6.0 / 25.4 * 72.0;
    for ([width, height], words) in pages {
        for (index, word) in words.iter().enumerate() {
            let [left, top, right, bottom] = word.box_;
            assert!(
                left >= BLANK && top >= BLANK && right <= width - BLANK && bottom <= height - BLANK,
                "{name}: {word:?} is at the edge"
            );
            assert!(!word.text.contains('…'), "{name}: {word:?} is cut");
            for other in &words[index + 1..] {
                assert!(!overlap(&word.box_, &other.box_), "{name}: {word:?} on {other:?}");
            }
        }
    }
}

#[test]
fn every_size_is_whole_and_nothing_lies_over_another() {
    for (name, size, pages) in SIZES {
        let Some(found) = words(&sample()[name]) else { return };
        assert_eq!(found.len(), pages, "{name}");
        for (sides, words) in &found {
            for (side, wanted) in sides.iter().zip(size) {
                assert!((side - wanted).abs() < 0.05, "{name}: {sides:?}");
            }
            assert!(words.len() > 60, "{name}: {} words", words.len());
        }
        holds_together(name, &found);
    }
}

/// Every size that a verdict is laid out for.
const EVERY_HAND_PAPER: [&str; 6] = ["--paper", "both", "--paper", "a3", "--paper", "tabloid"];

/// The verdict and the routes behind it, of the sample as it is and of one with US units
/// and three more routes: whole on every paper, with as many sheets as the routes need.
#[test]
fn the_verdict_and_its_routes_are_whole_on_every_paper() {
    let folder = tempfile::tempdir().unwrap();
    let sample = papers(folder.path(), &[&["ready", SAMPLE], &EVERY_HAND_PAPER[..]].concat());
    let more = support::live::copy("ferry-lights.toml", |text| {
        let more: String = (1..=3)
            .map(|n| {
                format!(
                    "\n[[route]]\nname = \"Shuttle {n}\"\nline = [\"46.99{n}0, -34.9400\", \"46.9880, -34.9000\", \"47.0100, -34.8900\"]\n"
                )
            })
            .collect();
        format!("{text}{more}\n[report]\nunits = \"us\"\n")
    });
    let more =
        papers(more.folder.path(), &[&["ready", "plan.toml"], &EVERY_HAND_PAPER[..]].concat());
    let sizes = SIZES.map(|(name, size, _)| (name.replace("brief", "ready"), size));
    for (name, size) in sizes.iter().filter(|(name, _)| !name.contains("poster")) {
        for (files, routes, least) in [(&sample, 1, 2), (&more, 4, 3)] {
            let Some(found) = words(&files[name]) else { return };
            for (sides, _) in &found {
                for (side, wanted) in sides.iter().zip(size) {
                    assert!((side - wanted).abs() < 0.05, "{name}: {sides:?}");
                }
            }
            holds_together(name, &found);
            // Four routes take two sheets of what is read in the hand.
            let is_large = size[0] > 700.0;
            assert!(found.len() >= if is_large { 2 } else { least }, "{name}: {}", found.len());
            let behind: Vec<&str> =
                found[1..].iter().flat_map(|(_, words)| words).map(|w| &*w.text).collect();
            let told = behind.join(" ");
            assert_eq!(told.matches("Posts on the way:").count(), routes, "{name}: {told}");
            assert!(!told.contains("more lines are in"), "{name}: {told}");
            for page in 2..=found.len() {
                assert!(told.contains(&format!("Page {page}.")), "{name}: {told}");
            }
        }
    }
}

/// Sixty posts and more, most without radio: lists end in a count, and no size breaks.
#[test]
fn a_crowded_plan_breaks_no_size() {
    let crowded = crowded(48);
    for (name, _, pages) in SIZES {
        let Some(found) = words(&crowded[name]) else { return };
        assert_eq!(found.len(), pages, "{name}");
        holds_together(name, &found);
    }
    // Arch C.
    let found = words(&crowded["brief-poster.pdf"]).unwrap();
    let [width, height] = found[0].0;
    assert!((width - 1296.0).abs() < 0.1 && (height - 1728.0).abs() < 0.1, "{width} {height}");
    let told: Vec<&str> = found[0].1.iter().map(|word| &*word.text).collect();
    let told = told.join(" ");
    let made = format!("with Perchline {} from plan", env!("CARGO_PKG_VERSION"));
    // The grid's own sentence stands before both: nothing of the last lines is cut.
    for part in [" more ", "names found no room on the map; the briefing has them.", &made] {
        assert!(told.contains(part), "no {part} in {told}");
    }
}

/// Larger paper is larger lettering, not only more of it.
#[test]
fn larger_paper_has_larger_lettering() {
    let size = |name: &str, word: &str| {
        let found = words(&sample()[name])?;
        found[0].1.iter().find(|w| w.text == word).map(Word::size)
    };
    let Some(hand) = size("brief-a4.pdf", "Radio") else { return };
    for (name, least) in
        [("brief-a3.pdf", 1.15), ("brief-tabloid.pdf", 1.15), ("brief-poster.pdf", 3.0)]
    {
        let larger = size(name, "Radio").unwrap();
        assert!(larger > least * hand, "{name}: {larger} points against {hand}");
    }
}

/// The poster answers the question first, and capitals of what it says subtend 10 minutes
/// of arc at 3 m, the size of the 6/12 line of an eye chart (ISO 8596: 5 minutes at 6/6).
/// Capitals of the typeface are 0.729 of its size.
#[test]
fn the_poster_answers_from_across_the_room() {
    let Some(pages) = words(&sample()["brief-poster.pdf"]) else { return };
    let words = &pages[0].1;
    let told: Vec<&str> = words.iter().map(|word| &*word.text).collect();
    let told = told.join(" ");
    let answer = told.find("Are we covered here? Radio should work at 14 of 16 posts").unwrap();
    let fails = told.find("Do not count on radio at: 13 Safety boat landing 16 Aid 6").unwrap();
    assert!(answer < fails, "{told}");
    for part in ["If you hear nothing: walk", "Net Control: 555-0142", "Life at risk:", "Walk it"] {
        assert!(told.contains(part), "no {part} in {told}");
    }
    for word in ["dB", "MHz", "margin", "antenna"] {
        assert!(!told.contains(word), "{word} on the poster");
    }
    assert!(words.len() < 230, "{} words are not few", words.len());
    let least = 3000.0 * (10.0f64 / 60.0).to_radians().tan() / 0.729 / 25.4 * 72.0;
    // For whoever steps up to it: what made it, the scale, true north, distances.
    let aside = "km true north is 1.4° right of the sheet&apos;s upright";
    let near = |word: &Word| {
        let is_number = word.text.chars().all(|c| c.is_ascii_digit());
        word.size() < 16.0 || is_number || aside.split(' ').any(|part| part == word.text)
    };
    let small: Vec<&Word> = words.iter().filter(|w| w.size() < least && !near(w)).collect();
    assert!(small.is_empty(), "too small for 3 m: {small:?}");
}

/// An element of a document's structure.
#[derive(Debug)]
struct Element {
    kind: String,
    says: Option<String>,
    children: Vec<Element>,
    /// Its pieces of pages: the page, and the number of the piece on it.
    leaves: Vec<(ObjectId, i64)>,
}

/// A text of a PDF: UTF-16 with its mark, or one byte a letter.
fn text_of(object: &Object) -> String {
    lopdf::decode_text_string(object).unwrap()
}

/// The structure below a node, read by another library than wrote it.
fn element(document: &Document, node: &Dictionary) -> Element {
    let kind = node.get(b"S").ok().and_then(|s| s.as_name().ok());
    let page = node.get(b"Pg").ok().and_then(|page| page.as_reference().ok());
    let mut found = Element {
        kind: String::from_utf8(kind.unwrap_or(b"Root").to_vec()).unwrap(),
        says: node.get(b"Alt").ok().map(text_of),
        children: Vec::new(),
        leaves: Vec::new(),
    };
    let Ok(kids) = node.get_deref(b"K", document) else { return found };
    let kids = match kids {
        Object::Array(kids) => kids.clone(),
        one => vec![one.clone()],
    };
    for kid in kids {
        let (_, kid) = document.dereference(&kid).unwrap();
        match kid {
            Object::Integer(number) => found.leaves.push((page.unwrap(), *number)),
            Object::Dictionary(kid) if kid.has(b"MCID") => {
                let own = kid.get(b"Pg").ok().and_then(|page| page.as_reference().ok());
                let number = kid.get(b"MCID").unwrap().as_i64().unwrap();
                found.leaves.push((own.or(page).unwrap(), number));
            }
            Object::Dictionary(kid) => found.children.push(element(document, kid)),
            other => panic!("{other:?} in the structure"),
        }
    }
    found
}

impl Element {
    fn all(&self) -> Vec<&Self> {
        std::iter::once(self).chain(self.children.iter().flat_map(Self::all)).collect()
    }
}

/// Marked pieces of a page, and whether anything is drawn outside of a piece.
fn pieces(document: &Document, page: ObjectId) -> (BTreeSet<i64>, usize) {
    let content = document.get_and_decode_page_content(page).unwrap();
    let (mut numbers, mut depth, mut outside) = (BTreeSet::new(), 0usize, 0usize);
    for operation in &content.operations {
        match operation.operator.as_str() {
            "BMC" => depth += 1,
            "BDC" => {
                depth += 1;
                let properties = operation.operands[1].as_dict();
                let number = properties.ok().and_then(|p| p.get(b"MCID").ok()?.as_i64().ok());
                assert!(number.is_none_or(|n| numbers.insert(n)), "a piece twice");
            }
            "EMC" => depth -= 1,
            "Tj" | "TJ" | "Do" | "f" | "f*" | "S" | "B" if depth == 0 => outside += 1,
            _ => {}
        }
    }
    assert_eq!(depth, 0);
    (numbers, outside)
}

/// ISO 32000-1:2008, section 14.8: what is drawn is part of the structure once or
/// decoration, headings go down a level at a time, lists, tables and figures have what
/// they need.
fn reads_well(name: &str, pdf: &[u8]) -> Element {
    let document = Document::load_mem(pdf).unwrap();
    let catalog = document.catalog().unwrap();
    let marked = catalog.get_deref(b"MarkInfo", &document).unwrap().as_dict().unwrap();
    assert!(marked.get(b"Marked").unwrap().as_bool().unwrap(), "{name}");
    assert_eq!(text_of(catalog.get(b"Lang").unwrap()), "en", "{name}");
    let info = document.trailer.get_deref(b"Info", &document).unwrap().as_dict().unwrap();
    assert!(text_of(info.get(b"Title").unwrap()).contains("Ferry Lights"), "{name}");
    let root = catalog.get_deref(b"StructTreeRoot", &document).unwrap().as_dict().unwrap();
    let root = element(&document, root);
    let all = root.all();
    let mut leaves: BTreeMap<ObjectId, BTreeSet<i64>> = BTreeMap::new();
    for (page, number) in all.iter().flat_map(|element| &element.leaves) {
        assert!(leaves.entry(*page).or_default().insert(*number), "{name}: {number} twice");
    }
    for page in document.get_pages().values() {
        let (numbers, outside) = pieces(&document, *page);
        assert_eq!(leaves.get(page), Some(&numbers), "{name}");
        assert_eq!(outside, 0, "{name}: drawn outside of the structure");
    }
    let mut level = 0;
    for element in &all {
        let kinds: Vec<&str> = element.children.iter().map(|child| &*child.kind).collect();
        let holds = |allowed: &[&str]| {
            let right = kinds.iter().all(|kind| allowed.contains(kind));
            assert!(right && !kinds.is_empty(), "{name}: {} with {kinds:?}", element.kind);
        };
        match &*element.kind {
            "H1" | "H2" => {
                let own: u32 = element.kind[1..].parse().unwrap();
                assert!(own <= level + 1, "{name}: {} after level {level}", element.kind);
                level = own;
            }
            "Figure" => assert!(element.says.as_ref().is_some_and(|s| s.len() > 30), "{name}"),
            "L" => holds(&["LI"]),
            "LI" => holds(&["LBody"]),
            "Table" => holds(&["TR"]),
            "TR" => holds(&["TH", "TD"]),
            "Root" | "Document" | "Sect" => {
                holds(&["Document", "Sect", "H1", "H2", "P", "L", "Table", "Figure"])
            }
            "P" | "LBody" | "TH" | "TD" => {
                assert!(!element.leaves.is_empty(), "{name}: an empty {}", element.kind);
            }
            other => panic!("{name}: {other} in the structure"),
        }
    }
    root
}

#[test]
fn every_pdf_can_be_read_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut all = sample().clone();
    all.extend(papers(folder.path(), &["ready", SAMPLE]));
    all.extend(papers(folder.path(), &["debrief", SAMPLE, HEARD, "--site", "Car park"]));
    assert_eq!(all.len(), 8, "{:?}", all.keys());
    for (name, pdf) in &all {
        let root = reads_well(name, pdf);
        let elements = root.all();
        let first = elements.iter().find(|e| e.kind.starts_with('H')).unwrap();
        assert_eq!(first.kind, "H1", "{name}");
        let figures: Vec<&str> = elements.iter().filter_map(|e| e.says.as_deref()).collect();
        let (wanted, tables): (&[&str], bool) = match &**name {
            "brief-poster.pdf" => (
                &[
                    "Radio should work at 14 of 16 posts",
                    "Not at: 13 Safety boat landing (may work in some spots",
                ],
                false,
            ),
            "brief-slips.pdf" => (&[], false),
            "ready-a4.pdf" => (
                &[
                    "On the air until tear-down, poor case: ",
                    "Relay, dies 20:49",
                    "Half marathon from end to end. ",
                ],
                false,
            ),
            "debrief.pdf" => (&["Map of what was heard on channel Relay from Car park: "], false),
            _ => (&["Radio should work at 14 of 16 posts", "16 Aid 6"], true),
        };
        for part in wanted {
            assert!(figures.iter().any(|says| says.contains(part)), "{name}: {figures:?}");
        }
        assert_eq!(elements.iter().any(|e| e.kind == "Table"), tables, "{name}");
        let sections = elements.iter().filter(|e| e.kind == "Sect").count();
        assert_eq!(sections, Document::load_mem(pdf).unwrap().get_pages().len(), "{name}");
    }
}
