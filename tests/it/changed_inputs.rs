//! An export that is not what it was when it was read: a record set aside is told whole or the run stops, and the old
//! output stays. Found by `scripts/faults` (vanishing, growing, shrinking).

use jiff::civil::date;
use shoalwright::pipeline::{Extent, LogFormat, Progress, Run, RunError, load, run};
use std::fs;
use std::path::Path;

const EXPORT: &str = "<gpx><wpt lat=\"35\" lon=\"-94\"><name>BAIT</name></wpt>\n\
    <wpt lat=\"95\" lon=\"-94\"><name>ASIDE</name></wpt></gpx>\n";

/// Reads an export, lets it be changed, and writes; the files that stand then.
fn written_after(change: impl FnOnce(&Path)) -> (Result<(), RunError>, Vec<(String, String)>) {
    let home = tempfile::tempdir().unwrap();
    let (export, out) = (home.path().join("in.gpx"), home.path().join("out/all.gpx"));
    fs::create_dir(home.path().join("out")).unwrap();
    fs::write(&export, EXPORT).unwrap();
    fs::write(&out, "the old output").unwrap();
    let read: Run = {
        let sources = load(std::slice::from_ref(&export), &[]).unwrap();
        run(sources, Extent::Log, date(2026, 1, 1), &Progress::hidden()).unwrap()
    };
    change(&export);
    let wrote = read.write_log_file(&out, LogFormat::Gpx).map(drop);
    let mut files: Vec<(String, String)> = fs::read_dir(home.path().join("out"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read_to_string(&path).unwrap())
        })
        .collect();
    files.sort();
    (wrote, files)
}

#[test]
fn an_export_left_alone_tells_its_record_set_aside_whole() {
    let (wrote, files) = written_after(|_| ());
    wrote.unwrap();
    assert_eq!(files.len(), 2);
    assert!(files[1].1.contains("<name>ASIDE</name></wpt>"), "{files:?}");
}

#[test]
fn a_merge_that_sets_nothing_aside_empties_the_table_that_an_earlier_one_left() {
    let home = tempfile::tempdir().unwrap();
    let (export, out) = (home.path().join("in.gpx"), home.path().join("all.gpx"));
    let aside = home.path().join("all.set-aside.csv");
    let merge = |inputs: &[std::path::PathBuf]| {
        let sources = load(inputs, &[]).unwrap();
        let run = run(sources, Extent::Log, date(2026, 1, 1), &Progress::hidden()).unwrap();
        run.write_log_file(&out, LogFormat::Gpx).unwrap()
    };
    fs::write(&export, EXPORT).unwrap();
    assert_eq!(merge(std::slice::from_ref(&export)), Some(aside.clone()));
    let mended = fs::read_to_string(&aside).unwrap().replace("95", "35.1");
    fs::write(&export, EXPORT.replace("95", "35")).unwrap();
    assert_eq!(merge(std::slice::from_ref(&export)), None);
    assert_eq!(fs::read_to_string(&aside).unwrap().trim_end(), "file,line,code,reason,record");
    // Mended and given as an input it is the user's, and so is a file that is no such table.
    for own in [mended, "my notes".to_owned()] {
        fs::write(&aside, &own).unwrap();
        let inputs = [export.clone(), aside.clone()];
        assert_eq!(merge(if own == "my notes" { &inputs[..1] } else { &inputs }), None);
        assert_eq!(fs::read_to_string(&aside).unwrap(), own);
    }
}

#[test]
fn an_export_that_was_cut_exchanged_grown_or_deleted_stops_the_run_and_the_old_output_stays() {
    let changes: [fn(&Path); 4] = [
        |path| fs::write(path, &EXPORT[..60]).unwrap(),
        // As long as before, and another record where the one set aside stood.
        |path| {
            std::thread::sleep(std::time::Duration::from_millis(20));
            fs::write(path, EXPORT.replace("ASIDE", "OTHER")).unwrap();
        },
        |path| fs::write(path, EXPORT.repeat(2)).unwrap(),
        |path| fs::remove_file(path).unwrap(),
    ];
    for change in changes {
        let (wrote, files) = written_after(change);
        let error = wrote.unwrap_err();
        assert!(matches!(error, RunError::Changed { .. }), "{error:?}");
        assert_eq!(files, [("all.gpx".to_owned(), "the old output".to_owned())]);
    }
}
