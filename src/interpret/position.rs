//! Positions: which are usable, which can be mended because the lake tells, which lie elsewhere.

use super::{Draft, blocks};
use crate::terms::codes::Codes;
use crate::terms::finding::{Code, Finding, Outcome, SetAside};
use crate::terms::lake::Lake;
use crate::terms::mark::{Mark, Origin, RawMark};
use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::water::Water;
use rayon::prelude::*;
use std::f64::consts::FRAC_PI_2;

/// Nearer than this to the shore a mark belongs to the lake: ramps, coarse shorelines and low water explain a few
/// hundred metres (common practice, no source).
const OUTSIDE_M: f64 = 1000.0;
/// Without a shoreline a mark farther than this from the bulk is told: no day on one lake reaches farther (common
/// practice, no source).
const FAR_M: f64 = 100_000.0;
/// Without a shoreline another reading of a position must fall this near to the bulk to be believed.
const BULK_M: f64 = 50_000.0;
/// Share of the marks that must lie within `BULK_M` of their middle before the bulk may tell how to read others.
const BULK_SHARE: f64 = 0.9;
/// A unit without a fix writes 0, 0; a metre is let for rounding.
const NULL_DEG: f64 = 1e-5;

/// The middle of the bulk: median longitude and median latitude of the positions that are in range and not null.
/// `None` when there is none. The order of the marks does not matter, and few strays do not move it.
#[must_use]
pub fn middle_of(raw: &[RawMark]) -> Option<Place> {
    let places: Vec<Place> = raw.iter().filter_map(|mark| usable(mark.lon_deg, mark.lat_deg)).collect();
    let lat = median(places.iter().map(|p| p.lat).collect())?;
    let mut lon: Vec<f64> = places.iter().map(|p| p.lon).collect();
    // A lake on the 180th meridian has its longitudes at both ends of the range.
    let eastern: Vec<f64> = lon.iter().map(|deg| deg.rem_euclid(360.0)).collect();
    if spread(&eastern) < spread(&lon) {
        lon = eastern;
    }
    let lon = median(lon)?;
    Some(Place { lon: if lon > 180.0 { lon - 360.0 } else { lon }, lat })
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    Some(if values.len() % 2 == 1 { upper } else { f64::midpoint(values[values.len() / 2 - 1], upper) })
}

/// Width of the middle 80 % of the values.
fn spread(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        n => sorted[(n - 1) * 9 / 10] - sorted[(n - 1) / 10],
    }
}

fn usable(lon: f64, lat: f64) -> Option<Place> {
    Place::new(lon, lat).filter(|place| place.lon.abs() > NULL_DEG || place.lat.abs() > NULL_DEG)
}

/// What tells whether a place belongs to the lake.
#[expect(clippy::large_enum_variant, reason = "one value a run")]
enum Belongs<'a> {
    /// The shoreline.
    Shore(&'a Water),
    /// The bulk of the marks; `dense`: enough of them lie together to tell how others are to be read.
    Bulk { plane: LocalPlane, dense: bool },
    /// Nothing: no shoreline and no usable position.
    Nothing,
}

impl Belongs<'_> {
    fn new<'a>(raw: &[RawMark], lake: &'a Lake) -> Belongs<'a> {
        if let Some(water) = &lake.water {
            return Belongs::Shore(water);
        }
        let Some(middle) = middle_of(raw) else { return Belongs::Nothing };
        let plane = LocalPlane::new(middle);
        let (near, all) = raw
            .par_iter()
            .filter_map(|mark| usable(mark.lon_deg, mark.lat_deg))
            .map(|place| (usize::from(within(&plane, place, BULK_M)), 1_usize))
            .reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        Belongs::Bulk { plane, dense: near as f64 >= BULK_SHARE * all as f64 }
    }

    /// Where a place is, as far as the lake tells.
    fn standing(&self, place: Place) -> Standing {
        match self {
            Self::Shore(water) if water.contains(place) => Standing::Here,
            Self::Shore(water) => match water.metres_to_shore(place) {
                metres if metres <= OUTSIDE_M => Standing::OnLand(metres),
                _ => Standing::Elsewhere,
            },
            Self::Bulk { plane, .. } if !within(plane, place, FAR_M) => Standing::Elsewhere,
            Self::Bulk { .. } | Self::Nothing => Standing::Here,
        }
    }

    /// Whether another reading of a position that lies elsewhere is to be believed.
    fn confirms(&self, place: Place) -> bool {
        match self {
            Self::Shore(_) => self.standing(place) != Standing::Elsewhere,
            Self::Bulk { plane, dense } => *dense && within(plane, place, BULK_M),
            Self::Nothing => false,
        }
    }
}

/// Where a place is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Standing {
    Here,
    /// Metres to the shore.
    OnLand(f64),
    Elsewhere,
}

/// Whether a place lies within `metres`, at least `BULK_M`, of the centre of a plane.
fn within(plane: &LocalPlane, place: Place, metres: f64) -> bool {
    // A fifth of a degree either way is at most 32 km, and spares nearly every mark its geodesic.
    const SURELY_NEAR_DEG: f64 = 0.2;
    let centre = plane.centre();
    let surely =
        (place.lon - centre.lon).abs() < SURELY_NEAR_DEG && (place.lat - centre.lat).abs() < SURELY_NEAR_DEG;
    surely || plane.to_plane(place).metres_to(PlanePoint { east_m: 0.0, north_m: 0.0 }) <= metres
}

/// What became of one position.
enum Verdict {
    AsRead(Place, Standing),
    Mended(Place, Code),
    Far(Place),
    Out(Code),
}

/// Gives each mark its place, or sets it aside.
pub(super) fn place_all(raw: Vec<RawMark>, lake: &Lake, out: &mut Outcome<Mark>) -> Vec<Draft> {
    let belongs = Belongs::new(&raw, lake);
    let glued = files_with_glued_minutes(&raw, &belongs);
    let mut drafts = Vec::with_capacity(raw.len());
    for block in blocks(raw) {
        let verdicts: Vec<(Verdict, Option<f32>)> = block
            .par_iter()
            .map(|mark| {
                let verdict = judge(mark, &belongs, glued.contains(&mark.origin.file.0));
                let on_land_m = match verdict {
                    Verdict::AsRead(_, Standing::OnLand(metres)) => Some(metres),
                    Verdict::Mended(place, _) => match belongs.standing(place) {
                        Standing::OnLand(metres) => Some(metres),
                        Standing::Here | Standing::Elsewhere => None,
                    },
                    _ => None,
                };
                (verdict, on_land_m.map(|metres: f64| metres as f32))
            })
            .collect();
        for (mark, (verdict, on_land_m)) in block.into_iter().zip(verdicts) {
            let told = || format!("`{}, {}`", mark.lon_deg, mark.lat_deg);
            let finding = |code, seen: String| Finding::new(code, seen).at(mark.origin, mark.words.name());
            let (place, repairs) = match verdict {
                Verdict::AsRead(place, _) => (place, Codes::default()),
                Verdict::Mended(place, code) => {
                    let [lon, lat] = place.six_decimals();
                    out.findings.push(
                        finding(code, format!("longitude, latitude {}", told()))
                            .done(format!("read as `{lon}, {lat}`, which lies at the lake")),
                    );
                    (place, Codes::from([code]))
                }
                Verdict::Far(place) => {
                    out.findings.push(
                        finding(
                            Code::PositionFar,
                            format!("{} is more than 100 km from the bulk of the marks", told()),
                        )
                        .fix("give a shoreline, or drop the mark in edits.csv"),
                    );
                    (place, Codes::default())
                }
                Verdict::Out(code) => {
                    let fix = match code {
                        Code::PositionNull => "drop the mark again with a fix",
                        Code::PositionOutside => "if it belongs to this lake, give a wider shoreline",
                        _ => "export in decimal degrees, WGS 84",
                    };
                    let finding =
                        finding(code, format!("longitude, latitude {}", told())).done("set aside").fix(fix);
                    out.set_aside.push(SetAside::one(mark.origin, finding));
                    continue;
                }
            };
            drafts.push(Draft::new(mark, place, on_land_m, repairs));
        }
    }
    drafts
}

fn judge(mark: &RawMark, belongs: &Belongs<'_>, glued_file: bool) -> Verdict {
    let (lon, lat) = (mark.lon_deg, mark.lat_deg);
    if lon.abs() <= NULL_DEG && lat.abs() <= NULL_DEG {
        return Verdict::Out(Code::PositionNull);
    }
    if glued_file && let Some(place) = glued_minutes(lon, lat) {
        return Verdict::Mended(place, Code::PositionMinutes);
    }
    let as_read = Place::new(lon, lat);
    if let Some(place) = as_read {
        let standing = belongs.standing(place);
        if standing != Standing::Elsewhere {
            return Verdict::AsRead(place, standing);
        }
    }
    for tier in [single_faults(lon, lat), double_faults(lon, lat)] {
        let mut fits = tier.into_iter().filter(|(_, place)| belongs.confirms(*place));
        match (fits.next(), fits.next()) {
            (Some((code, place)), None) => return Verdict::Mended(place, code),
            // Two readings fit: nobody can tell which is right.
            (Some(_), Some(_)) => break,
            (None, _) => {}
        }
    }
    match (as_read, belongs) {
        (None, _) => Verdict::Out(Code::PositionOutOfRange),
        (Some(_), Belongs::Shore(_)) => Verdict::Out(Code::PositionOutside),
        (Some(place), _) => Verdict::Far(place),
    }
}

/// Other readings of a position, each by one fault. Readings equal to the one given are left out.
fn single_faults(lon: f64, lat: f64) -> Vec<(Code, Place)> {
    let pairs = [
        (Code::PositionSwapped, Some((lat, lon))),
        (Code::PositionSign, Some((-lon, lat))),
        (Code::PositionSign, Some((lon, -lat))),
        (Code::PositionSign, Some((-lon, -lat))),
        (Code::PositionMinutes, both(lon, lat, degrees_glued)),
        (Code::PositionMinutes, both(lon, lat, degrees_packed_minutes)),
        (Code::PositionMinutes, both(lon, lat, degrees_packed_seconds)),
        (Code::PositionScaled, both(lon, lat, degrees_scaled)),
        (Code::PositionProjected, degrees_mercator(lon, lat, 0.0)),
        (Code::PositionProjected, degrees_mercator(lon, lat, WGS84_ECCENTRICITY)),
    ];
    distinct(lon, lat, &pairs)
}

/// Readings that need two faults at once: swapped with a sign lost, glued or packed with a sign lost.
fn double_faults(lon: f64, lat: f64) -> Vec<(Code, Place)> {
    let mut pairs = Vec::new();
    for (east, north) in [(-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
        pairs.push((Code::PositionSwapped, Some((east * lat, north * lon))));
        for reading in [degrees_glued, degrees_packed_minutes, degrees_packed_seconds] {
            pairs.push((Code::PositionMinutes, both(east * lon, north * lat, reading)));
        }
    }
    distinct(lon, lat, &pairs)
}

fn distinct(lon: f64, lat: f64, pairs: &[(Code, Option<(f64, f64)>)]) -> Vec<(Code, Place)> {
    let mut readings: Vec<(Code, Place)> = Vec::new();
    for (code, pair) in pairs {
        let Some(place) = pair.and_then(|(lon, lat)| usable(lon, lat)) else { continue };
        let known = readings.iter().map(|(_, p)| (p.lon, p.lat)).chain([(lon, lat)]);
        if !known.into_iter().any(|(x, y)| (x - place.lon).abs() < 1e-9 && (y - place.lat).abs() < 1e-9) {
            readings.push((*code, place));
        }
    }
    readings
}

fn both(lon: f64, lat: f64, reading: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    Some((reading(lon)?, reading(lat)?))
}

/// `36 07.5` written as 36.075: the digits after the point are minutes, below 60.
fn degrees_glued(value: f64) -> Option<f64> {
    let minutes = value.abs().fract() * 100.0;
    (value.abs() <= 180.0 && minutes < 60.0).then(|| (value.abs().trunc() + minutes / 60.0).copysign(value))
}

fn glued_minutes(lon: f64, lat: f64) -> Option<Place> {
    both(lon, lat, degrees_glued).and_then(|(lon, lat)| usable(lon, lat))
}

/// `3607.5`: degrees times 100 plus minutes, as NMEA 0183 sentences write them (from memory).
fn degrees_packed_minutes(value: f64) -> Option<f64> {
    let degrees = (value.abs() / 100.0).trunc();
    let minutes = value.abs() - degrees * 100.0;
    ((1.0..=180.0).contains(&degrees) && minutes < 60.0).then(|| (degrees + minutes / 60.0).copysign(value))
}

/// `360730`: degrees, two digits of minutes, two of seconds.
fn degrees_packed_seconds(value: f64) -> Option<f64> {
    let minutes_part = (value.abs() / 100.0).trunc();
    let seconds = value.abs() - minutes_part * 100.0;
    let degrees = (minutes_part / 100.0).trunc();
    let minutes = minutes_part - degrees * 100.0;
    ((1.0..=180.0).contains(&degrees) && minutes < 60.0 && seconds < 60.0)
        .then(|| (degrees + minutes / 60.0 + seconds / 3600.0).copysign(value))
}

/// Integer angle units, 2^31 = 180 degrees, signed or not (arithmetic of a 32-bit angle).
fn degrees_scaled(value: f64) -> Option<f64> {
    let whole = value.fract() == 0.0 && value.abs() > 1e6 && value.abs() < 4_294_967_296.0;
    let signed = if value >= 2_147_483_648.0 { value - 4_294_967_296.0 } else { value };
    whole.then(|| signed * 180.0 / 2_147_483_648.0)
}

/// First eccentricity of the WGS 84 ellipsoid, sqrt(2f - f²) with f = 1/298.257223563.
const WGS84_ECCENTRICITY: f64 = 0.081_819_190_842_622;

/// Metres of a Mercator map about the meridian of Greenwich, on the sphere that web maps use (eccentricity 0) or on the
/// ellipsoid (Snyder 1987, USGS Professional Paper 1395, equations 7-4, 7-9 and 7-12).
fn degrees_mercator(east_m: f64, north_m: f64, eccentricity: f64) -> Option<(f64, f64)> {
    const EQUATOR_M: f64 = 6_378_137.0;
    const HALF_WAY_ROUND_M: f64 = EQUATOR_M * std::f64::consts::PI;
    let metres = east_m.abs().max(north_m.abs());
    if metres <= 180.0 || metres > HALF_WAY_ROUND_M {
        return None;
    }
    let t = (-north_m / EQUATOR_M).exp();
    let mut lat = FRAC_PI_2 - 2.0 * t.atan();
    for _ in 0..8 {
        let sine = eccentricity * lat.sin();
        let stretch = ((1.0 - sine) / (1.0 + sine)).powf(eccentricity / 2.0);
        lat = FRAC_PI_2 - 2.0 * (t * stretch).atan();
    }
    Some(((east_m / EQUATOR_M).to_degrees(), lat.to_degrees()))
}

/// Files in which every position looks like glued degrees and minutes, most lie outside as read and nearly all lie
/// at the lake when read again. Then those that happen to lie at the lake as read are wrong too.
fn files_with_glued_minutes(raw: &[RawMark], belongs: &Belongs<'_>) -> Vec<u32> {
    const FEWEST: usize = 5; // fewer marks prove no habit of a file
    if !matches!(belongs, Belongs::Shore(_)) {
        return Vec::new();
    }
    raw.chunk_by(|a, b| a.origin.file == b.origin.file)
        .filter(|marks| {
            let usable: Vec<Place> =
                marks.iter().filter_map(|mark| usable(mark.lon_deg, mark.lat_deg)).collect();
            let again: Vec<Place> =
                usable.iter().filter_map(|place| glued_minutes(place.lon, place.lat)).collect();
            usable.len() >= FEWEST
                && again.len() == usable.len()
                && 2 * usable.iter().filter(|place| belongs.confirms(**place)).count() < usable.len()
                && 10 * again.iter().filter(|place| belongs.confirms(**place)).count() >= 9 * again.len()
        })
        .map(|marks| marks[0].origin.file.0)
        .collect()
}

/// Tells files whose positions all stand on a coarse lattice: the marks are no better than its step.
pub(super) fn tell_coarse(drafts: &[Draft], findings: &mut Vec<Finding>) {
    const FEWEST: usize = 8; // by chance 8 positions on 0.0001 degrees of six given decimals: 1e-32
    const STEPS: [(f64, &str, f64); 5] = [
        (1e-3, "0.001 degrees", 111.0),
        (1.0 / 600.0, "0.1 minutes", 185.0),
        (1.0 / 3600.0, "1 second", 31.0),
        (1.0 / 6000.0, "0.01 minutes", 18.5),
        (1e-4, "0.0001 degrees", 11.0),
    ];
    for marks in drafts.chunk_by(|a, b| a.file() == b.file()) {
        if marks.len() < FEWEST {
            continue;
        }
        // Minutes and seconds come with five or six decimals: the lattice is met to half a unit of the sixth.
        let on_lattice = |deg: f64, step: f64| ((deg / step).round() * step - deg).abs() < 1.1e-6;
        let step = STEPS.iter().find(|(step, _, _)| {
            marks.iter().all(|d| on_lattice(d.place().lon, *step) && on_lattice(d.place().lat, *step))
        });
        if let Some((_, name, metres)) = step {
            let file = Origin::whole_file(marks[0].file());
            let seen = format!("all positions are multiples of `{name}`, about {metres} m");
            let fix = "export with more decimals: nothing can tell marks apart below that step";
            findings.push(Finding::new(Code::PositionCoarse, seen).at(file, "").fix(fix));
        }
    }
}
