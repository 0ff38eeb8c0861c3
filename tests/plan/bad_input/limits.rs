//! Every limit of the manual: the last value inside is taken, the first outside refused.

use super::*;

/// Takes the plan with `inside` in the place of `from` and refuses it with `outside`.
#[track_caller]
fn limit(from: &str, inside: &str, outside: &str) {
    if let Err(error) = read(changed(from, inside)) {
        panic!("{inside} is refused: {error}");
    }
    let error = read(changed(from, outside)).map(|_| ()).unwrap_err();
    assert_eq!(error.problems().len(), 1, "{error}");
}

#[test]
fn heights() {
    let roof = "\"30 m above ground\"";
    limit(roof, "\"150 m above ground\"", "\"150.1 m above ground\"");
    limit(roof, "\"0 m above ground\"", "\"-0.1 m above ground\"");
    limit(roof, "\"9000 m above sea\"", "\"9001 m above sea\"");
    limit(roof, "\"-500 m above sea\"", "\"-501 m above sea\"");
    let (highest, higher) = ("\"1000 m above ground\"", "\"1001 m above ground\"");
    limit(roof, &format!("{highest}\ntall = true"), &format!("{higher}\ntall = true"));
    limit("mast = \"3 m\"", "mast = \"60 m\"", "mast = \"60.1 m\"");
    limit("mast = \"3 m\"", "mast = \"0 m\"", "mast = \"-0.1 m\"");
}

#[test]
fn radios() {
    limit("\"5 W\"", "\"70 dBm\"", "\"70.1 dBm\"");
    limit("\"5 W\"", "\"-30 dBm\"", "\"-30.1 dBm\"");
    limit("\"6 dBi\"", "\"25 dBi\"", "\"25.1 dBi\"");
    limit("\"6 dBi\"", "\"-30 dBi\"", "\"-30.1 dBi\"");
    limit("\"-119 dBm\"", "\"-140 dBm\"", "\"-140.1 dBm\"");
    limit("\"-119 dBm\"", "\"-80 dBm\"", "\"-79.9 dBm\"");
    limit("\"1.5 dB\"", "\"20 dB\"", "\"20.1 dB\"");
    limit("\"1.5 dB\"", "\"0 dB\"", "\"-0.1 dB\"");
    limit("length = \"10 m\"", "length = \"500 m\"", "length = \"501 m\"");
    let cable = "type = \"RG-213\", length = \"10 m\"";
    limit(cable, "loss = \"30 dB\"", "loss = \"30.1 dB\"");
    let carry = "carry = \"head\"";
    let with = |more: &str| format!("{carry}\n{more}");
    limit(carry, &with("body_loss = \"40 dB\""), &with("body_loss = \"40.1 dB\""));
    limit(carry, &with("antenna_height = \"4 m\""), &with("antenna_height = \"4.1 m\""));
    limit(carry, &with("antenna_height = \"0.3 m\""), &with("antenna_height = \"0.2 m\""));
    let band = |from: &str, to: &str, rest: &str| {
        with(&format!("[[radio.band]]\nfrom = \"{from}\"\nto = \"{to}\"\n{rest}"))
    };
    let gain = "gain = \"0 dBi\"";
    let whole = band("25 MHz", "6 GHz", gain);
    limit(carry, &whole, &band("24.9 MHz", "6 GHz", gain));
    limit(carry, &whole, &band("25 MHz", "6.1 GHz", gain));
    limit(carry, &whole, &band("25 MHz", "6 GHz", "gain = \"25.1 dBi\""));
    limit(
        carry,
        &band("25 MHz", "6 GHz", "body_loss = \"40 dB\""),
        &band("25 MHz", "6 GHz", "body_loss = \"40.1 dB\""),
    );
}

/// Bands that contradict themselves or one another.
#[test]
fn bands_of_a_radio() {
    let carry = "carry = \"head\"";
    let band = |from: u32, to: u32, rest: &str| {
        format!("\n[[radio.band]]\nfrom = \"{from} MHz\"\nto = \"{to} MHz\"\n{rest}")
    };
    let told = |more: &str, field: &str, words: &str| {
        let error = read(MINIMAL.replacen(carry, &format!("{carry}{more}"), 1)).unwrap_err();
        let [problem] = error.problems() else { panic!("one problem: {error}") };
        assert_eq!(problem.field(), format!("radio \"hand-held\": {field}"), "{error}");
        assert!(error.to_string().contains(words), "{error}");
    };
    let gain = "gain = \"-3 dBd\"";
    told(&band(470, 430, gain), "band[0].to", "from its lowest frequency to its highest");
    told(&band(430, 430, gain), "band[0].to", "not above 430.000 MHz");
    told(&band(430, 470, ""), "band[0].from", "gain, body_loss or both");
    let twice = band(430, 470, gain) + &band(470, 480, gain);
    told(&twice, "band[1].from", "shares frequencies with the band from 430.000 MHz");
    let fixed = MINIMAL.replacen(
        "name = \"relay\"",
        "name = \"relay\"\nband = [{ from = \"430 MHz\", to = \"470 MHz\", body_loss = \"3 dB\" }]",
        1,
    );
    let error = read(fixed).unwrap_err();
    assert!(error.to_string().contains("a body loss is of a carried radio"), "{error}");

    let text = MINIMAL.replacen(
        carry,
        &format!("{carry}{}", band(430, 470, "gain = \"-3 dBd\"\nbody_loss = \"6 dB\"")),
        1,
    );
    let plan = read(text).unwrap();
    let radio = &plan.radios[0];
    let mhz = perchline::units::Megahertz::new;
    for (frequency, over_dipole) in [(429.9, -5.0), (430.0, -3.0), (470.0, -3.0), (470.1, -5.0)] {
        let found = radio.antenna_at(mhz(frequency)).gain.over_dipole().value();
        assert!((found - over_dipole).abs() < 1e-9, "{frequency}: {found}");
    }
    assert_eq!(radio.body_loss_at(mhz(446.0)), Some(perchline::units::Db::new(6.0)));
    assert_eq!(radio.body_loss_at(mhz(146.0)), radio.body_loss);
}

#[test]
fn channels() {
    limit("\"146.34 MHz\"", "\"25 MHz\"", "\"24.9 MHz\"");
    limit("\"146.34 MHz\"", "\"6 GHz\"", "\"6.1 GHz\"");
    limit("\"100.0 Hz\"", "\"60 Hz\"", "\"59.9 Hz\"");
    limit("\"100.0 Hz\"", "\"260 Hz\"", "\"260.1 Hz\"");
}

#[test]
fn prediction_and_map() {
    for (table, inside, outside) in [
        ("prediction", "k_factor = 0.5", "k_factor = 0.49"),
        ("prediction", "k_factor = 10", "k_factor = 10.1"),
        ("prediction", "delta_n = \"0 N/km\"", "delta_n = \"-1 N/km\""),
        ("prediction", "delta_n = \"120 N/km\"", "delta_n = \"121 N/km\""),
        ("prediction", "n0 = \"250 N\"", "n0 = \"249.9 N\""),
        ("prediction", "n0 = \"400 N\"", "n0 = \"400.1 N\""),
        ("prediction", "time_percent = \"1 %\"", "time_percent = \"0.9 %\""),
        ("prediction", "time_percent = \"50 %\"", "time_percent = \"50.1 %\""),
        ("prediction", "reliability = \"50 %\"", "reliability = \"49.9 %\""),
        ("prediction", "reliability = \"99.9 %\"", "reliability = \"99.95 %\""),
        ("prediction", "variability = \"20 dB\"", "variability = \"20.1 dB\""),
        ("prediction", "packet_over_sinad = \"30 dB\"", "packet_over_sinad = \"31 dB\""),
        ("prediction", "packet_over_sinad = \"-10 dB\"", "packet_over_sinad = \"-11 dB\""),
        ("prediction", "audio_quality = 3.0", "audio_quality = 3.1"),
        ("map", "cell = \"1 m\"", "cell = \"0.9 m\""),
        ("map", "cell = \"1000 m\"", "cell = \"1001 m\""),
        ("map", "margin = \"50 km\"", "margin = \"50.1 km\""),
        ("map", "margin = \"0 m\"", "margin = \"-1 m\""),
    ] {
        let with = |line: &str| format!("[{table}]\n{line}\n\n[terrain]");
        limit("[terrain]", &with(inside), &with(outside));
    }
}

#[test]
fn weights() {
    limit("weight = 2", "weight = 1e6", "weight = 1000001");
    limit("weight = 2", "weight = 1e-9", "weight = 0.0");
}

#[test]
fn places_far_from_the_others() {
    // One degree of latitude is about 111 km: 1.7 degrees are within 200 km, 1.9 not.
    limit("\"47.1234, -35.2345\"", "\"48.8234, -35.2345\"", "\"49.0234, -35.2345\"");
}

#[test]
fn what_is_odd_is_remarked() {
    let low = "\"1 m above ground\"\nmast = \"0.9 m\"";
    let roof = "\"30 m above ground\"\nmast = \"3 m\"";
    remarked(roof, low, "site \"Elevator\": mast", "only 1.9 m above the ground");
    let long = "length = \"101 m\"";
    remarked("length = \"10 m\"", long, "radio \"relay\": feed_line.length", "unusually long");
    remarked("\"5 W\"", "\"9 dBm\"", "radio \"hand-held\": power", "very little");
    remarked("2026-12-05T21:00:00", "2026-12-20T21:00:00", "event: ends", "15 days");
    let text = MINIMAL
        .replace("mast = \"3 m\"", "mast = \"3 m\"\navailable = false")
        .replace("mast = \"10 ft\"", "mast = \"10 ft\"\navailable = false");
    let plan = read(text).unwrap();
    assert!(plan.remarks.iter().any(|r| r.text.contains("nothing to rank")), "{:?}", plan.remarks);
}

#[test]
fn fields_that_only_some_entries_have() {
    refused(
        "filter_loss = \"1.5 dB\"",
        "body_loss = \"3 dB\"",
        24,
        "radio \"relay\": body_loss",
        &["carry"],
    );
    refused("weight = 2", "radio = \"relay\"", 44, "post \"Aid 2\": radio", &["antenna_height"]);
    let high = "filter_loss = \"1.5 dB\"\nantenna_height = \"6 m\"";
    let text = changed("filter_loss = \"1.5 dB\"", high);
    assert!(read(text.replace("weight = 2", "radio = \"relay\"")).is_ok());
    refused("[\"hill.asc\"]", "[\"hill.asc\", \"hill.asc\"]", 9, "terrain: files[1]", &["already"]);
    refused("\"hill.asc\"", "\"\"", 9, "terrain: files[0]", &["empty"]);
}

/// Nobody fixes more than some dozens of problems in one go; how many more there
/// are, and of what, is told in one line.
#[test]
fn of_very_many_problems_the_first_are_printed() {
    let posts: String = (0..1500)
        .map(|n| format!("\n[[post]]\nname = \"P {n}: \\\"{n}\\\"\"\nat = \"nowhere {n}\"\n"))
        .collect();
    let sites: String = (0..70)
        .map(|n| format!("\n[[site]]\nname = \"S {n}\"\nat = \"47.0, 8.0\"\nroof = \"high\"\n"))
        .collect();
    let error = read(format!("{MINIMAL}{posts}{sites}")).unwrap_err();
    assert!(error.problems().len() >= 1570, "{}", error.problems().len());
    let printed = error.to_string();
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines.len(), 41, "{printed}");
    assert!(lines.iter().all(|line| line.contains("walk.toml")), "{printed}");
    assert!(lines[0].contains(": post \"P 0: ") && lines[0].contains(": at: "), "{}", lines[0]);
    let last = lines[40];
    let more = format!("and {} more problems", error.problems().len() - 40);
    for part in [more.as_str(), "1460 of post: at", "70 of site: mast"] {
        assert!(last.contains(part), "{part} is not in: {last}");
    }
    assert!(printed.len() < 20_000, "{}", printed.len());
    // As many as are printed have no such line.
    let some: String = posts.split_inclusive("\n\n").take(40).collect();
    let error = read(format!("{MINIMAL}{some}")).unwrap_err();
    assert_eq!(error.problems().len(), error.to_string().lines().count());
}
