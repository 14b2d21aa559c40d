//! The integration tests, one binary; a module a subject.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on says so by panicking")]

mod architecture;
mod interpret;
mod merge;
