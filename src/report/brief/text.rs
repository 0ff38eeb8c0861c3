//! The briefing as plain text, for a message or a terminal.

use super::{Brief, Entry};
use crate::cautions::Caution;

/// The briefing in lines.
#[must_use]
pub fn brief_text(brief: &Brief) -> String {
    let mut text = format!("{}\n{}", brief.event, brief.date);
    if let Some(agency) = &brief.agency {
        text += &format!(", {agency}");
    }
    text += &format!("\n\n{}\n{}\n", brief.headline, brief.site);
    text += &brief.missing.map(|line| format!("{line}\n")).unwrap_or_default();
    text += &format!("\nWhom to call\n  {}\n", Caution::Emergency.text());
    for contact in &brief.contacts {
        let role = contact.role.as_ref().map_or_else(String::new, |role| format!(" ({role})"));
        text += &format!("  {}{role}: {}\n", contact.name, contact.reached());
    }
    if brief.contacts.is_empty() {
        text += "  the plan names nobody: add [[contact]]\n";
    }
    text += &section("Times", &brief.times);
    text += "\nPosts\n";
    for post in &brief.posts {
        text += &format!("  {} {}: {}\n", post.number, post.name, post.sentence);
        text += &advice(&post.advice);
    }
    if !(brief.areas.is_empty() && brief.routes.is_empty()) {
        text += "\nAreas and routes\n";
    }
    for place in brief.areas.iter().chain(&brief.routes) {
        text += &format!("  {}: {}\n", place.name, place.sentence);
        text += &advice(&place.advice);
    }
    text += "\nIf you hear nothing\n";
    for (number, step) in (1..).zip(&brief.silence) {
        text += &format!("  {number}. {step}\n");
    }
    text += "\nTake care\n";
    text += &brief.care.iter().map(|line| format!("  {line}\n")).collect::<String>();
    text += "\nFor the radio crew\n";
    for part in &brief.crew {
        text += &section(&part.title, &part.entries);
    }
    text += &format!("\n{}\n", brief.caveats.join(" "));
    for line in &brief.made {
        text += &format!("{line}\n");
    }
    text
}

fn section(title: &str, entries: &[Entry]) -> String {
    let lines: String = entries.iter().map(|e| format!("  {}: {}\n", e.head, e.body)).collect();
    format!("\n{title}\n{lines}")
}

fn advice(lines: &[String]) -> String {
    lines.iter().map(|line| format!("     -> {line}\n")).collect()
}
