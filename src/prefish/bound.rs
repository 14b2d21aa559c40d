//! How much any plan could be worth: a bound by Lagrangian relaxation.
//!
//! Relaxed are "each stop once", the pairs of a group and the fuel; what is left is, for each day, the best walk
//! without a step straight back (2-cycle-free, Christofides, Mingozzi & Toth 1981), found over buckets of time with
//! all legs rounded down: it is worth at least what the best plan is worth, whatever the multipliers. These are moved
//! by subgradient steps (Held & Karp 1971).

use crate::prefish::instance::{HAIR, Instance};
use crate::prefish::model::Want;
use std::rc::Rc;

/// Buckets that a day is cut into, about. More are sharper and slower.
const BUCKETS: f64 = 480.0;
/// Most subgradient steps, and most looks at a leg in all of them: about a fifth of a second.
const STEPS: usize = 120;
const LOOKS: usize = 40_000_000;
/// Groups of up to this many stops are taken exactly, larger ones as if their stops were apart.
const EXACT_GROUP: usize = 10;

/// The multipliers of the best bound, and what follows from them.
pub(super) struct Bound {
    /// No plan that holds all its must-stops is worth more.
    pub(super) value: f64,
    days: Vec<Rc<Walks>>,
    /// What a visit to each stop pays less than its chance.
    lambda: Vec<f64>,
    /// What a metre costs on each day.
    nu: Vec<f64>,
}

impl Bound {
    /// Bounds the worth of any plan; `target` is the worth of the best plan known. `None`: days, legs or searches
    /// are too long or too short for buckets.
    pub(super) fn of(instance: &Instance, target: f64) -> Option<Self> {
        let n = instance.stops;
        let mut lambda = vec![0.0; n];
        let mut nus = vec![0.0_f64; instance.days.len()];
        let all_legs: Vec<Legs> =
            (0..instance.days.len()).map(|day| Legs::of(instance, day)).collect::<Option<_>>()?;
        let looks: usize = all_legs.iter().map(|l| (l.last + 1) * (n + 1) * (n + 1)).sum();
        let mut best: Option<Self> = None;
        let (mut pace, mut stale) = (1.0, 0);
        for _ in 0..STEPS.min(LOOKS / looks.max(1)).max(5) {
            let mut visits = vec![0.0_f64; n];
            let mut value = 0.0;
            let mut over = Vec::with_capacity(nus.len());
            let mut days: Vec<Rc<Walks>> = Vec::with_capacity(nus.len());
            for (number, (legs, nu)) in all_legs.iter().zip(&nus).enumerate() {
                // Days that are alike in all have the same walks.
                let like = (0..number)
                    .find(|other| all_legs[*other] == *legs && nus[*other].to_bits() == nu.to_bits());
                let walks = match like {
                    Some(other) => Rc::clone(&days[other]),
                    None => Rc::new(Walks::new(instance, legs, &lambda, *nu)),
                };
                let metres = walks.follow(instance, legs, &lambda, *nu, &mut visits);
                let range = instance.days[number].range_m;
                // A day that cannot be run even empty stays empty.
                let worth = walks.paid[walks.nodes - 1].first;
                value += if worth.is_finite() { worth } else { 0.0 };
                if range.is_finite() && worth.is_finite() {
                    value += nu * range;
                    over.push(metres - range);
                } else {
                    over.push(0.0);
                }
                days.push(walks);
            }
            let mut counted = vec![0.0_f64; n];
            for group in 0..instance.groups.len() {
                let (worth, chosen) = best_of_group(instance, group, &lambda, 0);
                value += worth;
                for stop in chosen {
                    counted[stop] = 1.0;
                }
            }
            if best.as_ref().is_none_or(|b| value < b.value - 1e-9) {
                stale = 0;
                best = Some(Self { value, days, lambda: lambda.clone(), nu: nus.clone() });
            } else {
                stale += 1;
                if stale >= 5 {
                    (pace, stale) = (pace / 2.0, 0);
                }
            }
            if pace < 0.01 || best.as_ref().is_some_and(|b| b.value <= target + 1e-7) {
                break;
            }
            // Each multiplier goes the way of what violates its constraint.
            let slopes: Vec<f64> = visits.iter().zip(&counted).map(|(v, c)| v - c).collect();
            let metre = 1.0 / instance.days.iter().map(|d| d.length_s).sum::<f64>().max(1.0);
            let norm = slopes.iter().map(|s| s * s).sum::<f64>()
                + over.iter().map(|o| (o * metre).powi(2)).sum::<f64>();
            if norm < 1e-12 || !value.is_finite() {
                break;
            }
            let step = pace * (value - target).max(1e-6) / norm;
            for (stop, slope) in slopes.iter().enumerate() {
                let alone = instance.groups[instance.group_of[stop]].len() == 1;
                lambda[stop] += step * slope;
                if alone && instance.want[stop] != Want::Must {
                    lambda[stop] = lambda[stop].max(0.0);
                }
            }
            for (nu, over) in nus.iter_mut().zip(&over) {
                *nu = (*nu + step * over * metre * metre).max(0.0);
            }
        }
        best
    }

    /// Most that a group adds beyond what its stops in `taken` (a bit a member) are worth, pay of the walk left out.
    pub(super) fn group_worth(&self, instance: &Instance, group: usize, taken: u32) -> f64 {
        best_of_group(instance, group, &self.lambda, taken).0
    }

    /// The same for all that may be taken; empty for a group too large for that.
    pub(super) fn group_table(&self, instance: &Instance, group: usize) -> Vec<f64> {
        match instance.groups[group].len() {
            size @ 0..=EXACT_GROUP => {
                (0..1_u32 << size).map(|taken| self.group_worth(instance, group, taken)).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Most that the rest of a day pays from a stop left at a time; `None`: the day's end is not reached from there.
    pub(super) fn rest_of_day(
        &self,
        instance: &Instance,
        day: usize,
        stop: usize,
        now_s: f64,
        run_m: f64,
    ) -> Option<f64> {
        let walks = &self.days[day];
        let bucket = buckets_of(now_s, walks.bucket_s);
        let range = instance.days[day].range_m;
        let fuel = if range.is_finite() { self.nu[day] * (range - run_m) } else { 0.0 };
        let paid = walks.paid.get(bucket * walks.nodes + stop)?.first;
        (paid > f64::NEG_INFINITY).then_some(paid + fuel)
    }

    /// Most that a whole day pays.
    pub(super) fn whole_day(&self, instance: &Instance, day: usize) -> f64 {
        self.rest_of_day(instance, day, instance.stops, 0.0, 0.0).unwrap_or(0.0)
    }
}

/// Best choice of further stops of a group when those of `taken` are in: what they add to the worth of the group less
/// what the walk is paid for them. Must-stops are always chosen.
fn best_of_group(instance: &Instance, group: usize, lambda: &[f64], taken: u32) -> (f64, Vec<usize>) {
    let members = &instance.groups[group];
    if members.len() > EXACT_GROUP {
        // As if apart: none adds more than its chance.
        let wanted = |stop: &usize| match instance.want[*stop] {
            Want::Must => true,
            Want::May => lambda[*stop] > 0.0,
            Want::Never => false,
        };
        let chosen: Vec<usize> = members.iter().copied().filter(wanted).collect();
        // A must-stop's negative multiplier counts only while the stop is not taken; dropping it is on the safe side.
        return (chosen.iter().map(|s| lambda[*s].max(0.0)).sum(), chosen);
    }
    let chance = |stop: usize| instance.chance(stop, 0);
    let bit = |mask: u32, place: usize| mask >> place & 1 == 1;
    let before: f64 =
        members.iter().enumerate().filter(|(p, _)| bit(taken, *p)).map(|(_, s)| 1.0 - chance(*s)).product();
    let mut best = (f64::NEG_INFINITY, 0_u32);
    for further in (0..1_u32 << members.len()).filter(|further| further & taken == 0) {
        // Worth less pay falls as the chances grow (of one stop alone it stays), so the least minutes bound it.
        let (mut missed, mut paid, mut sound) = (1.0, 0.0, true);
        for (place, stop) in members.iter().enumerate().filter(|(p, _)| !bit(taken, *p)) {
            if bit(further, place) {
                sound &= instance.want[*stop] != Want::Never;
                missed *= 1.0 - chance(*stop);
                paid += chance(*stop) - lambda[*stop];
            } else {
                sound &= instance.want[*stop] != Want::Must;
            }
        }
        let worth = before * (1.0 - missed) - paid;
        if sound && worth > best.0 {
            best = (worth, further);
        }
    }
    let chosen = members.iter().enumerate().filter(|(p, _)| bit(best.1, *p)).map(|(_, s)| *s).collect();
    (best.0, chosen)
}

/// A day's legs in whole buckets, rounded down.
#[derive(PartialEq)]
struct Legs {
    bucket_s: f64,
    /// Last bucket of the day.
    last: usize,
    /// From each stop (the start after them) to each stop, then the finish: buckets of travel.
    travel: Vec<u32>,
    /// The same with the least search of the stop gone to.
    through: Vec<u32>,
    metres: Vec<f64>,
    /// By stop: earliest and latest begin.
    open: Vec<u32>,
    close: Vec<u32>,
    /// By stop: earliest end of the least search.
    open_through: Vec<u32>,
}

/// Whole buckets of a length of time, rounded down. What is a hair short of whole is whole; the day is a larger hair
/// longer, so the bound stays one.
fn buckets_of(seconds: f64, bucket_s: f64) -> usize {
    ((seconds + 1e-9) / bucket_s).max(0.0) as usize
}

/// A leg that does not exist, or a stop that never opens.
const NEVER: u32 = u32::MAX / 4;

impl Legs {
    fn of(instance: &Instance, day: usize) -> Option<Self> {
        let numbers = &instance.days[day];
        let n = instance.stops;
        let raw_s = numbers.length_s / BUCKETS;
        // Minutes of search are whole: a bucket that divides a minute loses nothing on them.
        let bucket_s = if instance.chosen || raw_s <= 60.0 {
            60.0 / (60.0 / raw_s.max(1e-9)).round().max(1.0)
        } else {
            raw_s
        };
        let last = (numbers.length_s + HAIR) / bucket_s;
        if !(0.0..5000.0).contains(&last) {
            return None;
        }
        let buckets = |seconds: f64| {
            if seconds < bucket_s * f64::from(NEVER) { buckets_of(seconds, bucket_s) as u32 } else { NEVER }
        };
        let mut legs = Self {
            bucket_s,
            last: last as usize,
            travel: Vec::new(),
            through: Vec::new(),
            metres: Vec::new(),
            open: (0..n).map(|i| buckets(numbers.open_s[i])).collect(),
            close: (0..n)
                .map(|i| if numbers.close_s[i] < 0.0 { 0 } else { buckets(numbers.close_s[i]) })
                .collect(),
            open_through: (0..n).map(|i| buckets(numbers.open_s[i] + instance.search_s(i, 0))).collect(),
        };
        for from in 0..=n {
            let node = if from == n { numbers.start } else { from };
            for to in 0..=n {
                let (end, search) =
                    if to == n { (numbers.finish, 0.0) } else { (to, instance.search_s(to, 0)) };
                let shut = to < n && (instance.want[to] == Want::Never || numbers.close_s[to] < -HAIR);
                let seconds = if from == to && to < n || shut {
                    f64::INFINITY
                } else {
                    numbers.travel.seconds(node, end)
                };
                let through = buckets(seconds + search);
                if to < n && through == 0 || instance.chosen && to < n && buckets(search) == 0 {
                    return None; // a step without time would let a walk go round for ever
                }
                legs.travel.push(buckets(seconds));
                legs.through.push(through);
                legs.metres.push(numbers.travel.metres(node, end));
            }
        }
        Some(legs)
    }

    /// Buckets in which the search at a stop begins and ends when the boat leaves `from` in bucket `now`.
    fn visit(&self, from: usize, to: usize, now: u32) -> Option<(u32, u32)> {
        let leg = from * (self.open.len() + 1) + to;
        let begin = (now + self.travel[leg]).max(self.open[to]);
        let end = (now + self.through[leg]).max(self.open_through[to]);
        (begin <= self.close[to] && end as usize <= self.last).then_some((begin, end))
    }
}

/// What the rest of a day pays at most, from a stop left in a bucket.
#[derive(Clone, Copy)]
struct Paid {
    first: f64,
    /// The stop that the best walk goes to next; `HOME`: none.
    next: u32,
    /// The best of the walks that go elsewhere next.
    second: f64,
}

const HOME: u32 = u32::MAX;
const NOTHING: Paid = Paid { first: f64::NEG_INFINITY, next: HOME, second: f64::NEG_INFINITY };

impl Paid {
    fn offer(&mut self, paid: f64, next: u32) {
        if paid > self.first {
            (self.second, self.first, self.next) = (self.first, paid, next);
        } else if paid > self.second {
            self.second = paid;
        }
    }

    /// Without a step straight back to `from`.
    fn not_back_to(&self, from: usize) -> f64 {
        if self.next == from as u32 { self.second } else { self.first }
    }
}

/// Best walks of a day, backward from its end.
struct Walks {
    bucket_s: f64,
    nodes: usize,
    /// By bucket and stop (the start after the stops).
    paid: Vec<Paid>,
    /// The same on arrival, the search still to come; only where minutes are chosen.
    arrived: Vec<Paid>,
}

impl Walks {
    fn new(instance: &Instance, legs: &Legs, lambda: &[f64], nu: f64) -> Self {
        let (n, nodes) = (instance.stops, instance.stops + 1);
        let mut walks = Self {
            bucket_s: legs.bucket_s,
            nodes,
            paid: vec![NOTHING; (legs.last + 1) * nodes],
            arrived: if instance.chosen { vec![NOTHING; (legs.last + 1) * n] } else { Vec::new() },
        };
        for now in (0..=legs.last as u32).rev() {
            if instance.chosen {
                for stop in 0..n {
                    walks.arrived[now as usize * n + stop] =
                        walks.on_arrival(instance, legs, lambda, stop, now);
                }
            }
            for from in 0..nodes {
                let mut paid = NOTHING;
                let home = from * nodes + n;
                if (now + legs.travel[home]) as usize <= legs.last {
                    paid.offer(-nu * legs.metres[home], HOME);
                }
                for to in 0..n {
                    if let Some(worth) = walks.step(instance, legs, lambda, nu, from, to, now) {
                        paid.offer(worth, to as u32);
                    }
                }
                walks.paid[now as usize * nodes + from] = paid;
            }
        }
        walks
    }

    /// What going to a stop pays with all that comes after.
    #[expect(clippy::too_many_arguments, reason = "the state of a walk, inlined in the innermost loop")]
    #[inline]
    fn step(
        &self,
        instance: &Instance,
        legs: &Legs,
        lambda: &[f64],
        nu: f64,
        from: usize,
        to: usize,
        now: u32,
    ) -> Option<f64> {
        let (begin, end) = legs.visit(from, to, now)?;
        let worth = if instance.chosen {
            self.arrived[begin as usize * instance.stops + to].not_back_to(from)
        } else {
            instance.chance(to, 0) - lambda[to] + self.paid[end as usize * self.nodes + to].not_back_to(from)
        };
        (worth > f64::NEG_INFINITY).then(|| worth - nu * legs.metres[from * self.nodes + to])
    }

    /// The best minutes on arrival.
    fn on_arrival(&self, instance: &Instance, legs: &Legs, lambda: &[f64], stop: usize, now: u32) -> Paid {
        let ends = || {
            instance.searches[stop].chance.iter().enumerate().map_while(move |(step, chance)| {
                let end = now as usize + buckets_of(instance.search_s(stop, step), legs.bucket_s);
                (end <= legs.last).then(|| (chance - lambda[stop], self.paid[end * self.nodes + stop]))
            })
        };
        let mut best = NOTHING;
        for (pay, after) in ends() {
            if pay + after.first > best.first {
                (best.first, best.next) = (pay + after.first, after.next);
            }
        }
        best.second = ends()
            .map(|(pay, after)| pay + if after.next == best.next { after.second } else { after.first })
            .fold(f64::NEG_INFINITY, f64::max);
        best
    }

    /// Follows the best walk from the start and counts its visits; returns its metres.
    fn follow(&self, instance: &Instance, legs: &Legs, lambda: &[f64], nu: f64, visits: &mut [f64]) -> f64 {
        let n = instance.stops;
        let (mut from, mut before, mut now, mut metres) = (n, n, 0_u32, 0.0);
        loop {
            let home = from * self.nodes + n;
            let mut best =
                ((now + legs.travel[home]) as usize <= legs.last).then(|| (-nu * legs.metres[home], HOME));
            for to in (0..n).filter(|to| *to != before) {
                if let Some(worth) = self.step(instance, legs, lambda, nu, from, to, now)
                    && best.is_none_or(|(most, _)| worth > most)
                {
                    best = Some((worth, to as u32));
                }
            }
            let Some((_, next)) = best else { return metres };
            if next == HOME {
                return metres + legs.metres[home];
            }
            let to = next as usize;
            let Some((begin, least_end)) = legs.visit(from, to, now) else { return metres };
            visits[to] += 1.0;
            metres += legs.metres[from * self.nodes + to];
            now = if instance.chosen { self.best_end(instance, legs, from, to, begin) } else { least_end };
            (before, from) = (from, to);
        }
    }

    /// The bucket in which the best search at a stop ends.
    fn best_end(&self, instance: &Instance, legs: &Legs, from: usize, stop: usize, begin: u32) -> u32 {
        let mut best = (f64::NEG_INFINITY, begin + 1);
        for (step, chance) in instance.searches[stop].chance.iter().enumerate() {
            let end = begin + buckets_of(instance.search_s(stop, step), legs.bucket_s) as u32;
            if end as usize > legs.last {
                break;
            }
            let worth = chance + self.paid[end as usize * self.nodes + stop].not_back_to(from);
            if worth > best.0 {
                best = (worth, end);
            }
        }
        best.1
    }
}
