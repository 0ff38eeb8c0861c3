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

const STYLE: &str = "@page { size: A4 landscape; margin: 14mm }\
 body { font: 11pt sans-serif; color: #1d2433; margin: 2em }\
 h1 { font-size: 18pt; margin: 0 } p { margin: .4em 0 }\
 table { border-collapse: collapse; width: 100%; margin: 1em 0 }\
 th { text-align: left; border-bottom: 2px solid #1d2433; padding: .35em .6em }\
 td { border-bottom: 1px solid #c9cdd4; padding: .35em .6em; vertical-align: top }\
 td.number { font-variant-numeric: tabular-nums; white-space: nowrap }\
 footer { color: #5a6272; font-size: 8.5pt }";

fn sheet_html(plan: &Plan, provenance: &Provenance) -> String {
    let event = &plan.event;
    let head: String = SheetLine::COLUMNS.iter().map(|c| format!("<th>{c}</th>")).collect();
    let rows: String = sheet_lines(plan)
        .iter()
        .map(|line| {
            let cells: String = line
                .cells()
                .iter()
                .enumerate()
                .map(|(column, cell)| {
                    let class = if (2..=4).contains(&column) { " class=\"number\"" } else { "" };
                    format!("<td{class}>{}</td>", escaped(cell))
                })
                .collect();
            format!("<tr>{cells}</tr>\n")
        })
        .collect();
    let agency = event.agency.as_ref().map_or_else(String::new, |a| format!(" for {}", escaped(a)));
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{name}: channels</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{name}: channels</h1>\n<p>{from} to {to}, last radio down {down} ({zone}){agency}</p>\n<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n<p>Receive and transmit are the hand-held's. Listen before you speak; emergencies go first on every channel. {care}</p>\n<footer>{program} {version}, {made_at}; plan {digest}</footer>\n</body>\n</html>\n",
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
