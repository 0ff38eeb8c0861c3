//! What a set of sites has to keep.

use super::*;

/// The minimal plan with a `[choose]` of these lines.
fn choosing(lines: &str) -> String {
    format!("{MINIMAL}\n[choose]\n{lines}\n")
}

/// One problem, on the line that holds `lines`, of this field of `[choose]`.
#[track_caller]
fn wrong(lines: &str, field: &str, parts: &[&str]) {
    let text = choosing(lines);
    let line = 1 + text.lines().position(|l| l == lines).unwrap();
    let error = read(&text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!(problem.line(), Some(line), "{error}");
    assert_eq!(problem.field(), format!("choose: {field}"), "{error}");
    for part in parts {
        assert!(problem.text().contains(part), "{part:?} is not in: {error}");
    }
}

#[test]
fn what_is_asked_is_read_and_silence_asks_nothing() {
    let silent = read(MINIMAL).unwrap();
    assert_eq!(silent.choose, plan::ChooseInputs::default());
    assert!(!silent.sites.iter().any(|site| site.locked));
    let lines = "relays = 4\nchannel = \"net\"\nlinked = true\nlocked_doors = 0\ntotal_mast = \"20 ft\"\nwhole_area = true\nbalance = true\ndigipeater = false";
    let locked = choosing(lines).replacen("mast = \"3 m\"", "mast = \"3 m\"\nlocked = true", 1);
    let plan = read(locked).unwrap();
    assert!((plan.choose.total_mast.unwrap().value() - 6.096).abs() < 1e-12);
    assert_eq!(
        plan.choose,
        plan::ChooseInputs {
            relays: 4,
            channel: Some(0),
            channels: [None; 3],
            linked: true,
            link: None,
            spare: None,
            locked_doors: Some(0),
            total_mast: plan.choose.total_mast,
            whole_area: true,
            balance: true,
            digipeater: false,
        }
    );
    assert!(plan.sites.first().unwrap().locked && !plan.sites.get(1).unwrap().locked);
}

#[test]
fn each_field_is_refused_with_what_is_allowed() {
    wrong("relays = 5", "relays", &["5 is out of range", "1 to 4"]);
    wrong("relays = 0", "relays", &["1 to 4"]);
    wrong("locked_doors = -1", "locked_doors", &["0 to 100"]);
    wrong("total_mast = \"-1 m\"", "total_mast", &["0 to 4000 m"]);
    wrong("total_mast = 9", "total_mast", &["m"]);
    wrong("channel = \"Nett\"", "channel", &["not a channel of this plan", "Did you mean \"Net\""]);
    wrong("linkd = true", "linkd", &["there is no such field", "Did you mean \"link"]);
    let simplex = "\n[[channel]]\nname = \"Side\"\nkind = \"simplex\"\nfrequency = \"146.5 MHz\"\ncarried = \"hand-held\"\n";
    let error = read(choosing("channel = \"Side\"") + simplex).unwrap_err();
    assert!(error.to_string().contains("\"Side\" has no relay"), "{error}");
}

/// The radios between roofs, and where a spare relay lies.
#[test]
fn links_of_their_own_and_a_spare_are_read_or_refused() {
    let lines = "linked = true\nlink = { radio = \"relay\", frequency = \"446.05 MHz\" }\nspare = \"hotel\"";
    let plan = read(choosing(lines)).unwrap();
    let link = plan.choose.link.unwrap();
    assert_eq!((link.radio, link.frequency), (1, perchline::units::Megahertz::new(446.05)));
    assert_eq!(plan.choose.spare, Some(plan::SpareRelay::OnSite(1)));
    assert_eq!(plan.spare_relay().unwrap().0, "Hotel");
    let plan = read(choosing("spare = \"Aid 2\"")).unwrap();
    assert_eq!(plan.choose.spare, Some(plan::SpareRelay::AtPost(1)));

    wrong("spare = \"Hotell\"", "spare", &["no post or site \"Hotell\""]);
    let link = |radio: &str| format!("link = {{ radio = \"{radio}\", frequency = \"446 MHz\" }}");
    let plan = read(choosing(&link("relay"))).unwrap();
    assert!(plan.remarks.iter().any(|r| r.text.contains("linked = true")), "{:?}", plan.remarks);
    let refused = |radio: &str, parts: &[&str]| {
        let error = read(choosing(&format!("linked = true\n{}", link(radio)))).unwrap_err();
        let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
        assert_eq!(problem.field(), "choose: link.radio", "{error}");
        parts.iter().for_each(|part| assert!(problem.text().contains(part), "{error}"));
    };
    refused("hand-held", &["carried by a person", "without carry"]);
    refused("cross-link", &["not a radio of this plan"]);
    let apart = "linked = true\nlink = { radio = \"relay\", frequency = \"446 MHz\", along = \"13 ft\", above = \"3 m\" }";
    let link = read(choosing(apart)).unwrap().choose.link.unwrap();
    assert!((link.along.unwrap().value() - 3.9624).abs() < 1e-12);
    assert_eq!(link.above, Some(perchline::units::Metres::new(3.0)));
    let far = "linked = true\nlink = { radio = \"relay\", frequency = \"9 GHz\" }";
    assert!(read(choosing(far)).unwrap_err().to_string().contains("link.frequency"));
}

/// A relay channel to add, on this pair.
fn relay(name: &str, input: &str, output: &str) -> String {
    format!(
        "\n[[channel]]\nname = \"{name}\"\nkind = \"relay\"\ninput = \"{input} MHz\"\noutput = \"{output} MHz\"\nstation = \"relay\"\ncarried = \"hand-held\"\n"
    )
}

/// Channels for the other relays, by their names; the first relay's pair is 146.34 and
/// 146.94 MHz.
#[test]
fn channels_of_their_own_are_read_and_differ_in_both_frequencies() {
    let second = relay("Second", "147.60", "147.00");
    let plan = read(choosing("channels = [\"second\"]") + &second).unwrap();
    assert_eq!(plan.choose.channels, [Some(1), None, None]);

    let refused = |lines: &str, more: &str, field: &str, parts: &[&str]| {
        let error = read(choosing(lines) + more).unwrap_err();
        let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
        assert_eq!(problem.field(), format!("choose: {field}"), "{error}");
        parts
            .iter()
            .for_each(|part| assert!(problem.text().contains(part), "{part:?} not in {error}"));
    };
    let one = "channels = [\"Second\"]";
    let same = relay("Second", "147.60", "146.94");
    refused(one, &same, "channels", &["\"Net\" and \"Second\"", "differ in both"]);
    let crossed = relay("Second", "146.94", "147.60");
    refused(one, &crossed, "channels", &["receives where the other transmits"]);
    refused("channels = [\"Net\"]", "", "channels", &["named for two relays"]);
    refused("channels = [\"Nett\"]", "", "channels[0]", &["not a channel of this plan"]);
    refused(
        "relays = 3\nchannels = [\"Second\"]",
        &second,
        "channels",
        &["3 relays need 2 channels", "1 stand"],
    );
    refused(
        "linked = true\nchannels = [\"Second\"]",
        &second,
        "channels",
        &["do not hear each other", "link ="],
    );
    let four = "channels = [\"Second\", \"Second\", \"Second\", \"Second\"]";
    refused(four, &second, "channels", &["4 channels stand here", "3 beside"]);
    let linked = "linked = true\nchannels = [\"Second\"]\nlink = { radio = \"relay\", frequency = \"446 MHz\" }";
    assert!(read(choosing(linked) + &second).unwrap().choose.link.is_some());
}
