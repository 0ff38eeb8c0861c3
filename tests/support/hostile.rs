//! A plan whose names, notes and numbers try to be more than text.

use std::path::Path;

use super::{PLAN, write_plan_raster};

/// Names that a careless page, XML file or template would obey, as TOML.
pub const NAMES: [&str; 4] = [
    "'<script>globalThis.ran = true</script>'",
    "'\"><img src=x onerror=\"globalThis.ran = true\">'",
    "']]> & {{7*7}} </script></style><svg onload=x>'",
    "\"Aid \\u200f\\u061c3 &lt;b&gt;\"",
];

/// Writes `plan.toml` and its terrain into `folder`.
pub fn write(folder: &Path) {
    // A ridge between the posts, so that some of them fail and get advice.
    write_plan_raster(&folder.join("terrain.tif"), |column, _| {
        if (66..72).contains(&column) { 320.0 } else { 40.0 }
    });
    let [script, image, cdata, turned] = NAMES;
    let plan = PLAN
        .replace("\"Test run\"", script)
        .replace("\"Aid 1\"", image)
        .replace("\"Aid 2\"", cdata)
        .replace("\"Hotel\"", &format!("{turned}\nnotes = {script}\naccess = {image}"))
        .replace("name = \"Event\"", &format!("name = {image}\nfunction = {script}"))
        .replace("time_zone = \"UTC\"", &format!("time_zone = \"UTC\"\nagency = {cdata}"));
    let more = format!(
        r#"
[[channel]]
name = {script}
kind = "simplex"
frequency = "146.55 MHz"
carried = "hand-held"

[[post]]
name = {script}
at = "47.002, -34.897"

[[area]]
name = "<iframe src='javascript:1'>"
outline = ["47.000, -34.900", "47.000, -34.895", "47.004, -34.895"]

[[route]]
name = "<object data='x'>"
line = ["47.000, -34.900", "47.010, -34.885"]

[[contact]]
name = {image}
role = {script}
phone = "555-0142"
channel = {script}
note = {cdata}
"#
    );
    std::fs::write(folder.join("plan.toml"), format!("{plan}{more}")).unwrap();
}
