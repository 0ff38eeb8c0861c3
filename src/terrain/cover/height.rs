//! The height of a building out of what its attributes say.

use perchline_plan::BuildingInputs;
use perchline_units::{METRES_PER_FOOT, Metres, shown};
use perchline_vector::Footprint;

/// Higher than this no building is taken to be: the highest stands near 830 m,
/// and a number like 2000 is a slip far more often.
pub(super) const HIGHEST: f64 = 500.0;

/// A height and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Settled {
    pub height: Metres,
    /// Whether nothing usable was stated.
    pub assumed: bool,
    /// What was stated and could not be used.
    pub complaints: Vec<String>,
}

/// Height, else storeys, else the plan's default.
pub(super) fn settle(footprint: &Footprint, inputs: &BuildingInputs) -> Settled {
    let mut complaints = Vec::new();
    let mut usable = |what: &str, text: &str, metres: Option<f64>| match metres {
        Some(metres) if metres > 0.0 && metres <= HIGHEST => Some(Metres::new(metres)),
        Some(_) => {
            complaints.push(format!("{what} \"{}\" is out of range", shown(text)));
            None
        }
        None => {
            complaints.push(format!("{what} \"{}\" cannot be read", shown(text)));
            None
        }
    };
    let by_height = footprint.height.as_deref().and_then(|t| usable("height", t, metres(t)));
    let stated = by_height.or_else(|| {
        let text = footprint.levels.as_deref()?;
        let levels = text.parse::<f64>().ok().filter(|levels| levels.is_finite());
        usable("building:levels", text, levels.map(|levels| levels * inputs.storey.value()))
    });
    Settled {
        height: stated.unwrap_or(inputs.default_height),
        assumed: stated.is_none(),
        complaints,
    }
}

/// A height in metres: a bare number is in metres, as footprints have it.
fn metres(text: &str) -> Option<f64> {
    let text = text.trim();
    let split = text.find(|c: char| c.is_alphabetic() || c == '\'').unwrap_or(text.len());
    let (number, unit) = text.split_at(split);
    let number = number.trim().parse::<f64>().ok().filter(|number| number.is_finite())?;
    match unit.trim().to_ascii_lowercase().as_str() {
        "" | "m" | "metre" | "metres" | "meter" | "meters" => Some(number),
        "ft" | "feet" | "foot" | "'" => Some(number * METRES_PER_FOOT),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(height: Option<&str>, levels: Option<&str>) -> Settled {
        let inputs = BuildingInputs {
            files: vec![],
            layer: None,
            height_field: None,
            storeys_field: None,
            cell: Metres::new(5.0),
            storey: Metres::new(3.0),
            default_height: Metres::new(6.0),
        };
        let footprint = Footprint {
            id: "a".to_owned(),
            outline: geo::MultiPolygon::new(vec![]),
            repaired: false,
            height: height.map(str::to_owned),
            levels: levels.map(str::to_owned),
        };
        settle(&footprint, &inputs)
    }

    #[test]
    fn heights_are_read_in_each_form() {
        let height = |text| settled(Some(text), None).height.value();
        assert_eq!(height("12"), 12.0);
        assert_eq!(height("12.5 m"), 12.5);
        assert_eq!(height("12m"), 12.0);
        assert!((height("40 ft") - 12.192).abs() < 1e-9);
        assert!((height("40'") - 12.192).abs() < 1e-9);
        assert_eq!(height("1e2"), 6.0, "nobody writes a height so: the default");
    }

    #[test]
    fn storeys_stand_in_for_a_height_and_the_default_for_both() {
        assert_eq!(settled(None, Some("4")).height.value(), 12.0);
        assert_eq!(settled(Some("9"), Some("4")).height.value(), 9.0);
        let nothing = settled(None, None);
        assert_eq!((nothing.height.value(), nothing.assumed), (6.0, true));
        assert!(nothing.complaints.is_empty());
    }

    #[test]
    fn impossible_heights_are_told_and_passed_over() {
        for bad in ["0", "-3", "2000", "501 m", "tall", "12,5", "NaN", "inf", "9 yd"] {
            let found = settled(Some(bad), Some("2"));
            assert_eq!(found.height.value(), 6.0, "{bad}");
            assert!(!found.assumed, "{bad}: two storeys are stated");
            assert_eq!(found.complaints.len(), 1, "{bad}");
            assert!(settled(Some(bad), Some("0")).assumed);
        }
    }
}
