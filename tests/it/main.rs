//! The integration tests, one binary; a module a subject.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on says so by panicking")]

mod acceptance_schools;
mod architecture;
mod hollow;
mod log_of;
mod pairing_nulls;
mod plain_clusters;
mod properties_cluster;
mod properties_schools;
mod rand_index;
mod reference_cluster;
