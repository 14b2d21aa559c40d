//! The glossary as types: the words that every stage shares.
//!
//! Nothing here opens a file, reads the clock or knows a stage. Longitude comes first, times are UTC instants,
//! and a number that could be confused with another has a type whose constructors and readers name the unit.

pub mod circle;
pub mod codes;
pub mod export;
pub mod finding;
pub mod id;
pub mod instant;
pub mod lake;
pub mod mark;
pub mod place;
pub mod pool;
pub mod random;
pub mod search_law;
pub mod season;
pub mod sha256;
pub mod sonar;
pub mod sources;
pub mod sun;
pub mod track_log;
pub mod units;
pub mod water;
pub mod zone;
