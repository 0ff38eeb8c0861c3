//! The channel sheet: who talks where, on one page to print and as CSV.

use perchline_plan::{Bandwidth, Channel, Plan, Service};

use super::cautions::{Caution, Output, cautions};
use super::outputs::{OutboxSlot, OutputError};
use super::{Provenance, words};

/// What the sheet is made from.
#[derive(Debug, Clone, Copy)]
pub struct ChannelSheet<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes it as a page of HTML that prints on one sheet of paper.
pub(super) fn write_html(
    content: &ChannelSheet<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(sheet_html(content.plan, content.provenance).as_bytes())
}

/// Writes it as CSV (RFC 4180).
pub(super) fn write_csv(
    content: &ChannelSheet<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(sheet_csv(content.plan).as_bytes())
}

/// One line of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetLine {
    /// What it is for.
    pub function: String,
    /// The channel's name.
    pub channel: String,
    /// Where a hand-held listens, MHz.
    pub receive: String,
    /// Where a hand-held transmits, MHz.
    pub transmit: String,
    /// Access tone on transmit.
    pub tone: String,
    /// Modulation and width.
    pub mode: String,
    /// Who uses it.
    pub users: String,
}

impl SheetLine {
    /// The sheet's columns.
    pub const COLUMNS: [&'static str; 7] =
        ["Function", "Channel", "Receive MHz", "Transmit MHz", "Tone", "Mode", "Who"];

    fn cells(&self) -> [&str; 7] {
        [
            &self.function,
            &self.channel,
            &self.receive,
            &self.transmit,
            &self.tone,
            &self.mode,
            &self.users,
        ]
    }
}

/// The lines of a plan's sheet, in its order.
#[must_use]
pub fn sheet_lines(plan: &Plan) -> Vec<SheetLine> {
    plan.channels.iter().map(|channel| line(plan, channel)).collect()
}

fn line(plan: &Plan, channel: &Channel) -> SheetLine {
    let (receive, transmit, kind) = match channel.service {
        Service::Relay { input, output, .. } => (output, input, "Voice through the relay"),
        Service::Simplex { frequency } => (frequency, frequency, "Voice, radio to radio"),
        Service::Packet { frequency, .. } => (frequency, frequency, "Position beacons"),
    };
    let bandwidth = plan.radios.get(channel.carried).map(|r| r.bandwidth);
    let width = match bandwidth {
        Some(Bandwidth::Narrow) => "FM 12.5 kHz",
        Some(Bandwidth::Wide) => "FM 25 kHz",
        None => "FM",
    };
    let mode = match channel.service {
        Service::Packet { .. } => format!("{width}, packet"),
        _ => width.to_owned(),
    };
    SheetLine {
        function: channel.function.clone().unwrap_or_else(|| kind.to_owned()),
        channel: channel.name.clone(),
        receive: words::megahertz(receive),
        transmit: words::megahertz(transmit),
        tone: channel.tone.map_or_else(|| "none".to_owned(), |tone| format!("{tone:.1} Hz")),
        mode,
        users: channel.users.clone().unwrap_or_default(),
    }
}

fn sheet_csv(plan: &Plan) -> String {
    let row = |cells: &[&str]| {
        cells.iter().map(|cell| csv_cell(cell)).collect::<Vec<_>>().join(",") + "\r\n"
    };
    let mut text = row(&SheetLine::COLUMNS);
    for line in sheet_lines(plan) {
        text += &row(&line.cells());
    }
    text
}

/// A cell in quotes where it needs them. A cell that a spreadsheet would take
/// for a formula gets an apostrophe in front.
fn csv_cell(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@']);
    let text = if formula { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\r', '\n']) || formula {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

/// On a screen the page follows the system into the night; on a narrow one each channel
/// is a block with its name large, for a row of seven columns runs off to the right.
const STYLE: &str = "@page { size: A4 landscape; margin: 14mm }\
 :root { --ink: #1d2433; --quiet: #5a6272; --line: #c9cdd4; --paper: #fff; color-scheme: light }\
 body { font: 11pt sans-serif; color: var(--ink); background: var(--paper); margin: 2em }\
 h1 { font-size: 18pt; margin: 0 } p { margin: .4em 0 }\
 table { border-collapse: collapse; width: 100%; margin: 1em 0 }\
 th { text-align: left; border-bottom: 2px solid var(--ink); padding: .35em .6em }\
 td { border-bottom: 1px solid var(--line); padding: .35em .6em; vertical-align: top }\
 td.number { font-variant-numeric: tabular-nums; white-space: nowrap }\
 footer { color: var(--quiet); font-size: 8.5pt }\
 @media screen and (prefers-color-scheme: dark) {\
 :root { --ink: #e8eaf0; --quiet: #b9bfcc; --line: #5a6272; --paper: #12151d; color-scheme: dark } }\
 @media screen and (max-width: 48em) {\
 html { -webkit-text-size-adjust: 100% }\
 body { margin: 1em; font-size: 1.0625rem; line-height: 1.4; overflow-wrap: anywhere }\
 h1 { font-size: 1.4rem; line-height: 1.2 } footer { font-size: .85rem }\
 table, tbody { display: block } thead { position: absolute; left: -9999px }\
 tr { display: flex; flex-direction: column; border-top: 3px solid var(--ink); padding: .5em 0 }\
 td { display: flex; gap: .8rem; align-items: baseline; border: 0; padding: .12rem 0 }\
 td::before { content: attr(data-head); flex: 0 0 7.6rem; font-size: 1rem; font-weight: 400; color: var(--quiet) }\
 td.name { order: -1; font-size: 1.5rem; font-weight: 700 } td.name::before { content: none }\
 td.number { font-weight: 700; font-size: 1.15rem } td:empty { display: none } }";

/// What each column is to the style: the channel's name stands first in a block, and
/// frequencies and tones are numbers.
const CLASSES: [&str; 7] = ["", "name", "number", "number", "number", "", ""];

fn sheet_html(plan: &Plan, provenance: &Provenance) -> String {
    let event = &plan.event;
    // Roles, for a browser takes the table for none where it stands in blocks.
    let head: String = SheetLine::COLUMNS
        .iter()
        .map(|column| format!("<th role=\"columnheader\" scope=\"col\">{column}</th>"))
        .collect();
    let rows: String = sheet_lines(plan)
        .iter()
        .map(|line| {
            let cells: String = line
                .cells()
                .iter()
                .zip(SheetLine::COLUMNS.iter().zip(CLASSES))
                .map(|(cell, (head, class))| {
                    let cell = escaped(cell);
                    format!("<td role=\"cell\" class=\"{class}\" data-head=\"{head}\">{cell}</td>")
                })
                .collect();
            format!("<tr role=\"row\">{cells}</tr>\n")
        })
        .collect();
    let agency = event.agency.as_ref().map_or_else(String::new, |a| format!(" for {}", escaped(a)));
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{name}: channels</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{name}: channels</h1>\n<p>{from} to {to}, last radio down {down} ({zone}){agency}</p>\n<table role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">{head}</tr></thead>\n<tbody role=\"rowgroup\">\n{rows}</tbody>\n</table>\n<p>Receive and transmit are the hand-held's. Listen before you speak; emergencies go first on every channel. {care}</p>\n<footer>{program} {version}, {made_at}; plan {digest}</footer>\n</body>\n</html>\n",
        name = escaped(&event.name),
        from = event.starts.strftime("%A %d %B %Y, %H:%M"),
        to = event.ends.strftime("%H:%M"),
        down = event.tear_down.strftime("%H:%M"),
        zone = escaped(event.starts.time_zone().iana_name().unwrap_or("fixed offset")),
        care = cautions(plan, Output::Channels)
            .into_iter()
            .map(Caution::said)
            .collect::<Vec<_>>()
            .join(" "),
        program = provenance.program,
        version = provenance.version,
        made_at = escaped(&provenance.made_at),
        digest = plan.sha256.chars().take(12).collect::<String>(),
    )
}

/// Text that is safe inside HTML.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe += "&amp;",
            '<' => safe += "&lt;",
            '>' => safe += "&gt;",
            '"' => safe += "&quot;",
            '\'' => safe += "&#39;",
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_and_formulas_stay_text() {
        assert_eq!(
            escaped("<b>\"A\" & 'B'</b>"),
            "&lt;b&gt;&quot;A&quot; &amp; &#39;B&#39;&lt;/b&gt;"
        );
        assert_eq!(csv_cell("plain"), "plain");
        assert_eq!(csv_cell("a, \"b\""), "\"a, \"\"b\"\"\"");
        assert_eq!(csv_cell("=1+1"), "\"'=1+1\"");
    }
}
