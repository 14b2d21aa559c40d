//! Several lakes in one call: each is a run of its own, and nothing is shared but the machine.

use super::RunError;
use super::load::read_text;
use crate::settings::Settings;
use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Stack of a lake's threads: as much as the first thread of a program has where a lake runs alone.
const STACK_BYTES: usize = 8 << 20;

/// The settings files in the order of their names, once it is sure that no two lakes write into one folder. A settings
/// file that cannot be read is told when its turn comes.
///
/// # Errors
/// When a file is given twice, or one lake's output folder is that of another or lies in it.
pub fn lakes_apart(paths: &[PathBuf], sets: &[String]) -> Result<Vec<PathBuf>, RunError> {
    let mut lakes = paths.to_vec();
    lakes.sort();
    let mut files: Vec<(PathBuf, &PathBuf)> = lakes.iter().map(|path| (resolved(path), path)).collect();
    files.sort();
    if let Some([(_, first), (_, second)]) = files.array_windows().find(|[a, b]| a.0 == b.0) {
        return Err(RunError::LakeTwice { first: (*first).clone(), second: (*second).clone() });
    }
    let mut folders: Vec<(PathBuf, &PathBuf)> = lakes
        .iter()
        .filter_map(|path| {
            let settings = Settings::read(Some((path, &read_text(path).ok()?)), sets).ok()?;
            Some((resolved(&settings.path(Path::new(&settings.output.dir))), path))
        })
        .collect();
    // What lies in a folder stands right behind it in this order, so neighbours tell.
    folders.sort();
    if let Some([(folder, first), (_, second)]) = folders.array_windows().find(|[a, b]| b.0.starts_with(&a.0))
    {
        return Err(RunError::OneFolder {
            first: (*first).clone(),
            second: (*second).clone(),
            folder: folder.clone(),
        });
    }
    Ok(lakes)
}

/// Where a path leads, without links and `..`, as far as it is there.
fn resolved(path: &Path) -> PathBuf {
    if let Ok(found) = fs::canonicalize(path) {
        return found;
    }
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    match (absolute.parent(), absolute.file_name()) {
        (Some(parent), Some(name)) => resolved(parent).join(name),
        // It ends in `..`: the folder above one that is not there yet.
        (Some(parent), None) => resolved(parent).parent().map(Path::to_owned).unwrap_or_default(),
        (None, _) => absolute,
    }
}

/// Runs each lake, never more at once than there are threads or cores, so that memory is bounded by so many lakes. The
/// result is in the order of the lakes; `None` where a run panicked, which stops no other lake.
///
/// Each lake has threads of its own: threads that all lakes shared would take up a next lake while they wait for a part
/// of the one they are at.
///
/// # Errors
/// When the threads cannot be started.
pub fn each_lake<L: Sync, T: Send + Sync>(
    lakes: &[L],
    threads: usize,
    run: impl Fn(&L) -> T + Sync,
) -> Result<Vec<Option<T>>, ThreadPoolBuildError> {
    let cores = thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let at_once = lakes.len().min(threads).min(cores).max(1);
    let pool =
        || ThreadPoolBuilder::new().num_threads((threads / at_once).max(1)).stack_size(STACK_BYTES).build();
    let pools: Vec<ThreadPool> = (0..at_once).map(|_| pool()).collect::<Result<_, _>>()?;
    let ended: Vec<OnceLock<T>> = lakes.iter().map(|_| OnceLock::new()).collect();
    let next = AtomicUsize::new(0);
    thread::scope(|scope| {
        for pool in &pools {
            scope.spawn(|| {
                while let Some((lake, slot)) = {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    lakes.get(number).zip(ended.get(number))
                } {
                    // A run owns all that it works on; what a panic leaves behind is dropped with it.
                    if let Ok(value) = catch_unwind(AssertUnwindSafe(|| pool.install(|| run(lake)))) {
                        drop(slot.set(value));
                    }
                }
            });
        }
    });
    Ok(ended.into_iter().map(OnceLock::into_inner).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lakes_at_once_are_as_many_as_threads_and_a_panic_stops_no_other() {
        let lakes: Vec<u32> = (0..40).collect();
        let (running, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let ended = each_lake(&lakes, 2, |lake| {
            most.fetch_max(running.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
            // Parts of a lake that wait for one another must not take up a next lake meanwhile.
            let (a, b) = rayon::join(|| thread::sleep(std::time::Duration::from_millis(1)), || lake + 1);
            running.fetch_sub(1, Ordering::SeqCst);
            assert!(*lake != 7, "planted");
            let ((), b) = (a, b);
            b
        })
        .unwrap();
        assert!(most.into_inner() <= 2);
        let expected: Vec<Option<u32>> = lakes.iter().map(|n| (*n != 7).then_some(n + 1)).collect();
        assert_eq!(ended, expected);
    }

    #[test]
    fn a_folder_is_known_however_it_is_written() {
        let home = tempfile::tempdir().unwrap();
        let root = fs::canonicalize(home.path()).unwrap();
        fs::create_dir(root.join("a")).unwrap();
        for path in ["out", "a/../out", "./out", "b/../out"] {
            assert_eq!(resolved(&home.path().join(path)), root.join("out"), "{path}");
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(root.join("a"), root.join("link")).unwrap();
            assert_eq!(resolved(&root.join("link/out")), root.join("a/out"));
        }
    }
}
