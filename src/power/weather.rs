//! The forecast as a course of temperature over elapsed time.

use jiff::ZonedDateTime;

use perchline_plan::{Forecast, Remark, UnitSystem};
use perchline_units::{Celsius, Hours};

/// A course of temperature; time counts in elapsed hours, so that a change of
/// the clocks neither adds nor takes any.
#[derive(Debug, Clone, PartialEq)]
pub struct Weather {
    from: ZonedDateTime,
    hourly: Vec<f64>,
}

/// Hours that pass from one moment to another, over any change of the clocks.
#[must_use]
pub fn elapsed(from: &ZonedDateTime, to: &ZonedDateTime) -> Hours {
    let nanoseconds = to.timestamp().as_nanosecond() - from.timestamp().as_nanosecond();
    Hours::new(nanoseconds as f64 / 3.6e12)
}

/// The moment that is this much time after another, as the clocks there show
/// it; the moment itself if the calendar does not reach so far.
#[must_use]
pub fn after(from: &ZonedDateTime, time: Hours) -> ZonedDateTime {
    let seconds = (time.value() * 3600.0).round() as i64;
    from.checked_add(jiff::SignedDuration::from_secs(seconds)).unwrap_or_else(|_| from.clone())
}

impl Weather {
    /// The course of `forecast`, whose gaps inside are closed with the colder
    /// neighbour.
    #[must_use]
    pub fn of(forecast: &Forecast) -> Self {
        let hourly = forecast
            .hourly
            .iter()
            .enumerate()
            .map(|(index, hour)| {
                hour.map_or_else(|| closed(&forecast.hourly, index), Celsius::value)
            })
            .collect();
        Self { from: forecast.from.clone(), hourly }
    }

    /// Temperature at a moment: straight between the hours, the coldest of all
    /// before the first and after the last.
    #[must_use]
    pub fn at(&self, moment: &ZonedDateTime) -> Celsius {
        let hours = elapsed(&self.from, moment).value();
        let coldest = self.hourly.iter().copied().fold(f64::INFINITY, f64::min);
        if hours < 0.0 {
            return Celsius::new(coldest);
        }
        let before = hours.floor() as usize;
        let (first, second) = (self.hourly.get(before), self.hourly.get(before + 1));
        Celsius::new(match (first, second) {
            (Some(first), Some(second)) => first + (second - first) * (hours - hours.floor()),
            (Some(only), None) if hours == hours.floor() => *only,
            _ => coldest,
        })
    }
}

/// What stands in for an unknown hour: the colder of its nearest known
/// neighbours.
fn closed(hourly: &[Option<Celsius>], index: usize) -> f64 {
    let before = hourly.iter().take(index).rev().flatten().next();
    let after = hourly.iter().skip(index).flatten().next();
    before.into_iter().chain(after).map(|c| c.value()).fold(f64::INFINITY, f64::min)
}

/// What a person should know of the forecast between two moments: hours that it
/// does not cover, and what was taken for them.
#[must_use]
pub fn gaps(
    forecast: &Forecast,
    (from, to): (&ZonedDateTime, &ZonedDateTime),
    units: UnitSystem,
) -> Vec<Remark> {
    let remark = |text: String| Remark { about: "forecast".to_owned(), text };
    let mut remarks = Vec::new();
    let weather = Weather::of(forecast);
    let end = after(&forecast.from, Hours::new(forecast.hourly.len().saturating_sub(1) as f64));
    let coldest = weather.hourly.iter().copied().fold(f64::INFINITY, f64::min);
    let coldest = units.temperature(Celsius::new(coldest));
    let clock = |moment: &ZonedDateTime| moment.strftime("%Y-%m-%d %H:%M").to_string();
    if *from < forecast.from {
        remarks.push(remark(format!(
            "it begins at {} and is wanted from {}: its coldest value, {coldest}, is taken until then",
            clock(&forecast.from),
            clock(from)
        )));
    }
    if *to > end {
        remarks.push(remark(format!(
            "it ends at {} and is wanted until {}: its coldest value, {coldest}, is taken from then on; add hours",
            clock(&end),
            clock(to)
        )));
    }
    let unknown: Vec<_> = forecast
        .hourly
        .iter()
        .enumerate()
        .filter(|(_, hour)| hour.is_none())
        .map(|(index, _)| after(&forecast.from, Hours::new(index as f64)))
        .filter(|moment| moment >= from && moment <= to)
        .map(|moment| moment.strftime("%H:%M").to_string())
        .collect();
    if !unknown.is_empty() {
        remarks.push(remark(format!(
            "not known at {}: the colder neighbour is taken",
            unknown.join(", ")
        )));
    }
    remarks
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn moment(text: &str) -> ZonedDateTime {
        text.parse().unwrap()
    }

    fn forecast(from: &str, hourly: &[Option<f64>]) -> Forecast {
        Forecast {
            from: moment(from),
            hourly: hourly.iter().map(|h| h.map(Celsius::new)).collect(),
            gust: None,
            sky: 0.2,
        }
    }

    #[test]
    fn temperatures_run_straight_between_hours_and_over_midnight() {
        let weather = Weather::of(&forecast(
            "2026-12-05T23:00:00-02:00[Etc/GMT+2]",
            &[Some(4.0), Some(2.0), Some(3.0)],
        ));
        let at = |t: &str| weather.at(&moment(t)).value();
        assert_abs_diff_eq!(at("2026-12-05T23:30:00-02:00[Etc/GMT+2]"), 3.0, epsilon = 1e-9);
        assert_abs_diff_eq!(at("2026-12-06T00:30:00-02:00[Etc/GMT+2]"), 2.5, epsilon = 1e-9);
        assert_abs_diff_eq!(at("2026-12-06T01:00:00-02:00[Etc/GMT+2]"), 3.0, epsilon = 1e-9);
        // Outside: the coldest of all.
        assert_abs_diff_eq!(at("2026-12-06T02:00:00-02:00[Etc/GMT+2]"), 2.0, epsilon = 1e-9);
        assert_abs_diff_eq!(at("2026-12-05T20:00:00-02:00[Etc/GMT+2]"), 2.0, epsilon = 1e-9);
    }

    /// Source: the IANA database: in the Azores on 25 October 2026 the clocks
    /// go back from 01:00 to 00:00, so the night from 22:00 to 06:00 has nine
    /// hours; on 29 March they go forward and it has seven.
    #[test]
    fn a_change_of_the_clocks_neither_adds_nor_takes_time() {
        let zone = "[Atlantic/Azores]";
        let hours = |a: &str, b: &str| {
            elapsed(&moment(&format!("{a}{zone}")), &moment(&format!("{b}{zone}"))).value()
        };
        assert_abs_diff_eq!(hours("2026-10-24T22:00:00", "2026-10-25T06:00:00"), 9.0);
        assert_abs_diff_eq!(hours("2026-03-28T22:00:00", "2026-03-29T06:00:00"), 7.0);
        let on = moment("2026-10-24T22:00:00[Atlantic/Azores]");
        assert_eq!(after(&on, Hours::new(9.0)).strftime("%H:%M").to_string(), "06:00");
    }

    #[test]
    fn gaps_are_closed_with_the_colder_neighbour_and_told() {
        let forecast = forecast(
            "2026-12-05T14:00:00-02:00[Etc/GMT+2]",
            &[Some(6.0), None, None, Some(3.0), Some(5.0)],
        );
        let weather = Weather::of(&forecast);
        let at = |t: &str| weather.at(&moment(&format!("2026-12-05T{t}-02:00[Etc/GMT+2]"))).value();
        assert_abs_diff_eq!(at("15:00:00"), 3.0);
        assert_abs_diff_eq!(at("16:00:00"), 3.0);
        assert_abs_diff_eq!(at("14:30:00"), 4.5);
        let told = |from: &str, to: &str| {
            let day = |t: &str| moment(&format!("2026-12-05T{t}-02:00[Etc/GMT+2]"));
            gaps(&forecast, (&day(from), &day(to)), UnitSystem::Metric)
        };
        assert_eq!(told("17:00:00", "18:00:00"), []);
        let inside = told("14:00:00", "18:00:00");
        assert_eq!(inside.len(), 1);
        assert!(inside[0].text.contains("15:00, 16:00"), "{inside:?}");
        let outside = told("12:00:00", "20:00:00");
        assert_eq!(outside.len(), 3);
        assert!(outside[0].text.contains("begins at 2026-12-05 14:00"), "{outside:?}");
        assert!(outside[1].text.contains("3 °C"), "{outside:?}");
    }
}
