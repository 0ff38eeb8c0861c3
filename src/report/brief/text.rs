//! The briefing as plain text, for a message or a terminal.

use perchline_plan::Plan;

use super::{Brief, Carrying, Entry};
use crate::cautions::{Caution, Output, cautions, in_brief};
use crate::screen::{Rows, Screen};

/// The briefing of this plan in lines.
#[must_use]
pub fn brief_screen(plan: &Plan, brief: &Brief) -> Screen {
    let agency =
        brief.agency.as_ref().map_or_else(String::new, |agency| format!("For {agency}.\n"));
    let missing = brief.missing.map(|line| format!("{line}\n")).unwrap_or_default();
    let head = format!(
        "{}, {}\n{}\n{}\n{agency}{missing}",
        brief.event, brief.date, brief.headline, brief.site
    );
    let contacts = brief.contacts.iter().map(|contact| {
        let role = contact.role.as_ref().map_or_else(String::new, |role| format!(" ({role})"));
        format!("  {}{role}: {}\n", contact.name, contact.reached())
    });
    let mut contacts: Vec<String> = contacts.collect();
    if contacts.is_empty() {
        contacts.push("  the plan names nobody: add [[contact]]\n".to_owned());
    }
    let posts = brief.posts.iter().map(|post| {
        format!("  {} {}: {}\n{}", post.number, post.name, post.sentence, advice(&post.advice))
    });
    let places = brief.areas.iter().chain(&brief.routes);
    let wide = places
        .map(|place| format!("  {}: {}\n{}", place.name, place.sentence, advice(&place.advice)));
    let silence = (1..).zip(&brief.silence).map(|(number, step)| format!("  {number}. {step}\n"));
    // Whom to call where a life is at risk stands at the head.
    let care = brief.care.iter().filter(|line| *line != Caution::Emergency.text());
    let care = care.map(|line| format!("  {line}\n")).collect::<String>();
    let crew = brief.crew.iter().map(|part| section(&part.title, &part.entries));
    let carried: String = brief.carrying.iter().map(carrying).collect();
    let first = brief.made.first().map(|line| format!("{line}\n")).unwrap_or_default();
    let made = brief.made.iter().map(|line| format!("{line}\n")).collect::<String>();
    Screen::new(head)
        .both(format!("\nWhom to call\n  {}\n", Caution::Emergency.text()))
        .rows(Rows::lines("", contacts, "contacts"))
        .long_only("times", section("Times", &brief.times))
        .rows(
            Rows::lines("\nPosts\n", posts.collect(), "that should work")
                .failing(brief.posts.iter().map(|post| !post.outcome.works()), "failing")
                .called("posts"),
        )
        .rows(Rows::lines("\nAreas and routes\n", wide.collect(), "areas and routes"))
        .rows(
            Rows::lines("\nIf you hear nothing\n", silence.collect(), "steps")
                .called("what to do in silence"),
        )
        .long_only("", format!("\nTake care\n{care}"))
        .short_only(format!("\n{}", in_brief(&cautions(plan, Output::Crew))))
        .long_only("the crew's page", format!("\nFor the radio crew\n{}", crew.collect::<String>()))
        .long_only("who carries what", carried)
        .both(format!("\n{}\n", brief.caveats.join(" ")))
        .short_made(first)
        .long_only("", made)
}

fn carrying(up: &Carrying) -> String {
    let people = up.people.iter().map(|carrier| {
        let trips: String = carrier.trips.iter().map(|trip| format!("    {trip}\n")).collect();
        format!("  Person {}\n{trips}", carrier.person)
    });
    format!("\nUp to {}: {}\n{}", up.station, up.sum, people.collect::<String>())
}

fn section(title: &str, entries: &[Entry]) -> String {
    let lines: String = entries.iter().map(|e| format!("  {}: {}\n", e.head, e.body)).collect();
    format!("\n{title}\n{lines}")
}

fn advice(lines: &[String]) -> String {
    lines.iter().map(|line| format!("     -> {line}\n")).collect()
}
