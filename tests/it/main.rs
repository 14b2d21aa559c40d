//! The integration tests, one binary; a module a subject.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on says so by panicking")]

mod acceptance_movement;
mod acceptance_schools;
mod architecture;
mod cli;
mod damage;
mod documents;
mod effort;
mod few_data;
mod five_lines;
mod hollow;
mod hostile;
mod interpret;
mod layers;
mod layers_sample;
mod log_of;
mod merge;
mod merge_simulator;
mod movement;
mod movement_score;
mod pairing_nulls;
mod plain_clusters;
mod planted;
mod properties_cluster;
mod properties_schools;
mod quirks;
mod rand_index;
mod reading_csv;
mod reading_gpx;
mod reference_cluster;
mod reference_gpx;
mod reference_movement;
mod reference_pairing;
mod reference_places;
mod reference_seasons;
mod reference_spline;
mod reference_travel;
mod regression;
mod round_trip;
mod schools_findings;
mod sightings_of_marks;
mod simulated_movement;
mod simulator;
mod tracks_in_water;
mod travel;
