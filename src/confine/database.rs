//! SQLite files: data, without programs in them.

use std::path::{Path, PathBuf};
use std::time::Instant;

use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags};

use super::reading;

/// How the file begins (SQLite's file format, section 1.3).
const MAGIC: &[u8] = b"SQLite format 3\0";

/// The most memory that SQLite may take in this whole program, bytes.
const MOST_HEAP: u64 = 256 << 20;

/// Instructions of its machine between two looks at the clock.
const STEPS: i32 = 100_000;

/// Modules of virtual tables that work on this file alone.
const MODULES: &[&str] = &["rtree"];

/// Whether bytes are the beginning of such a file.
pub fn is_database(head: &[u8]) -> bool {
    head.starts_with(MAGIC)
}

/// Opens a database as it lies on the disk, to be read: nothing is written
/// beside it, and what runs longer than a file may take is stopped.
///
/// # Errors
/// What stands against it, in words.
pub fn open(file: &Path, longest_value: usize) -> Result<Connection, String> {
    open_until(file, longest_value, Instant::now() + reading::time())
}

fn open_until(file: &Path, longest_value: usize, until: Instant) -> Result<Connection, String> {
    let at_rest = std::fs::read(beside(file, "-wal")).map_or(true, |wal| wal.is_empty())
        && std::fs::read(beside(file, "-journal")).map_or(true, |journal| journal.is_empty());
    if !at_rest {
        return Err("another program has not finished writing to it (a file ending in -wal or \
                    -journal lies beside it); close it there, or save a copy"
            .to_owned());
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let plain = |e: rusqlite::Error| e.to_string();
    let connection = Connection::open_with_flags(address(file), flags).map_err(plain)?;
    let most = i32::try_from(longest_value).unwrap_or(i32::MAX);
    connection.set_limit(Limit::SQLITE_LIMIT_LENGTH, most).map_err(plain)?;
    connection.set_limit(Limit::SQLITE_LIMIT_SQL_LENGTH, 1 << 20).map_err(plain)?;
    connection.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0).map_err(plain)?;
    connection.progress_handler(STEPS, Some(move || Instant::now() > until));
    let pragmas = format!(
        "PRAGMA trusted_schema = OFF; PRAGMA hard_heap_limit = {MOST_HEAP}; PRAGMA cell_size_check = ON;"
    );
    connection.execute_batch(&pragmas).map_err(plain)?;
    Ok(connection)
}

/// Whether everything that could be read of a database is stored in it: a view is
/// columns of one table, no column is computed, and virtual tables are indices.
///
/// # Errors
/// What is not, in words.
pub fn check(file: &Path) -> Result<(), String> {
    let connection = open(file, 64 << 20)?;
    let plain = |e: rusqlite::Error| e.to_string();
    let mut all = connection
        .prepare("SELECT type, name, coalesce(sql, '') FROM sqlite_master WHERE type IN ('table', 'view')")
        .map_err(plain)?;
    let mut rows = all.query([]).map_err(plain)?;
    while let Some(row) = rows.next().map_err(plain)? {
        let text = |at: usize| row.get::<_, String>(at).map_err(plain);
        let (kind, name, sql) = (text(0)?, text(1)?, text(2)?);
        let named = perchline_units::shown(&name);
        if kind == "view" && !is_plain_view(&sql) {
            return Err(format!(
                "its view \"{named}\" is computed when it is read; save it as a table"
            ));
        }
        if kind == "table" && is_computed(&sql) {
            return Err(format!(
                "its table \"{named}\" has columns that are computed when they are read, or is a \
                 virtual one; save it as a plain table"
            ));
        }
    }
    Ok(())
}

/// Whether a view takes columns of one table, and perhaps other names for them.
fn is_plain_view(sql: &str) -> bool {
    let Some((_, select)) = split_at_word(sql, "as") else { return false };
    let select = select.trim().trim_end_matches(';');
    let plain = |c: char| c.is_alphanumeric() || " \t\r\n,._*\"`[]$-".contains(c);
    let words: Vec<String> = select.split_ascii_whitespace().map(str::to_ascii_lowercase).collect();
    let count = |word: &str| words.iter().filter(|w| *w == word).count();
    select.chars().all(plain)
        && !select.contains("--")
        && words.first().is_some_and(|word| word == "select")
        && count("select") == 1
        && count("from") == 1
        // One table: no list of them after its name.
        && split_at_word(select, "from").is_some_and(|(_, table)| !table.contains(','))
        && ["join", "union", "with", "where", "values", "intersect", "except"]
            .iter()
            .all(|word| count(word) == 0)
}

/// A text before and after the first place of a word, whatever its letters' case.
fn split_at_word<'a>(text: &'a str, word: &str) -> Option<(&'a str, &'a str)> {
    let lower = text.to_ascii_lowercase();
    let is_edge = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric() && c != '_');
    lower.match_indices(word).find_map(|(at, _)| {
        let (before, rest) = text.split_at_checked(at)?;
        let (_, after) = rest.split_at_checked(word.len())?;
        let whole = is_edge(before.chars().next_back()) && is_edge(after.chars().next());
        whole.then_some((before, after))
    })
}

/// Whether a table's values are made as they are read.
fn is_computed(sql: &str) -> bool {
    let lower = sql.to_ascii_lowercase();
    let mut words =
        lower.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|w| !w.is_empty());
    if words.clone().any(|word| word == "generated") {
        return true;
    }
    // "AS (" makes a computed column without the longer word.
    let computed = lower.match_indices("as").any(|(at, word)| {
        let before = lower.get(..at).and_then(|text| text.chars().next_back());
        let after = lower.get(at + word.len()..).unwrap_or_default().trim_start();
        before.is_some_and(|c| !c.is_alphanumeric() && c != '_') && after.starts_with('(')
    });
    let virtual_one = words.by_ref().take(2).any(|word| word == "virtual");
    let module = split_at_word(&lower, "using").map(|(_, rest)| rest.trim_start());
    computed
        || virtual_one
            && !module.is_some_and(|module| MODULES.iter().any(|known| module.starts_with(known)))
}

fn beside(file: &Path, end: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(end);
    name.into()
}

/// The file as an address that promises that nobody changes it meanwhile, so that
/// no lock is taken and nothing written beside it.
fn address(file: &Path) -> String {
    let file = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    let escaped: String = file
        .to_string_lossy()
        .bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' | b'~' => {
                char::from(byte).to_string()
            }
            _ => format!("%{byte:02X}"),
        })
        .collect();
    format!("file:{escaped}?immutable=1")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plain_view_takes_columns_of_one_table() {
        for sql in [
            "CREATE VIEW v AS SELECT * FROM t",
            "create view \"my view\" as select fid, geom, name as title from posts;",
            "CREATE VIEW v AS\nSELECT t.fid, t.\"geom\" FROM \"t\"",
            "CREATE VIEW asx AS SELECT * FROM t",
            "CREATE VIEW my_as_view AS SELECT * FROM t",
        ] {
            assert!(is_plain_view(sql), "{sql}");
        }
        for sql in [
            "CREATE VIEW v AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM c) SELECT x FROM c",
            "CREATE VIEW v AS SELECT fid, zeroblob(1000000000) AS geom FROM t",
            "CREATE VIEW v AS SELECT * FROM a, b",
            "CREATE VIEW v AS SELECT * FROM a join b",
            "CREATE VIEW v AS SELECT * FROM t WHERE fid > 1",
            "CREATE VIEW v AS SELECT * FROM t UNION SELECT * FROM t",
            "CREATE VIEW v(a) AS VALUES (1)",
            "CREATE VIEW v",
        ] {
            assert!(!is_plain_view(sql), "{sql}");
        }
    }

    #[test]
    fn stored_tables_pass_and_computed_ones_do_not() {
        for sql in [
            "CREATE TABLE t (fid INTEGER PRIMARY KEY, geom BLOB, as_built TEXT, class TEXT DEFAULT ('a'))",
            "CREATE VIRTUAL TABLE \"rtree_t_geom\" USING rtree(id, minx, maxx, miny, maxy)",
            "CREATE TABLE t (a TEXT CHECK (alias(a)))",
            "CREATE TABLE t (a TEXT CHECK (my_as(a)))",
        ] {
            assert!(!is_computed(sql), "{sql}");
        }
        for sql in [
            "CREATE TABLE t (a, b GENERATED ALWAYS AS (zeroblob(1e9)))",
            "CREATE TABLE t (a, b AS (zeroblob(1e9)))",
            "CREATE TABLE t (a, b as(hex(a)))",
            "CREATE VIRTUAL TABLE t USING csv(filename='/etc/passwd')",
        ] {
            assert!(is_computed(sql), "{sql}");
        }
    }

    #[test]
    fn a_database_is_read_as_it_lies_and_left_so() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a b?#%.db");
        let maker = Connection::open(&file).unwrap();
        maker
            .execute_batch(
                "PRAGMA journal_mode = WAL; CREATE TABLE t (a); INSERT INTO t VALUES (7);",
            )
            .unwrap();
        assert!(open(&file, 1000).unwrap_err().contains("-wal"));
        drop(maker);
        let before = std::fs::read(&file).unwrap();
        let connection = open(&file, 1000).unwrap();
        let found: i64 = connection.query_row("SELECT a FROM t", [], |row| row.get(0)).unwrap();
        assert_eq!(found, 7);
        assert!(connection.execute("INSERT INTO t VALUES (8)", []).is_err());
        let long =
            connection.query_row("SELECT zeroblob(1001)", [], |row| row.get::<_, Vec<u8>>(0));
        assert!(long.is_err());
        drop(connection);
        assert_eq!(std::fs::read(&file).unwrap(), before);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    /// A database of these tables and views.
    fn made(folder: &tempfile::TempDir, name: &str, sql: &str) -> PathBuf {
        let file = folder.path().join(name);
        Connection::open(&file).unwrap().execute_batch(sql).unwrap();
        file
    }

    #[test]
    fn a_database_is_known_by_how_it_begins_and_stored_through_and_through() {
        let folder = tempfile::tempdir().unwrap();
        let table = "CREATE TABLE t (a);";
        let plain = made(&folder, "plain.db", &format!("{table} CREATE VIEW v AS SELECT a FROM t"));
        assert!(is_database(&std::fs::read(&plain).unwrap()));
        assert!(!is_database(b"SQLite format 2\0") && !is_database(b""));
        check(&plain).unwrap();
        for (name, sql, says) in [
            ("view.db", "CREATE VIEW v AS SELECT hex(a) FROM t", "its view \"v\" is computed"),
            ("table.db", "CREATE TABLE u (a, b AS (hex(a)))", "its table \"u\" has columns"),
        ] {
            let file = made(&folder, name, &format!("{table} {sql}"));
            let error = check(&file).unwrap_err();
            assert!(error.contains(says), "{error}");
        }
    }

    #[test]
    fn what_runs_too_long_or_takes_too_much_is_stopped() {
        let folder = tempfile::tempdir().unwrap();
        let file = made(&folder, "a.db", "CREATE TABLE t (a); INSERT INTO t VALUES (1);");
        // A million steps and more.
        let long = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c LIMIT 300000) SELECT count(*) FROM c";
        let run = |until: Instant| {
            let connection = open_until(&file, 1 << 30, until).unwrap();
            connection.query_row(long, [], |row| row.get::<_, i64>(0))
        };
        assert_eq!(run(Instant::now() + std::time::Duration::from_secs(600)), Ok(300_000));
        let stopped = run(Instant::now()).unwrap_err();
        assert_eq!(stopped.sqlite_error_code(), Some(rusqlite::ErrorCode::OperationInterrupted));
        let connection = open(&file, 1 << 30).unwrap();
        let whole = connection.query_row(long, [], |row| row.get::<_, i64>(0));
        assert_eq!(whole, Ok(300_000));
        let sum = |bytes: u64| {
            let sql = format!("SELECT length(hex(zeroblob({bytes})))");
            connection.query_row(&sql, [], |row| row.get::<_, i64>(0))
        };
        assert_eq!(sum(1 << 20), Ok(2 << 20));
        assert!(sum(MOST_HEAP).is_err());
    }
}
