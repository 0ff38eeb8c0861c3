//! Each bad input of a plan is refused with its file, line and field.

use std::path::PathBuf;

use perchline::plan::{self, MAX_PLAN_BYTES, Plan, PlanError};

const MINIMAL: &str = include_str!("plans/minimal.toml");
const HILL: &str = include_str!("plans/hill.asc");
const METHODS: &[&str] = &["delta-bullington", "free-space"];

/// A folder with an elevation file and a plan of this text.
fn folder(text: impl AsRef<[u8]>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("hill.asc"), HILL).unwrap();
    let path = folder.path().join("walk.toml");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

fn read(text: impl AsRef<[u8]>) -> Result<Plan, PlanError> {
    let (_folder, path) = folder(text);
    plan::read(&path, METHODS)
}

/// The minimal plan with one passage changed, which must be in it.
fn changed(from: &str, to: &str) -> String {
    assert!(MINIMAL.contains(from), "{from} is not in the plan");
    MINIMAL.replacen(from, to, 1)
}

/// Asserts that the changed plan has exactly one problem, on this line and field,
/// whose text holds every one of `parts`.
#[track_caller]
fn refused(from: &str, to: &str, line: usize, field: &str, parts: &[&str]) {
    let error = read(changed(from, to)).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(line), field), "{error}");
    for part in parts {
        assert!(problem.text().contains(part), "{part:?} is not in: {error}");
    }
}

/// Asserts that the changed plan is accepted with a remark.
#[track_caller]
fn remarked(from: &str, to: &str, about: &str, part: &str) {
    let plan = read(changed(from, to)).unwrap();
    let found = plan.remarks.iter().any(|r| r.about == about && r.text.contains(part));
    assert!(found, "{:?}", plan.remarks);
}

#[test]
fn the_minimal_plan_is_good() {
    let plan = read(MINIMAL).unwrap();
    assert_eq!(plan.remarks, []);
    assert_eq!(plan.prediction.method, "delta-bullington");
    assert_eq!(
        (plan.posts.len(), plan.areas.len(), plan.routes.len(), plan.sites.len()),
        (2, 1, 1, 2)
    );
    // -5 dBd is -2.85 dBi; 0.25 uV across 50 ohm is -119.03 dBm; 10 ft is 3.048 m.
    let hand_held = plan.radios.first().unwrap();
    assert!((hand_held.antenna.gain.value() + 2.85).abs() < 1e-9);
    assert!((hand_held.sensitivity.value() + 119.0309).abs() < 1e-3);
    assert!((hand_held.power.value() - 36.9897).abs() < 1e-3);
    assert!((plan.sites.last().unwrap().mast.value() - 3.048).abs() < 1e-12);
    assert_eq!(plan.event.starts.to_string(), "2026-12-05T17:30:00-02:00[Etc/GMT+2]");
    assert_eq!(plan.event.tear_down, plan.event.ends);
    assert_eq!(plan.extent_points().count(), 2 + 2 + 4 + 2);
    assert_eq!(plan.sha256.len(), 64);
}

mod file {
    use super::*;

    #[test]
    fn a_missing_file() {
        let error = plan::read("no/such/plan.toml".as_ref(), METHODS).unwrap_err();
        assert!(error.to_string().starts_with("no/such/plan.toml: there is no such file"));
    }

    #[test]
    fn a_folder() {
        let (folder, _) = folder("");
        let error = plan::read(folder.path(), METHODS).unwrap_err();
        assert!(error.to_string().contains("this is a folder"));
    }

    #[test]
    fn an_empty_plan_says_what_is_needed() {
        for text in ["", "\n# only a comment\n", "\u{feff}"] {
            let text = read(text).unwrap_err().to_string();
            for part in ["[event]", "[[radio]]", "[[site]]", "ferry-lights.toml"] {
                assert!(text.contains(part), "{text}");
            }
        }
    }

    #[test]
    fn a_plan_of_ten_megabytes() {
        let mut text = MINIMAL.to_owned();
        text.push_str(&"# filler\n".repeat(10 * 1024 * 1024 / 9));
        let error = read(&text).unwrap_err().to_string();
        assert!(error.contains("10.0 MiB") && error.contains("4 MiB"), "{error}");
    }

    #[test]
    fn the_limit_itself_is_allowed() {
        let mut text = MINIMAL.to_owned();
        text.push('#');
        text.push_str(&"x".repeat(MAX_PLAN_BYTES as usize - text.len()));
        assert!(read(&text).is_ok());
        text.push('x');
        assert!(read(&text).is_err());
    }

    #[test]
    fn bytes_that_are_no_utf_8() {
        let mut bytes = b"[event]\nname = \"".to_vec();
        bytes.extend([0xe9, b'"', b'\n']);
        let error = read(bytes).unwrap_err();
        assert_eq!(error.problems()[0].line(), Some(2));
        assert!(error.to_string().contains("walk.toml:2: a plan is text in UTF-8"), "{error}");
    }

    #[test]
    fn a_mark_of_byte_order_is_no_matter() {
        assert!(read(format!("\u{feff}{MINIMAL}")).is_ok());
    }

    #[test]
    fn windows_line_ends_are_no_matter() {
        let text = changed("weight = 2", "weight = -2").replace('\n', "\r\n");
        assert_eq!(read(text).unwrap_err().problems()[0].line(), Some(44));
    }

    #[test]
    fn a_slip_of_toml() {
        refused("power = \"5 W\"", "power = = \"5 W\"", 13, "", &["not TOML"]);
    }

    #[test]
    fn every_problem_is_told_in_the_order_of_lines() {
        let text = changed("mast = \"3 m\"", "mast = \"3\"")
            .replace("weight = 2", "weight = nan")
            .replace("power = \"5 W\"", "power = \"-5 W\"");
        let error = read(text).unwrap_err();
        let lines: Vec<_> = error.problems().iter().map(|p| p.line().unwrap()).collect();
        assert_eq!(lines, [13, 44, 63]);
        let printed = error.to_string();
        assert_eq!(printed.lines().count(), 3);
        assert!(printed.contains("walk.toml:13: radio \"hand-held\": power: "), "{printed}");
    }
}

mod tables {
    use super::*;

    #[test]
    fn an_unknown_field() {
        refused(
            "mast = \"3 m\"",
            "mast = \"3 m\"\nmastt = 3",
            64,
            "site \"Elevator\": mastt",
            &["no such field", "Did you mean \"mast\"?"],
        );
    }

    #[test]
    fn an_unknown_field_inside_a_field() {
        refused(
            "pattern = \"dipole\"",
            "patern = \"dipole\"",
            14,
            "radio \"hand-held\": antenna.patern",
            &["gain, pattern", "Did you mean \"pattern\"?"],
        );
    }

    #[test]
    fn an_unknown_table() {
        refused(
            "[terrain]",
            "[terain]\n[terrain]",
            8,
            "\"terain\"",
            &["Did you mean \"terrain\"?"],
        );
    }

    #[test]
    fn a_missing_field() {
        refused("at = \"47.1234, -35.2345\"\n", "", 37, "post \"Aid 1\": at", &["is missing"]);
    }

    #[test]
    fn every_slip_in_one_table_is_told() {
        let text = changed("power = \"5 W\"", "power = true")
            .replacen("pattern = \"dipole\"", "patern = \"dipole\"", 1)
            .replacen("carry = \"head\"", "carry = 3\ncary = \"hip\"", 1)
            .replacen("sensitivity = \"0.25 uV\"\n", "", 1);
        let error = read(text).unwrap_err();
        let told: Vec<_> =
            error.problems().iter().map(|p| (p.line().unwrap(), p.field())).collect();
        let hand_held = "radio \"hand-held\"";
        let expected = [
            (11, "sensitivity"),
            (13, "power"),
            (14, "antenna.patern"),
            (16, "carry"),
            (17, "cary"),
        ]
        .map(|(line, field)| (line, format!("{hand_held}: {field}")));
        assert_eq!(
            told,
            expected.each_ref().map(|(line, field)| (*line, field.as_str())),
            "{error}"
        );
    }

    #[test]
    fn a_field_inside_a_field_is_missing() {
        refused(
            ", pattern = \"dipole\"",
            "",
            14,
            "radio \"hand-held\": antenna.pattern",
            &["missing"],
        );
    }

    #[test]
    fn single_brackets_for_a_list() {
        refused("[[route]]", "[route]", 55, "route", &["[[route]]"]);
    }

    #[test]
    fn double_brackets_for_one_table() {
        refused("[terrain]", "[[terrain]]", 8, "terrain", &["[terrain]"]);
    }

    #[test]
    fn no_sites_and_no_posts() {
        let (before, _) = MINIMAL.split_once("[[site]]").unwrap();
        let error = read(before).unwrap_err().to_string();
        assert!(error.contains("at least one [[site]]"), "{error}");
        let without = MINIMAL.split_once("[[post]]").unwrap().0.to_owned()
            + "[[area]]"
            + MINIMAL.split_once("[[area]]").unwrap().1;
        let error = read(&without).unwrap_err().to_string();
        assert!(error.contains("at least one [[post]]"), "{error}");
        let error = read(format!("post = []\n{without}")).unwrap_err();
        let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
        assert_eq!((problem.line(), problem.field()), (Some(1), "post"));
    }

    #[test]
    fn text_where_a_switch_is_needed() {
        refused("must = true", "must = \"yes\"", 45, "post \"Aid 2\": must", &["true or false"]);
    }
}

mod names {
    use super::*;

    #[test]
    fn a_name_twice_letter_case_aside() {
        refused(
            "\"Aid 2\"",
            "\"AID 1\"",
            42,
            "post \"AID 1\": name",
            &["already the name of post \"Aid 1\" in line 38"],
        );
    }

    #[test]
    fn posts_sites_areas_and_routes_share_their_names() {
        refused("\"Hotel\"", "\"walk\"", 66, "site \"walk\": name", &["route \"Walk\" in line 56"]);
    }

    #[test]
    fn a_radio_twice() {
        let text = changed("name = \"relay\"", "name = \"Hand-Held\"");
        let error =
            read(text.replace("station = \"relay\"", "station = \"Hand-Held\"")).unwrap_err();
        let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
        assert_eq!((problem.line(), problem.field()), (Some(20), "radio \"Hand-Held\": name"));
        assert!(problem.text().contains("in line 12"), "{error}");
    }

    #[test]
    fn an_empty_name() {
        refused("\"Aid 1\"", "\" \"", 38, "post \" \": name", &["empty"]);
    }

    #[test]
    fn a_long_name() {
        let long = format!("\"{}\"", "x".repeat(81));
        let error = read(changed("\"Aid 1\"", &long)).unwrap_err();
        assert_eq!(error.problems()[0].line(), Some(38));
        assert!(error.to_string().contains("81 characters"), "{error}");
        assert!(read(changed("\"Aid 1\"", &format!("\"{}\"", "x".repeat(80)))).is_ok());
    }

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        for bad in ["a\\u001b[31mb", "a\\nb", "a\\u202eb"] {
            let error = read(changed("\"Aid 1\"", &format!("\"{bad}\""))).unwrap_err();
            assert_eq!(error.problems()[0].line(), Some(38));
            let printed = error.to_string();
            assert!(printed.contains("control character"), "{printed}");
            assert!(!printed.contains(['\u{1b}', '\u{202e}']), "{printed:?}");
        }
    }

    #[test]
    fn html_and_path_separators_come_through_unchanged() {
        for name in ["<script>alert(1)</script>", "../../etc/passwd", "a\\\\b", "R&D \\\"north\\\""]
        {
            let plan = read(changed("\"Aid 1\"", &format!("\"{name}\""))).unwrap();
            let meant = name.replace("\\\\", "\\").replace("\\\"", "\"");
            assert_eq!(plan.posts[0].name, meant);
        }
    }

    #[test]
    fn a_radio_that_is_not_in_the_plan() {
        refused(
            "weight = 2",
            "radio = \"handheld\"",
            44,
            "post \"Aid 2\": radio",
            &[
                "\"handheld\" is not a radio of this plan; the radios are \"hand-held\", \"relay\"",
                "Did you mean \"hand-held\"?",
            ],
        );
        refused(
            "station = \"relay\"",
            "station = \"repeater\"",
            34,
            "channel \"Net\": station",
            &["not a radio"],
        );
    }
}

mod radios {
    use super::*;

    #[test]
    fn negative_and_zero_power() {
        for power in ["-5 W", "0 W"] {
            let to = format!("power = \"{power}\"");
            refused("power = \"5 W\"", &to, 13, "radio \"hand-held\": power", &["above zero"]);
        }
    }

    #[test]
    fn a_bare_number() {
        refused(
            "power = \"5 W\"",
            "power = 5",
            13,
            "radio \"hand-held\": power",
            &["5 is a bare number", "W, dBm", "\"5 W\""],
        );
        refused("mast = \"3 m\"", "mast = 3.5", 63, "site \"Elevator\": mast", &["3.5", "m, ft"]);
    }

    #[test]
    fn a_unit_is_missing_or_foreign() {
        refused("\"5 W\"", "\"5\"", 13, "radio \"hand-held\": power", &["no unit"]);
        refused("\"5 W\"", "\"5 V\"", 13, "radio \"hand-held\": power", &["W, dBm"]);
        refused("\"5 W\"", "\"five W\"", 13, "radio \"hand-held\": power", &["number"]);
    }

    #[test]
    fn not_a_number_and_infinity() {
        for power in ["nan", "inf", "-inf"] {
            let to = format!("power = {power}");
            refused("power = \"5 W\"", &to, 13, "radio \"hand-held\": power", &["bare number"]);
        }
        refused("\"5 W\"", "\"NaN W\"", 13, "radio \"hand-held\": power", &["number"]);
        refused("\"5 W\"", "\"1e999 W\"", 13, "radio \"hand-held\": power", &["number"]);
    }

    #[test]
    fn much_power_is_questioned() {
        remarked("\"5 W\"", "\"500 W\"", "radio \"hand-held\": power", "500 W is a lot");
        refused("\"5 W\"", "\"50000 W\"", 13, "radio \"hand-held\": power", &["out of range"]);
    }

    #[test]
    fn gain_out_of_range() {
        refused("\"6 dBi\"", "\"26 dBi\"", 22, "radio \"relay\": antenna.gain", &["-30 to 25 dBi"]);
        refused("\"6 dBi\"", "\"6 dB\"", 22, "radio \"relay\": antenna.gain", &["dBi, dBd"]);
    }

    #[test]
    fn an_unknown_pattern() {
        refused(
            "\"collinear\"",
            "\"colinear\"",
            22,
            "radio \"relay\": antenna.pattern",
            &["Did you mean \"collinear\"?"],
        );
    }

    #[test]
    fn sensitivity_out_of_range() {
        // A level in uV typed as dBm, and a forgotten minus.
        for bad in ["0.25 dBm", "119 dBm", "-150 dBm", "250 uV", "0 uV"] {
            let error = read(changed("\"-119 dBm\"", &format!("\"{bad}\""))).unwrap_err();
            let problem = &error.problems()[0];
            assert_eq!(
                (problem.line(), problem.field()),
                (Some(25), "radio \"relay\": sensitivity")
            );
        }
    }

    #[test]
    fn an_unknown_cable_lists_those_that_are_known() {
        refused("RG-213", "RG-999", 23, "radio \"relay\": feed_line.type", &["RG-58", "RG-213"]);
    }

    #[test]
    fn a_feed_line_of_both_kinds() {
        refused(
            "length = \"10 m\"",
            "loss = \"1 dB\"",
            23,
            "radio \"relay\": feed_line",
            &["loss"],
        );
    }

    #[test]
    fn an_unknown_bandwidth() {
        let from = "bandwidth = \"12.5 kHz\"\ncarry";
        let to = "bandwidth = \"20 kHz\"\ncarry";
        refused(from, to, 16, "radio \"hand-held\": bandwidth", &["12.5 kHz", "25 kHz"]);
    }

    #[test]
    fn a_carried_radio_without_carry() {
        refused("carry = \"head\"\n", "", 34, "channel \"Net\": carried", &["how it is carried"]);
    }

    #[test]
    fn a_station_that_is_carried() {
        refused(
            "station = \"relay\"",
            "station = \"hand-held\"",
            34,
            "channel \"Net\": station",
            &["carried by a person"],
        );
    }
}

mod channels {
    use super::*;

    #[test]
    fn frequency_out_of_range() {
        for bad in ["14.6 MHz", "146.34 GHz", "146.34 kHz"] {
            let to = format!("\"{bad}\"");
            refused("\"146.34 MHz\"", &to, 31, "channel \"Net\": input", &["25 to 6000 MHz"]);
        }
    }

    #[test]
    fn input_and_output_the_same() {
        refused("146.94", "146.34", 32, "channel \"Net\": output", &["same"]);
        // The same frequency in another unit.
        refused("\"146.94 MHz\"", "\"146340 kHz\"", 32, "channel \"Net\": output", &["same"]);
    }

    #[test]
    fn fields_that_the_kind_needs_or_has_not() {
        refused("output = \"146.94 MHz\"\n", "", 28, "channel \"Net\": output", &["missing"]);
        refused(
            "tone = \"100.0 Hz\"",
            "frequency = \"146.5 MHz\"",
            33,
            "channel \"Net\": frequency",
            &["leave it out"],
        );
    }

    #[test]
    fn a_tone_that_no_radio_has() {
        refused("\"100.0 Hz\"", "\"1000 Hz\"", 33, "channel \"Net\": tone", &["out of range"]);
    }
}

mod places {
    use super::*;

    #[test]
    fn swapped_where_the_latitude_cannot_be() {
        refused(
            "47.1234, -35.2345",
            "-135.2345, 47.1234",
            39,
            "post \"Aid 1\": at",
            &["swapped", "did you mean \"47.1234, -135.2345\"?"],
        );
    }

    #[test]
    fn swapped_where_only_the_other_places_tell() {
        refused(
            "47.1234, -35.2345",
            "-35.2345, 47.1234",
            39,
            "post \"Aid 1\": at",
            &["look swapped", "did you mean \"47.1234, -35.2345\"?"],
        );
    }

    #[test]
    fn a_forgotten_minus() {
        refused(
            "47.1234, -35.2345",
            "47.1234, 35.2345",
            39,
            "post \"Aid 1\": at",
            &["sign", "did you mean \"47.1234, -35.2345\"?"],
        );
    }

    #[test]
    fn latitude_and_longitude_out_of_range() {
        for bad in ["97.1234, -235.2345", "NaN, -35.2345", "47.1234, -181"] {
            let error = read(changed("47.1234, -35.2345", bad)).unwrap_err();
            let problem = &error.problems()[0];
            assert_eq!((problem.line(), problem.field()), (Some(39), "post \"Aid 1\": at"));
        }
    }

    #[test]
    fn a_corner_has_its_own_line() {
        refused(
            "\"47.1200, -35.2300\"",
            "\"somewhere\"",
            51,
            "area \"Lanterns\": outline[1]",
            &["not a position"],
        );
    }

    #[test]
    fn an_outline_that_crosses_itself() {
        refused(
            "\"47.1200, -35.2300\",\n  \"47.1250, -35.2300\"",
            "\"47.1250, -35.2300\",\n  \"47.1250, -35.2400\",\n  \"47.1200, -35.2300\"",
            49,
            "area \"Lanterns\": outline",
            &["without crossing"],
        );
    }

    #[test]
    fn two_corners_and_one_point() {
        refused("  \"47.1250, -35.2300\",\n", "", 49, "area \"Lanterns\": outline", &["three"]);
        refused(", \"47.1300, -35.2400\"]", "]", 57, "route \"Walk\": line", &["two"]);
    }

    #[test]
    fn coarse_positions_are_remarked() {
        remarked("47.1234, -35.2345", "47.12, -35.23", "post \"Aid 1\": at", "1113 m");
    }

    #[test]
    fn weights_are_above_zero_and_finite() {
        for bad in ["0", "-1", "nan", "inf"] {
            let to = format!("weight = {bad}");
            refused("weight = 2", &to, 44, "post \"Aid 2\": weight", &["above 0"]);
        }
    }
}

mod heights {
    use super::*;

    #[test]
    fn a_roof_of_400_m_is_questioned() {
        let to = "\"400 m above ground\"";
        refused(
            "\"30 m above ground\"",
            to,
            62,
            "site \"Elevator\": roof",
            &["if feet were meant write \"400 ft above ground\" (121.9 m)", "tall = true"],
        );
        let tall = "\"400 m above ground\"\ntall = true";
        remarked("\"30 m above ground\"", tall, "site \"Elevator\": roof", "unusually high");
        assert!(read(changed("\"30 m above ground\"", "\"400 ft above ground\"")).is_ok());
    }

    #[test]
    fn a_mast_of_100_m_is_questioned() {
        refused(
            "mast = \"3 m\"",
            "mast = \"100 m\"",
            63,
            "site \"Elevator\": mast",
            &["\"100 ft\" (30.5 m)"],
        );
    }

    #[test]
    fn negative_heights() {
        refused("\"3 m\"", "\"-3 m\"", 63, "site \"Elevator\": mast", &["negative"]);
        refused("\"30 m above", "\"-30 m above", 62, "site \"Elevator\": roof", &["below"]);
    }

    #[test]
    fn a_roof_says_what_it_is_above() {
        for bad in ["\"30 m\"", "\"30 m above roof\"", "30", "\"30 above ground\""] {
            let error = read(changed("\"30 m above ground\"", bad)).unwrap_err();
            let problem = &error.problems()[0];
            assert_eq!((problem.line(), problem.field()), (Some(62), "site \"Elevator\": roof"));
        }
    }
}

mod event_and_prediction {
    use super::*;

    #[test]
    fn the_end_before_the_start() {
        refused("2026-12-05T21:00:00", "2026-12-05T16:00:00", 5, "event: ends", &["starts at"]);
    }

    #[test]
    fn tear_down_before_the_end() {
        let to = "ends = 2026-12-05T21:00:00\ntear_down = 2026-12-05T20:00:00";
        refused("ends = 2026-12-05T21:00:00", to, 6, "event: tear_down", &["before"]);
    }

    #[test]
    fn times_with_an_offset_in_quotes_or_without_a_clock() {
        refused("2026-12-05T17:30:00", "2026-12-05T17:30:00Z", 4, "event: starts", &["offset"]);
        refused("2026-12-05T17:30:00", "\"2026-12-05\"", 4, "event: starts", &["without quotes"]);
        refused("2026-12-05T17:30:00", "2026-12-05", 4, "event: starts", &["date with a time"]);
    }

    #[test]
    fn an_unknown_time_zone() {
        refused("Etc/GMT+2", "Atlantic/Azorez", 6, "event: time_zone", &["\"Atlantic/Azores\"?"]);
    }

    #[test]
    fn a_time_that_the_clocks_skip() {
        // Clocks went from 2:00 to 3:00 on 29 March 2026 in the European Union.
        let text = changed("Etc/GMT+2", "Europe/Paris")
            .replace("2026-12-05T17:30:00", "2026-03-29T02:30:00")
            .replace("2026-12-05T21:00:00", "2026-03-29T05:00:00");
        let plan = read(text).unwrap();
        assert!(plan.remarks.iter().any(|r| r.about == "event: starts"), "{:?}", plan.remarks);
    }

    #[test]
    fn prediction_out_of_range() {
        for (field, bad) in [
            ("reliability", "\"49.9 %\""),
            ("reliability", "\"100 %\""),
            ("reliability", "\"0.95\""),
            ("k_factor", "0.4"),
            ("k_factor", "nan"),
            ("k_factor", "11"),
            ("variability", "\"-1 dB\""),
            ("audio_quality", "\"3.2\""),
            ("environment", "\"urban\""),
            ("polarization", "\"circular\""),
        ] {
            let to = format!("[prediction]\n{field} = {bad}\n\n[terrain]");
            let error = read(changed("[terrain]", &to)).unwrap_err();
            let problem = &error.problems()[0];
            let expected = format!("prediction: {field}");
            assert_eq!((problem.line(), problem.field()), (Some(9), expected.as_str()), "{error}");
        }
    }

    #[test]
    fn an_unknown_method_lists_those_that_are_known() {
        let to = "[prediction]\nmethod = \"bullington\"\n\n[terrain]";
        refused("[terrain]", to, 9, "prediction: method", &["\"delta-bullington\"", "free-space"]);
    }

    #[test]
    fn a_missing_elevation_file() {
        refused(
            "[\"hill.asc\"]",
            "[\"hill.asc\",\n \"dale.tif\"]",
            10,
            "terrain: files[1]",
            &["there is no file", "dale.tif"],
        );
    }

    #[test]
    fn remote_elevation() {
        for bad in ["/vsicurl/https://example.com/a.tif", "https://example.com/a.tif"] {
            let to = format!("\"{bad}\"");
            refused("\"hill.asc\"", &to, 9, "terrain: files[0]", &["on this machine"]);
        }
    }
}
