//! The sun over a place: its position, its day, and the light that a sighting was made in.
//!
//! Positions are those of crate `solar-positioning` (the solar position algorithm of Reda & Andreas 2004, Solar
//! Energy 76: 577-589, doi 10.1016/j.solener.2003.12.003, good to 0.0003 degrees). The horizon is flat and at the
//! height of the eye: hills and trees make the day shorter, and whoever sets a start time keeps the clock.

use crate::terms::instant::Instant;
use crate::terms::place::Place;
use jiff::civil::{Date, time};
use jiff::tz::TimeZone;
use solar_positioning::time::JulianDate;
use solar_positioning::{Horizon, Location, SolarEvents, SolarPositions, delta_t};

/// Height of the sun's centre at sunrise and sunset: its upper limb stands on the horizon, lifted by refraction (34′)
/// and by its radius (16′), as almanacs define it.
pub const SUNRISE_DEG: f64 = -50.0 / 60.0;
/// Height of the sun's centre at civil dawn and dusk.
pub const CIVIL_DEG: f64 = -6.0;

const UNIX_MS_OF_J2000: f64 = 946_728_000_000.0; // 2000-01-01T12:00Z
const JULIAN_DAY_OF_J2000: f64 = 2_451_545.0;
const MS_OF_DAY: f64 = 86_400_000.0;

/// Where the sun stands, seen from a place, without refraction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunPosition {
    /// Height of its centre above a flat horizon in degrees; negative below it.
    pub elevation_deg: f64,
    /// Direction in degrees clockwise from true north.
    pub azimuth_deg: f64,
}

/// Where the sun stands; `None` for times outside the years -500 to 3000.
#[must_use]
pub fn sun_position(place: Place, time: Instant) -> Option<SunPosition> {
    position_by(SolarPositions::new(), place, time)
}

fn position_by(algorithm: SolarPositions, place: Place, time: Instant) -> Option<SunPosition> {
    let julian = JulianDate::new(julian_day(time), earth_lag_s(time)?).ok()?;
    let seen = algorithm.at_from_julian(julian, location(place), 0.0, None).ok()?;
    Some(SunPosition { elevation_deg: seen.elevation_angle(), azimuth_deg: seen.azimuth() })
}

/// The light a thing was seen in, by the height of the sun: schools that scatter by night gather at dawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Light {
    /// From sunrise to sunset.
    Day,
    /// From civil dawn to sunrise and from sunset to civil dusk.
    Twilight,
    /// The rest.
    Night,
}

impl Light {
    /// The light at a place and time; `None` for times outside the years -500 to 3000.
    #[must_use]
    pub fn at(place: Place, time: Instant) -> Option<Self> {
        // Grena 2012 (doi 10.1016/j.solener.2012.01.024), good to 0.01 degrees from 2010 to 2110: a tenth of the time.
        let sun = position_by(SolarPositions::grena3(), place, time).or_else(|| sun_position(place, time))?;
        let height_deg = sun.elevation_deg;
        Some(if height_deg >= SUNRISE_DEG {
            Self::Day
        } else if height_deg >= CIVIL_DEG {
            Self::Twilight
        } else {
            Self::Night
        })
    }

    /// The word that outputs carry.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Twilight => "twilight",
            Self::Night => "night",
        }
    }
}

/// The sun's day about one noon. What does not happen is `None`: in a polar summer the sun does not rise and does not
/// set, and as it does not either in a polar winter, `noon` tells the two apart by [`sun_position`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SunDay {
    /// Civil dawn: the sun's centre rises through 6 degrees below the horizon.
    pub dawn: Option<Instant>,
    /// Sunrise.
    pub sunrise: Option<Instant>,
    /// The sun crosses the meridian.
    pub noon: Option<Instant>,
    /// Sunset.
    pub sunset: Option<Instant>,
    /// Civil dusk.
    pub dusk: Option<Instant>,
}

/// The sun's day of a calendar date: about the noon that is nearest to 12:00 of that date's clock.
#[must_use]
pub fn sun_day(place: Place, date: Date, zone: &TimeZone) -> SunDay {
    let civil = zone.to_ambiguous_timestamp(date.to_datetime(time(12, 0, 0, 0))).compatible();
    civil.ok().and_then(|noon| day_about(place, noon.into())).unwrap_or_default()
}

fn day_about(place: Place, civil_noon: Instant) -> Option<SunDay> {
    let (middle, lag_s, location) = (julian_day(civil_noon), earth_lag_s(civil_noon)?, location(place));
    let sun = SolarEvents::new();
    let noon = sun.next_transit_from_julian(middle - 0.5, middle + 0.5, place.lon, lag_s).ok()??;
    let rise = |height_deg| {
        // The last before noon: where the sun rises twice within twelve hours, it set between.
        let events =
            sun.for_interval_from_julian(noon - 0.5, noon, location, lag_s, Horizon::Custom(height_deg));
        events.ok()?.rises.last().copied()
    };
    let set = |height_deg| {
        let horizon = Horizon::Custom(height_deg);
        sun.next_set_from_julian(noon, noon + 0.5, location, lag_s, horizon).ok()?
    };
    Some(SunDay {
        dawn: rise(CIVIL_DEG).map(instant),
        sunrise: rise(SUNRISE_DEG).map(instant),
        noon: Some(instant(noon)),
        sunset: set(SUNRISE_DEG).map(instant),
        dusk: set(CIVIL_DEG).map(instant),
    })
}

const fn location(place: Place) -> Location {
    Location { latitude: place.lat, longitude: place.lon }
}

fn julian_day(time: Instant) -> f64 {
    (time.unix_ms() as f64 - UNIX_MS_OF_J2000) / MS_OF_DAY + JULIAN_DAY_OF_J2000
}

/// To the second: a Julian day in one number holds no more than some 40 microseconds.
fn instant(julian_day: f64) -> Instant {
    let unix_ms = (julian_day - JULIAN_DAY_OF_J2000) * MS_OF_DAY + UNIX_MS_OF_J2000;
    Instant::from_unix_s((unix_ms / 1000.0).round() as i64)
}

/// Seconds by which the turning earth lags behind even time; outside the years -500 to 3000 it is not known.
fn earth_lag_s(time: Instant) -> Option<f64> {
    let year = 2000.0 + (time.unix_ms() as f64 - UNIX_MS_OF_J2000) / MS_OF_DAY / 365.25;
    delta_t::estimate(year).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::Offset;

    // Origin and licence of the tables: `fixtures/README.md`, row `reference/sky`.

    fn rows(text: &str) -> Vec<Vec<&str>> {
        text.lines().skip(1).map(|line| line.split(',').collect()).collect()
    }

    fn moment(cell: &str) -> Instant {
        cell.parse::<jiff::Timestamp>().unwrap().into()
    }

    fn place(lat: &str, lon: &str) -> Place {
        Place { lat: lat.parse().unwrap(), lon: lon.parse().unwrap() }
    }

    #[test]
    fn the_sun_stands_where_a_reference_library_puts_it() {
        let rows = rows(include_str!("../../fixtures/reference/sky/sun_elevation.csv"));
        for row in &rows {
            let seen = sun_position(place(row[1], row[2]), moment(row[0])).unwrap();
            let (elevation_deg, azimuth_deg): (f64, f64) = (row[3].parse().unwrap(), row[5].parse().unwrap());
            assert!((seen.elevation_deg - elevation_deg).abs() < 0.005, "{row:?}: {seen:?}");
            // Near the zenith a small angle on the sky is a large one round it.
            let off_sky = (seen.azimuth_deg - azimuth_deg) * seen.elevation_deg.to_radians().cos();
            assert!(off_sky.abs() < 0.005, "{row:?}: {seen:?}");
        }
        assert_eq!(rows.len(), 60);
    }

    #[test]
    fn the_worked_example_of_the_algorithm_comes_out() {
        let rows = rows(include_str!("../../fixtures/reference/sky/nrel_spa_example.csv"));
        let [row] = &rows[..] else { panic!("one row") };
        let offset: i64 = row[1].parse().unwrap();
        let time = moment(&format!("{}Z", row[0])).plus_s(-offset * 3600);
        let seen = sun_position(place(row[2], row[3]), time).unwrap();
        let (zenith_deg, azimuth_deg): (f64, f64) = (row[9].parse().unwrap(), row[10].parse().unwrap());
        // The example counts refraction by its equation 42 (820 mbar, 11 °C) and stands 1830 m high, which parallax
        // feels by less than 1e-5 degrees; we count neither.
        let h = seen.elevation_deg;
        let refraction_deg = 820.0 / 1010.0 * 283.0 / (273.0 + 11.0) * 1.02
            / (60.0 * (h + 10.3 / (h + 5.11)).to_radians().tan());
        assert!((90.0 - h - refraction_deg - zenith_deg).abs() < 1e-4, "{seen:?}");
        assert!((seen.azimuth_deg - azimuth_deg).abs() < 1e-4, "{seen:?}");
    }

    #[test]
    fn the_sun_rises_and_sets_when_two_reference_libraries_say() {
        let rows = rows(include_str!("../../fixtures/reference/sky/sun_rise_set.csv"));
        for row in &rows {
            let place = place(row[0], row[1]);
            let zone = TimeZone::fixed(Offset::from_hours((place.lon / 15.0).round() as i8).unwrap());
            let day = sun_day(place, row[2].parse().unwrap(), &zone);
            let off_s = |got: Option<Instant>, cell: &str| got.unwrap().seconds_since(moment(cell)).abs();
            for (got, first, second) in [(day.sunrise, row[3], row[6]), (day.sunset, row[4], row[7])] {
                // The first library is the same algorithm. It tells events of UTC dates: one that falls on another
                // date than the lake's is a neighbour's, moved by 24 hours, up to 111 s from what the second says.
                let near_s = if first.starts_with(row[2]) { 10.0 } else { 120.0 };
                assert!(off_s(got, first) < near_s && off_s(got, second) < 60.0, "{row:?}: {day:?}");
            }
            assert!(off_s(day.noon, row[5]) < 10.0, "{row:?}: {day:?}");
            assert!(day.dawn < day.sunrise && day.sunset < day.dusk, "{row:?}: {day:?}");
        }
        assert_eq!(rows.len(), 32);
    }

    #[test]
    fn a_polar_summer_and_winter_have_no_sunrise_but_may_have_a_dawn() {
        let tromso = Place { lat: 69.65, lon: 18.96 };
        let zone = TimeZone::get("Europe/Oslo").unwrap();
        let day = |text: &str| sun_day(tromso, text.parse().unwrap(), &zone);
        let height_at = |time: Option<Instant>| sun_position(tromso, time.unwrap()).unwrap().elevation_deg;
        let summer = day("2024-06-21");
        assert_eq!((summer.dawn, summer.sunrise, summer.sunset, summer.dusk), (None, None, None, None));
        // On the meridian the height is 90 - latitude + declination (23.44 at the solstice).
        assert!((height_at(summer.noon) - (90.0 - 69.65 + 23.44)).abs() < 0.02);
        let winter = day("2024-12-21");
        assert_eq!((winter.sunrise, winter.sunset), (None, None));
        assert!((height_at(winter.noon) - (90.0 - 69.65 - 23.44)).abs() < 0.02);
        assert!(winter.dawn < winter.noon && winter.noon < winter.dusk);
    }

    #[test]
    fn the_day_is_that_of_the_clock_where_the_date_line_bends() {
        // Kiritimati keeps the date of Asia at 157 degrees west: noon of its 5th is the 4th at Greenwich.
        let place = Place { lat: 1.87, lon: -157.4 };
        let zone = TimeZone::get("Pacific/Kiritimati").unwrap();
        let day = sun_day(place, "2024-05-05".parse().unwrap(), &zone);
        for time in [day.sunrise, day.noon, day.sunset] {
            assert_eq!(time.unwrap().local_date(&zone).unwrap().to_string(), "2024-05-05");
        }
    }

    #[test]
    fn light_changes_at_sunrise_sunset_dawn_and_dusk() {
        let place = Place { lat: 35.0, lon: -94.0 };
        let zone = TimeZone::get("America/Chicago").unwrap();
        let day = sun_day(place, "2024-03-20".parse().unwrap(), &zone);
        let around =
            |time: Option<Instant>| [-60, 60].map(|s| Light::at(place, time.unwrap().plus_s(s)).unwrap());
        assert_eq!(around(day.dawn), [Light::Night, Light::Twilight]);
        assert_eq!(around(day.sunrise), [Light::Twilight, Light::Day]);
        assert_eq!(around(day.sunset), [Light::Day, Light::Twilight]);
        assert_eq!(around(day.dusk), [Light::Twilight, Light::Night]);
        assert_eq!(Light::at(place, Instant::from_unix_ms(i64::MAX)), None);
    }
}
