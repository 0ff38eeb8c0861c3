//! Who calls whom, so that words get to net control.

use perchline_siting::direct::{Call, Way, WordsWay};

use super::Entry;

/// Who calls whom, those with the shortest way first; posts with the same way
/// together. `said` is the channel that everybody is on if nothing is said; nothing
/// where every call names its own.
pub(crate) fn entries(ways: &[WordsWay], said: Option<&str>) -> Vec<Entry> {
    let mut groups: Vec<(&WordsWay, Vec<&str>)> = Vec::new();
    for way in ways {
        let alike = |(known, _): &&mut (&WordsWay, Vec<&str>)| {
            known.way == way.way && known.calls == way.calls
        };
        match groups.iter_mut().find(alike) {
            Some((_, posts)) => posts.push(&way.post),
            None => groups.push((way, vec![&way.post])),
        }
    }
    groups.sort_by_key(|(way, _)| (way.way, way.calls.len()));
    groups
        .into_iter()
        .map(|(way, posts)| Entry::new(format!("{}:", posts.join(", ")), called(way, said)))
        .collect()
}

/// Whom to call, in a sentence.
fn called(way: &WordsWay, said: Option<&str>) -> String {
    let call = calls(&way.calls, said);
    match way.way {
        Way::Works => format!("{call}."),
        Way::Patchy => format!("{call}. Patchy: move, try again."),
        Way::Nothing => "no radio path, send somebody.".to_owned(),
    }
}

/// The calls one after the other; channels are named where one is not `said`, once
/// where all are the same.
pub(crate) fn calls(calls: &[Call], said: Option<&str>) -> String {
    let first = calls.first().map(|call| call.channel.as_str());
    let alike = calls.iter().all(|call| Some(call.channel.as_str()) == first);
    match first {
        Some(channel) if alike && first != said => {
            format!("on {channel}, {}", one_after_the_other(calls, first))
        }
        _ => one_after_the_other(calls, said),
    }
}

fn one_after_the_other(calls: &[Call], said: Option<&str>) -> String {
    let named = calls.iter().any(|call| Some(call.channel.as_str()) != said);
    let on = |call: &Call| if named { format!(" on {}", call.channel) } else { String::new() };
    match calls {
        [] => String::new(),
        [only] => format!("call {}{}", only.post, on(only)),
        [one, control] => {
            format!("call {}{}, who relays to {}{}", one.post, on(one), control.post, on(control))
        }
        [one, between @ .., control] => {
            let between: Vec<String> =
                between.iter().map(|call| format!("{}{}", call.post, on(call))).collect();
            format!(
                "call {}{}, who relays through {} to {}{}",
                one.post,
                on(one),
                between.join(", "),
                control.post,
                on(control)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn way(post: &str, way: Way, calls: &[(&str, &str)]) -> WordsWay {
        let call = |(post, channel): &(&str, &str)| Call {
            post: (*post).to_owned(),
            channel: (*channel).to_owned(),
        };
        let calls = calls.iter().map(call).collect();
        WordsWay { post: post.to_owned(), way, calls, weakest_db: None }
    }

    #[test]
    fn channels_are_named_where_they_change() {
        let ways = [
            way("Aid 3", Way::Nothing, &[]),
            way("First aid", Way::Patchy, &[("Tent", "Medical"), ("Net Control", "Simplex")]),
            way("Aid 1", Way::Works, &[("Net Control", "Simplex")]),
            way("Aid 2", Way::Works, &[("Net Control", "Simplex")]),
            way("Aid 4", Way::Works, &[("A", "Simplex"), ("B", "Simplex"), ("Net", "Simplex")]),
        ];
        let said: Vec<String> = entries(&ways, Some("Simplex"))
            .iter()
            .map(|e| format!("{} {}", e.head, e.body))
            .collect();
        assert_eq!(
            said,
            [
                "Aid 1, Aid 2: call Net Control.",
                "Aid 4: call A, who relays through B to Net.",
                "First aid: call Tent on Medical, who relays to Net Control on Simplex. \
                 Patchy: move, try again.",
                "Aid 3: no radio path, send somebody.",
            ]
        );
        let named = &entries(&ways[2..3], None)[0];
        assert_eq!(named.body, "on Simplex, call Net Control.");
    }
}
