//! Files made to hurt, through the built binary: memory and time stay bounded, the counts add up, and the good mark
//! behind the trap is read.

use serde_json::Value;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Most memory that a run over one such file may take.
const MOST_MB: f64 = 300.0;
/// Most seconds of a run: far above what any of them takes, far below a hang.
const MOST_SECONDS: u64 = 60;

const GOOD: &str = "\n<wpt lat=\"35.1\" lon=\"-94.1\"><name>BAIT 27FT</name></wpt></gpx>\n";

/// What a run printed, and its peak of memory where the system tells it.
struct Ran {
    status: Option<i32>,
    stdout: String,
    stderr: String,
    peak_mb: Option<f64>,
}

/// Runs the binary and watches its memory (`VmHWM` of proc(5); Linux alone tells it).
fn run(folder: &Path, args: &[&str]) -> Ran {
    let (out, err) = (folder.join("stdout"), folder.join("stderr"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_shoalwright"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(File::create(&out).unwrap())
        .stderr(File::create(&err).unwrap())
        .spawn()
        .unwrap();
    let start = Instant::now();
    let mut peak_mb = None;
    let status = loop {
        if let Some(mb) = peak_of(child.id()) {
            peak_mb = Some(mb);
        }
        if let Some(status) = child.try_wait().unwrap() {
            break status.code();
        }
        let hangs = start.elapsed() > Duration::from_secs(MOST_SECONDS);
        if hangs {
            child.kill().unwrap();
            child.wait().unwrap();
        }
        assert!(!hangs, "{args:?} takes more than {MOST_SECONDS} s");
        sleep(Duration::from_millis(2));
    };
    let text = |path: PathBuf| String::from_utf8(fs::read(path).unwrap()).unwrap();
    Ran { status, stdout: text(out), stderr: text(err), peak_mb }
}

fn peak_of(process: u32) -> Option<f64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let kb = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.split_whitespace().next()?;
    Some(kb.parse::<f64>().ok()? / 1024.0)
}

/// Reads a file of which `write` writes all but the good mark at the end. `read` and `kept`: marks, the good one too.
#[track_caller]
fn check(read: u64, kept: u64, code: Option<&str>, write: impl FnOnce(&mut dyn Write)) -> Value {
    let home = tempfile::tempdir().unwrap();
    let mut file = BufWriter::new(File::create(home.path().join("trap.gpx")).unwrap());
    write(&mut file);
    file.write_all(GOOD.as_bytes()).unwrap();
    file.flush().unwrap();
    drop(file);
    let ran = run(home.path(), &["check", "--json", "--quiet", "trap.gpx"]);
    assert_eq!(ran.status, Some(0), "{}", ran.stderr);
    if let Some(mb) = ran.peak_mb {
        // A run of a few milliseconds may end between two looks; one that eats memory takes longer than that.
        assert!(mb <= MOST_MB, "{mb} MB");
    }
    let account: Value = serde_json::from_str(&ran.stdout).unwrap();
    let records = &account["records"];
    let count = |what: &str| records[what].as_u64().unwrap();
    assert_eq!((count("read"), count("kept")), (read, kept), "{account}");
    assert_eq!(count("read"), count("kept") + count("merged_away") + count("set_aside"));
    if let Some(code) = code {
        assert!(account["findings"][code].as_u64() > Some(0), "{}", account["findings"]);
    }
    account
}

fn put(out: &mut dyn Write, text: &str) {
    out.write_all(text.as_bytes()).unwrap();
}

/// Writes `text` again and again.
fn again(out: &mut dyn Write, text: &str, times: usize) {
    let block = text.repeat(1000);
    for _ in 0..times / 1000 {
        put(out, &block);
    }
}

#[test]
fn an_entity_bomb_stays_small() {
    let mut bomb = String::from("<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY a0 \"ha\">");
    for i in 1..30 {
        write!(bomb, "<!ENTITY a{i} \"{}\">", format!("&a{};", i - 1).repeat(10)).unwrap();
    }
    bomb.push_str("]><gpx><wpt lat=\"35\" lon=\"-94\"><name>&a29;</name></wpt>");
    check(2, 2, Some("xml-ampersand"), |out| put(out, &bomb));
}

#[test]
fn an_external_entity_is_not_followed() {
    let home = tempfile::tempdir().unwrap();
    let secret = home.path().join("secret.txt");
    fs::write(&secret, "the-secret").unwrap();
    let text = format!(
        "<!DOCTYPE gpx [<!ENTITY x SYSTEM \"file://{}\"><!ENTITY % y SYSTEM \"secret.txt\"> %y;]><gpx><wpt \
         lat=\"35\" lon=\"-94\"><name>&x;</name><desc>&y;</desc></wpt></gpx>",
        secret.display()
    );
    fs::write(home.path().join("trap.gpx"), text).unwrap();
    let ran = run(home.path(), &["merge", "--quiet", "trap.gpx"]);
    assert_eq!(ran.status, Some(0), "{}", ran.stderr);
    assert!(ran.stdout.contains("<name>&amp;x;</name>"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("the-secret"));
}

#[test]
fn a_million_nested_elements_are_passed_over() {
    check(1, 1, Some("xml-damaged"), |out| {
        put(out, "<gpx>");
        again(out, "<a>", 1_000_000);
        again(out, "</a>", 1_000_000);
    });
    check(2, 1, Some("record-damaged"), |out| {
        put(out, "<gpx><wpt lat=\"35\" lon=\"-94\"><extensions>");
        again(out, "<a>", 1_000_000);
        again(out, "</a>", 1_000_000);
        put(out, "</extensions></wpt>");
    });
}

#[test]
fn a_text_of_64_megabytes_costs_its_record() {
    check(2, 1, Some("record-damaged"), |out| {
        put(out, "<gpx><wpt lat=\"35\" lon=\"-94\"><name>");
        again(out, "0123456789abcdef", 1 << 22);
        put(out, "</name></wpt>");
    });
}

#[test]
fn a_hundred_thousand_attributes_are_read_through() {
    check(3, 2, Some("record-damaged"), |out| {
        put(out, "<gpx><wpt ");
        (0..30_000).for_each(|i| put(out, &format!("a{i}=\"<>\" ").replace('<', "x")));
        put(out, "lat=\"35\" lon=\"-94\"/><wpt ");
        // With more than a megabyte the tag is too long for a record.
        (0..100_000).for_each(|i| put(out, &format!("a{i}=\"xxxx\" ")));
        put(out, "lat=\"35\" lon=\"-94\"/>");
    });
}

#[test]
fn a_hundred_thousand_namespaces_cost_no_more_than_their_bytes() {
    for namespaces in [10_000, 100_000] {
        check(2, 2, None, |out| {
            put(out, "<gpx ");
            (0..namespaces)
                .for_each(|i| put(out, &format!("xmlns:n{i}=\"http://www.topografix.com/GPX/1/1\" ")));
            put(out, ">");
            // Each of these names has to be told from GPX's own.
            put(out, "<wpt lat=\"35\" lon=\"-94\"><far:name>x</far:name></wpt>\n");
            again(out, "<trk><far:name>x</far:name></trk>\n", 100_000);
        });
    }
}

#[test]
fn a_line_of_100_megabytes_without_a_tag_is_passed_over() {
    check(1, 1, Some("xml-damaged"), |out| {
        put(out, "<gpx>");
        again(out, "0123456789", 10_000_000);
    });
}

#[test]
fn a_mark_with_a_million_children_is_set_aside() {
    check(2, 1, Some("record-damaged"), |out| {
        put(out, "<gpx><wpt lat=\"35\" lon=\"-94\">");
        again(out, "<name>x</name>", 1_000_000);
        put(out, "</wpt>");
    });
}

#[test]
fn comments_that_never_end_take_no_longer_than_other_text() {
    for open in ["<!--", "<![CDATA[", "<!a[", "<!a[]"] {
        check(1, 1, Some("xml-damaged"), |out| {
            put(out, "<gpx>");
            again(out, open, 2_000_000);
            put(out, "<a>");
        });
    }
}

#[test]
fn a_million_hollow_tracks_leave_nothing() {
    let account = check(1, 1, None, |out| {
        put(out, "<gpx>");
        again(out, "<trk><trkseg/></trk>", 1_000_000);
    });
    assert_eq!(account["files"][0]["tracks"], 1_000_000);
    assert_eq!(account["files"][0]["track_segments"], 1_000_000);
}

#[test]
fn a_track_point_without_a_position_is_told_by_its_own_code() {
    let account = check(1, 1, Some("track-point-unreadable"), |out| {
        put(
            out,
            "<gpx><trk><trkseg><trkpt lat=\"35\" lon=\"-94\"/><trkpt lat=\"35\"/><trkpt lat=\"x\" lon=\"1\"/>",
        );
        put(out, "</trkseg></trk>");
    });
    assert_eq!(account["files"][0]["track_points"], 3);
    assert_eq!(account["findings"]["track-point-unreadable"], 1);
    assert!(account["findings"]["xml-damaged"].is_null());
}
