//! The briefing as one file of HTML that loads nothing: pictures, style and
//! script are inside, and a policy forbids it to reach out.

mod data;
mod legend;
pub(crate) mod policy;
mod spots;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::ReportError;
use crate::cautions::Caution;
use crate::map::MapContent;
use crate::outputs::{OutboxSlot, OutputError};
use crate::route_strip::{Routes, StripPicture, for_page};
use perchline_link::Outcome;
use perchline_pages as pages;

use super::picture::Pictures;
use super::{Brief, BriefContent, Carrying, ContactLine, Entry, PlaceLine, PostLine, Section};

/// Writes the page.
pub(crate) fn write_page(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let pictures = Pictures::of(content.map)?;
    slot.bytes(page(content.brief, &pictures, content.map)?.as_bytes())
}

/// Pixels across a drawing of a route: a phone's width at two pixels a point.
const STRIP_WIDTH: u32 = 720;

/// The page.
///
/// # Errors
/// [`ReportError`] when a picture cannot be packed.
fn page(brief: &Brief, pictures: &Pictures, map: &MapContent<'_>) -> Result<String, ReportError> {
    let (script, style) = (pages::BRIEF.script, pages::BRIEF.style);
    let legend = legend::legend(brief, pictures)?;
    let data = data::data(brief, pictures, map.coverage)?;
    let strips = for_page(&Routes::from(map), STRIP_WIDTH)?;
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy::policy(script, style));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (brief.event) ": radio briefing" }
                style { (PreEscaped(style)) }
            }
            body {
                a class="skip" href="#posts" { "Skip to the posts" }
                header class="top" {
                    h1 { (brief.event) }
                    p class="when" {
                        (brief.date)
                        @if let Some(agency) = &brief.agency { " · " (agency) }
                    }
                    p class="headline" { (brief.headline) }
                    @if let Some(line) = brief.missing { p class="caveat" { (line) } }
                    p { strong { (Caution::Emergency.text()) } }
                    p { (brief.site) }
                }
                main {
                    (my_post(brief))
                    section class="map" aria-labelledby="map" {
                        h2 id="map" { "Where radio should work" }
                        div id="here" class="here" hidden {}
                        div id="answer" class="answer" role="status" hidden {}
                        div id="live" class="live" {}
                        div id="switches" class="switches" {}
                        figure id="still" class="still" {
                            div class="stack" {
                                @for (id, alt, png) in pictures.stack() {
                                    img id=(id) alt=(alt) width=(pictures.size.0)
                                        height=(pictures.size.1) src=(data_url(png));
                                }
                            }
                            @if let Some(said) = pictures.unnamed() { figcaption class="note" { (said) } }
                            @if let Some(told) = pictures.grid() { figcaption class="note" { (told) "." } }
                        }
                        (legend)
                    }
                    section class="posts" aria-labelledby="posts" {
                        h2 id="posts" tabindex="-1" { "Posts, areas and routes" }
                        (lists(brief, pictures))
                    }
                    @if !strips.is_empty() {
                        section class="strips" aria-labelledby="strips" {
                            h2 id="strips" { "Along the routes" }
                            @for strip in &strips { (route(strip)) }
                        }
                    }
                    section class="call" aria-labelledby="call" {
                        h2 id="call" { "Whom to call" }
                        (contacts(&brief.contacts))
                    }
                    section class="times" aria-labelledby="times" {
                        h2 id="times" { "Times" }
                        (entries(&brief.times))
                    }
                    section class="silence" aria-labelledby="silence" {
                        h2 id="silence" { "If you hear nothing" }
                        ol { @for step in &brief.silence { li { (step) } } }
                        h3 { "Take care" }
                        ul { @for line in &brief.care { li { (line) } } }
                        p class="caveat" { (brief.caveats.join(" ")) }
                    }
                    section class="crew" aria-labelledby="crew" {
                        h2 id="crew" { "For the radio crew" }
                        @for up in &brief.carrying { (carried(up)) }
                        div class="columns" {
                            @for section in &brief.crew { (crew(section)) }
                        }
                        div class="made" { @for line in &brief.made { p { (line) } } }
                    }
                }
                script type="application/json" id="data" { (PreEscaped(data)) }
                script { (PreEscaped(script)) }
            }
        }
    };
    Ok(markup.into_string())
}

/// A route from end to end: the drawing, and below it what its numbers are.
fn route(strip: &StripPicture) -> Markup {
    html! {
        figure {
            img alt={ (strip.words.name) ": " (strip.words.headline) }
                width=(strip.size.0) height=(strip.size.1)
                src=(strip.address());
            figcaption {
                p { strong { (strip.words.headline) "." } }
                ul { @for gap in &strip.words.gaps { li { (gap) } } }
                @if let Some(pace) = &strip.words.pace { p class="note" { (pace) } }
                @if !strip.words.posts.is_empty() {
                    details {
                        summary { "Posts on the way" }
                        ul { @for post in &strip.words.posts { li { (post) } } }
                    }
                }
            }
        }
    }
}

/// Where somebody finds their own post at once; the script fills and shows it.
fn my_post(brief: &Brief) -> Markup {
    html! {
        section id="mine" class="mine" aria-labelledby="mine-head" hidden {
            h2 id="mine-head" { label for="post" { "My post" } }
            select id="post" {
                option value="" { "Choose your post" }
                @for post in &brief.posts {
                    option value=(post.number) { (post.number) " " (post.name) }
                }
            }
            div id="mine-told" role="status" {}
        }
    }
}

/// What does not work first; what should is one line with a count, and opens. It is open
/// for whoever runs no scripts.
fn lists(brief: &Brief, pictures: &Pictures) -> Markup {
    let (works, fails): (Vec<&PostLine>, Vec<&PostLine>) =
        brief.posts.iter().partition(|post| post.outcome.works());
    let (all_over, partly): (Vec<&PlaceLine>, Vec<&PlaceLine>) =
        brief.areas.iter().chain(&brief.routes).partition(|place| place.works);
    html! {
        @if !fails.is_empty() {
            h3 { "Do not count on radio here" }
            ul class="lines" { @for post in &fails { (post_line(post, pictures)) } }
        }
        @if !partly.is_empty() {
            h3 { "Areas and routes with gaps" }
            ul class="lines" { @for place in &partly { (place_line(place)) } }
        }
        @if !works.is_empty() {
            details open {
                summary {
                    h3 {
                        (counted(works.len(), "post", "posts"))
                        " where radio should work; nobody has walked it"
                    }
                }
                ul class="lines" { @for post in &works { (post_line(post, pictures)) } }
            }
        }
        @if !all_over.is_empty() {
            details open {
                summary {
                    h3 {
                        (counted(all_over.len(), "area or route", "areas and routes"))
                        " where radio should work all over"
                    }
                }
                ul class="lines" { @for place in &all_over { (place_line(place)) } }
            }
        }
    }
}

/// So many of a thing.
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn contacts(lines: &[ContactLine]) -> Markup {
    html! {
        @if lines.is_empty() {
            p class="blank" { "The plan names nobody. Write a name and a number here:" }
        } @else {
            ul {
                @for line in lines {
                    li {
                        strong { (line.name) }
                        @if let Some(role) = &line.role { ", for " (lower(role)) }
                        ": "
                        @if let Some(phone) = &line.phone {
                            a href={ "tel:" (dialled(phone)) } { (phone) }
                        }
                        @if let Some(channel) = &line.channel {
                            @if line.phone.is_some() { " or " }
                            "radio channel " (channel)
                        }
                        "."
                        @if let Some(note) = &line.note { " " (note) "." }
                    }
                }
            }
        }
    }
}

/// The number without what people write between the digits.
fn dialled(phone: &str) -> String {
    phone.chars().filter(|c| c.is_ascii_digit() || "+*#".contains(*c)).collect()
}

/// The first letter small, for the middle of a sentence.
fn lower(text: &str) -> String {
    super::lower(text)
}

fn entries(entries: &[Entry]) -> Markup {
    html! {
        dl { @for entry in entries { div { dt { (entry.head) } dd { (entry.body) } } } }
    }
}

fn post_line(post: &PostLine, pictures: &Pictures) -> Markup {
    html! {
        li class=[(!post.outcome.works()).then_some("fails")] {
            @if let Some(mark) = pictures.mark(post.outcome) {
                img class="mark" alt="" src=(mark);
            }
            div {
                p {
                    span class="name" data-post=(post.number) {
                        b { (post.number) } " " (post.name)
                    }
                    @if post.must { " " span class="must" { "must work" } }
                }
                p { (post.sentence) }
                @for line in &post.advice { p class="advice" { (line) } }
            }
        }
    }
}

fn place_line(place: &PlaceLine) -> Markup {
    html! {
        li class=[(!place.works).then_some("partly")] {
            div {
                p { strong { (place.name) } ": " (place.sentence) }
                @for line in &place.advice { p class="advice" { (line) } }
            }
        }
    }
}

/// Who carries what up to a station: a block for each person.
fn carried(up: &Carrying) -> Markup {
    html! {
        section class="carried" {
            h3 { "Up to " (up.station) ": who carries what" }
            p { (up.sum) }
            @if !up.people.is_empty() {
                div class="people" {
                    @for carrier in &up.people {
                        div {
                            h4 { "Person " (carrier.person) }
                            ul { @for trip in &carrier.trips { li { (trip) } } }
                        }
                    }
                }
            }
            @for caution in &up.care { p class="note" { (caution) } }
        }
    }
}

fn crew(section: &Section) -> Markup {
    html! {
        section {
            h3 { (section.title) }
            (entries(&section.entries))
        }
    }
}

/// Bytes of a picture inside an address.
fn data_url(png: &[u8]) -> String {
    super::picture::data_url("image/png", png)
}

/// Classes that the page's legend tells of.
pub(super) const fn shown(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "Should work all around",
        Outcome::Clear => "Should work nearly all around",
        Outcome::Patchy => "May work in some spots: move and try again",
        Outcome::OneWay => "One hears, the other does not",
        Outcome::NoContact => "Should not be counted on",
        Outcome::Unknown => "Not known",
    }
}
