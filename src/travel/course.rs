//! Courses: the direction of a leg by true and by magnetic north.

use crate::terms::place::Place;
use geographiclib_rs::{Geodesic, InverseGeodesic};
use jiff::civil::Date;
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date as ModelDate;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

/// The angle from true to magnetic north at a place on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Declination {
    /// Degrees, positive where magnetic north lies east of true north.
    pub degrees: f64,
    /// The model, like `WMM2025`.
    pub model: &'static str,
    /// The day.
    pub date: Date,
}

impl Declination {
    /// By the World Magnetic Model of NOAA and BGS at lake level (crate `world_magnetic_model`, coefficients inside).
    /// `None` outside the years 2020 to 2029, for which it has coefficients.
    ///
    /// ```
    /// use shoalwright::terms::place::Place;
    /// use shoalwright::travel::Declination;
    /// use jiff::civil::date;
    ///
    /// let here = Place { lon: 0.0, lat: 80.0 };
    /// // The first of the official test values of WMM2025: 1.28 degrees.
    /// let found = Declination::at(here, date(2025, 1, 1)).unwrap();
    /// assert!((found.degrees - 1.28).abs() < 0.01);
    /// assert_eq!(found.model, "WMM2025");
    /// ```
    #[must_use]
    pub fn at(place: Place, date: Date) -> Option<Self> {
        let model = match date.year() {
            2020..=2024 => "WMM2020",
            2025..=2029 => "WMM2025",
            _ => return None,
        };
        let day = u16::try_from(date.day_of_year()).ok()?;
        let field = GeomagneticField::new(
            Length::new::<meter>(0.0),
            Angle::new::<degree>(place.lat as f32),
            Angle::new::<degree>(place.lon as f32),
            ModelDate::from_ordinal_date(i32::from(date.year()), day).ok()?,
        )
        .ok()?;
        Some(Self { degrees: f64::from(field.declination().get::<degree>()), model, date })
    }

    /// A true course by magnetic north, in `[0, 360)`.
    #[must_use]
    pub fn magnetic_deg(&self, true_deg: f64) -> f64 {
        (true_deg - self.degrees).rem_euclid(360.0)
    }
}

/// The course from a place to another in degrees clockwise from true north, in `[0, 360)`: that of the geodesic where
/// it starts.
#[must_use]
pub fn course_deg(from: Place, to: Place) -> f64 {
    let (_, azimuth_deg, _, _): (f64, f64, f64, f64) =
        Geodesic::wgs84().inverse(from.lat, from.lon, to.lat, to.lon);
    azimuth_deg.rem_euclid(360.0)
}
