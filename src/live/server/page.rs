//! The page itself: everything that stands still on it.

use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

use crate::desk::LONGEST_NAME;
use perchline_link::Outcome;
use perchline_pages::LIVE;
use perchline_report::cautions::IN_A_LINE;
use perchline_report::palette::{SERVED_BY, base, hex, pattern_colour};
use perchline_report::{layers, words};

/// The head of a page with this title and these style sheets.
pub(super) fn head(title: &str, styles: &[&str]) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (title) }
            @for style in styles {
                link rel="stylesheet" href=(style);
            }
            link rel="icon" href="data:,";
        }
    }
}

/// The page; what changes on it comes from `state`.
pub(super) async fn page() -> Response {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head("Perchline: the plan at hand", &["live.css"]))
            body {
                a class="skip" href="#tools" { "Past the map to the plan" }
                noscript { p class="bar" { "This page needs JavaScript." } }
                header class="bar" {
                    h1 id="event" { "…" }
                    p id="file" {}
                    div class="buttons" {
                        button type="button" id="undo" { "Undo" }
                        button type="button" id="redo" { "Redo" }
                        button type="button" id="save" { "Save the plan" }
                        button type="button" id="save-as" aria-expanded="false" aria-controls="save-as-form" { "Save as…" }
                        a id="sheet" class="button" href="map.png" download="coverage.png" { "Map to print" }
                        select id="screen" aria-label="Screen" {
                            option value="system" { "Screen: as the system" }
                            option value="day" { "Screen: day" }
                            option value="night" { "Screen: night" }
                            option value="red" { "Screen: night, red" }
                        }
                    }
                    form id="save-as-form" class="asked" hidden {
                        label { "Name of the new file, beside the plan" input id="save-as-name" maxlength="105" autocomplete="off" spellcheck="false"; }
                        button type="submit" { "Save" }
                        button type="button" id="save-as-cancel" { "Cancel" }
                    }
                }
                div id="alerts" role="alert" {}
                div id="offers" role="alert" {}
                main {
                    section class="ground" aria-label="Map" {
                        (drawing())
                        div id="map" role="application" aria-label="Map. Arrow keys move it, plus and minus zoom. Tab goes from mark to mark; arrow keys then move the mark, F2 renames it, Delete removes it." {}
                        div id="here" class="value" hidden {}
                        (hours())
                        (strips())
                        p id="progress" role="status" { "Reading the plan." }
                    }
                    div id="tools" class="tools" tabindex="-1" { (tools()) }
                }
                section id="path" class="path" aria-label="Path to a point" hidden {
                    div class="buttons" {
                        h2 id="path-title" {}
                        button type="button" id="path-close" { "Close" }
                    }
                    img id="path-picture" alt="";
                    details {
                        summary { "The same as text" }
                        pre id="path-text" tabindex="0" {}
                    }
                }
                script src="live.js" {}
            }
        }
    };
    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], page.into_string()).into_response()
}

/// What adds to the plan.
fn drawing() -> Markup {
    html! {
        div class="draw" role="group" aria-label="Add to the plan" {
            span { "Add:" }
            @for (kind, word) in [("post", "Post"), ("site", "Site"), ("area", "Area"), ("route", "Route")] {
                button type="button" data-add=(kind) aria-pressed="false" { (word) }
            }
            button type="button" id="draw-file" { "From a file…" }
            input type="file" id="draw-file-input" accept=".gpx,.kml,.geojson,.json,.csv" aria-label="File of a route or places" hidden;
            form id="draw-form" class="asked" hidden {
                label { span id="draw-label" { "Name" } input id="draw-name" maxlength="80" autocomplete="off"; }
                button type="submit" { "Add" }
                button type="button" id="draw-cancel" { "Cancel" }
            }
            div id="draw-ask" {}
            div id="shape-bar" class="asked" role="group" aria-label="Points of a shape" hidden {}
        }
        p id="said" class="said" role="status" { "Add posts, sites, areas and routes here, or drop a file of them onto the map: GPX, KML, GeoJSON or CSV." }
        div id="found" class="found" role="region" aria-label="What the file holds" hidden {}
    }
}

/// The time from set-up to tear-down, under the map; what holds then stands beside it.
fn hours() -> Markup {
    html! {
        div class="hours" role="group" aria-label="Time" {
            button type="button" id="hours-on" aria-pressed="false" aria-controls="moment" { "Through the day" }
            div id="hours-slide" hidden {
                input id="hours-at" type="range" min="0" max="0" step="1" value="0" aria-label="Time, from set-up to tear-down";
                output id="hours-time" for="hours-at" {}
            }
        }
    }
}

/// What holds at the time that is chosen.
fn moment() -> Markup {
    html! {
        section id="moment" aria-label="At the chosen time" hidden {
            h2 id="moment-time" {}
            p id="moment-happens" {}
            p id="moment-headline" class="headline" role="status" {}
            p id="moment-air" {}
            @for (id, title) in [
                ("stations", "Relays and digipeaters"),
                ("people", "People"),
                ("routes", "Routes"),
                ("sites", "Sites"),
            ] {
                div id={ "moment-" (id) } hidden { h3 { (title) } ul class="now" {} }
            }
            details {
                summary { "What is not known" }
                ul id="moment-not-known" class="now" {}
            }
            p id="moment-how" class="hint" {}
        }
    }
}

/// The routes from end to end, under the map: the answer in a line, the rest when opened.
fn strips() -> Markup {
    html! {
        details id="strips" class="strips" hidden {
            summary { strong { "Along the routes: " } span id="strips-headline" {} }
            p id="strips-state" class="hint" role="status" {}
            div id="strips-told" {}
        }
    }
}

/// Several sites at once: which, how, and what the colours are.
fn together() -> Markup {
    html! {
        fieldset id="together-how" {
            legend { "Sites on the map" }
            @for (how, words) in [
                ("", "The one above"),
                ("best", "Several: the best that any of them gives"),
                ("count", "Several: how many serve a spot"),
            ] {
                label { input type="radio" name="together" value=(how) checked[how.is_empty()]; " " (words) }
            }
        }
        div id="together" hidden {
            p id="together-said" role="status" {}
            ul id="together-rows" class="legend" {}
            fieldset { legend id="together-legend" { "Which sites" } div id="together-sites" class="ticks" {} }
            p class="hint" { "Each site by itself, as if the others were off: relays on one frequency that are on together disturb each other. Posts, lists and routes are those of the site above." }
        }
    }
}

fn tools() -> Markup {
    html! {
        (moment())
        section {
            h2 { "What you see" }
            div class="fields" {
                label { span { span id="station-word" { "Station" } " on" } select id="site" {} }
                label { "Channel" select id="channel" {} }
            }
            p id="opening" class="hint" {}
            p id="headline" class="headline" {}
            p id="missed" class="missed" {}
            p id="share" {}
            (together())
        }
        section {
            h2 { "How to read the map" }
            ul id="classes" class="legend" {
                @for outcome in Outcome::ALL {
                    li { span class={ "patch " (words::id(outcome)) } {} (words::meaning(outcome)) }
                }
            }
            fieldset {
                legend { "Show" }
                label { input type="checkbox" id="show-coverage" checked; " Coverage" }
                label { input type="checkbox" id="show-lines" checked; span id="lines-word" { " Contours, roads, houses" } }
                label { input type="checkbox" id="show-names" checked; " Names" }
                label { input type="checkbox" id="show-here" checked; " Value under the pointer" }
            }
            p class="hint" { "Predictions, not measurements: test the relay from the posts before the start. " (IN_A_LINE) }
        }
        section {
            h2 { "Change it" }
            p class="hint" { "Drag a site or a post on the map, or type here as in the plan." }
            div class="fields" {
                label { "Mast over the roof" input id="mast" autocomplete="off" spellcheck="false"; }
                label { span { span id="station-radio" { "Station" } " sends" } input id="station-power" autocomplete="off" spellcheck="false"; }
                label { span { span id="carried-radio" { "Radio" } " sends" } input id="carried-power" autocomplete="off" spellcheck="false"; }
                label { "It is worn"
                    select id="carry" {
                        option value="head" { "at the head" }
                        option value="shoulder" { "at the shoulder" }
                        option value="hip" { "on the hip" }
                    }
                }
                label { "Propagation method" select id="method" {} }
            }
            p id="access" class="hint" {}
        }
        section id="forms" {
            h2 { "Every field" }
            p class="hint" { "Type as in the plan. Enter or leaving a field takes it; Esc brings back what stands." }
            div class="fields" {
                label { "Table" select id="form-table" {} }
                label id="form-entry-label" { span id="form-entry-word" { "Entry" } select id="form-entry" {} }
            }
            div id="form-actions" class="actions" {}
            div id="form" {}
        }
        section {
            h2 { "Keep and compare" }
            form id="keep" class="row" {
                label { "Name" input id="keep-name" maxlength=(LONGEST_NAME) autocomplete="off"; }
                button type="submit" { "Keep this state" }
            }
            ul id="variants" class="variants" {}
            div id="compare" hidden {
                div class="fields" {
                    label { "Compare with" select id="compare-with" {} }
                    label { "Show"
                        select id="compare-how" {
                            option value="" { "this state alone" }
                            option value="swipe" { "both, side by side" }
                            option value="difference" { "what changes" }
                        }
                    }
                }
                label id="swipe-label" hidden { "Border between the two"
                    input id="swipe" type="range" min="0" max="100" value="50";
                }
                p id="swipe-words" class="hint" hidden {}
                ul id="difference-legend" class="legend" hidden {
                    li { span class="patch gained" {} "works in this state alone" }
                    li { span class="patch lost" {} "works in the other alone" }
                    li { span class="patch both" {} "works in both" }
                    li { span class="patch neither" {} "works in neither" }
                }
            }
        }
        section {
            h2 { "Posts" }
            ul id="posts" class="places" {}
            h3 id="shapes-title" { "Areas and routes" }
            ul id="shapes" class="shapes" {}
        }
        section {
            h2 { "Sites" }
            ul id="sites" class="places" {}
        }
        section id="check-section" {
            h2 id="check-title" { "What to check" }
            ul id="check" class="check" {}
        }
    }
}

/// Its script.
pub(super) async fn script() -> Response {
    let kind = [(header::CONTENT_TYPE, "text/javascript; charset=utf-8")];
    (kind, LIVE.script).into_response()
}

/// Its style sheet, after the colours of every map.
pub(super) async fn style() -> Response {
    let kind = [(header::CONTENT_TYPE, "text/css; charset=utf-8")];
    (kind, format!(":root {{ {} }}\n{}", colours(), LIVE.style)).into_response()
}

/// The colours of the classes, of their patterns and of what changes.
fn colours() -> String {
    let classes = Outcome::ALL.into_iter().flat_map(|outcome| {
        let name = format!("class-{}", words::id(outcome));
        let mark = pattern_colour(outcome).map(|mark| (format!("{name}-mark"), mark));
        [Some((name, base(outcome))), mark].into_iter().flatten()
    });
    let changes = [
        ("gained", layers::GAINED),
        ("lost", layers::LOST),
        ("lost-stripe", layers::LOST_STRIPE),
        ("both", layers::BOTH),
        ("neither", layers::NEITHER),
    ];
    classes
        .chain(changes.map(|(name, colour)| (name.to_owned(), colour)))
        .chain(
            SERVED_BY
                .iter()
                .enumerate()
                .map(|(sites, colour)| (format!("served-{sites}"), *colour)),
        )
        .map(|(name, colour)| format!("--{name}: {};", hex(colour)))
        .collect::<Vec<_>>()
        .join(" ")
}
