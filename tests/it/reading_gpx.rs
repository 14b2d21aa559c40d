//! One bad record never costs its neighbours; and what a sound one says is read whole.

use crate::reference_gpx::{export, folder};
use shoalwright::ingest::{Counts, FileRead, read, record_texts};
use shoalwright::terms::export::{FileId, Format};
use shoalwright::terms::finding::Code;
use shoalwright::terms::mark::{Fields, Kind, Origin, RawMark, RawTime};
use std::fs;
use std::io::{self, Read};

fn read_bytes(bytes: &[u8]) -> FileRead {
    read(&export(Format::Gpx), FileId(0), bytes)
}

fn wpt(name: &str) -> String {
    format!("<wpt lat=\"36.1\" lon=\"-86.2\">\n<time>2024-05-01T12:00:00Z</time><name>{name}</name></wpt>\n")
}

fn document(inside: &str) -> String {
    format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n{inside}</gpx>\n"
    )
}

/// Reads a document with `record` between two sound ones; both must come out whole. Returns what was told.
#[track_caller]
fn between(record: &[u8]) -> (FileRead, Vec<Code>) {
    let sound = [wpt("before"), wpt("after")];
    let text = document(&format!("{}@{}", sound[0], sound[1]));
    let (head, tail) = text.split_once('@').unwrap();
    let read = read_bytes(&[head.as_bytes(), record, tail.as_bytes()].concat());
    let names: Vec<&str> = read.marks.kept.iter().map(|mark| mark.words.name()).collect();
    assert_eq!(names.first(), Some(&"before"));
    assert_eq!(names.last(), Some(&"after"));
    for mark in [&read.marks.kept[0], read.marks.kept.last().unwrap()] {
        assert!((mark.lat_deg - 36.1).abs() < 1e-12 && (mark.lon_deg + 86.2).abs() < 1e-12);
        assert!(matches!(mark.time, RawTime::Instant(_)));
    }
    let codes = read.marks.findings.iter().map(|f| f.code);
    let codes = codes.chain(read.marks.set_aside.iter().map(|aside| aside.finding.code)).collect();
    (read, codes)
}

/// A record that is set aside alone, with its code.
#[track_caller]
fn set_aside(record: &str, code: Code) {
    let (read, codes) = between(record.as_bytes());
    assert_eq!(codes, [code], "{record}");
    assert_eq!((read.counts.marks, read.marks.set_aside.len()), (3, 1), "{record}");
    assert_eq!(read.marks.set_aside[0].origin.line, 5);
}

/// A record that is kept, with the codes of its repairs.
#[track_caller]
fn kept(record: &[u8], expected: &[Code]) -> RawMark {
    let (read, codes) = between(record);
    assert_eq!(codes, expected, "{}", String::from_utf8_lossy(record));
    assert_eq!((read.counts.marks, read.marks.kept.len()), (3, 3));
    read.marks.kept[1].clone()
}

#[test]
fn broken_records_are_set_aside_alone() {
    for record in [
        "<wpt lat=\"36\" lon=\"-86\"><name>no end",
        "<wpt lat=\"36\" lon=\"-86\"><name>no end</name>\n",
        "<wpt lat=\"36\" lon=\"-86\"><name>no end tag of name</wpt>\n",
        "<wpt lat=\"36\" lon=\"-86\"><name>crossed<cmt></name></cmt></wpt>",
        "<wpt lat=\"36\" lon=\"-86\"></name></wpt>",
        "<wpt lat=\"36\" lon=\"-86\"><name>a</name><!-- no end </wpt>",
        "<wpt lat=\"36\" lon=\"-86\"><extensions><a><b></extensions></wpt>",
        "<wpt lat=\"36 lon=\"-86\"><name>quote without end</name></wpt>",
        "<wpt lat=\"36\" lon=\"-86\" <name>tag without end</name></wpt>",
    ] {
        set_aside(record, Code::RecordDamaged);
    }
}

#[test]
fn a_record_whose_start_tag_is_unknowable_is_told_as_a_damaged_stretch() {
    for record in ["wpt lat='1' lon='2'><name>A</name></wpt>", "<wqt lat='1' lon='2'><name>A</name></wpt>"] {
        let (read, codes) = between(record.as_bytes());
        assert_eq!((read.counts.marks, codes), (2, vec![Code::XmlDamaged]));
    }
}

#[test]
fn positions_that_cannot_be_read_set_their_record_aside() {
    set_aside("<wpt lon=\"-86\"><name>A</name></wpt>", Code::PositionMissing);
    set_aside("<wpt/>", Code::PositionMissing);
    for lat in ["", "north", "NaN", "1e999", "36.1.2", "36 75.0"] {
        set_aside(&format!("<wpt lat=\"{lat}\" lon=\"-86\"/>"), Code::PositionUnreadable);
    }
}

#[test]
fn small_faults_are_repaired_and_told() {
    let name = |record: &[u8], codes: &[Code]| kept(record, codes).words.name().to_owned();
    let at = |inside: &str| format!("<wpt lat=\"36\" lon=\"-86\">{inside}</wpt>").into_bytes();
    assert_eq!(name(&at("<name>B & B</name>"), &[Code::XmlAmpersand]), "B & B");
    assert_eq!(name(&at("<name>&bomb;</name>"), &[Code::XmlAmpersand]), "&bomb;");
    assert_eq!(name(&at("<name>B &amp;amp; B</name>"), &[Code::XmlEscapedTwice]), "B & B");
    assert_eq!(name(&at("<name>B\u{1}A</name>"), &[Code::ControlCharacters]), "BA");
    let latin = [&b"<wpt lat=\"36\" lon=\"-86\"><name>Gr\xfcn</name></wpt>"[..]].concat();
    assert_eq!(name(&latin, &[Code::EncodingRepaired]), "Grün");
    assert_eq!(name(&at("<x:y>1</x:y><name>undeclared prefix</name>"), &[]), "undeclared prefix");
    assert_eq!(name(&at("<name><![CDATA[<B> & B]]></name>"), &[]), "<B> & B");
    assert_eq!(name(&at("<name>a<!-- b -->c</name>"), &[]), "ac");
    let comma = kept(b"<wpt lat=\"36,125\" lon='W 86 15.0'/>", &[Code::PositionForm]);
    assert!((comma.lat_deg - 36.125).abs() < 1e-12 && (comma.lon_deg + 86.25).abs() < 1e-12);
    let time = kept(&at("<time>soon</time>"), &[Code::TimeUnreadable]).time;
    assert_eq!(time, RawTime::Unreadable("soon".into()));
    let depth = kept(&at("<extensions><depth>deep</depth></extensions>"), &[Code::NumberUnreadable]);
    assert_eq!(depth.fields, Fields::default());
}

#[test]
fn a_foreign_name_does_not_replace_the_name() {
    for inside in ["<u:name>foreign</u:name><name>own</name>", "<name>own</name><u:name>foreign</u:name>"] {
        let mark = kept(format!("<wpt lat='36' lon='-86'>{inside}</wpt>").as_bytes(), &[]);
        assert_eq!(mark.words.name(), "own");
    }
    let inner = "<wpt lat='36' lon='-86'><link href='x'><name>inner</name></link></wpt>";
    assert_eq!(kept(inner.as_bytes(), &[]).words.name(), "");
}

#[test]
fn extensions_are_read_in_any_namespace_and_nesting() {
    let record = "<wpt lat='36' lon='-86'><extensions><g:E><g:Depth>8.2</g:Depth><g:atemp>30</g:atemp>\
        <g:WaterTemp>21.5</g:WaterTemp></g:E><m:fish_depth_m xmlns:m='urn:shoalwright:marks:1'>4</m:fish_depth_m>\
        <m:kind>gamefish</m:kind><h:depth unit='ft'>1</h:depth></extensions></wpt>";
    let expected = Fields {
        depth_m: Some(8.2),
        fish_depth_m: Some(4.0),
        water_depth_m: None,
        water_temp_c: Some(21.5),
        kind: Some(Kind::Gamefish),
    };
    assert_eq!(kept(record.as_bytes(), &[]).fields, expected);
    let version_1_0 = "<wpt lat='36' lon='-86'><waterdepth unit=\"ft\">10</waterdepth></wpt>";
    assert_eq!(kept(version_1_0.as_bytes(), &[]).fields.water_depth_m, Some(3.048));
}

#[test]
fn what_stands_in_comments_and_declarations_is_no_mark() {
    let (read, codes) = between(b"<!-- <wpt lat=\"1\" lon=\"1\"/> --><![CDATA[<wpt lat='1' lon='1'/>]]>");
    assert_eq!((read.counts.marks, codes.len()), (2, 0));
    let bomb = "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY a \"<wpt lat='1' lon='1'/>\"><!ENTITY b \"&a;&a;\">]>\
        <gpx><wpt lat='1' lon='1'><name>&b;</name></wpt></gpx>";
    let read = read_bytes(bomb.as_bytes());
    assert_eq!(read.counts.marks, 1);
    assert_eq!(read.marks.kept[0].words.name(), "&b;");
}

#[test]
fn two_documents_in_one_file_are_both_read() {
    let read = read_bytes([document(&wpt("A")), document(&wpt("B"))].concat().as_bytes());
    assert_eq!(read.marks.kept.len(), 2);
    assert_eq!(read.marks.findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::XmlSecondDocument]);
}

#[test]
fn a_document_with_prefixes_is_read_like_any_other() {
    let one = "<g:wpt lat='1' lon='2'><g:name>A</g:name></g:wpt>";
    for text in [
        format!("<g:gpx xmlns:g=\"http://www.topografix.com/GPX/1/1\">{one}</g:gpx>"),
        format!("<gpx xmlns:g=\"http://www.topografix.com/GPX/1/1\">{one}</gpx>"),
        format!("<gpx><metadata><extensions><x:trk/></extensions></metadata>{one}</gpx>"),
        one.to_owned(),
    ] {
        let read = read_bytes(text.as_bytes());
        assert_eq!(read.marks.kept[0].words.name(), "A", "{text}");
        assert_eq!((read.counts.marks, read.counts.tracks), (1, 0));
        assert!(read.marks.findings.is_empty());
    }
}

#[test]
fn a_file_that_ends_early_says_so() {
    let text = document(&[wpt("A"), wpt("B")].concat());
    for end in [
        "</gpx>",
        "</wpt>\n</gpx>",
        "</name></wpt>\n</gpx>",
        "\"-86.2\">\n<time>2024-05-01T12:00:00Z</time><name>B",
    ] {
        let cut = text.rfind(end).unwrap();
        let read = read_bytes(&text.as_bytes()[..cut]);
        assert_eq!(read.marks.kept[0].words.name(), "A");
        assert!(read.marks.findings.iter().any(|f| f.code == Code::XmlTruncated), "{end}");
    }
}

#[test]
fn files_that_are_no_gpx_are_told_apart() {
    for (bytes, code) in [
        (&b""[..], Code::FileEmpty),
        (b" \n", Code::FileEmpty),
        (b"<!DOCTYPE html><html><body>log in</body></html>", Code::FileNotGpx),
        (b"<html><wpt lat='1' lon='2'/></html>", Code::FileNotGpx),
        (b"<kml xmlns='http://www.opengis.net/kml/2.2'><Placemark/></kml>", Code::FileNotGpx),
        (b"PK\x03\x04\x14\0\0\0", Code::FileNotGpx),
        (b"\x00\x01\x02\xff\xfe", Code::FileNotGpx),
        (b"name,lat,lon\nA,1,2\n", Code::FileNotGpx),
    ] {
        let read = read_bytes(bytes);
        assert_eq!(read.marks.findings.iter().map(|f| f.code).collect::<Vec<_>>(), [code]);
        assert_eq!(read.counts, Counts::default());
    }
}

/// Gives some bytes, then fails.
struct Failing<'a>(&'a [u8]);

impl Read for Failing<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.0.is_empty() { Err(io::Error::other("card pulled")) } else { self.0.read(buffer) }
    }
}

#[test]
fn a_source_that_fails_keeps_what_it_gave() {
    let text = document(&[wpt("A"), wpt("B")].concat());
    let cut = &text.as_bytes()[..text.len() - 20];
    let read = read(&export(Format::Gpx), FileId(0), Failing(cut));
    assert_eq!(read.marks.kept[0].words.name(), "A");
    let told = read.marks.findings.iter().find(|f| f.code == Code::FileUnreadable).unwrap();
    assert!(told.seen.contains("card pulled"));
}

#[test]
fn an_endless_record_is_passed_over_and_reading_goes_on() {
    let text = document(&wpt("@"));
    let (head, tail) = text.split_once('@').unwrap();
    let source = head
        .as_bytes()
        .chain(io::repeat(b'x').take(24 << 20))
        .chain(tail.trim_end().strip_suffix("</gpx>").unwrap().as_bytes())
        .chain(wpt("after").leak().as_bytes())
        .chain(&b"</gpx>"[..]);
    let read = read(&export(Format::Gpx), FileId(0), source);
    assert_eq!(read.counts.marks, 2);
    assert_eq!(read.marks.set_aside[0].finding.code, Code::RecordDamaged);
    assert_eq!(read.marks.kept[0].words.name(), "after");
    assert_eq!(read.marks.kept[0].origin.line, 5);
}

#[test]
fn track_logs_keep_their_segments_and_drop_points_without_a_place() {
    let text = document(
        "<trk><name>morning</name><trkseg><trkpt lat='1' lon='2'><time>2024-05-01T12:00:00Z</time><extensions><depth>3</depth>\
         </extensions></trkpt><trkpt lat='x' lon='2'/><trkpt lat='1' lon='3'/></trkseg><trkseg><trkpt lat='1' lon='4'>\
         </trkseg></trk><trk><trkseg/></trk><rte><name>r</name><rtept lat='1' lon='2'/></rte>",
    );
    let read = read_bytes(text.as_bytes());
    assert_eq!((read.counts.tracks, read.counts.track_segments, read.counts.track_points), (2, 3, 4));
    assert_eq!((read.counts.routes, read.counts.route_points), (1, 1));
    assert_eq!(read.track_logs.len(), 1);
    assert_eq!(&*read.track_logs[0].name, "morning");
    assert_eq!(read.track_logs[0].segments.iter().map(Vec::len).collect::<Vec<_>>(), [2]);
    assert_eq!(read.track_logs[0].segments[0][0].depth_m, Some(3.0));
    let told: Vec<_> =
        read.marks.findings.iter().map(|f| (f.code, f.seen.split(' ').next().unwrap())).collect();
    assert_eq!(told, [(Code::TrackPointUnreadable, "2")]);
}

#[test]
fn records_are_read_back_whole() {
    let text =
        document(&[wpt("A"), "<wpt lat='x' lon='2'><name>ü&amp;</name></wpt>".to_owned(), wpt("B")].concat());
    let read = read_bytes(text.as_bytes());
    let origins: Vec<Origin> =
        [read.marks.set_aside[0].origin, read.marks.kept[1].origin, read.marks.kept[0].origin].into();
    let texts = record_texts(&export(Format::Gpx), text.as_bytes(), &origins);
    assert_eq!(texts[0], "<wpt lat='x' lon='2'><name>ü&amp;</name></wpt>");
    assert_eq!([&texts[1], &texts[2]], [wpt("B").trim(), wpt("A").trim()]);
}

/// 12,000 marks without an end and 3,000 rows without a position: the first 10,000 of a file stand by themselves, what
/// follows shares rows, and the records are counted and told whole.
#[test]
fn a_heap_of_broken_records_is_told_in_rows_of_many() {
    let broken = |i: usize| format!("<wpt lat='36.1' lon='-86.2'><name>B {i}</name>\n");
    let heap = |range: std::ops::Range<usize>| range.map(broken).collect::<String>();
    let text =
        document(&format!("{}{}{}{}", heap(0..11_000), wpt("GOOD"), heap(11_000..12_000), wpt("LAST")));
    let read = read_bytes(text.as_bytes());
    let rows = &read.marks.set_aside;
    assert_eq!(read.counts.marks, 12_002);
    assert_eq!(rows.iter().map(|row| row.records).sum::<u32>(), 12_000);
    assert_eq!(
        rows.iter().map(|row| row.records).filter(|records| *records > 1).collect::<Vec<_>>(),
        [1001, 1000]
    );
    assert_eq!(rows.len(), 10_001);
    assert_eq!(rows[9_999].finding.seen, "1001 records in a row; of the first: the record has no end tag");
    assert_eq!((rows[10_000].origin.record, rows[10_000].origin.line), (11_002, 11_005));
    let origins: Vec<Origin> = rows.iter().map(|row| row.origin).collect();
    let texts = record_texts(&export(Format::Gpx), text.as_bytes(), &origins);
    assert_eq!(texts[9_999], heap(9_999..11_000).trim_end());
    assert_eq!(texts[10_000], heap(11_000..12_000).trim_end());
}

#[test]
fn marks_and_track_logs_agree_with_a_second_reader() {
    // Second reader: crate gpx 0.10.0. It refuses some of the files; those say nothing here.
    let mut compared = 0;
    for entry in fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "gpx") {
            continue;
        }
        let bytes = fs::read(path).unwrap();
        let Ok(theirs) = gpx::read(bytes.as_slice()) else { continue };
        let ours = read_bytes(&bytes);
        assert_eq!(ours.marks.kept.len(), theirs.waypoints.len());
        for (a, b) in ours.marks.kept.iter().zip(&theirs.waypoints) {
            assert_eq!((a.lon_deg, a.lat_deg), b.point().x_y());
            let text = |field: &Option<String>| field.as_deref().unwrap_or_default().trim().to_owned();
            let words = [&b.name, &b.symbol, &b.type_, &b.comment, &b.description].map(text);
            assert_eq!(a.words.in_order().map(str::to_owned), words);
            if let (RawTime::Instant(instant), Some(time)) = (&a.time, b.time) {
                assert_eq!(instant.rfc3339(), time.format().unwrap().replace(".000000000Z", "Z"));
            }
        }
        let points = |track: &gpx::Track| -> Vec<(f64, f64)> {
            track.segments.iter().flat_map(|s| &s.points).map(|p| p.point().x_y()).collect()
        };
        let theirs: Vec<_> = theirs.tracks.iter().map(points).filter(|p| !p.is_empty()).collect();
        let ours: Vec<Vec<(f64, f64)>> = ours
            .track_logs
            .iter()
            .map(|log| log.segments.iter().flatten().map(|p| (p.place.lon, p.place.lat)).collect())
            .collect();
        assert_eq!(ours, theirs);
        compared += 1;
    }
    assert!(compared >= 20, "only {compared} files could be compared");
}
