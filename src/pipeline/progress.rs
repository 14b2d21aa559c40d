//! What a person sees while a run goes on: the stage, and how much of the input is read.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// A line on a terminal's standard error. It shows itself after a second, so quick runs stay quiet, and never when
/// standard error is no terminal.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    start: Instant,
    shown: AtomicBool,
}

impl Progress {
    /// Shown on a terminal, hidden elsewhere.
    #[must_use]
    pub fn on_terminal() -> Self {
        Self::with(false)
    }

    /// Never shown.
    #[must_use]
    pub fn hidden() -> Self {
        Self::with(true)
    }

    fn with(hidden: bool) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        Self { bar, start: Instant::now(), shown: AtomicBool::new(hidden) }
    }

    /// Several lakes are to be run, so many. They tell nothing by themselves: their lines would run into one another.
    pub fn lakes(&self, count: u64) {
        self.bar.set_message("lakes");
        self.bar.set_length(count);
        if let Ok(style) = ProgressStyle::with_template("{msg} {bar:30} {pos}/{len} {elapsed}") {
            self.bar.set_style(style);
        }
    }

    /// One of them has ended.
    pub fn lake_ended(&self) {
        self.bar.inc(1);
        self.show_when_late();
    }

    /// A stage begins; `bytes` is what it will read, 0 where nothing is read.
    pub(super) fn stage(&self, name: &'static str, bytes: u64) {
        self.bar.set_message(name);
        if bytes > 0 {
            self.bar.set_length(bytes);
            if let Ok(style) = ProgressStyle::with_template("{msg} {bar:30} {bytes}/{total_bytes}") {
                self.bar.set_style(style);
            }
        } else if let Ok(style) = ProgressStyle::with_template("{msg} {elapsed}") {
            self.bar.set_style(style);
        }
        self.show_when_late();
    }

    /// Bytes read since the last call.
    pub(super) fn read(&self, bytes: u64) {
        self.bar.inc(bytes);
        self.show_when_late();
    }

    fn show_when_late(&self) {
        if self.start.elapsed() > Duration::from_secs(1) && !self.shown.swap(true, Ordering::Relaxed) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
