//! The briefing, through the program: one page without a network, two sheets,
//! files for other programs.

use crate::support;
use std::collections::BTreeMap;
use std::fs;
use std::io::{Cursor, Read};
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use crate::support::{PLAN, hostile, perchline_long, printed, said, write_plan_raster};
use base64::Engine as _;
use gdal::vector::LayerAccess;
use kml::{Kml, KmlReader};
use serde_json::Value;
use sha2::{Digest, Sha256};

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

/// What a briefing may weigh: it goes by mail and over bad networks.
const MOST_MEGABYTES: f64 = 5.0;

type Files = BTreeMap<String, Vec<u8>>;

fn files(folder: &Path) -> Files {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&path).unwrap())
        })
        .collect()
}

/// Everything that the verb writes for a plan in `folder`.
fn brief_in(folder: &Path, more: &[&str]) -> Files {
    let arguments: Vec<&str> = ["brief"].iter().chain(more).copied().collect();
    let output = perchline_long(folder, &[&arguments[..], &["--out", "out"]].concat());
    assert!(output.status.success(), "{}", said(&output));
    files(&folder.join("out"))
}

/// The sample's briefing, made once.
fn sample() -> &'static Files {
    static FILES: OnceLock<Files> = OnceLock::new();
    FILES.get_or_init(|| brief_in(tempfile::tempdir().unwrap().path(), &[SAMPLE]))
}

fn text(files: &Files, name: &str) -> String {
    String::from_utf8(files[name].clone()).unwrap()
}

/// The text between two marks, the marks left out.
fn between<'t>(text: &'t str, from: &str, to: &str) -> &'t str {
    let start = text.find(from).unwrap_or_else(|| panic!("no {from}")) + from.len();
    let end = text[start..].find(to).unwrap_or_else(|| panic!("no {to} after {from}"));
    &text[start..start + end]
}

/// The text of an HTML page without its markup, scripts and styles.
fn shown(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        out.push(' ');
        let closed = ["<script", "<style"].iter().find(|tag| rest[at..].starts_with(*tag));
        let end = match closed {
            Some(tag) => format!("</{}>", &tag[1..]),
            None => ">".to_owned(),
        };
        let stop = rest[at..].find(&end).unwrap() + end.len();
        rest = &rest[at + stop..];
    }
    out + rest
}

#[test]
fn the_sample_gives_every_file_and_the_page_is_light() {
    let names: Vec<&str> = sample().keys().map(String::as_str).collect();
    let expected = [
        "brief-a4.pdf",
        "brief-letter.pdf",
        "brief-slips.pdf",
        "brief.gpkg",
        "brief.gpx",
        "brief.html",
        "brief.json",
        "brief.kml",
        "brief.kmz",
        "brief.png",
        "brief.txt",
    ];
    assert_eq!(names, expected);
    let megabytes = sample()["brief.html"].len() as f64 / 1e6;
    println!("figure brief_megabytes {megabytes:.1} MB");
    assert!(megabytes < MOST_MEGABYTES, "{megabytes:.2} MB");
}

/// The legend of the page's map explains the same lines and marks as that of the sheets of
/// paper, each with its picture; distances in the plan's units, and none without a route.
#[test]
fn the_legend_of_the_page_explains_every_mark() {
    let legend = |files: &Files| {
        between(&text(files, "brief.html"), "<ul class=\"legend\"", "</ul>").to_owned()
    };
    let of_sample = legend(sample());
    for meaning in [
        "Distance from the start, km",
        "Route and its direction",
        "Do not count on radio",
        "Staging area",
        "Other place for a relay",
    ] {
        let row = of_sample.split("<li").find(|row| row.contains(meaning));
        let row = row.unwrap_or_else(|| panic!("no {meaning} in {of_sample}"));
        let picture = between(row, "src=\"data:image/svg+xml;base64,", "\"");
        let picture = base64::engine::general_purpose::STANDARD.decode(picture).unwrap();
        let picture = String::from_utf8(picture).unwrap();
        assert!(picture.starts_with("<svg") && picture.contains("stroke"), "{picture}");
    }
    let us = support::live::copy("ferry-lights.toml", |text| text + "\n[report]\nunits = \"us\"\n");
    let us = legend(&brief_in(us.folder.path(), &["plan.toml", "--paper", "a4"]));
    assert!(us.contains("Distance from the start, miles"), "{us}");
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 20.0);
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    let plain = legend(&brief_in(folder.path(), &["plan.toml", "--paper", "a4"]));
    for meaning in ["Distance from the start", "Route and its direction", "Do not count on radio"] {
        assert_eq!(plain.contains(meaning), PLAN.contains("[[route]]"), "{meaning}: {plain}");
    }
}

/// Content Security Policy Level 3: the hashes are those of the page's own
/// script and style, and nothing else may be loaded.
#[test]
fn the_policy_lets_in_the_pages_own_script_and_style_only() {
    let html = text(sample(), "brief.html");
    let policy = between(&html, "http-equiv=\"Content-Security-Policy\" content=\"", "\"");
    for part in ["default-src 'none'", "img-src data:", "base-uri 'none'", "form-action 'none'"] {
        assert!(policy.split("; ").any(|p| p == part), "no {part} in {policy}");
    }
    let hash = |text: &str| {
        let digest = Sha256::digest(text.as_bytes());
        format!("'sha256-{}'", base64::engine::general_purpose::STANDARD.encode(digest))
    };
    let style = between(&html, "<style>", "</style>");
    let (_, after_data) = html.rsplit_once("<script>").unwrap();
    let script = after_data.split("</script>").next().unwrap();
    assert!(script.contains("leaflet"));
    assert!(policy.contains(&format!("style-src {}", hash(style))), "{policy}");
    assert!(policy.contains(&format!("script-src {}", hash(script))), "{policy}");
    assert!(!policy.contains("unsafe"), "{policy}");
}

#[test]
fn the_page_names_nothing_outside_of_itself() {
    let html = text(sample(), "brief.html");
    // What the script holds a browser test looks after.
    let (html, _) = html.rsplit_once("<script>").unwrap();
    for way in ["src=", "href=", "srcset=", "action=", "poster=", "data="] {
        for (at, _) in html.match_indices(&format!(" {way}\"")) {
            let address: String =
                html[at + way.len() + 2..].chars().take_while(|c| *c != '"').take(20).collect();
            let own = address.starts_with("data:image/")
                || address.starts_with('#')
                || address.starts_with("tel:");
            assert!(own, "{way}{address}");
        }
    }
    let style = between(html, "<style>", "</style>");
    assert!(!style.contains("@import"));
    for (at, _) in style.match_indices("url(") {
        let address = style[at + 4..].trim_start_matches(['"', '\'']);
        assert!(address.starts_with("data:") || address.starts_with('#'), "{:.30}", address);
    }
    // Handlers and styles on elements would be stopped by the policy.
    let body = html.split("<body>").nth(1).unwrap().split("<script").next().unwrap();
    assert!(
        !body.contains(" style=\"") && !body.contains(" onclick=") && !body.contains(" onload=")
    );
}

/// Words that need radio knowledge.
const JARGON: [&str; 9] =
    ["dB", "MHz", "margin", "SINAD", "talk-in", "talk-out", "line of sight", "antenna", "NaN"];

#[test]
fn the_liaisons_part_holds_no_radio_word() {
    let html = text(sample(), "brief.html");
    let first = shown(html.split("<section class=\"crew\"").next().unwrap());
    for word in JARGON {
        assert!(!first.contains(word), "{word} on the liaison's part");
    }
    for part in [
        "13 Safety boat landing",
        "Radio should work all around",
        "555-0142",
        "Relay on the air until",
    ] {
        assert!(first.split_whitespace().collect::<Vec<_>>().join(" ").contains(part), "no {part}");
    }
    let crew = shown(html.split("<section class=\"crew\"").nth(1).unwrap());
    for part in ["147.0075 MHz", "100.0 Hz", "thunder", "packs", "SHA-256"] {
        assert!(crew.contains(part), "no {part} on the crew's part");
    }
}

/// ISO 216 and ANSI A in points.
#[test]
fn each_pdf_has_two_pages_of_its_paper_with_text() {
    for (name, (width, height)) in
        [("brief-a4.pdf", (595.276, 841.89)), ("brief-letter.pdf", (612.0, 792.0))]
    {
        let document = lopdf::Document::load_mem(&sample()[name]).unwrap();
        let pages = document.get_pages();
        assert_eq!(pages.len(), 2, "{name}");
        for page in pages.values() {
            let media = document.get_dictionary(*page).unwrap().get(b"MediaBox").unwrap();
            let sides: Vec<f32> =
                media.as_array().unwrap().iter().map(|side| side.as_float().unwrap()).collect();
            for (side, wanted) in sides.iter().zip([0.0, 0.0, width, height]) {
                assert!((f64::from(*side) - wanted).abs() < 0.05, "{name}: {sides:?}");
            }
        }
        let page = |number| {
            let text = document.extract_text(&[number]).unwrap();
            text.split_whitespace().collect::<String>()
        };
        let (first, second) = (page(1), page(2));
        for part in ["FerryLightshalfmarathon", "SafetyboatLanding", "555-0142"] {
            assert!(
                first.to_lowercase().contains(&part.to_lowercase()),
                "{name}: no {part} in {first}"
            );
        }
        for word in JARGON {
            assert!(!first.contains(word), "{name}: {word} on page one");
        }
        for part in ["147.0075MHz", "Ridgeoverlook", "Nobodyaloneonaroof", "Page2of2"] {
            assert!(second.contains(part), "{name}: no {part} in {second}");
        }
    }
}

/// The data that the page's script draws.
fn page_data(files: &Files) -> Value {
    let html = text(files, "brief.html");
    let data = between(&html, "<script type=\"application/json\" id=\"data\">", "</script>");
    serde_json::from_str(data).unwrap()
}

/// The letters of the cells, as the page's script reads them.
fn unpacked(spots: &Value) -> Vec<u8> {
    let columns = spots["columns"].as_u64().unwrap() as usize;
    let mut cells: Vec<u8> = Vec::new();
    let mut runs = spots["runs"].as_str().unwrap().bytes().peekable();
    while let Some(sign) = runs.next() {
        let mut count = String::new();
        while let Some(digit) = runs.next_if(u8::is_ascii_digit) {
            count.push(char::from(digit));
        }
        for _ in 0..count.parse().unwrap_or(1) {
            cells.push(if sign == b'.' { cells[cells.len() - columns] } else { sign });
        }
    }
    cells
}

/// What a tap on the page is answered with is what the raster of `coverage` holds there,
/// cell by cell, read by another library.
#[test]
fn the_page_holds_the_classes_of_the_map() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(
        folder.path(),
        &["coverage", SAMPLE, "--site", "Ridge overlook", "--out", "out"],
    );
    assert!(output.status.success(), "{}", said(&output));
    let raster =
        gdal::Dataset::open(folder.path().join("out/relay-ridge-overlook-probability.tif"))
            .unwrap();
    let (columns, rows) = raster.raster_size();
    let band = raster.rasterband(1).unwrap();
    let cells = band.read_as::<f32>((0, 0), (columns, rows), (columns, rows), None).unwrap();
    let data = page_data(sample());
    let spots = &data["spots"];
    assert_eq!(spots["across"].as_f64().unwrap(), columns as f64, "told in coarser cells");
    assert_eq!(spots["down"].as_f64().unwrap(), rows as f64);
    let letters = unpacked(spots);
    assert_eq!(letters.len(), columns * rows);
    let mut seen: BTreeMap<char, usize> = BTreeMap::new();
    for (letter, probability) in letters.iter().zip(cells.data()) {
        *seen.entry(char::from(*letter)).or_default() += 1;
        // At a border between two classes a rounded number tells either.
        let near = [0.5, 0.95, 0.99].iter().any(|edge| (probability - edge).abs() < 1e-4);
        let allowed: &[u8] = match probability {
            p if p.is_nan() => b"u",
            p if *p >= 0.99 => b"s",
            p if *p >= 0.95 => b"c",
            p if *p >= 0.5 => b"p",
            _ => b"htn",
        };
        assert!(near || allowed.contains(letter), "{} at {probability}", char::from(*letter));
    }
    assert!(seen.len() > 3 && seen.values().all(|count| *count > 0), "{seen:?}");
    let classes = spots["classes"].as_object().unwrap();
    assert!(seen.keys().all(|letter| classes.contains_key(&letter.to_string())));
    let kilobytes = spots["runs"].as_str().unwrap().len() as f64 / 1e3;
    println!("figure brief_classes_kilobytes {kilobytes:.0} kB");
}

/// A slip for every post, on the paper that the plan's units go with.
#[test]
fn every_post_has_a_slip() {
    let slips = lopdf::Document::load_mem(&sample()["brief-slips.pdf"]).unwrap();
    let pages: Vec<u32> = slips.get_pages().keys().copied().collect();
    assert_eq!(pages.len(), 3, "16 posts, six a sheet");
    let text = slips.extract_text(&pages).unwrap().split_whitespace().collect::<String>();
    let document: Value = serde_json::from_slice(&sample()["brief.json"]).unwrap();
    let squeezed = |text: &Value| text.as_str().unwrap().split_whitespace().collect::<String>();
    let posts = document["result"]["posts"].as_array().unwrap();
    let emergencies = text.matches("Lifeatrisk:callthelocalemergencynumberfirst").count();
    assert_eq!(emergencies, posts.len(), "each slip says whom to call first");
    for post in posts {
        let name = format!("{}{}", post["number"], squeezed(&post["name"]));
        assert!(text.contains(&name), "no slip of {name}: {text}");
        let slip = &post["slip"];
        for part in ["stand", "hold", "channel"] {
            assert!(text.contains(&squeezed(&slip[part])), "{name}: no {part}: {}", slip[part]);
        }
        for step in slip["silent"].as_array().unwrap() {
            assert!(text.contains(&squeezed(step)), "{name}: no {step}");
        }
    }
    // Only the members of a group are sent to its channel.
    let sent = |post: &str| -> bool {
        let post = posts.iter().find(|p| p["name"] == post).unwrap();
        let steps = post["slip"]["silent"].as_array().unwrap();
        steps.iter().any(|step| step.as_str().unwrap().starts_with("Medical:"))
    };
    assert!(sent("Medical tent") && !sent("Aid 1"));
    let us = support::live::copy("ferry-lights.toml", |text| {
        format!("{text}\n[report]\nunits = \"us\"\n")
    });
    let files = brief_in(us.folder.path(), &["plan.toml", "--site", "Hotel", "--paper", "letter"]);
    let letter = lopdf::Document::load_mem(&files["brief-slips.pdf"]).unwrap();
    let page = *letter.get_pages().values().next().unwrap();
    let media = letter.get_dictionary(page).unwrap().get(b"MediaBox").unwrap();
    let width = media.as_array().unwrap()[2].as_float().unwrap();
    assert!((width - 612.0).abs() < 0.1, "{width}");
}

/// Each load that `power` hands out is in the block of everybody who carries it, and in
/// nobody else's.
#[test]
fn who_carries_what_is_what_power_hands_out() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(folder.path(), &["power", SAMPLE, "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let power: Value = serde_json::from_slice(&output.stdout).unwrap();
    let document: Value = serde_json::from_slice(&sample()["brief.json"]).unwrap();
    let carrying = document["result"]["carrying"].as_array().unwrap();
    let kits = power["result"]["kits"].as_array().unwrap();
    assert_eq!(carrying.len(), kits.len());
    let html = text(sample(), "brief.html");
    let mut told = 0;
    for (up, kit) in carrying.iter().zip(kits) {
        assert_eq!(up["station"], kit["station"]);
        assert!(
            html.contains(&format!("Up to {}: who carries what", kit["station"].as_str().unwrap()))
        );
        for load in kit["loads"].as_array().unwrap() {
            let what: Vec<&str> =
                load["what"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
            for person in up["people"].as_array().unwrap() {
                let begins = format!("Trip {}", load["trip"]);
                let trips: Vec<&str> = person["trips"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|t| t.as_str().unwrap())
                    .collect();
                let mine = trips
                    .iter()
                    .find(|trip| trip.starts_with(&begins) && trip.contains(&what.join(" + ")));
                let carries = load["carriers"].as_array().unwrap().contains(&person["person"]);
                let alike = kit["loads"].as_array().unwrap().iter().any(|other| {
                    other["trip"] == load["trip"]
                        && other["what"] == load["what"]
                        && other["carriers"].as_array().unwrap().contains(&person["person"])
                });
                assert_eq!(mine.is_some(), carries || alike, "{load} {person}");
                if let Some(mine) = mine {
                    told += 1;
                    assert!(html.contains(mine), "the page lacks {mine:?}");
                }
            }
        }
        // Nobody lifts what is too much without being told so beside it.
        assert!(
            up["care"].as_array().unwrap().iter().any(|c| c.as_str().unwrap().contains("Ballast"))
        );
    }
    assert!(told > 3, "{told} loads");
}

/// A word on a page: its left and upper end, and how high it is, points.
struct Word {
    text: String,
    left: f64,
    top: f64,
    height: f64,
}

/// The words of each page of a PDF, and the page's width and height.
fn words_of(pdf: &[u8]) -> Vec<((f64, f64), Vec<Word>)> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("sheet.pdf");
    fs::write(&file, pdf).unwrap();
    let output = Command::new("pdftotext").arg("-bbox").arg(&file).arg("-").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let number = |line: &str, name: &str| -> f64 {
        let rest = line.split_once(&format!(" {name}=\"")).unwrap().1;
        rest.split_once('"').unwrap().0.parse().unwrap()
    };
    let mut pages = Vec::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page ") {
            pages.push(((number(line, "width"), number(line, "height")), Vec::new()));
        } else if line.starts_with("<word ") {
            let (top, bottom) = (number(line, "yMin"), number(line, "yMax"));
            let inside = line.split_once('>').unwrap().1;
            let text = inside.split_once('<').unwrap().0.to_owned();
            let (left, height) = (number(line, "xMin"), bottom - top);
            pages.last_mut().unwrap().1.push(Word { text, left, top, height });
        }
    }
    pages
}

/// Whoever holds a slip in the dark reads first whether radio works here, and what to do
/// where it does not: in letters larger than all but the post's name.
#[test]
fn a_slip_says_the_one_thing_that_matters_in_large_letters() {
    if Command::new("pdftotext").arg("-v").output().is_err() {
        support::wanted::Wanted::Browser.is_missing("there is no pdftotext");
        return;
    }
    let mut slips = 0;
    for ((width, height), words) in words_of(&sample()["brief-slips.pdf"]) {
        // Border of the sheets: 11 mm.
        let border = 11.0 / 25.4 * 72.0;
        let row_height = (height - 2.0 * border) / 3.0;
        for (column, row) in [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)] {
            let top = border + f64::from(row) * row_height;
            let inside = |word: &&Word| {
                (word.left > width / 2.0) == (column == 1)
                    && (top..top + row_height).contains(&word.top)
            };
            let slip: Vec<&Word> = words.iter().filter(inside).collect();
            let Some(channel) = slip.iter().find(|word| word.text == "Channel:") else {
                assert!(slip.is_empty(), "a slip without a channel");
                continue;
            };
            slips += 1;
            let tallest = |found: &dyn Fn(&Word) -> bool| {
                let heights = slip.iter().filter(|word| found(word)).map(|word| word.height);
                heights.fold(0.0, f64::max)
            };
            let rest = tallest(&|word| word.top >= channel.top - 0.5);
            let name = tallest(&|_| true);
            let verdict = slip.iter().find(|word| ["Radio", "Here", "No"].contains(&&*word.text));
            let verdict = verdict.unwrap();
            assert!(verdict.top < channel.top, "the verdict is not first");
            assert!(name > verdict.height, "the post's name is not the largest");
            assert!(verdict.height >= 1.1 * rest, "{} against {rest}", verdict.height);
            // A step a line.
            let begins = |word: &&Word| word.text == "2." && (word.left - channel.left).abs() < 1.0;
            assert!(slip.iter().copied().any(|word| begins(&word)), "steps run on");
            assert!(slip.iter().all(|word| word.height > 4.0));
        }
        assert!(!words.iter().any(|word| word.text == "more"), "a slip leaves lines out");
    }
    assert_eq!(slips, 16);
}

/// Whoever gets a file learns nothing of where it was made.
#[test]
fn no_file_that_is_mailed_names_a_folder_of_this_machine() {
    let sample = support::live::copy("ferry-lights.toml", |text| text);
    let folder = sample.folder.path().canonicalize().unwrap();
    let plan = folder.join("plan.toml").display().to_string();
    let out = folder.join("out").display().to_string();
    for verb in [&["brief"] as &[&str], &["coverage", "--site", "Hotel"], &["ready"]] {
        let arguments = [&verb[..1], &[&plan], &verb[1..], &["--out", &out]].concat();
        let output = perchline_long(&folder, &arguments);
        assert!(output.status.success(), "{}", said(&output));
    }
    let folder = folder.display().to_string();
    let holds = |bytes: &[u8]| bytes.windows(folder.len()).any(|part| part == folder.as_bytes());
    let files = files(Path::new(&out));
    assert!(files.len() > 15, "{:?}", files.keys());
    for (name, bytes) in &files {
        assert!(!holds(bytes), "{name} names {folder}");
        if name.ends_with(".pdf") {
            let document = lopdf::Document::load_mem(bytes).unwrap();
            let pages: Vec<u32> = document.get_pages().keys().copied().collect();
            let text = document.extract_text(&pages).unwrap();
            assert!(!text.contains(&folder), "{name} names {folder}");
            let mut open = document.clone();
            open.decompress();
            let mut plain = Vec::new();
            open.save_to(&mut plain).unwrap();
            assert!(!holds(&plain), "{name} names {folder}");
        }
        if name.ends_with(".kmz") {
            let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
            for index in 0..package.len() {
                let mut inside = Vec::new();
                package.by_index(index).unwrap().read_to_end(&mut inside).unwrap();
                assert!(!holds(&inside), "{name} names {folder}");
            }
        }
        // Sheets and plots print in their size.
        if name.ends_with(".png") {
            let reader = png::Decoder::new(Cursor::new(&bytes[..])).read_info().unwrap();
            let dims = reader.info().pixel_dims.unwrap_or_else(|| panic!("{name} has no size"));
            assert_eq!((dims.xppu, dims.unit), (dims.yppu, png::Unit::Meter), "{name}");
        }
        let told = String::from_utf8_lossy(bytes);
        if [".html", ".txt", ".json", ".kml", ".gpx", ".geojson"].iter().any(|e| name.ends_with(e))
        {
            let minus = told.match_indices("-0.0").find(|(at, _)| {
                let after = told[at + 4..].trim_start_matches('0');
                let before = told[..*at].chars().next_back();
                !after.starts_with(|c: char| c.is_ascii_digit())
                    && !before.is_some_and(|c| c.is_ascii_alphanumeric() || "+/-_.".contains(c))
            });
            assert!(minus.is_none(), "{name}: -0.0 at {minus:?}");
        }
    }
}

/// The routes are drawn from end to end, and their minutes are the slowest tracker's.
#[test]
fn routes_are_told_with_minutes() {
    let document: Value = serde_json::from_slice(&sample()["brief.json"]).unwrap();
    let advice = document["result"]["routes"][0]["advice"][0].as_str().unwrap();
    assert!(advice.ends_with("Minutes are those of Last runners, the slowest on the route."));
    // 9 minutes a kilometre.
    let output = perchline_long(
        tempfile::tempdir().unwrap().path(),
        &["coverage", SAMPLE, "--site", "Ridge overlook", "--json"],
    );
    let covered: Value = serde_json::from_slice(&output.stdout).unwrap();
    let route = &covered["result"]["site"]["routes"][0];
    let metres = |gap: &Value| gap["to_m"].as_f64().unwrap() - gap["from_m"].as_f64().unwrap();
    let gaps = route["gaps"].as_array().unwrap();
    for gap in gaps.iter().filter(|gap| metres(gap) >= 100.0) {
        let minutes = format!("({:.0} min)", (metres(gap) / 1000.0 * 9.0).ceil());
        assert!(advice.contains(&minutes), "{minutes} not in {advice}");
    }
    // The classes run from end to end, and the gaps are where they do not work.
    let classes = route["classes"].as_array().unwrap();
    let mut along = 0.0;
    let mut silent = 0.0;
    for class in classes {
        assert_eq!(class["from_m"].as_f64().unwrap(), along);
        along = class["to_m"].as_f64().unwrap();
        let works = ["clear", "strong"].contains(&class["outcome"].as_str().unwrap());
        silent += if works { 0.0 } else { metres(class) };
        // Both ways work only where each way does.
        let each = ["talk_in", "talk_out"].iter().all(|way| class[*way] == "clear");
        assert!(each || !works, "{class}");
    }
    assert!((along - route["length_m"].as_f64().unwrap()).abs() < 1e-6);
    let gaps: f64 = gaps.iter().map(metres).sum();
    assert!((silent - gaps).abs() < 1e-6, "{silent} {gaps}");
    let html = text(sample(), "brief.html");
    assert!(html.contains("<h2 id=\"strips\">"), "the page draws no route");
}

fn placemarks(kml: &Kml, found: &mut Vec<(String, usize)>) {
    match kml {
        Kml::KmlDocument(document) => document.elements.iter().for_each(|e| placemarks(e, found)),
        Kml::Document { elements, .. } => elements.iter().for_each(|e| placemarks(e, found)),
        Kml::Folder(folder) => folder.elements.iter().for_each(|e| placemarks(e, found)),
        Kml::Placemark(mark) => {
            found.push((mark.name.clone().unwrap(), usize::from(mark.geometry.is_some())))
        }
        _ => {}
    }
}

fn read_kml(bytes: &[u8]) -> Vec<(String, usize)> {
    let kml: Kml = KmlReader::from_reader(bytes).read().unwrap();
    let mut found = Vec::new();
    placemarks(&kml, &mut found);
    found
}

#[test]
fn globes_and_gps_units_get_every_place() {
    let marks = read_kml(&sample()["brief.kml"]);
    // 16 posts, 6 sites, a route, its gaps, 3 areas.
    let gaps = marks.iter().filter(|(name, _)| name.starts_with("Gap of ")).count();
    assert_eq!(marks.len(), 26 + gaps);
    assert!(gaps >= 1, "{marks:?}");
    assert!(marks.iter().all(|(_, geometry)| *geometry == 1), "{marks:?}");
    assert!(marks.iter().any(|(name, _)| name == "13 Safety boat landing"));

    let mut package = zip::ZipArchive::new(Cursor::new(&sample()["brief.kmz"])).unwrap();
    assert_eq!(package.by_index(0).unwrap().name(), "doc.kml");
    let mut kml = String::new();
    package.by_name("doc.kml").unwrap().read_to_string(&mut kml).unwrap();
    assert_eq!(read_kml(kml.as_bytes()), marks);
    let mut picture = Vec::new();
    package.by_name("coverage.png").unwrap().read_to_end(&mut picture).unwrap();
    let picture = image::load_from_memory(&picture).unwrap().to_rgba8();
    let overlay = between(&kml, "<GroundOverlay>", "</GroundOverlay>");
    let side = |name: &str| -> f64 {
        between(overlay, &format!("<{name}>"), &format!("</{name}>")).parse().unwrap()
    };
    // The picture lies where the posts say: what works has a light tint there.
    let at = |latitude: f64, longitude: f64| {
        let x = (longitude - side("west")) / (side("east") - side("west"));
        let y = (side("north") - latitude) / (side("north") - side("south"));
        let (width, height) = picture.dimensions();
        picture.get_pixel((x * f64::from(width)) as u32, (y * f64::from(height)) as u32).0
    };
    let finish = at(46.99013, -34.88983);
    assert!(finish[0] > 0xf0 && finish[3] > 0, "{finish:?}");
    // The mouth of the cut south-west of the landing is patchy, so darker.
    let landing = at(47.0190, -34.8972);
    assert!(landing[0] < 0xd0 && landing[3] > 0, "{landing:?}");

    looks_by_outcome(&kml, &mut package);

    let gpx = gpx::read(&sample()["brief.gpx"][..]).unwrap();
    assert_eq!(gpx.waypoints.len(), 22);
    let symbol = |name: &str| {
        let mut points = gpx.waypoints.iter();
        points.find(|w| w.name.as_deref() == Some(name)).unwrap().symbol.clone()
    };
    assert_eq!(symbol("13 Safety boat landing").as_deref(), Some("Flag, Blue"));
    assert_eq!(symbol("3 Finish").as_deref(), Some("Flag, Green"));
    assert_eq!(symbol("Ridge overlook").as_deref(), Some("Tall Tower"));
    assert_eq!(symbol("Hotel"), None);
    assert_eq!(gpx.tracks.len(), 1);
    assert!(gpx.tracks[0].segments[0].points.len() > 20);
    let landing =
        gpx.waypoints.iter().find(|w| w.name.as_deref() == Some("13 Safety boat landing"));
    let landing = landing.unwrap();
    assert!((landing.point().y() - 47.01971).abs() < 1e-6);
    assert!(landing.description.as_ref().unwrap().contains("in some spots only"));
}

/// Every place has a style that the document states, a post that of its outcome; every
/// picture that a style names lies in the package, and no address leads elsewhere.
fn looks_by_outcome(kml: &str, package: &mut zip::ZipArchive<Cursor<&Vec<u8>>>) {
    let mut used = Vec::new();
    for mark in kml.split("<Placemark").skip(1) {
        let style = between(mark, "<styleUrl>#", "</styleUrl>");
        assert!(kml.contains(&format!("<Style id=\"{style}\">")), "{style} is not stated");
        used.push((between(mark, "<name>", "</name>"), style));
    }
    let of = |name: &str| used.iter().find(|(own, _)| *own == name).map(|(_, style)| *style);
    assert_eq!(of("13 Safety boat landing"), Some("post-patchy"));
    assert_eq!(of("Ridge overlook"), Some("relay"));
    assert_eq!(of("Hotel"), Some("site"));
    assert!(used.iter().any(|(name, style)| name.starts_with("Gap of") && *style == "gap"));
    let named: Vec<&str> =
        kml.split("<href>").skip(1).map(|rest| rest.split('<').next().unwrap()).collect();
    assert!(named.len() >= 9, "{named:?}");
    for picture in named {
        let mut bytes = Vec::new();
        package.by_name(picture).unwrap().read_to_end(&mut bytes).unwrap();
        assert!(image::load_from_memory(&bytes).unwrap().to_rgba8().pixels().any(|p| p.0[3] > 0));
    }
    // Alone, the document names no picture, and pins have the colours of the map.
    let alone = text(sample(), "brief.kml");
    assert!(!alone.contains("<href>"));
    let patchy = between(&alone, "<Style id=\"post-patchy\">", "</Style>");
    assert!(patchy.contains("<color>ff9daa88</color>"), "{patchy}");
}

#[test]
fn map_programs_get_a_layer_a_kind() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brief.gpkg");
    fs::write(&path, &sample()["brief.gpkg"]).unwrap();
    let package = gdal::Dataset::open(&path).unwrap();
    let counts: Vec<(String, u64)> =
        package.layers().map(|layer| (layer.name(), layer.feature_count())).collect();
    let named = |counts: &[(&str, u64)]| -> Vec<(String, u64)> {
        counts.iter().map(|(name, count)| ((*name).to_owned(), *count)).collect()
    };
    assert_eq!(counts[..4], named(&[("posts", 16), ("sites", 6), ("areas", 3), ("routes", 1)]));
    assert_eq!(counts[4].0, "coverage");
    styled(&package);
    assert!((3..=6).contains(&counts[4].1));
    let mut posts = package.layer_by_name("posts").unwrap();
    let landing = posts.features().nth(12).unwrap();
    let field = |name: &str| landing.field_index(name).unwrap();
    let name = landing.field_as_string(field("name")).unwrap().unwrap();
    assert_eq!(name, "Safety boat landing");
    let probability = landing.field_as_double(field("probability")).unwrap().unwrap();
    assert!((0.5..0.95).contains(&probability));
}

/// Each layer has one default style, in both forms, which tells its outcomes apart. The
/// open form is held to Styled Layer Descriptor 1.1 (OGC 05-078r4) by its elements.
fn styled(package: &gdal::Dataset) {
    let mut styles = package.layer_by_name("layer_styles").unwrap();
    let mut layers = Vec::new();
    for style in styles.features() {
        let field = |name: &str| {
            let index = style.field_index(name).unwrap();
            style.field_as_string(index).unwrap().unwrap_or_default()
        };
        let layer = field("f_table_name");
        assert_eq!(
            (field("f_geometry_column").as_str(), field("useAsDefault").as_str()),
            ("geom", "1")
        );
        let (open, own) = (field("styleSLD"), field("styleQML"));
        assert!(open.contains(&format!("<se:Name>{layer}</se:Name>")), "{open}");
        assert!(open.contains("version=\"1.1.0\""));
        for form in [&open, &own] {
            let tree = roxmltree::Document::parse(form).unwrap();
            assert!(tree.descendants().count() > 10);
        }
        if layer == "posts" || layer == "coverage" {
            let tree = roxmltree::Document::parse(&open).unwrap();
            let rule = ("http://www.opengis.net/se", "Rule");
            let rules = tree.descendants().filter(|node| node.has_tag_name(rule)).count();
            assert_eq!(rules, 6, "{open}");
            let mut features = package.layer_by_name(&layer).unwrap();
            for feature in features.features() {
                let index = feature.field_index("outcome").unwrap();
                let outcome = feature.field_as_string(index).unwrap().unwrap();
                assert!(
                    open.contains(&format!("<ogc:Literal>{outcome}</ogc:Literal>")),
                    "{outcome}"
                );
                assert!(own.contains(&format!("<category value=\"{outcome}\"")), "{outcome}");
            }
        }
        layers.push(layer);
    }
    assert_eq!(layers, ["posts", "sites", "areas", "routes", "coverage"]);
}

/// PNG specification, chunk `pHYs`: 300 dots an inch are 11811 a metre.
#[test]
fn the_picture_is_for_print() {
    let reader = png::Decoder::new(Cursor::new(&sample()["brief.png"][..])).read_info().unwrap();
    assert_eq!(reader.info().size(), (3508, 2480));
    let dims = reader.info().pixel_dims.unwrap();
    assert_eq!((dims.xppu, dims.yppu, dims.unit), (11_811, 11_811, png::Unit::Meter));
}

#[test]
fn two_runs_give_the_same_bytes_whatever_the_threads() {
    let folder = tempfile::tempdir().unwrap();
    let again = brief_in(folder.path(), &[SAMPLE, "--threads", "1"]);
    assert_eq!(again.keys().collect::<Vec<_>>(), sample().keys().collect::<Vec<_>>());
    for (name, bytes) in sample() {
        assert!(again[name] == *bytes, "{name} differs");
    }
}

#[test]
fn names_that_try_to_be_markup_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    hostile::write(folder.path());
    let files = brief_in(folder.path(), &["plan.toml"]);
    let html = text(&files, "brief.html");
    let (page, script) = html.rsplit_once("<script>").unwrap();
    for markup in
        ["<script>globalThis", "<img src=x", "<svg onload", "<iframe", "<object", "</style><svg"]
    {
        assert!(!page.contains(markup), "{markup} in the page");
        assert!(!script.contains(markup), "{markup} in the script");
    }
    assert!(page.contains("&lt;script&gt;globalThis.ran = true&lt;/script&gt;"));
    let data = between(&html, "<script type=\"application/json\" id=\"data\">", "</script>");
    assert!(!data.contains('<'));
    let data: Value = serde_json::from_str(data).unwrap();
    let names: Vec<&str> =
        data["posts"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
    assert!(names.contains(&"<script>globalThis.ran = true</script>"), "{names:?}");
    assert!(names.contains(&"]]> & {{7*7}} </script></style><svg onload=x>"), "{names:?}");

    for name in ["brief.html", "brief.kml", "brief.gpx", "brief.txt"] {
        let text = text(&files, name);
        let turned = text.contains(['\u{200f}', '\u{61c}', '\u{202e}']);
        assert!(!turned, "{name} holds marks that turn the text");
    }
    let marks = read_kml(&files["brief.kml"]);
    assert!(marks.iter().any(|(name, _)| name.ends_with("<script>globalThis.ran = true</script>")));
    assert!(marks.iter().any(|(name, _)| name == "Aid 3 &lt;b&gt;"), "{marks:?}");
    let gpx = gpx::read(&files["brief.gpx"][..]).unwrap();
    let names: Vec<&str> = gpx.waypoints.iter().filter_map(|w| w.name.as_deref()).collect();
    assert!(names.iter().any(|name| name.ends_with("<svg onload=x>")), "{names:?}");
    for paper in ["brief-a4.pdf", "brief-letter.pdf"] {
        assert_eq!(lopdf::Document::load_mem(&files[paper]).unwrap().get_pages().len(), 2);
    }
}

/// A plan with much more than a sheet holds: two pages still, what is left out is
/// counted, and the page has all of it.
#[test]
fn a_crowd_of_posts_still_prints_on_two_pages() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    let posts: String = (0..150)
        .map(|n| {
            let (north, east) = (f64::from(n / 15), f64::from(n % 15));
            format!(
                "\n[[post]]\nname = \"Water stop of the lower town number {n}\"\nat = \"{:.4}, {:.4}\"\n",
                47.001 + north * 0.0008,
                -34.899 + east * 0.0008
            )
        })
        .collect();
    fs::write(folder.path().join("plan.toml"), format!("{PLAN}{posts}")).unwrap();
    let files = brief_in(folder.path(), &["plan.toml", "--paper", "a4"]);
    assert!(!files.contains_key("brief-letter.pdf"));
    let document = lopdf::Document::load_mem(&files["brief-a4.pdf"]).unwrap();
    assert_eq!(document.get_pages().len(), 2);
    let first: String = document.extract_text(&[1]).unwrap().split_whitespace().collect();
    assert!(first.contains("morelinesareinbrief.html"), "{first}");
    assert!(first.contains("number0"), "{first}");
    let html = text(&files, "brief.html");
    assert_eq!(html.matches("class=\"name\" data-post").count(), 152);
    // Nobody to call, no battery, no channel to fall back on: it says so.
    assert!(html.contains("The plan names nobody"));
    assert!(html.contains("not known: the plan says nothing of its batteries"));
}

/// Noise under the map, as hard to pack as any photograph: the page gives up
/// detail and stays light.
#[test]
fn a_photograph_under_the_map_leaves_the_page_light() {
    let sample = support::live::copy("ferry-lights.toml", |text| {
        text.replace("[map]\n", "[map]\ntiles = \"noise.mbtiles\"\n")
    });
    let folder = sample.folder.path();
    let (columns, rows, pixel) = (2000_usize, 1800_usize, 6.0);
    let memory = support::driver("MEM");
    let mut source = memory.create_with_band_type::<u8, _>("", columns, rows, 3).unwrap();
    source.set_spatial_ref(&gdal::spatial_ref::SpatialRef::from_epsg(3857).unwrap()).unwrap();
    // The upper left of the sample's land in the plane of web maps.
    source.set_geo_transform(&[-3_891_000.0, pixel, 0.0, 5_948_000.0, 0.0, -pixel]).unwrap();
    let mut state = 7u64;
    for band in 1..=3 {
        let noise = (0..columns * rows)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (state >> 56) as u8
            })
            .collect();
        let mut buffer = gdal::raster::Buffer::new((columns, rows), noise);
        source.rasterband(band).unwrap().write((0, 0), (columns, rows), &mut buffer).unwrap();
    }
    let driver = support::driver("MBTiles");
    let options = gdal::raster::RasterCreationOptions::from_iter(["TILE_FORMAT=PNG"]);
    let tiles = folder.join("noise.mbtiles");
    source.create_copy(&driver, &tiles, &options).unwrap().close().unwrap();
    let files = brief_in(folder, &["plan.toml", "--site", "Hotel", "--paper", "letter"]);
    let megabytes = files["brief.html"].len() as f64 / 1e6;
    assert!(megabytes < MOST_MEGABYTES, "{megabytes:.2} MB");
    let html = text(&files, "brief.html");
    let mark = "id=\"land\" alt=\"Map of the ground\" width=\"";
    let width: u32 = between(&html, mark, "\"").parse().unwrap();
    assert!((600..1500).contains(&width), "{width} pixels: was the noise there and heavy?");
}

/// A post without radio is told to hold it at the head if, and only if, the plan
/// in which everybody does so works there.
#[test]
fn a_post_without_radio_gets_advice_that_holds() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |column, _| {
        if (64..68).contains(&column) { 160.0 } else { 50.0 }
    });
    let run = |plan: &str, site: &str| -> Value {
        let output = perchline_long(folder.path(), &["brief", plan, "--site", site, "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let mut advised = 0;
    for (power, site) in
        ["20 dBm", "10 dBm", "5 dBm"].iter().flat_map(|p| [(p, "Hotel"), (p, "Silo")])
    {
        let weak = PLAN
            .replace("\"5 W\"", &format!("\"{power}\""))
            .replace("carry = \"shoulder\"", "carry = \"hip\"");
        fs::write(folder.path().join("plan.toml"), &weak).unwrap();
        let held = weak.replace("carry = \"hip\"", "carry = \"head\"");
        fs::write(folder.path().join("held.toml"), held).unwrap();
        let again = run("held.toml", site);
        let again = again["result"]["posts"].as_array().unwrap();
        for post in run("plan.toml", site)["result"]["posts"].as_array().unwrap() {
            let works = ["clear", "strong"].contains(&post["outcome"].as_str().unwrap());
            let advice: Vec<&str> =
                post["advice"].as_array().unwrap().iter().map(|a| a.as_str().unwrap()).collect();
            assert_eq!(works, advice.is_empty(), "{post}");
            let told = advice.iter().any(|a| a.contains("beside your face"));
            let held = again.iter().find(|p| p["name"] == post["name"]).unwrap();
            let helps = !works && held["advice"].as_array().unwrap().is_empty();
            assert_eq!(told, helps, "{post} {held}");
            advised += usize::from(told);
        }
    }
    assert!(advised > 0, "no post was told to hold the radio: make the case harder");
}

/// What can hurt is told where it applies: wires where the site's notes tell of them,
/// cold where the forecast is, a roof where there is one, thunder always.
#[test]
fn cautions_are_those_that_apply() {
    let care = |site: &str, change: fn(String) -> String| -> Vec<(String, String)> {
        let sample = support::live::copy("ferry-lights.toml", change);
        let arguments = ["brief", "plan.toml", "--site", site, "--json"];
        let output = perchline_long(sample.folder.path(), &arguments);
        assert!(output.status.success(), "{}", said(&output));
        let document: Value = serde_json::from_slice(&output.stdout).unwrap();
        let sections = document["result"]["crew"].as_array().unwrap().iter();
        let part =
            sections.filter(|s| s["title"] == "Take care").flat_map(|s| s["entries"].as_array());
        let text = |entry: &Value, name: &str| entry[name].as_str().unwrap().to_owned();
        part.flatten().map(|entry| (text(entry, "head"), text(entry, "body"))).collect()
    };
    let told = |care: &[(String, String)], head: &str| care.iter().any(|(h, _)| h == head);
    let cold = |care: &[(String, String)]| care.iter().any(|(_, body)| body.contains("Cold"));
    let elevator = care("Grain elevator", |text| text);
    let wires = elevator.iter().find(|(head, _)| head == "Wires at Grain elevator").unwrap();
    assert!(wires.1.starts_with("The next power line is 15 m away. "), "{wires:?}");
    assert!(wires.1.contains("north side"), "{wires:?}");
    assert!(told(&elevator, "Roof") && told(&elevator, "Thunder") && cold(&elevator));
    let warm = care("Ridge overlook", |text| {
        let (before, rest) = text.split_once("hourly = [").unwrap();
        let (_, after) = rest.split_once(']').unwrap();
        format!("{before}hourly = [{}]{after}", "\"18 °C\", ".repeat(12))
    });
    assert!(!warm.iter().any(|(head, _)| head.starts_with("Wires")), "{warm:?}");
    assert!(told(&warm, "Thunder") && !cold(&warm), "{warm:?}");
}

/// Every stretch of a route without radio is told, and where the digipeater stands.
#[test]
fn silent_stretches_and_the_digipeater_are_told() {
    let told = text(sample(), "brief.txt");
    let document: Value = serde_json::from_slice(&sample()["brief.json"]).unwrap();
    let output = perchline_long(
        tempfile::tempdir().unwrap().path(),
        &["coverage", SAMPLE, "--site", "Ridge overlook", "--json"],
    );
    let covered: Value = serde_json::from_slice(&output.stdout).unwrap();
    let gaps = covered["result"]["site"]["routes"][0]["gaps"].as_array().unwrap();
    let length = |gap: &Value| gap["to_m"].as_f64().unwrap() - gap["from_m"].as_f64().unwrap();
    let long: Vec<&Value> = gaps.iter().filter(|gap| length(gap) >= 100.0).collect();
    assert!(long.len() > 1, "{gaps:?}: make the case harder");
    let advice = document["result"]["routes"][0]["advice"][0].as_str().unwrap();
    assert_eq!(advice.matches(" from ").count(), long.len() + 1, "{advice}");
    for gap in long {
        let from = format!("from {:.2} km on", gap["from_m"].as_f64().unwrap() / 1000.0);
        assert!(advice.contains(&from), "{from}: {advice}");
    }
    assert!(told.contains("The digipeater stands on Car park."), "{told}");
    assert!(told.contains("Car park: digipeater of Packet, the best of 6 sites, the relay's left"));
}

#[test]
fn what_cannot_be_briefed_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    for (arguments, part) in [
        (&["--site", "Car parc"] as &[&str], "Did you mean \"Car park\"?"),
        (&["--channel", "Packet"], "carries position beacons"),
        (&["--channel", "Simplex"], "name a relay"),
        (&["--channel", "Rely"], "Did you mean \"Relay\"?"),
        (&["--paper", "a5"], "a4, letter, both, a3, tabloid, poster"),
    ] {
        let all: Vec<&str> =
            ["brief", SAMPLE, "--out", "out"].iter().chain(arguments).copied().collect();
        let output = perchline_long(folder.path(), &all);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(said(&output).contains(part), "{part} is not in: {}", said(&output));
        assert!(!folder.path().join("out").exists());
    }
}

#[test]
fn the_text_says_what_the_page_says() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(folder.path(), &["brief", SAMPLE, "--site", "car park"]);
    assert!(output.status.success(), "{}", said(&output));
    let told = printed(&output);
    for part in [
        "The relay stands on Car park.",
        "Whom to call",
        "555-0117",
        "If you hear nothing",
        "For the radio crew",
    ] {
        assert!(told.contains(part), "no {part} in\n{told}");
    }
    assert!(
        text(sample(), "brief.txt")
            .contains("The relay stands on Ridge overlook, the best of 6 places.")
    );
}

/// A site whose doors close before tear-down is no reserve; the crew's page says what to
/// mind on the relay's own.
#[test]
fn a_site_that_is_closed_by_then_is_no_reserve() {
    let sites = |plan: &str| {
        let folder = tempfile::tempdir().unwrap();
        write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
        fs::write(folder.path().join("plan.toml"), plan).unwrap();
        let output = perchline_long(folder.path(), &["brief", "plan.toml", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        let document: Value = serde_json::from_slice(&output.stdout).unwrap();
        let crew = document["result"]["crew"].as_array().unwrap().clone();
        let sites = crew.into_iter().find(|section| section["title"] == "Sites").unwrap();
        let entries = sites["entries"].as_array().unwrap().iter();
        entries
            .map(|e| {
                (e["head"].as_str().unwrap().to_owned(), e["body"].as_str().unwrap().to_owned())
            })
            .collect::<Vec<(String, String)>>()
    };
    let open = sites(PLAN);
    let best = open.first().unwrap().0.clone();
    let other = if best == "Hotel" { "Silo" } else { "Hotel" };
    assert!(open.iter().any(|(head, _)| *head == format!("If that fails, {other}")), "{open:?}");
    assert!(!open.iter().any(|(head, _)| head.starts_with("Mind on")), "{open:?}");
    let closed = sites(&PLAN.replace(
        "mast = \"3 m\"\n",
        "mast = \"3 m\"\nopen_until = 2026-12-05T18:00:00\nguardrail = \"0 m\"\n",
    ));
    let body = |head: &str| closed.iter().find(|(h, _)| h == head).map(|(_, body)| body.as_str());
    assert!(!closed.iter().any(|(head, _)| head.starts_with("If that fails")), "{closed:?}");
    assert!(body("No reserve").unwrap().starts_with(&format!("{other}: ")), "{closed:?}");
    let mind = body(&format!("Mind on {best}")).unwrap();
    for part in ["CLOSED at tear-down: it closes at 18:00", "on until 20:30", "No rail or parapet"]
    {
        assert!(mind.contains(part), "{part} not in {mind}");
    }
}
