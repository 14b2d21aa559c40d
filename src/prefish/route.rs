//! One day's stops in order, with the times that make a change checkable without walking the whole day.

use crate::prefish::instance::{HAIR, Instance};

/// The stops of one day, in order. Kept feasible: no change is made that would break the day.
#[derive(Debug, Default)]
pub(super) struct Route {
    pub(super) stops: Vec<usize>,
    /// When the boat leaves each stop; after it nothing: the day's end is `back_s`.
    depart_s: Vec<f64>,
    /// Latest arrival at each stop that still keeps the rest; one more for the finish.
    latest_s: Vec<f64>,
    /// Back at the finish.
    pub(super) back_s: f64,
    /// Metres run.
    pub(super) run_m: f64,
}

impl Clone for Route {
    fn clone(&self) -> Self {
        let mut copy = Self::default();
        copy.clone_from(self);
        copy
    }

    // By hand, so that a copy into an old route takes its memory over: the search copies in every round.
    fn clone_from(&mut self, from: &Self) {
        self.stops.clone_from(&from.stops);
        self.depart_s.clone_from(&from.depart_s);
        self.latest_s.clone_from(&from.latest_s);
        self.back_s = from.back_s;
        self.run_m = from.run_m;
    }
}

/// Where a stop may go in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gap {
    pub(super) position: usize,
    /// Seconds that it adds: travel, waiting and search.
    pub(super) added_s: f64,
}

/// A day to route.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub(super) instance: &'a Instance<'a>,
    pub(super) day: usize,
}

impl Ground<'_> {
    pub(super) fn seconds(self, from: usize, to: usize) -> f64 {
        self.instance.days[self.day].travel.seconds(from, to)
    }

    fn metres(self, from: usize, to: usize) -> f64 {
        self.instance.days[self.day].travel.metres(from, to)
    }

    fn ends(self) -> (usize, usize) {
        (self.instance.days[self.day].start, self.instance.days[self.day].finish)
    }
}

impl Route {
    /// The day without stops; it may itself be too long or too far, see `holds`.
    pub(super) fn empty(ground: Ground) -> Self {
        let mut route = Self::default();
        route.refresh(ground, &[]);
        route
    }

    /// Takes the times anew after a change of stops or minutes. Whether the day holds.
    pub(super) fn refresh(&mut self, ground: Ground, steps: &[usize]) -> bool {
        let day = &ground.instance.days[ground.day];
        let (start, finish) = ground.ends();
        let (mut at, mut now, mut run, mut holds) = (start, 0.0, 0.0, true);
        self.depart_s.clear();
        for stop in &self.stops {
            run += ground.metres(at, *stop);
            let begin = (now + ground.seconds(at, *stop)).max(day.open_s[*stop]);
            holds &= begin <= day.close_s[*stop] + HAIR;
            now = begin + ground.instance.search_s(*stop, steps[*stop]);
            self.depart_s.push(now);
            at = *stop;
        }
        self.back_s = now + ground.seconds(at, finish);
        self.run_m = run + ground.metres(at, finish);
        self.latest_s.clear();
        self.latest_s.resize(self.stops.len() + 1, day.length_s);
        let mut next = finish;
        for (place, stop) in self.stops.iter().enumerate().rev() {
            let search = ground.instance.search_s(*stop, steps[*stop]);
            self.latest_s[place] =
                (self.latest_s[place + 1] - ground.seconds(*stop, next) - search).min(day.close_s[*stop]);
            next = *stop;
        }
        holds && self.back_s <= day.length_s + HAIR && self.run_m <= day.range_m + HAIR
    }

    fn before(&self, ground: Ground, position: usize) -> (usize, f64) {
        match position.checked_sub(1) {
            Some(place) => (self.stops[place], self.depart_s[place]),
            None => (ground.ends().0, 0.0),
        }
    }

    fn after(&self, ground: Ground, position: usize) -> usize {
        self.stops.get(position).copied().unwrap_or(ground.ends().1)
    }

    /// The gap where a stop adds least time; `None`: it fits nowhere.
    pub(super) fn best_gap(&self, ground: Ground, stop: usize, step: usize) -> Option<Gap> {
        let day = &ground.instance.days[ground.day];
        if self.stops.len() >= ground.instance.max_stops {
            return None;
        }
        let search = ground.instance.search_s(stop, step);
        let mut best: Option<Gap> = None;
        for position in 0..=self.stops.len() {
            let (from, depart) = self.before(ground, position);
            let arrive = depart + ground.seconds(from, stop);
            let begin = arrive.max(day.open_s[stop]);
            if begin > day.close_s[stop] + HAIR {
                break; // it only gets later
            }
            let to = self.after(ground, position);
            let there = begin + search + ground.seconds(stop, to);
            if there > self.latest_s[position] + HAIR {
                continue;
            }
            let added_s = there - depart - ground.seconds(from, to);
            if best.is_some_and(|b| b.added_s <= added_s) {
                continue;
            }
            let more = ground.metres(from, stop) + ground.metres(stop, to) - ground.metres(from, to);
            if self.run_m + more <= day.range_m + HAIR {
                best = Some(Gap { position, added_s });
            }
        }
        best
    }

    /// Seconds saved by leaving a stop out.
    pub(super) fn saved_s(&self, ground: Ground, place: usize, steps: &[usize]) -> f64 {
        let (from, _) = self.before(ground, place);
        let (stop, to) = (self.stops[place], self.after(ground, place + 1));
        ground.seconds(from, stop) + ground.seconds(stop, to) - ground.seconds(from, to)
            + ground.instance.search_s(stop, steps[stop])
    }

    /// Whole minutes that a stop could stay longer.
    pub(super) fn spare_minutes(&self, ground: Ground, place: usize) -> usize {
        let to = self.after(ground, place + 1);
        let spare = self.latest_s[place + 1] - self.depart_s[place] - ground.seconds(self.stops[place], to);
        ((spare + HAIR) / 60.0).max(0.0) as usize
    }

    /// Seconds of travel in all.
    pub(super) fn travel_s(&self, ground: Ground) -> f64 {
        let (start, finish) = ground.ends();
        let mut at = start;
        let mut sum = 0.0;
        for stop in self.stops.iter().chain([&finish]) {
            sum += ground.seconds(at, *stop);
            at = *stop;
        }
        sum
    }

    /// Shortens the way: pieces turned round (2-opt) and pieces of up to three stops moved (or-opt), first gain
    /// taken, until none is left. Whether anything changed. `spare` is memory to work in.
    pub(super) fn shorten(&mut self, ground: Ground, steps: &[usize], spare: &mut Self) -> bool {
        let mut changed = false;
        while self.turn_a_piece(ground, steps, spare) || self.move_a_piece(ground, steps, spare) {
            changed = true;
        }
        changed
    }

    /// Node at a place, counted with the start as 0.
    fn node(&self, ground: Ground, place: usize) -> usize {
        if place == 0 { ground.ends().0 } else { self.after(ground, place - 1) }
    }

    fn turn_a_piece(&mut self, ground: Ground, steps: &[usize], spare: &mut Self) -> bool {
        let count = self.stops.len();
        for i in 1..count {
            // Travel inside the piece i..=j, forwards and backwards: a lake's ways need not be alike both ways.
            let (mut there, mut back) = (0.0, 0.0);
            for j in i + 1..=count {
                let [a, b] = [j - 1, j].map(|p| self.node(ground, p));
                there += ground.seconds(a, b);
                back += ground.seconds(b, a);
                let [before, first, after] = [i - 1, i, j + 1].map(|p| self.node(ground, p));
                let gain = ground.seconds(before, first) + there + ground.seconds(b, after)
                    - ground.seconds(before, b)
                    - back
                    - ground.seconds(first, after);
                if gain > HAIR {
                    spare.stops.clone_from(&self.stops);
                    spare.stops[i - 1..j].reverse();
                    if self.take(ground, steps, spare) {
                        return true;
                    }
                }
            }
        }
        false
    }

    fn move_a_piece(&mut self, ground: Ground, steps: &[usize], spare: &mut Self) -> bool {
        let count = self.stops.len();
        for length in 1..=3.min(count.saturating_sub(1)) {
            for i in 1..=count + 1 - length {
                let [before, first, last, after] =
                    [i - 1, i, i + length - 1, i + length].map(|p| self.node(ground, p));
                let freed = ground.seconds(before, first) + ground.seconds(last, after)
                    - ground.seconds(before, after);
                if freed <= HAIR {
                    continue;
                }
                for gap in (0..i - 1).chain(i + length..=count) {
                    // Between the nodes `gap` and `gap + 1`, neither of them in the piece.
                    let [from, to] = [gap, gap + 1].map(|p| self.node(ground, p));
                    let way = |a: usize, b: usize| {
                        ground.seconds(from, a) + ground.seconds(b, to) - ground.seconds(from, to)
                    };
                    let turned = way(last, first) < way(first, last);
                    let inner: f64 = (i..i + length - 1)
                        .map(|p| {
                            let [a, b] = [p, p + 1].map(|p| self.node(ground, p));
                            if turned { ground.seconds(b, a) - ground.seconds(a, b) } else { 0.0 }
                        })
                        .sum();
                    let added = if turned { way(last, first) } else { way(first, last) } + inner;
                    if freed - added > HAIR {
                        spare.stops.clone_from(&self.stops);
                        let piece = &mut spare.stops;
                        if turned {
                            piece[i - 1..i + length - 1].reverse();
                        }
                        if gap < i {
                            piece[gap..i + length - 1].rotate_right(length);
                        } else {
                            piece[i - 1..gap].rotate_left(length);
                        }
                        if self.take(ground, steps, spare) {
                            return true;
                        }
                    }
                }
            }
        }
        false
    }

    /// Takes the order of `other` over when the day holds with it and it is back no later.
    fn take(&mut self, ground: Ground, steps: &[usize], other: &mut Self) -> bool {
        let better = other.refresh(ground, steps) && other.back_s <= self.back_s + HAIR;
        if better {
            std::mem::swap(self, other);
        }
        better
    }
}
