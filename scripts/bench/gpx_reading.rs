//! CPU time and memory of reading a million waypoints: our reader, the crate `gpx`, bare `quick-xml` events, a bare
//! search for `<`, GDAL's `ogr2ogr` to GeoJSON (if installed); the whole command `merge`; three million track points;
//! and four files on one thread and on two.
//!
//! `cargo bench --bench gpx_reading [-- MARKS]`. Writes its files (about 1 GB) into `target/bench` if they are not
//! there, then runs each reader in a process of its own, in turn, three times, and prints the medians. Linux: CPU time
//! is user + system of `/proc/self/stat` in ticks of 10 ms, memory is `VmHWM` of `/proc/PID/status`.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a measuring program: it prints, and stops at an error"
)]

#[path = "measure.rs"]
mod measure;

use shoalwright::ingest;
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};
use std::fs::{self, File};
use std::io::{BufReader, BufWriter, Read, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

const READERS: [&str; 6] = ["ours", "gpx", "quick-xml", "memchr", "ogr2ogr", "merge"];
const RUNS: usize = 3;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    if let [reader, path] = &args[..] {
        return measure(reader, Path::new(path));
    }
    let marks: u32 = args.first().map_or(1_000_000, |text| text.parse().unwrap());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench");
    fs::create_dir_all(&folder).unwrap();
    let of_marks = folder.join(format!("marks-{marks}.gpx"));
    once(&of_marks, |out| write_marks(out, 0..marks));
    println!("{marks} marks, {} bytes, medians of {RUNS} runs", fs::metadata(&of_marks).unwrap().len());
    let there =
        |reader: &&str| *reader != "ogr2ogr" || Command::new(reader).arg("--version").output().is_ok();
    let readers: Vec<&str> = READERS.into_iter().filter(there).collect();
    let cpu = table(&readers, &of_marks);
    for (reader, cpu_s) in readers.iter().zip(&cpu).skip(1) {
        println!("{reader} / ours = {:.1} x CPU time", cpu_s / cpu[0]);
    }

    let points = 3 * marks;
    let of_points = folder.join(format!("points-{points}.gpx"));
    once(&of_points, |out| write_points(out, points));
    println!("\n{points} track points, {} bytes", fs::metadata(&of_points).unwrap().len());
    table(&["ours", "memchr", "check"], &of_points);

    println!("\nfour files of a quarter of the marks each");
    let quarters = folder.join(format!("quarters-{marks}"));
    fs::create_dir_all(&quarters).unwrap();
    for i in 0..4 {
        once(&quarters.join(format!("{i}.gpx")), |out| write_marks(out, i * marks / 4..(i + 1) * marks / 4));
    }
    table(&["1 thread", "2 threads"], &quarters);
}

/// Runs the readers in turn, prints the medians and gives the CPU seconds.
fn table(readers: &[&str], path: &Path) -> Vec<f64> {
    let mut runs = vec![Vec::new(); readers.len()];
    for _ in 0..RUNS {
        for (reader, runs) in readers.iter().zip(&mut runs) {
            let output =
                Command::new(std::env::current_exe().unwrap()).arg(reader).arg(path).output().unwrap();
            assert!(output.status.success(), "{reader}: {}", String::from_utf8_lossy(&output.stderr));
            let text = String::from_utf8(output.stdout).unwrap();
            runs.push(text.split_whitespace().map(|number| number.parse().unwrap()).collect::<Vec<f64>>());
        }
    }
    println!("{:<10} {:>10} {:>10} {:>10} {:>8}", "reader", "cpu s", "wall s", "peak MB", "records");
    let mut cpu = Vec::new();
    for (reader, runs) in readers.iter().zip(&runs) {
        let [cpu_s, wall_s, peak_mb, records] = [0, 1, 2, 3].map(|column| {
            let mut values: Vec<f64> = runs.iter().map(|run| run[column]).collect();
            values.sort_by(f64::total_cmp);
            values[RUNS / 2]
        });
        println!("{reader:<10} {cpu_s:>10.2} {wall_s:>10.2} {peak_mb:>10.1} {records:>8}");
        cpu.push(cpu_s);
    }
    cpu
}

/// Runs another program over the file; gives its peak megabytes.
fn run_over(path: &Path, program: &str, args: &[&str]) -> f64 {
    let mut child = Command::new(program)
        .args(args)
        .arg(path)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut peak_mb = 0.0;
    loop {
        peak_mb = measure::peak_mb(&child.id().to_string()).unwrap_or(peak_mb);
        if let Some(status) = child.try_wait().unwrap() {
            assert!(status.success(), "{program}");
            return peak_mb;
        }
        sleep(Duration::from_millis(5));
    }
}

/// Writes a file if it is not there.
fn once(path: &Path, write: impl FnOnce(&mut BufWriter<File>)) {
    if !path.exists() {
        let mut out = BufWriter::new(File::create(path).unwrap());
        write(&mut out);
        out.flush().unwrap();
    }
}

/// Reads the file in one way and prints CPU seconds, wall seconds, peak megabytes and the records seen.
fn measure(reader: &str, path: &Path) {
    const OURS: &str = env!("CARGO_BIN_EXE_shoalwright");
    let start = Instant::now();
    let out = path.with_extension("out.gpx");
    let mut of_child = None;
    let mut run = |program: &str, args: &[&str]| {
        of_child = Some(run_over(path, program, args));
        0
    };
    let records = match reader {
        "merge" => run(OURS, &["merge", "--quiet", "-o", out.to_str().unwrap()]),
        "check" => run(OURS, &["check", "--quiet", "--json"]),
        "1 thread" | "2 threads" => {
            let mut files: Vec<String> = Vec::new();
            for i in 1..4 {
                files.push(path.join(format!("{i}.gpx")).to_str().unwrap().to_owned());
            }
            let mut args = vec!["merge", "--quiet", "--threads", &reader[..1], "-o", out.to_str().unwrap()];
            args.extend(files.iter().map(String::as_str));
            of_child = Some(run_over(&path.join("0.gpx"), OURS, &args));
            0
        }
        "ogr2ogr" => {
            let json = path.with_extension("geojson");
            drop(fs::remove_file(&json));
            let args = ["-f", "GeoJSON", json.to_str().unwrap(), path.to_str().unwrap(), "waypoints"];
            let status = Command::new("ogr2ogr").args(args).stderr(Stdio::null()).status().unwrap();
            assert!(status.success());
            of_child = Some(0.0);
            0
        }
        "memchr" => {
            let (mut source, mut block, mut found) = (File::open(path).unwrap(), vec![0; 1 << 18], 0);
            loop {
                match source.read(&mut block).unwrap() {
                    0 => break found,
                    length => found += memchr::memchr_iter(b'<', &block[..length]).count(),
                }
            }
        }
        "ours" => {
            let read = ingest::read(&export(), FileId(0), File::open(path).unwrap());
            assert!(read.marks.findings.is_empty() && read.marks.set_aside.is_empty());
            read.marks.kept.len().max(read.counts.track_points as usize)
        }
        "gpx" => gpx::read(BufReader::new(File::open(path).unwrap())).unwrap().waypoints.len(),
        _ => {
            let mut events =
                quick_xml::Reader::from_reader(BufReader::with_capacity(1 << 18, File::open(path).unwrap()));
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
    let peak_mb = of_child.unwrap_or_else(|| measure::peak_mb("self").unwrap());
    println!("{} {wall} {peak_mb} {records}", measure::cpu_s());
}

fn export() -> Export {
    Export {
        path: PathBuf::new(),
        label: "bench".to_owned(),
        format: Format::Gpx,
        unit: "bench".to_owned(),
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

/// Invented marks with everything that a unit writes, valid under GPX 1.1 so that every reader takes them.
fn write_marks(out: &mut impl Write, marks: Range<u32>) {
    writeln!(
        out,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"bench\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:example:sounder\">"
    )
    .unwrap();
    for i in marks {
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
}

/// Invented track points, a segment of a thousand at a time.
fn write_points(out: &mut impl Write, points: u32) {
    writeln!(out, "<gpx version=\"1.1\" creator=\"bench\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk>")
        .unwrap();
    for i in 0..points {
        if i % 1000 == 0 {
            writeln!(out, "{}<trkseg>", if i == 0 { "" } else { "</trkseg>" }).unwrap();
        }
        writeln!(
            out,
            "<trkpt lat=\"{:.6}\" lon=\"{:.6}\"><ele>187.2</ele><time>2024-05-{:02}T{:02}:{:02}:{:02}Z</time>\
             <extensions><depth>{}.4</depth></extensions></trkpt>",
            36.0 + f64::from(i % 100_000) / 1e6,
            -86.0 + f64::from(i / 1000) / 1e6,
            1 + i / 86_400 % 28,
            i / 3600 % 24,
            i / 60 % 60,
            i % 60,
            4 + i % 20
        )
        .unwrap();
    }
    writeln!(out, "</trkseg></trk></gpx>").unwrap();
}
