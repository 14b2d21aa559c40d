//! Marks in, sightings out: the one place where the tests of movement lean on how marks are collapsed.
//!
//! A small time-ordered leader (80 m, 8 ft, 10 min), to be replaced by the `schools` stage.

use shoalwright::schools::Sighting;
use shoalwright::terms::id::Id;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::units::{Depth, WaterTemp};

/// Sightings of bait, with the marks of each as places in `marks`.
pub(crate) fn bait_sightings(marks: &[Mark], lake: &Lake) -> Vec<Sighting> {
    let mut order: Vec<usize> =
        (0..marks.len()).filter(|i| marks[*i].kind == Kind::Bait && marks[*i].day.is_some()).collect();
    order.sort_by_key(|i| (marks[*i].day.unwrap().date, marks[*i].time, marks[*i].id));
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for i in order {
        let joins = |group: &Vec<usize>| {
            let (mark, first, last) = (&marks[i], &marks[group[0]], &marks[*group.last().unwrap()]);
            let metres = centre(marks, group, lake).metres_to(lake.to_plane(mark.place));
            let deep =
                mark.fish_depth.zip(first.fish_depth).is_none_or(|(a, b)| (a.feet() - b.feet()).abs() <= 8.0);
            let soon = mark.time.zip(last.time).is_none_or(|(a, b)| a.seconds_since(b) <= 600.0);
            let same_day = mark.day.unwrap().date == first.day.unwrap().date;
            (same_day && deep && soon && metres <= 80.0).then_some(metres)
        };
        let nearest = (0..groups.len())
            .rev()
            .take(200)
            .filter_map(|g| Some((joins(&groups[g])?, g)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match nearest {
            Some((_, g)) => groups[g].push(i),
            None => groups.push(vec![i]),
        }
    }
    groups.into_iter().map(|group| sighting(marks, group, lake)).collect()
}

fn centre(marks: &[Mark], group: &[usize], lake: &Lake) -> PlanePoint {
    let points = group.iter().map(|i| lake.to_plane(marks[*i].place));
    let (east, north) = points.fold((0.0, 0.0), |(e, n), p| (e + p.east_m, n + p.north_m));
    PlanePoint { east_m: east / group.len() as f64, north_m: north / group.len() as f64 }
}

fn sighting(marks: &[Mark], group: Vec<usize>, lake: &Lake) -> Sighting {
    let mean =
        |values: Vec<f64>| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    let of = |value: fn(&Mark) -> Option<f64>| mean(group.iter().filter_map(|i| value(&marks[*i])).collect());
    let plane = centre(marks, &group, lake);
    let ids: Vec<String> = group.iter().map(|i| marks[*i].id.to_string()).collect();
    Sighting {
        id: Id::of('s', &ids.iter().map(String::as_str).collect::<Vec<_>>()),
        kind: Kind::Bait,
        day: marks[group[0]].day.unwrap(),
        time: marks[group[0]].time,
        place: lake.plane.to_place(plane),
        plane,
        fish_depth: of(|m| m.fish_depth.map(Depth::metres)).and_then(Depth::from_metres),
        water_depth: None,
        water_temp: of(|m| m.water_temp.map(WaterTemp::celsius)).and_then(WaterTemp::from_celsius),
        area: None,
        marks: group,
    }
}
