//! The integration tests, one binary; a module a subject.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on says so by panicking")]

mod architecture;
mod reference_spline;
mod acceptance_movement;
mod movement;
mod movement_score;
mod sightings_of_marks;
mod simulated_movement;
mod simulator;
