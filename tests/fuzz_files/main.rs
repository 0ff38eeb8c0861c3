//! Files from a stranger by the thousand, read through the real libraries in the
//! box that the kernel keeps: rasters with side files, virtual rasters inside each
//! other, caching formats, databases with programs in them, vectors that lead
//! elsewhere.
//!
//! Each case is made from a seed and a number. One thread makes the files, another
//! reads them, shut in; a case that takes too long, dies, changes a file or calls a
//! server fails the test. `PERCHLINE_FUZZ_CASES` sets how many, `PERCHLINE_FUZZ_SEED`
//! the seed; `PERCHLINE_FUZZ_FROM` begins at a number. The number of the case at
//! work stands in `target/tmp/fuzz-files-case`.
#![cfg(target_os = "linux")]

#[path = "../support/mod.rs"]
mod support;

mod databases;
mod pieces;
mod rasters;
mod vectors;

use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::net::{TcpListener, UdpSocket};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use perchline::confine::{Room, allow_time, enter};
use perchline::plan::TerrainInputs;
use perchline::terrain::{Terrain, files_within};
use perchline::vector::{self, Wanted};

use pieces::{Pieces, Random};

/// Cases of every run of the tests.
const CASES: u64 = 10_000;
const SEED: u64 = 20_261_129;

/// How long a file may take, and after how long nobody is expected back.
const FILE_TIME: Duration = Duration::from_millis(1500);
const HUNG: Duration = Duration::from_secs(30);

/// How a file is read.
#[derive(Debug, Clone, Copy)]
enum As {
    Terrain,
    Footprints,
    Lines,
    Place,
}

/// Whether it was read, or refused in these words.
type Told = Result<(), String>;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().unwrap())
}

#[test]
fn a_file_can_do_nothing_but_be_read() {
    let (cases, seed) =
        (number("PERCHLINE_FUZZ_CASES", CASES), number("PERCHLINE_FUZZ_SEED", SEED));
    let from = number("PERCHLINE_FUZZ_FROM", 0);
    // A disk in memory, where there is one: very many files are made and removed.
    let memory = Path::new("/dev/shm");
    let scratch = || tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).unwrap();
    let (folder, outside) = (scratch(), scratch());
    let precious = outside.path().join("start-up");
    fs::write(&precious, PRECIOUS).unwrap();
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    server.set_nonblocking(true).unwrap();
    let datagrams = UdpSocket::bind("127.0.0.1:0").unwrap();
    datagrams.set_nonblocking(true).unwrap();
    let pipe = outside.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let host = server.local_addr().unwrap().to_string();
    let pieces = Pieces::make(outside.path(), folder.path(), &precious, &pipe, host);
    let kept = listed(outside.path());
    allow_time(FILE_TIME);

    let (ask, asked) = mpsc::channel::<(PathBuf, As)>();
    let (tell, told) = mpsc::channel::<Told>();
    let room = Room { read: vec![folder.path().to_owned()], ..Room::default() };
    std::thread::spawn(move || {
        let kept = enter(&room);
        tell.send(if kept.files && kept.calls { Ok(()) } else { Err(format!("{kept:?}")) })
            .unwrap();
        for (file, way) in asked {
            if tell.send(read(&file, way)).is_err() {
                break;
            }
        }
    });
    if let Err(lacking) = told.recv().unwrap() {
        support::wanted::Wanted::Box.is_missing(&format!("this kernel keeps nothing: {lacking}"));
    }
    // The box is no promise on paper: from here on this process cannot call out.
    assert!(TcpListener::bind("127.0.0.1:0").is_err());

    let mark = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz-files-case");
    let (mut read, mut refused, mut slowest) = (0u64, 0u64, (Duration::ZERO, 0));
    let mut reasons: BTreeMap<String, u64> = BTreeMap::new();
    for case in from..from + cases {
        if case % 16 == 0 {
            fs::write(&mark, format!("{seed} {case}")).unwrap();
        }
        let mut random = Random::of(seed, case);
        clear(folder.path());
        let (file, way) = match random.below(10) {
            0..6 => (rasters::make(&mut random, &pieces), As::Terrain),
            6..8 => databases::make(&mut random, &pieces),
            _ => vectors::make(&mut random, &pieces),
        };
        let before = listed(folder.path());
        let begun = Instant::now();
        ask.send((file.clone(), way)).unwrap();
        let answer = told.recv_timeout(HUNG).unwrap_or_else(|e| {
            let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz-files-kept");
            drop(fs::remove_dir_all(&kept));
            fs::create_dir_all(&kept).unwrap();
            for entry in fs::read_dir(folder.path()).unwrap().flatten() {
                if entry.file_type().unwrap().is_file() {
                    fs::copy(entry.path(), kept.join(entry.file_name())).unwrap();
                }
            }
            panic!(
                "case {case} of seed {seed}: {way:?} of {file:?} hung or died ({e}); see {kept:?}"
            )
        });
        let took = begun.elapsed();
        if took > slowest.0 {
            slowest = (took, case);
        }
        match answer {
            Ok(()) => read += 1,
            Err(words) => {
                assert!(!words.trim().is_empty(), "case {case}");
                assert!(!words.chars().any(char::is_control), "case {case}: {words:?}");
                assert!(words.len() < 4000, "case {case}: {} bytes", words.len());
                refused += 1;
                let reason = words.rsplit(": ").next().unwrap_or_default();
                let reason: String = reason.chars().take(40).collect();
                *reasons.entry(reason).or_default() += 1;
            }
        }
        assert_eq!(listed(folder.path()), before, "case {case}: inputs changed");
        if case % 8 == 0 || case + 1 == from + cases {
            assert_eq!(listed(outside.path()), kept, "by case {case}: written outside");
            assert_eq!(fs::read_to_string(&precious).unwrap(), PRECIOUS, "by case {case}");
            let nobody = |e: std::io::Error| assert_eq!(e.kind(), ErrorKind::WouldBlock, "{case}");
            nobody(server.accept().map(drop).expect_err("called a server"));
            nobody(datagrams.recv(&mut [0; 9]).map(drop).expect_err("sent a datagram"));
        }
    }
    let mut reasons: Vec<_> = reasons.into_iter().collect();
    reasons.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    for (reason, count) in reasons.iter().take(40) {
        eprintln!("{count:7} {reason}");
    }
    eprintln!("{read} read, {refused} refused, slowest {:?} (case {})", slowest.0, slowest.1);
    // Made cases are neither all good nor all bad.
    assert!(read * 20 > cases && refused * 4 > cases, "{read} read, {refused} refused");
    println!("figure hostile_files_tried {cases} files");
    if cases >= 1_000_000 {
        println!("figure hostile_files_once {cases} files");
    }
    println!("figure hostile_hangs 0 files");
    println!("figure hostile_aborts 0 files");
    println!("figure hostile_writes_outside 0 files");
}

const PRECIOUS: &str = "#!/bin/sh\n# what starts with the session\n";

fn read(file: &Path, way: As) -> Told {
    let words = |e: &dyn std::fmt::Display| e.to_string();
    match way {
        As::Terrain => {
            // As the program does before it shuts itself in.
            assert!(files_within(file).len() <= 20_001);
            let inputs = TerrainInputs {
                files: vec![file.to_owned()],
                height_unit: None,
                crs: None,
                fill_gaps: false,
                cell: None,
            };
            let terrain = Terrain::open(&inputs, support::plan_extent()).map_err(|e| words(&e))?;
            let possible = |h: &f32| h.is_nan() || (-500.0..=9000.0).contains(h);
            assert!(terrain.heights().iter().all(possible));
        }
        As::Footprints => {
            let within = geo::Rect::new((-35.0, 46.9), (-34.8, 47.1));
            vector::footprints(file, within).map_err(|e| words(&e))?;
        }
        As::Lines => drop(vector::lines(file).map_err(|e| words(&e))?),
        As::Place => {
            drop(vector::find(file, None, "Aid 1", Wanted::Point).map_err(|e| words(&e))?);
        }
    }
    Ok(())
}

fn clear(folder: &Path) {
    for entry in fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        if entry.file_type().unwrap().is_dir() {
            fs::remove_dir_all(entry.path()).unwrap();
        } else {
            fs::remove_file(entry.path()).unwrap();
        }
    }
}

/// Names, kinds, lengths and contents of what lies in a folder.
fn listed(folder: &Path) -> BTreeMap<PathBuf, (String, u32)> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let found = fs::symlink_metadata(&path).unwrap();
            let is_read = found.is_file() && found.len() < 1 << 22;
            let sum = if is_read { crc32fast::hash(&fs::read(&path).unwrap()) } else { 0 };
            (path, (format!("{:?} {}", found.file_type(), found.len()), sum))
        })
        .collect()
}
