//! Which device wrote a file: a clock fault is a fault of a device, not of a file.

use crate::terms::export::{Export, FileId};
use std::collections::BTreeMap;

/// Numbers for the devices, by file: files whose exports carry the same unit label share one.
#[derive(Debug)]
pub(super) struct Devices {
    of_file: Vec<u32>,
}

impl Devices {
    pub(super) fn new(exports: &[Export]) -> Self {
        let mut numbers: BTreeMap<&str, u32> = BTreeMap::new();
        let of_file = exports
            .iter()
            .map(|export| {
                let next = numbers.len() as u32;
                *numbers.entry(&export.unit).or_insert(next)
            })
            .collect();
        Self { of_file }
    }

    /// The device of a file; a file without an export stands for itself.
    pub(super) fn of(&self, file: FileId) -> u32 {
        self.of_file.get(file.0 as usize).copied().unwrap_or(u32::MAX - file.0)
    }
}
