//! A good text made worse.

use super::random::Random;

/// Numbers on which arithmetic breaks.
pub const NUMBERS: &[&str] = &[
    "0",
    "-0",
    "-1",
    "1",
    "60",
    "90",
    "90.0000001",
    "-90",
    "180",
    "-180.0000001",
    "255",
    "256",
    "65535",
    "65536",
    "99999",
    "2147483647",
    "-2147483648",
    "4294967296",
    "9007199254740993",
    "9223372036854775807",
    "-9223372036854775808",
    "18446744073709551615",
    "18446744073709551616",
    "1e-400",
    "5e-324",
    "2.2250738585072014e-308",
    "1.7976931348623157e308",
    "1e308",
    "-1e308",
    "1e309",
    "1e999999999",
    "inf",
    "-inf",
    "nan",
    "NaN",
    "+1",
    "1.",
    ".5",
    "1_000",
    "0x7f",
    "0b1",
    "1e",
    "1e+",
    "--1",
    "1,5",
    "٣",
    "½",
    "−5",
    "0.1e-7",
    "123456789012345678901234567890",
    "0.00000000000000000000000000000000001",
];

/// Texts that a terminal, a page, a parser or a file system may obey.
pub const HOSTILE: &[&str] = &[
    "",
    " ",
    "\0",
    "\u{feff}",
    "\r",
    "\n",
    "\r\n",
    "\t",
    "\u{1b}[31m",
    "\u{1b}]0;x\u{7}",
    "\u{7f}",
    "\u{85}",
    "\u{200f}",
    "\u{202e}",
    "\u{2066}",
    "\u{2028}",
    "\u{e000}",
    "\u{10ffff}",
    "\u{301}",
    "e\u{301}\u{301}\u{301}",
    "ﬁ",
    "ß",
    "İ",
    "ı",
    "𝒳",
    "🏃",
    "\"",
    "\"\"",
    "'",
    "'''",
    "\"\"\"",
    "`",
    "\\",
    "\\u0000",
    "\\ud800",
    "%00",
    "%s%n",
    "../../etc/passwd",
    "/dev/null",
    "/vsizip/a",
    "/vsicurl/x",
    "<",
    ">",
    "&",
    "&amp;",
    "&#0;",
    "&#x10ffff;",
    "&lol;",
    "<!--",
    "-->",
    "]]>",
    "<![CDATA[",
    "<?xml",
    "{",
    "}",
    "[",
    "]",
    "(",
    ")",
    ",",
    ";",
    ":",
    "=",
    "#",
    "|",
    "°",
    "′",
    "″",
    "null",
    "true",
    "false",
    "[]",
    "{}",
    "{{}}",
    "${x}",
    "=1+1",
    "@SUM(A1)",
    "+1",
    "-",
    "--",
];

/// Longest case that comes of mutation, in bytes.
const LONGEST: usize = 60_000;

/// `seed` after a few changes; `others` are what it may be crossed with.
pub fn mutated(seed: &[u8], others: &[Vec<u8>], tokens: &[&str], random: &mut Random) -> Vec<u8> {
    let mut case = seed.to_vec();
    // Mostly one or two changes: more are refused for the first of them.
    let changes = 1 + [0, 0, 0, 1, 1, 2, 3, 7, 15][random.below(9)];
    for _ in 0..changes {
        change(&mut case, others, tokens, random);
        if case.len() > LONGEST {
            case.truncate(LONGEST);
        }
    }
    case
}

fn change(case: &mut Vec<u8>, others: &[Vec<u8>], tokens: &[&str], random: &mut Random) {
    match random.below(22) {
        0 => {
            if let Some(range) = stretch(case, 1, random) {
                case[range.start] ^= 1 << random.below(8);
            }
        }
        1 => {
            if let Some(range) = stretch(case, 1, random) {
                case[range.start] = random.below(256) as u8;
            }
        }
        2 => cut(case, 40, random),
        3 => cut(case, 400, random),
        4 => double(case, 60, random),
        5 => exchange_lines(case, random),
        6 => lines(case, random),
        7..=9 => put(case, random.pick(tokens).as_bytes(), random),
        10 => put(case, random.pick(HOSTILE).as_bytes(), random),
        11 => put(case, random.pick(NUMBERS).as_bytes(), random),
        12..=14 => number(case, random),
        15..=16 => quoted(case, tokens, random),
        17 => cross(case, others, random),
        18 => case.truncate(random.below(case.len() + 1)),
        19 if random.one_in(3) => nest(case, random),
        20 if random.one_in(6) => long(case, tokens, random),
        21 => bytes(case, random),
        _ => {
            let token = random.pick(tokens).as_bytes();
            over(case, token, random);
        }
    }
}

/// A stretch of at most so many bytes, one at least.
fn stretch(case: &[u8], most: usize, random: &mut Random) -> Option<std::ops::Range<usize>> {
    if case.is_empty() {
        return None;
    }
    let from = random.below(case.len());
    let to = (from + random.between(1, most)).min(case.len());
    Some(from..to)
}

fn cut(case: &mut Vec<u8>, most: usize, random: &mut Random) {
    if let Some(range) = stretch(case, most, random) {
        case.drain(range);
    }
}

fn double(case: &mut Vec<u8>, most: usize, random: &mut Random) {
    if let Some(range) = stretch(case, most, random) {
        let copy = case[range.clone()].to_vec();
        let times = if random.one_in(20) { random.between(2, 200) } else { 1 };
        case.splice(range.end..range.end, copy.repeat(times));
    }
}

fn put(case: &mut Vec<u8>, what: &[u8], random: &mut Random) {
    let at = random.below(case.len() + 1);
    case.splice(at..at, what.iter().copied());
}

fn over(case: &mut Vec<u8>, what: &[u8], random: &mut Random) {
    if let Some(range) = stretch(case, 12, random) {
        case.splice(range, what.iter().copied());
    }
}

/// Bytes that are no text in UTF-8, or that begin a file.
fn bytes(case: &mut Vec<u8>, random: &mut Random) {
    const BYTES: &[&[u8]] = &[
        b"\xff",
        b"\xfe\xff",
        b"\xff\xfe",
        b"\xc3",
        b"\xc0\xaf",
        b"\xed\xa0\x80",
        b"\xf4\x90\x80\x80",
        b"\0\0\0\0",
        b"\xef\xbb\xbf",
        b"\xe9",
        b"\xff\xff\xff\xff",
        b"\x80",
        b"\x1f\x8b",
        b"PK\x03\x04",
    ];
    let what = random.pick(BYTES);
    if random.one_in(3) {
        case.splice(0..0, what.iter().copied());
    } else {
        put(case, what, random);
    }
}

fn split_lines(case: &[u8]) -> Vec<Vec<u8>> {
    case.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect()
}

fn exchange_lines(case: &mut Vec<u8>, random: &mut Random) {
    let mut lines = split_lines(case);
    if lines.len() > 1 {
        let (one, other) = (random.below(lines.len()), random.below(lines.len()));
        lines.swap(one, other);
        *case = lines.concat();
    }
}

/// A line left out, or there twice.
fn lines(case: &mut Vec<u8>, random: &mut Random) {
    let mut lines = split_lines(case);
    if lines.is_empty() {
        return;
    }
    let at = random.below(lines.len());
    if random.one_in(2) {
        lines.remove(at);
    } else {
        let to = random.below(lines.len() + 1);
        lines.insert(to, lines[at].clone());
    }
    *case = lines.concat();
}

/// Another number in the place of one.
fn number(case: &mut Vec<u8>, random: &mut Random) {
    if case.is_empty() {
        return;
    }
    let from = random.below(case.len());
    let Some(start) = (from..case.len()).find(|at| case[*at].is_ascii_digit()) else { return };
    let length = case[start..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
    let new = match random.below(4) {
        0 => random.below(100).to_string(),
        1 => format!("{:.5}", random.number(-200.0, 200.0)),
        _ => random.pick(NUMBERS).to_owned(),
    };
    case.splice(start..start + length, new.into_bytes());
}

/// Something else inside a pair of quotes.
fn quoted(case: &mut Vec<u8>, tokens: &[&str], random: &mut Random) {
    let quotes: Vec<usize> =
        case.iter().enumerate().filter(|(_, b)| **b == b'"').map(|(at, _)| at).collect();
    if quotes.len() < 2 {
        return put(case, random.pick(tokens).as_bytes(), random);
    }
    let from = random.below(quotes.len() - 1);
    let inside = quotes[from] + 1..quotes[from + 1];
    let new = match random.below(5) {
        0 => random.pick(HOSTILE).to_owned(),
        1 => {
            let other = random.below(quotes.len() - 1);
            let other = &case[quotes[other] + 1..quotes[other + 1]];
            String::from_utf8_lossy(other).into_owned()
        }
        2 => format!("{} {}", random.pick(NUMBERS), random.pick(tokens)),
        3 => "x".repeat(random.between(70, 200)),
        _ => (random.pick(tokens)).to_owned(),
    };
    case.splice(inside, new.into_bytes());
}

/// The front of this and the back of another.
fn cross(case: &mut Vec<u8>, others: &[Vec<u8>], random: &mut Random) {
    if others.is_empty() {
        return;
    }
    let other = &others[random.below(others.len())];
    case.truncate(random.below(case.len() + 1));
    case.extend_from_slice(&other[random.below(other.len() + 1)..]);
}

/// Brackets in brackets.
fn nest(case: &mut Vec<u8>, random: &mut Random) {
    const PAIRS: &[(&str, &str)] = &[
        ("[", "]"),
        ("{", "}"),
        ("(", ")"),
        ("[[", "]]"),
        ("{\"a\":", "}"),
        ("{ a = ", " }"),
        ("<a>", "</a>"),
        ("a.", ""),
        ("\"", "\""),
    ];
    let (open, close) = random.pick(PAIRS);
    let most = random.pick(&[10, 200, 2000]);
    let deep = random.between(2, most);
    let inside = if random.one_in(2) { "1" } else { "" };
    let closed = if random.one_in(3) { String::new() } else { close.repeat(deep) };
    put(case, format!("{}{inside}{closed}", open.repeat(deep)).as_bytes(), random);
}

/// Far more of something than anybody types.
fn long(case: &mut Vec<u8>, tokens: &[&str], random: &mut Random) {
    let what = match random.below(4) {
        0 => "9",
        1 => "x",
        2 => random.pick(HOSTILE),
        _ => random.pick(tokens),
    };
    let times = random.between(100, 20_000) / what.len().max(1);
    put(case, what.repeat(times).as_bytes(), random);
}
