//! The integration tests, one binary; a module a subject.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on says so by panicking")]

mod acceptance_schools;
mod architecture;
mod reference_movement;
mod reference_places;
mod reference_seasons;
mod reference_spline;
mod layers;
mod layers_sample;
mod acceptance_movement;
mod movement;
mod movement_score;
mod sightings_of_marks;
mod hollow;
mod log_of;
mod pairing_nulls;
mod plain_clusters;
mod planted;
mod properties_cluster;
mod properties_schools;
mod rand_index;
mod reference_cluster;
mod schools_findings;
mod reference_pairing;
mod damage;
mod hostile;
mod quirks;
mod reading_csv;
mod regression;
mod reading_gpx;
mod reference_gpx;
mod cli;
mod documents;
mod effort;
mod few_data;
mod five_lines;
mod simulated_movement;
mod simulator;
mod interpret;
mod merge;
mod merge_simulator;
mod round_trip;
mod reference_travel;
mod travel;
