//! Bundles the scripts and styles of the pages, with the map library that the
//! lock file pins, into `OUT_DIR`; the library embeds what comes out.

#![allow(clippy::print_stdout, reason = "what a build script prints is read by cargo")]

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// The pages: each a script of this name, which names its style sheet.
const PAGES: [&str; 2] = ["brief", "live"];

fn main() {
    if let Err(problem) = bundle() {
        // What `cargo` shows of a build script that fails.
        eprintln!("The pages could not be bundled: {problem}");
        std::process::exit(1);
    }
}

fn bundle() -> Result<(), String> {
    let here = PathBuf::from(".");
    println!("cargo:rerun-if-changed={}", here.display());
    let out = env::var("OUT_DIR").map_err(|e| format!("OUT_DIR: {e}"))?;
    let work = Path::new(&out).join("pages");
    fs::create_dir_all(&work).map_err(|e| format!("{}: {e}", work.display()))?;
    for entry in fs::read_dir(&here).map_err(|e| format!("{}: {e}", here.display()))? {
        let from = entry.map_err(|e| format!("{}: {e}", here.display()))?.path();
        if let Some(name) = from.file_name().filter(|_| from.is_file()) {
            fs::copy(&from, work.join(name)).map_err(|e| format!("{}: {e}", from.display()))?;
        }
    }
    if !fetched(&work) {
        run("npm", &["ci", "--ignore-scripts", "--no-audit", "--no-fund"], &work)?;
        let mark = work.join(FETCHED);
        fs::copy(work.join(LOCK), &mark).map_err(|e| format!("{}: {e}", mark.display()))?;
    }
    let esbuild = work.join("node_modules/.bin/esbuild");
    let scripts = PAGES.map(|page| format!("{page}.js"));
    let mut arguments: Vec<&str> = scripts.iter().map(String::as_str).collect();
    arguments.extend([
        "--bundle",
        "--minify",
        "--charset=utf8",
        "--legal-comments=eof",
        "--target=es2020",
        "--loader:.png=dataurl",
        "--outdir=bundled",
    ]);
    run(&esbuild.to_string_lossy(), &arguments, &work)
}

const LOCK: &str = "package-lock.json";
/// A copy of the lock file whose packages lie in `node_modules`.
const FETCHED: &str = "fetched-lock.json";

/// Whether the packages that the lock file pins lie there already.
fn fetched(work: &Path) -> bool {
    match (fs::read(work.join(LOCK)), fs::read(work.join(FETCHED))) {
        (Ok(wanted), Ok(there)) => wanted == there,
        _ => false,
    }
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> Result<(), String> {
    let done = Command::new(program).args(arguments).current_dir(folder).output().map_err(|e| {
        format!("{program} does not start ({e}); it comes with Node.js: `make system` installs it")
    })?;
    if done.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&done.stderr);
    Err(format!("{program} {} failed:\n{said}", arguments.join(" ")))
}
