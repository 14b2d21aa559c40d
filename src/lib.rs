//! Turns an angler's sonar marks into one clean log, holding areas, seasonal movement, GIS layers and a boat file.
//!
//! The run flows one way, and the modules are declared in its order: a stage may use what stands above it and
//! nothing below (`tests/it/architecture.rs` checks that).

// The words that every stage shares.
pub mod terms;

// Ways through the lake's water, which several stages ask for.
pub mod travel;

// The stages, in the order of the run.
pub mod ingest;
pub mod interpret;
pub mod merge;
pub mod soundings;
pub mod schools;
pub mod movement;
pub mod effort;
pub mod outlook;
pub mod prefish;
pub mod layers;
pub mod share;
pub mod explain;

// The shell around them: settings in, the run, outputs whole or not at all.
pub mod settings;
pub mod account;
pub mod report;
pub mod output;
pub mod pipeline;
pub mod init;
pub mod demo;
pub mod cli;
