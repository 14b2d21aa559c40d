//! Fuel on the water: a distance, or what the gauge says.

use crate::prefish::settings::Settings;
use crate::prefish::stage::{PrefishError, refuse};
use crate::terms::units::{Distance, QuantityError, Volume};
use std::str::FromStr;

/// Fuel aboard, as the skipper reads it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FuelLeft {
    /// How far it takes the boat.
    Far(Distance),
    /// How much it is.
    Much(Volume),
}

impl FromStr for FuelLeft {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        text.parse().map(Self::Much).or_else(|_| text.parse().map(Self::Far))
    }
}

impl FuelLeft {
    /// How far it takes the boat, in metres.
    pub(super) fn metres(self, settings: &Settings) -> Result<f64, PrefishError> {
        match (self, settings.range, settings.tank) {
            (Self::Far(distance), ..) => Ok(distance.metres()),
            (Self::Much(volume), Some(range), Some(tank)) if tank.litres() > 0.0 => {
                Ok(range.metres() * volume.litres() / tank.litres())
            }
            (Self::Much(_), ..) => refuse(
                "how far a volume of fuel takes the boat is not known: set prefish.range and prefish.tank, like \
                 range = \"60 mi\" and tank = \"24 gal\", or give the distance, like --fuel-left \"20 mi\"",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::units::METRES_PER_MILE;

    #[test]
    fn nine_gallons_of_fifteen_take_the_boat_over_nine_fifteenths_of_its_range() {
        let mut settings = Settings { range: "60 mi".parse().ok(), ..Settings::default() };
        let miles = |text: &str, settings: &Settings| {
            text.parse::<FuelLeft>().unwrap().metres(settings).map(|m| m / METRES_PER_MILE)
        };
        assert!(
            miles("9 gal", &settings).unwrap_err().to_string().contains("set prefish.range and prefish.tank")
        );
        settings.tank = "15 gal".parse().ok();
        assert!((miles("9 gal", &settings).unwrap() - 36.0).abs() < 1e-9);
        // 231 cubic inches are 3.785412 litres (NIST Handbook 44).
        assert!((miles("34.068706 L", &settings).unwrap() - 36.0).abs() < 1e-6);
        assert!((miles("20 mi", &settings).unwrap() - 20.0).abs() < 1e-9);
        assert!("9".parse::<FuelLeft>().is_err());
    }
}
