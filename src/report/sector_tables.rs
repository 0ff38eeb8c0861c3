//! Who uses which relay, as text.

use perchline_siting::choose::{Duty, EQUAL_WITHIN, Sectors, Wide};
use perchline_siting::demand::Kind;

use super::screen::{Rows, Screen};
use super::tables::{printed, table};
use super::words;

/// Posts with their first and reserve relays, then areas and routes.
pub(super) fn sector_screen(sectors: &Sectors) -> Screen {
    let mut out = table(
        ["Post", "Uses relay on", "Outcome", "Spots", "Margin", "Reserve", "Its spots"],
        &[3, 4, 6],
    );
    for sector in &sectors.posts {
        let must = if sector.must { " *" } else { "" };
        let cells = [format!("{}{must}", sector.post)];
        let first = duty(sector.first.as_ref(), "not known");
        let [reserve, _, spots, _] = duty(sector.reserve.as_ref(), "none");
        out.add_row(cells.into_iter().chain(first).chain([reserve, spots]));
    }
    let loads: Vec<String> =
        sectors.loads.iter().map(|load| format!("{} {}", load.site, load.posts)).collect();
    let shared = if sectors.balance {
        format!(
            "Relays within {:.0} of 100 spots count as equal: the one with fewer posts takes the post.",
            EQUAL_WITHIN * 100.0
        )
    } else {
        "Each post has the relay that serves it best (balance = true in [choose] shares them out)."
            .to_owned()
    };
    let title = "Which post uses which relay (*: must work; spots: of 100 around the post)\n";
    let works = |duty: &Duty| duty.outcome.works();
    let fails = sectors.posts.iter().map(|sector| !sector.first.as_ref().is_some_and(works));
    Screen::default()
        .rows(Rows::of(title, out, "that should work").failing(fails, "failing").called("posts"))
        .long_only(
            "how posts are shared out",
            format!("Posts a relay has: {}. {shared}\n", loads.join(", ")),
        )
        .both("\n")
        .long_only("areas and routes by relay", wide_text(sectors))
}

fn duty(duty: Option<&Duty>, nothing: &str) -> [String; 4] {
    match duty {
        Some(duty) => [
            duty.site.clone(),
            words::short(duty.outcome).to_owned(),
            words::hundredths(duty.probability),
            format!("{:+.1}", duty.governing_margin_db),
        ],
        None => [nothing.to_owned(), String::new(), String::new(), String::new()],
    }
}

fn wide_text(sectors: &Sectors) -> String {
    if sectors.wide.is_empty() {
        return String::new();
    }
    let several = sectors.loads.len() > 1;
    let names = sectors.loads.iter().map(|load| load.site.as_str());
    let header: Vec<String> = ["Area or route", "Coverage"]
        .into_iter()
        .map(str::to_owned)
        .chain(names.flat_map(|name| {
            if several { vec![format!("{name} alone"), "needed in".to_owned()] } else { vec![] }
        }))
        .chain(several.then(|| "either will do".to_owned()))
        .collect();
    let right: Vec<usize> = (1..header.len()).collect();
    let mut out = table(header, &right);
    for wide in &sectors.wide {
        let each = wide.alone.iter().zip(&wide.best_in).flat_map(|(alone, best_in)| {
            if several { vec![words::contact(*alone), words::percent(*best_in)] } else { vec![] }
        });
        let either = several.then(|| words::percent(wide.either));
        let cells = [wide_name(wide), words::contact(wide.together)].into_iter();
        out.add_row(cells.chain(each).chain(either));
    }
    let note = if several {
        "Coverage: the mean over the spots there, each with the best relay for it. Needed in: share of the spots where the others are worse by more than 1 of 100.\n"
    } else {
        "Coverage: the mean over the spots there.\n"
    };
    format!("{}\n{note}\n", printed(&out))
}

fn wide_name(wide: &Wide) -> String {
    match wide.kind {
        Kind::Route => format!("{} (route)", wide.name),
        _ => wide.name.clone(),
    }
}
