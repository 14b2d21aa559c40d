//! CPU time and memory of reading a million waypoints: our reader, the crate `gpx`, and bare `quick-xml` events.
//!
//! `cargo bench --bench gpx_reading [-- MARKS]`. Writes `target/bench/marks-<MARKS>.gpx` (330 MB a million) if it is
//! not there, then runs each reader in a process of its own, in turn, three times, and prints the medians. Linux:
//! CPU time is user + system of `/proc/self/stat` in ticks of 10 ms, memory is `VmHWM` of `/proc/self/status`.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a measuring program: it prints, and stops at an error"
)]

use shoalwright::ingest;
use shoalwright::terms::export::{Columns, CsvClock, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};
use std::fs::{self, File};
use std::io::{BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

const READERS: [&str; 3] = ["ours", "gpx", "quick-xml"];
const RUNS: usize = 3;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    if let [reader, path] = &args[..] {
        return measure(reader, Path::new(path));
    }
    let marks: u32 = args.first().map_or(1_000_000, |text| text.parse().unwrap());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("target/bench/marks-{marks}.gpx"));
    if !path.exists() {
        write_marks(&path, marks);
    }
    println!("{} marks, {} bytes, medians of {RUNS} runs", marks, fs::metadata(&path).unwrap().len());
    let mut runs = vec![Vec::new(); READERS.len()];
    for _ in 0..RUNS {
        for (reader, runs) in READERS.iter().zip(&mut runs) {
            let output =
                Command::new(std::env::current_exe().unwrap()).arg(reader).arg(&path).output().unwrap();
            assert!(output.status.success(), "{reader}: {}", String::from_utf8_lossy(&output.stderr));
            let text = String::from_utf8(output.stdout).unwrap();
            runs.push(text.split_whitespace().map(|number| number.parse().unwrap()).collect::<Vec<f64>>());
        }
    }
    println!("{:<10} {:>10} {:>10} {:>10} {:>8}", "reader", "cpu s", "wall s", "peak MB", "records");
    let mut cpu = Vec::new();
    for (reader, runs) in READERS.iter().zip(&runs) {
        let [cpu_s, wall_s, peak_mb, records] = [0, 1, 2, 3].map(|column| {
            let mut values: Vec<f64> = runs.iter().map(|run| run[column]).collect();
            values.sort_by(f64::total_cmp);
            values[RUNS / 2]
        });
        println!("{reader:<10} {cpu_s:>10.2} {wall_s:>10.2} {peak_mb:>10.1} {records:>8}");
        cpu.push(cpu_s);
    }
    println!("gpx / ours = {:.1} x CPU time", cpu[1] / cpu[0]);
}

/// Reads the file in one way and prints CPU seconds, wall seconds, peak megabytes and the records seen.
fn measure(reader: &str, path: &Path) {
    let start = Instant::now();
    let file = File::open(path).unwrap();
    let records = match reader {
        "ours" => {
            let read = ingest::read(&export(), FileId(0), file);
            assert!(read.marks.findings.is_empty() && read.marks.set_aside.is_empty());
            read.marks.kept.len()
        }
        "gpx" => gpx::read(BufReader::new(file)).unwrap().waypoints.len(),
        _ => {
            let mut events = quick_xml::Reader::from_reader(BufReader::with_capacity(1 << 18, file));
            let (mut buffer, mut records) = (Vec::new(), 0);
            loop {
                match events.read_event_into(&mut buffer).unwrap() {
                    quick_xml::events::Event::Start(tag) => {
                        records += usize::from(tag.local_name().as_ref() == "wpt");
                    }
                    quick_xml::events::Event::Eof => break records,
                    _ => {}
                }
                buffer.clear();
            }
        }
    };
    let wall = start.elapsed().as_secs_f64();
    let stat = fs::read_to_string("/proc/self/stat").unwrap();
    // Fields 14 and 15 of proc(5), counted behind the command's closing bracket.
    let ticks: f64 = stat
        .rsplit(')')
        .next()
        .unwrap()
        .split_whitespace()
        .skip(11)
        .take(2)
        .map(|t| t.parse::<f64>().unwrap())
        .sum();
    let status = fs::read_to_string("/proc/self/status").unwrap();
    let peak_kb: f64 = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .and_then(|rest| rest.split_whitespace().next())
        .map(|kb| kb.parse().unwrap())
        .unwrap();
    println!("{} {wall} {} {records}", ticks / 100.0, peak_kb / 1024.0);
}

fn export() -> Export {
    Export {
        path: PathBuf::new(),
        label: "bench".to_owned(),
        format: Format::Gpx,
        unit: "bench".to_owned(),
        recorded_depth: RecordedDepth::Water,
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

/// Invented marks with everything that a unit writes, valid under GPX 1.1 so that every reader takes them.
fn write_marks(path: &Path, marks: u32) {
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut out = BufWriter::new(File::create(path).unwrap());
    writeln!(
        out,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"bench\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:example:sounder\">"
    )
    .unwrap();
    for i in 0..marks {
        // A linear congruential step spreads the marks without a random number crate.
        let spread = i.wrapping_mul(2_654_435_761);
        let lat = 36.0 + f64::from(spread % 100_000) / 1e6;
        let lon = -86.0 - f64::from(spread / 100_000 % 100_000) / 1e6;
        let depth_ft = 8 + spread % 50;
        writeln!(
            out,
            "  <wpt lat=\"{lat:.6}\" lon=\"{lon:.6}\">\n    <ele>{:.1}</ele>\n    \
             <time>20{:02}-{:02}-{:02}T{:02}:{:02}:{:02}Z</time>\n    <name>BAIT {depth_ft}FT {i}</name>\n    \
             <cmt>ball of shad over brush &amp; stumps</cmt>\n    <desc>{depth_ft} ft down, bottom at {}</desc>\n    \
             <sym>Fish</sym>\n    <extensions>\n      <s:depth>{:.2}</s:depth>\n      <s:wtemp>{:.1}</s:wtemp>\n    \
             </extensions>\n  </wpt>",
            186.5 + f64::from(i % 40) / 10.0,
            10 + i % 15,
            1 + i % 12,
            1 + i % 28,
            i % 24,
            i % 60,
            spread % 60,
            depth_ft + 9,
            f64::from(depth_ft + 9) * 0.3048,
            8.0 + f64::from(spread % 200) / 10.0,
        )
        .unwrap();
    }
    writeln!(out, "</gpx>").unwrap();
    out.flush().unwrap();
}
