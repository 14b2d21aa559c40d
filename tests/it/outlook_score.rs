//! How well an outlook tells the truth of a simulated lake. Nobody knows the truth of a real one.

use crate::sightings_of_marks::bait_sightings;
use crate::simulator::{Random, SimulatedLake};
use shoalwright::effort::{self, Cell, Effort, effort};
use shoalwright::movement::{self, Clock};
use shoalwright::outlook::{self, Backtest, Given, Outlook, outlook};
use shoalwright::prefish;
use shoalwright::schools::{HoldingArea, Schools, Sighting};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::season::SeasonDay;
use shoalwright::terms::track_log::TrackLog;
use std::collections::{BTreeMap, BTreeSet};

/// The swath of the simulated sonar.
pub(crate) fn looking() -> effort::Settings {
    effort::Settings { swath: "60 m".parse().unwrap(), ..effort::Settings::default() }
}

/// A log worked up to effort.
pub(crate) struct WorkedUp<'a> {
    pub(crate) log: &'a [Mark],
    pub(crate) lake: &'a Lake,
    pub(crate) sightings: Vec<Sighting>,
    pub(crate) effort: Effort,
    looking: effort::Settings,
    movement: movement::Settings,
}

impl<'a> WorkedUp<'a> {
    pub(crate) fn new(log: &'a [Mark], track_logs: &[TrackLog], lake: &'a Lake) -> Self {
        Self {
            log,
            lake,
            sightings: bait_sightings(log, lake),
            effort: effort(track_logs, log, lake, &looking(), 100.0),
            looking: looking(),
            movement: movement::Settings::default(),
        }
    }

    pub(crate) fn given(&self) -> Given<'_> {
        Given {
            log: self.log,
            sightings: &self.sightings,
            effort: &self.effort,
            lake: self.lake,
            movement: &self.movement,
            clock: Clock::Date,
            looking: &self.looking,
        }
    }

    pub(crate) fn backtest(&self) -> Option<Backtest> {
        outlook::backtest(self.given())
    }

    pub(crate) fn outlook(&self, date: jiff::civil::Date) -> Outlook {
        outlook(self.given(), &outlook::Settings::default(), date, &[])
    }

    /// The same without a season.
    pub(crate) fn without(mut self, season: i16) -> Self {
        self.sightings.retain(|s| s.day.season != season);
        self.effort.outings.retain(|o| o.day.season != season);
        self
    }
}

/// Cells for which an interval is checked, and what it held.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Cover {
    pub(crate) cells: usize,
    pub(crate) held: usize,
    pub(crate) above: usize,
    pub(crate) foretold: f64,
    pub(crate) true_chance: f64,
}

impl Cover {
    pub(crate) fn add(&mut self, other: Self) {
        self.cells += other.cells;
        self.held += other.held;
        self.above += other.above;
        self.foretold += other.foretold;
        self.true_chance += other.true_chance;
    }

    pub(crate) fn share(&self) -> f64 {
        self.held as f64 / self.cells.max(1) as f64
    }
}

/// Mornings drawn for a true chance.
const MORNINGS: usize = 150;
const A_MORNING: f64 = 1.0 / MORNINGS as f64;
/// Chance that a search finds a school in its square: coverage 1 by the random law, times what the sonar sees.
const FOUND: f64 = 0.632_120_6 * 0.9;

/// How often the 90 % interval holds the true chance of a standard search, over mornings of seasons yet unseen; the
/// cells in five parts, from the worst foretold to the best.
pub(crate) fn cover(simulated: &SimulatedLake, outlook: &Outlook, random: &mut Random) -> [Cover; 5] {
    let day = SeasonDay::from_date(outlook.date).days();
    let half_m = outlook.search.swept_m2.sqrt() / 2.0;
    let mut met: BTreeMap<Cell, f64> = BTreeMap::new();
    for _ in 0..MORNINGS {
        let mut missed: BTreeMap<Cell, f64> = BTreeMap::new();
        for school in simulated.truth.schools_of_a_new_season(random, day) {
            for cell in cells_that_reach(school, half_m, outlook.cell_m) {
                *missed.entry(cell).or_insert(1.0) *= 1.0 - FOUND;
            }
        }
        for (cell, missed) in missed {
            *met.entry(cell).or_default() += 1.0 - missed;
        }
    }
    let mut cover = [Cover::default(); 5];
    let count = outlook.cells.len();
    for (rank, cell) in outlook.cells.iter().enumerate() {
        let chance = cell.chance.unwrap();
        let truth = met.get(&cell.cell).copied().unwrap_or(0.0) / MORNINGS as f64;
        let part = &mut cover[4 - rank * 5 / count];
        part.cells += 1;
        // The truth is known to one morning.
        part.held += usize::from((chance.low - A_MORNING..=chance.high + A_MORNING).contains(&truth));
        part.above += usize::from(truth > chance.high + A_MORNING);
        part.foretold += chance.mean;
        part.true_chance += truth;
    }
    cover
}

/// What is said of a holding area on a date, and what is true of it.
pub(crate) struct AreaChance {
    /// From the seasons in which it held bait.
    pub(crate) by_seasons: f64,
    /// From the outlook.
    pub(crate) by_outlook: f64,
    /// Share of the mornings of seasons yet unseen with a school in it.
    pub(crate) truth: f64,
}

/// The chances of the areas of the season on a date.
pub(crate) fn area_chances(
    simulated: &SimulatedLake,
    schools: &Schools,
    outlook: &Outlook,
    random: &mut Random,
) -> Vec<AreaChance> {
    let day = SeasonDay::from_date(outlook.date);
    let lake = &simulated.lake;
    let by_seasons = prefish::chances(&schools.areas, &schools.sightings, day);
    let radius_m = |area: &HoldingArea| prefish::radius_m(area, &schools.sightings);
    let mut areas: Vec<(PlanePoint, f64, AreaChance)> = schools
        .areas
        .iter()
        .zip(by_seasons)
        .filter(|(area, _)| area.kind == Kind::Bait)
        .filter_map(|(area, by_seasons)| {
            let by_outlook = outlook.chance_within(area.centre, radius_m(area), lake)?;
            let chance = AreaChance { by_seasons: by_seasons?, by_outlook, truth: 0.0 };
            Some((lake.to_plane(area.centre), radius_m(area), chance))
        })
        .collect();
    for _ in 0..MORNINGS {
        let there = simulated.truth.schools_of_a_new_season(random, day.days());
        for (centre, radius_m, chance) in &mut areas {
            if there.iter().any(|school| school.metres_to(*centre) <= *radius_m) {
                chance.truth += A_MORNING;
            }
        }
    }
    areas.into_iter().map(|(_, _, chance)| chance).collect()
}

/// Cells in whose square of search a school lies.
fn cells_that_reach(school: PlanePoint, half_m: f64, cell_m: f64) -> Vec<Cell> {
    let reach = (half_m / cell_m).ceil() as i32;
    let own = Cell::at(school, cell_m);
    let inside = |cell: &Cell| {
        let middle = cell.middle(cell_m);
        (middle.east_m - school.east_m).abs() <= half_m && (middle.north_m - school.north_m).abs() <= half_m
    };
    (-reach..=reach)
        .flat_map(|row| {
            (-reach..=reach).map(move |column| Cell { row: own.row + row, column: own.column + column })
        })
        .filter(inside)
        .collect()
}

/// Schools, and how many of them lie on the part of the water that each of two maps puts first.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Captured {
    pub(crate) schools: f64,
    pub(crate) by_outlook: f64,
    pub(crate) by_density: f64,
}

impl Captured {
    fn add(&mut self, [by_outlook, by_density]: [bool; 2]) {
        self.schools += 1.0;
        self.by_outlook += f64::from(u8::from(by_outlook));
        self.by_density += f64::from(u8::from(by_density));
    }

    /// Shares of the schools, by the outlook and by the density.
    pub(crate) fn shares(self) -> [f64; 2] {
        [self.by_outlook, self.by_density].map(|n| n / self.schools)
    }
}

/// The first part of the water by an outlook and by a seasonal density of what it knows.
pub(crate) struct FirstWater([BTreeSet<Cell>; 2]);

impl FirstWater {
    pub(crate) fn of(known: &WorkedUp<'_>, outlook: &Outlook, share: f64) -> Self {
        let day = SeasonDay::from_date(outlook.date);
        let first = (outlook.cells.len() as f64 * share) as usize;
        let mut density: Vec<(f64, Cell)> = outlook
            .cells
            .iter()
            .map(|c| (density(&known.sightings, c.cell.middle(outlook.cell_m), day), c.cell))
            .collect();
        density.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        Self([
            outlook.cells[..first].iter().map(|c| c.cell).collect(),
            density[..first].iter().map(|d| d.1).collect(),
        ])
    }

    /// Whether it holds a place, by outlook and by density.
    pub(crate) fn holds(&self, at: PlanePoint, cell_m: f64) -> [bool; 2] {
        self.0.each_ref().map(|cells| cells.contains(&Cell::at(at, cell_m)))
    }
}

/// All schools of the last season, seen or not, on the tenth of the water that the outlook and a seasonal density of the
/// marks put first, both made without that season; on dates spread over it. First those that keep to a route, which is
/// what the truth of `fixtures/reference/lake-seasons` counts; then all, with the strays that no map can foretell.
pub(crate) fn captured_of_all(
    simulated: &SimulatedLake,
    seasons: usize,
    dates: i64,
    random: &mut Random,
) -> [Captured; 2] {
    let last = 2018 + i16::try_from(seasons).unwrap();
    let known = WorkedUp::new(&simulated.marks, &simulated.track_logs, &simulated.lake).without(last);
    let mut captured = [Captured::default(); 2];
    for number in 0..dates {
        let date =
            jiff::civil::date(last, 1, 5).checked_add(jiff::Span::new().days(364 / dates * number)).unwrap();
        let outlook = known.outlook(date);
        let water = FirstWater::of(&known, &outlook, 0.1);
        for _ in 0..5 {
            let day = SeasonDay::from_date(date).days();
            for (school, of_route) in simulated.truth.schools(random, seasons - 1, day) {
                let held = water.holds(school, outlook.cell_m);
                if of_route {
                    captured[0].add(held);
                }
                captured[1].add(held);
            }
        }
    }
    captured
}

/// Schools of a season on the parts of the water that an outlook and a seasonal density put first, by what is known
/// without that season.
pub(crate) fn captured_of_season(
    known: WorkedUp<'_>,
    schools: &[(jiff::civil::Date, Place)],
    shares: [f64; 3],
) -> [Captured; 3] {
    let known = known.without(schools[0].0.year());
    let mut by_date: BTreeMap<jiff::civil::Date, Vec<PlanePoint>> = BTreeMap::new();
    for (date, place) in schools {
        by_date.entry(*date).or_default().push(known.lake.to_plane(*place));
    }
    let mut captured = [Captured::default(); 3];
    for (date, schools) in by_date {
        let outlook = known.outlook(date);
        for (captured, share) in captured.iter_mut().zip(shares) {
            let water = FirstWater::of(&known, &outlook, share);
            for school in &schools {
                captured.add(water.holds(*school, outlook.cell_m));
            }
        }
    }
    captured
}

/// Of water that no outing of any season came within 300 m of: sightings that an outlook expects of a search of all of it,
/// and schools that truly lie there, mean over mornings of that day in a season.
pub(crate) fn in_water_never_looked_at(
    simulated: &SimulatedLake,
    known: &WorkedUp<'_>,
    outlook: &Outlook,
    season: usize,
    random: &mut Random,
) -> [f64; 2] {
    let reach = (300.0 / outlook.cell_m) as i32;
    let near: BTreeSet<Cell> = known
        .effort
        .outings
        .iter()
        .flat_map(|outing| outing.cells.iter().map(|(cell, _)| *cell))
        .collect::<BTreeSet<Cell>>()
        .into_iter()
        .flat_map(|c| {
            (-reach..=reach).flat_map(move |row| {
                (-reach..=reach).map(move |column| Cell { row: c.row + row, column: c.column + column })
            })
        })
        .collect();
    let left: BTreeMap<Cell, f64> = outlook
        .cells
        .iter()
        .filter(|c| !near.contains(&c.cell))
        .map(|c| (c.cell, c.rate_km2.unwrap() * outlook.cell_m * outlook.cell_m / 1e6))
        .collect();
    let day = SeasonDay::from_date(outlook.date).days();
    let schools = (0..MORNINGS)
        .flat_map(|_| simulated.truth.schools(random, season, day))
        .filter(|(at, _)| left.contains_key(&Cell::at(*at, outlook.cell_m)))
        .count();
    [left.values().sum(), schools as f64 * A_MORNING]
}

/// Seasonal density of sightings by straight distance: 250 m and 20 days.
fn density(sightings: &[Sighting], at: PlanePoint, day: SeasonDay) -> f64 {
    sightings
        .iter()
        .map(|s| {
            let days = s.day.season_day.days_apart(day) / 20.0;
            let metres = s.plane.metres_to(at) / 250.0;
            (-0.5 * (days * days + metres * metres)).exp()
        })
        .sum()
}
