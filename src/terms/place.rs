//! A place on the earth, and the plane of one lake on which distances are measured.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

/// A place in WGS 84 degrees.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Place {
    /// Longitude in degrees, in `[-180, 180]`.
    pub lon: f64,
    /// Latitude in degrees, in `[-90, 90]`.
    pub lat: f64,
}

impl Place {
    /// `None` when a coordinate is not a number or lies outside its range.
    #[must_use]
    pub fn new(lon: f64, lat: f64) -> Option<Self> {
        ((-180.0..=180.0).contains(&lon) && (-90.0..=90.0).contains(&lat)).then_some(Self { lon, lat })
    }

    /// Length of the geodesic between two places in metres (Karney 2013, doi 10.1007/s00190-012-0578-z).
    #[must_use]
    pub fn metres_to(self, other: Self) -> f64 {
        Geodesic::wgs84().inverse(self.lat, self.lon, other.lat, other.lon)
    }

    /// Metres on a sphere, flat between the two: good to a part in a hundred over a few kilometres, for thinning only. A
    /// geodesic for each of millions of points would cost seconds.
    #[must_use]
    pub fn roughly_metres_to(self, other: Self) -> f64 {
        let degree_m = 111_195.0; // a degree of a sphere of 6,371,008.8 m
        let (east, north) = ((self.lon - other.lon) * self.lat.to_radians().cos(), self.lat - other.lat);
        (east * east + north * north).sqrt() * degree_m
    }

    /// Longitude and latitude to six decimals (0.11 m), as ids are made from them.
    #[must_use]
    pub fn six_decimals(self) -> [String; 2] {
        // Adding 0.0 turns -0.0 into 0.0, so that a place has one text.
        [self.lon, self.lat].map(|deg| format!("{:.6}", (deg * 1e6).round() / 1e6 + 0.0))
    }
}

/// A point on a lake's plane: metres east and north of the plane's centre.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct PlanePoint {
    /// Metres east.
    pub east_m: f64,
    /// Metres north.
    pub north_m: f64,
}

impl PlanePoint {
    /// Straight distance in metres.
    #[must_use]
    pub fn metres_to(self, other: Self) -> f64 {
        // A square root and not `hypot`, which guards against overflow that no lake can bring about, at ten times the cost.
        let (east_m, north_m) = (self.east_m - other.east_m, self.north_m - other.north_m);
        (east_m * east_m + north_m * north_m).sqrt()
    }
}

/// The plane of one lake: azimuthal equidistant on the WGS 84 ellipsoid about a centre (Snyder 1987, USGS
/// Professional Paper 1395, ch. 25, with Karney's geodesics in place of its series).
///
/// Distances from the centre are exact; across the line of sight from it they are stretched by about r²/6R², which
/// `tests/it/reference_places.rs` holds to 0.05 m for pairs within 25 km of the centre.
#[derive(Clone, Copy, Debug)]
pub struct LocalPlane {
    centre: Place,
    geodesic: Geodesic,
}

impl LocalPlane {
    /// The plane that touches the earth at `centre`.
    #[must_use]
    pub fn new(centre: Place) -> Self {
        Self { centre, geodesic: Geodesic::wgs84() }
    }

    /// Where the plane touches.
    #[must_use]
    pub const fn centre(&self) -> Place {
        self.centre
    }

    /// From degrees to metres on the plane.
    #[must_use]
    pub fn to_plane(&self, place: Place) -> PlanePoint {
        let (metres, azimuth_deg, _, _): (f64, f64, f64, f64) =
            self.geodesic.inverse(self.centre.lat, self.centre.lon, place.lat, place.lon);
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        PlanePoint { east_m: metres * sin, north_m: metres * cos }
    }

    /// From metres on the plane to degrees.
    #[must_use]
    pub fn to_place(&self, point: PlanePoint) -> Place {
        let azimuth_deg = point.east_m.atan2(point.north_m).to_degrees();
        let metres = point.east_m.hypot(point.north_m);
        let (lat, lon): (f64, f64) =
            self.geodesic.direct(self.centre.lat, self.centre.lon, azimuth_deg, metres);
        Place { lon, lat }
    }
}
