//! The thermal clock: season days told by how far the water has warmed or cooled.
//!
//! One yearly cosine of surface temperature, which each season runs early or late in spring and in autumn.

use super::cholesky::Cholesky;
use super::observation::Observation;
use crate::terms::season::YEAR_DAYS;
use std::f64::consts::TAU;

/// Common size of a season's shift in days (ridge).
const SHIFT_SD_DAYS: f64 = 10.0;
/// Most days of shift that are believed.
const MOST_DAYS: f64 = 40.0;
/// Middle of spring; autumn is half a year later (15 April, 15 October on the northern half of the earth; the two
/// exchange names on the southern, which changes nothing).
const SPRING_DAY: f64 = 104.0;
/// Most days from a date on which its warmth is looked for in the mean year (judgement: a later spring is none).
const MOST_EARLY: i32 = 30;
/// Readings needed beyond the free numbers of the cosine (judgement).
const LEAST_READINGS: usize = 20;
const ROUNDS: usize = 12;

/// A yearly course of temperature and the shift of each season against it.
#[derive(Clone, Debug)]
pub(super) struct ThermalClock {
    seasons: Vec<i16>,
    /// Days by which each season's spring and autumn came late.
    shifts: Vec<[f64; 2]>,
    /// Mean in Celsius, and factors of the cosine and the sine of the season.
    course: [f64; 3],
    /// Half the yearly swing in Celsius.
    pub(super) amplitude_c: f64,
}

/// Share of spring in a day's shift.
fn spring(day: f64) -> f64 {
    0.5 * (1.0 + ((day - SPRING_DAY) * TAU / YEAR_DAYS).cos())
}

impl ThermalClock {
    /// From one reading an outing; `None` with too few readings.
    pub(super) fn fit(observations: &[Observation], seasons: &[i16]) -> Option<Self> {
        let readings = readings(observations, seasons);
        if readings.len() < LEAST_READINGS {
            return None;
        }
        let size = 3 + 2 * seasons.len();
        let mut shifts = vec![[0.0; 2]; seasons.len()];
        let mut amplitude_c = 0.0;
        let mut course = [readings.iter().map(|r| r.2).sum::<f64>() / readings.len() as f64, 0.0, 0.0];
        let mut variance = 4.0;
        for round in 0..ROUNDS {
            // Gauss-Newton: residuals against course and shifts; in the first round the course has no slope yet.
            let mut matrix = vec![0.0; size * size];
            let mut right = vec![0.0; size];
            let mut squares = 0.0;
            for (season, day, celsius) in &readings {
                let share = spring(*day);
                let late = share * shifts[*season][0] + (1.0 - share) * shifts[*season][1];
                let (sin, cos) = ((day - late) * TAU / YEAR_DAYS).sin_cos();
                let off = celsius - (course[0] + course[1] * cos + course[2] * sin);
                squares += off * off;
                let slope = TAU / YEAR_DAYS * (course[1] * sin - course[2] * cos);
                let mut row = vec![0.0; size];
                row[..3].copy_from_slice(&[1.0, cos, sin]);
                row[3 + 2 * season] = slope * share;
                row[4 + 2 * season] = slope * (1.0 - share);
                for i in 0..size {
                    right[i] += row[i] * off;
                    for j in 0..size {
                        matrix[i * size + j] += row[i] * row[j];
                    }
                }
            }
            if round > 1 {
                variance = (squares / (readings.len() - 3) as f64).max(0.01);
            }
            for (i, late) in shifts.iter().flatten().enumerate() {
                let weight = variance / SHIFT_SD_DAYS.powi(2);
                matrix[(3 + i) * size + 3 + i] += weight;
                right[3 + i] -= weight * late;
            }
            let step = Cholesky::of(&matrix, size)?.solve(&right);
            course.iter_mut().zip(&step).for_each(|(c, s)| *c += s);
            for (late, step) in shifts.iter_mut().flatten().zip(&step[3..]) {
                *late = (*late + step).clamp(-MOST_DAYS, MOST_DAYS);
            }
            // Only differences between seasons are told: their mean belongs to the course.
            for part in 0..2 {
                let mean = shifts.iter().map(|s| s[part]).sum::<f64>() / shifts.len() as f64;
                for late in &mut shifts {
                    late[part] -= mean;
                }
            }
            amplitude_c = course[1].hypot(course[2]);
        }
        amplitude_c.is_finite().then(|| Self { seasons: seasons.to_vec(), shifts, course, amplitude_c })
    }

    /// The day of the mean year nearest to a season day, and at most `MOST_EARLY` days from it, whose water is as warm;
    /// `None` when it never is about that time.
    pub(super) fn day_of_warmth(&self, near: f64, celsius: f64) -> Option<f64> {
        let off = |day: f64| {
            let (sin, cos) = (day * TAU / YEAR_DAYS).sin_cos();
            self.course[0] + self.course[1] * cos + self.course[2] * sin - celsius
        };
        // Outwards in half days, so that the first change of sign is the nearest.
        (1..=2 * MOST_EARLY)
            .flat_map(|k| {
                [0.5, -0.5].map(|step| (near + step * f64::from(k - 1), near + step * f64::from(k)))
            })
            .find(|(a, b)| off(*a) * off(*b) <= 0.0)
            .map(|(a, b)| {
                let (a_off, b_off) = (off(a), off(b));
                if (a_off - b_off).abs() < 1e-9 { a } else { a + (b - a) * a_off / (a_off - b_off) }
            })
    }

    /// The season day on which the mean year is as far as this day of this season.
    pub(super) fn day(&self, season: i16, calendar_day: f64) -> f64 {
        let share = spring(calendar_day);
        let late = self
            .seasons
            .iter()
            .position(|s| *s == season)
            .map_or(0.0, |i| share * self.shifts[i][0] + (1.0 - share) * self.shifts[i][1]);
        calendar_day - late
    }
}

/// Mean temperature of each outing: number of its season, season day, Celsius.
fn readings(observations: &[Observation], seasons: &[i16]) -> Vec<(usize, f64, f64)> {
    observations
        .chunk_by(|a, b| a.outing == b.outing)
        .filter_map(|outing| {
            let celsius: Vec<f64> = outing.iter().filter_map(|o| o.water_temp_c).collect();
            let season = seasons.iter().position(|s| *s == outing[0].season)?;
            (!celsius.is_empty())
                .then(|| (season, outing[0].calendar_day, celsius.iter().sum::<f64>() / celsius.len() as f64))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five seasons of weekly readings on a cosine of 12 C, each season late by a known number of days.
    fn check(late: [f64; 5]) {
        let mut observations = Vec::new();
        for (year, late) in (2019_i16..).zip(late) {
            for week in 0..52 {
                let day = f64::from(week) * 7.0 + 2.0;
                let celsius = 15.0 - 12.0 * ((day - late - 20.0) * TAU / YEAR_DAYS).cos();
                observations.push(Observation {
                    east_m: 0.0,
                    north_m: 0.0,
                    depth_ft: None,
                    water_temp_c: Some(celsius),
                    day,
                    calendar_day: day,
                    season: year,
                    outing: observations.len(),
                });
            }
        }
        let clock = ThermalClock::fit(&observations, &[2019, 2020, 2021, 2022, 2023]).unwrap();
        assert!((clock.amplitude_c - 12.0).abs() < 0.2, "{}", clock.amplitude_c);
        let mean = late.iter().sum::<f64>() / 5.0;
        for (year, late) in (2019_i16..).zip(late) {
            for day in [90.0, 150.0, 290.0] {
                let found = day - clock.day(year, day);
                assert!((found - (late - mean)).abs() < 1.0, "{year} {day}: {found}");
            }
        }
    }

    #[test]
    fn warmth_tells_the_nearest_day_of_the_mean_year_or_none() {
        let clock = ThermalClock {
            seasons: Vec::new(),
            shifts: Vec::new(),
            course: [15.0, -12.0, 0.0],
            amplitude_c: 12.0,
        };
        // 15 C at the quarters of the year; 27 C at midsummer only.
        for (near, celsius, day) in
            [(80.0, 15.0, Some(91.3)), (290.0, 15.0, Some(273.9)), (91.3, 28.0, None), (10.0, 15.0, None)]
        {
            let found = clock.day_of_warmth(near, celsius);
            assert!(
                found.zip(day).map_or(found == day, |(f, d)| (f - d).abs() < 0.1),
                "{near} {celsius}: {found:?}"
            );
        }
    }

    #[test]
    fn late_seasons_are_found_late() {
        check([0.0, 12.0, -8.0, 3.0, -7.0]);
        check([0.0; 5]);
    }
}
