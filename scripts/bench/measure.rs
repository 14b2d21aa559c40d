//! What a bench costs, on Linux: proc(5).

use std::fs;

/// CPU seconds of this process and of the children it has waited for: fields 14 to 17 of stat, counted behind the
/// command's closing bracket, at 100 ticks a second.
pub(crate) fn cpu_s() -> f64 {
    let stat = fs::read_to_string("/proc/self/stat").unwrap();
    let behind = stat.rsplit(')').next().unwrap();
    behind.split_whitespace().skip(11).take(4).map(|ticks| ticks.parse::<f64>().unwrap()).sum::<f64>() / 100.0
}

/// Most memory that a process has held, in megabytes; `None`: it is gone. `self` is this one.
pub(crate) fn peak_mb(process: &str) -> Option<f64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let kb = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.split_whitespace().next()?;
    Some(kb.parse::<f64>().ok()? / 1024.0)
}
