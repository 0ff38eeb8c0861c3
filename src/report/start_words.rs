//! What is said of a plan that was begun: the answer first, then what to do.

use perchline_start::Told;
use perchline_units::listed;

/// A few lines for a terminal.
#[must_use]
pub fn start_text(told: &Told) -> String {
    let sites = match (told.sites, told.suggested_sites) {
        (0, 0) => "no site".to_owned(),
        (0, suggested) => format!("{suggested} suggested {}", plural(suggested, "site")),
        (given, _) => counted(given, "site"),
    };
    let holds = [
        counted(told.posts, "post"),
        counted(told.routes, "route"),
        counted(told.areas, "area"),
        sites,
    ];
    let mut text = format!(
        "wrote {}: \"{}\", {}\ntime zone {}, units {}\n",
        listed(&told.plan),
        told.event,
        holds.join(", "),
        told.time_zone,
        told.units
    );
    if told.elevation.files.is_empty() {
        text += "elevation: none. Make the folder terrain beside the plan and put into it: ";
        text += told.elevation.missing.as_deref().unwrap_or_default();
        text += "; docs/data.md says who publishes it\n";
    } else {
        text += &format!("elevation: {}\n", listed(&told.elevation.files.join(", ")));
        if let Some(missing) = &told.elevation.missing {
            text += &format!("elevation of a part of the map is missing: {missing}\n");
        }
    }
    for note in &told.notes {
        text += &format!("note: {note}\n");
    }
    text += "to set in the plan (SET marks the places):\n";
    for what in &told.to_set {
        text += &format!("  {what}\n");
    }
    let plan = shell(&told.plan);
    text += "next:\n";
    for (command, does) in NEXT {
        text += &format!("  perchline {command} {plan}\n      {does}\n");
    }
    text
}

/// What to do with a first plan, and what for.
const NEXT: [(&str, &str); 5] = [
    ("check", "what of the plan does not fit together"),
    ("live", "move posts and sites on a map, fill in the rest"),
    ("search", "more places for the relay than the plan lists"),
    ("rank", "the sites of the plan, best first"),
    ("ready", "whether to go"),
];

fn counted(count: usize, what: &str) -> String {
    match count {
        0 => format!("no {what}"),
        count => format!("{count} {}", plural(count, what)),
    }
}

fn plural(count: usize, what: &str) -> String {
    if count == 1 { what.to_owned() } else { format!("{what}s") }
}

/// A path as a shell takes it.
fn shell(path: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/._-+:@".contains(c);
    if path.chars().all(plain) {
        path.to_owned()
    } else {
        format!("'{}'", path.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_typed_as_shells_take_them() {
        assert_eq!(shell("lauf/plan.toml"), "lauf/plan.toml");
        assert_eq!(shell("a b/plan.toml"), "'a b/plan.toml'");
        assert_eq!(shell("it's/plan.toml"), "'it'\\''s/plan.toml'");
    }

    #[test]
    fn nothing_is_counted_in_words() {
        assert_eq!(counted(0, "post"), "no post");
        assert_eq!(counted(1, "post"), "1 post");
        assert_eq!(counted(16, "post"), "16 posts");
    }
}
