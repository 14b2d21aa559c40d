//! CSV tables as people and spreadsheets write them.

use crate::reference_gpx::export;
use shoalwright::ingest::{FileRead, read, record_texts};
use shoalwright::terms::export::{Columns, CsvClock, Export, FileId, Format};
use shoalwright::terms::finding::Code;
use shoalwright::terms::mark::{Kind, Origin, RawTime};
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};

fn read_table(text: &str) -> FileRead {
    read_with(&export(Format::Csv), text.as_bytes())
}

fn read_with(export: &Export, bytes: &[u8]) -> FileRead {
    let read = read(export, FileId(0), bytes);
    let aside: u64 = read.marks.set_aside.iter().map(|row| u64::from(row.records)).sum();
    assert_eq!(read.marks.kept.len() as u64 + aside, read.counts.marks);
    read
}

fn codes(read: &FileRead) -> Vec<Code> {
    let aside = read.marks.set_aside.iter().map(|aside| aside.finding.code);
    read.marks.findings.iter().map(|finding| finding.code).chain(aside).collect()
}

fn times(read: &FileRead) -> Vec<String> {
    read.marks
        .kept
        .iter()
        .map(|mark| match &mark.time {
            RawTime::Missing => "missing".to_owned(),
            RawTime::Instant(instant) => instant.rfc3339(),
            RawTime::Civil(civil) => civil.to_string(),
            RawTime::Date(date) => date.to_string(),
            RawTime::Unreadable(text) => format!("no: {text}"),
        })
        .collect()
}

#[test]
fn a_plain_table_is_read_whole() {
    let read = read_table(
        "Name,Latitude,Longitude,When,Kind,Notes,Depth (ft),Water Temp (F)\n\
         BAIT 27FT,36.125,-86.25,2024-05-01T12:00:00Z,bait,\"thick, on bottom\",10,50\n\
         Rock,36.2,-86.3,,boulder,,8.2 m,11C\n",
    );
    assert_eq!(codes(&read), []);
    let [a, b] = &read.marks.kept[..] else { unreachable!("two rows") };
    assert_eq!((a.lat_deg, a.lon_deg), (36.125, -86.25));
    assert_eq!(a.words.in_order(), ["BAIT 27FT", "", "", "thick, on bottom", ""]);
    assert_eq!((a.fields.kind, b.fields.kind), (Some(Kind::Bait), None));
    assert_eq!(b.words.type_(), "boulder");
    assert_eq!((a.fields.depth_m, a.fields.water_temp_c), (Some(3.048), Some(10.0)));
    assert_eq!((b.fields.depth_m, b.fields.water_temp_c), (Some(8.2), Some(11.0)));
    assert_eq!((a.origin.record, a.origin.line, b.origin.record, b.origin.line), (1, 2, 2, 3));
    assert_eq!(times(&read), ["2024-05-01T12:00:00Z", "missing"]);
}

#[test]
fn semicolons_and_decimal_commas() {
    let read = read_table("sep=;\nName;Lat;Lon;Depth\nA;36,125;-86,25;10\nB;\"36,5\";-86,5;1,5 m\n");
    assert_eq!(codes(&read), [Code::PositionForm, Code::PositionForm]);
    assert_eq!((read.marks.kept[0].lat_deg, read.marks.kept[0].lon_deg), (36.125, -86.25));
    assert_eq!(read.marks.kept[1].fields.depth_m, Some(1.5));
    assert_eq!(read.marks.kept[0].origin.line, 3);
}

#[test]
fn decimal_commas_between_commas_are_not_taken_for_whole_degrees() {
    let read = read_table("lat,lon,note\n36,125,-86,25,hi\n36.125,-86.25,big, on bottom\n");
    assert_eq!(codes(&read), [Code::RecordDamaged]);
    assert_eq!(read.marks.kept[0].words.cmt(), "big, on bottom");
}

#[test]
fn one_column_may_hold_both_coordinates() {
    let read = read_table(
        "Mark\tPosition\nA\tN 36 07.500 W 086 15.000\nB\t36.125, -86.25\nC\t36°07'30\"N 86°15'0\"W\n",
    );
    assert_eq!(read.marks.kept.len(), 3);
    for mark in &read.marks.kept {
        assert!((mark.lat_deg - 36.125).abs() < 1e-9 && (mark.lon_deg + 86.25).abs() < 1e-9);
    }
}

#[test]
fn the_rows_together_tell_the_order_of_day_and_month() {
    let day_first = read_table("lat,lon,date,time\n1,2,3/4/2024,7:15 am\n1,2,17/4/2024,7:15 pm\n");
    assert_eq!(codes(&day_first), [Code::DateOrder]);
    assert_eq!(times(&day_first), ["2024-04-03T07:15:00", "2024-04-17T19:15:00"]);
    let month_first = read_table("lat,lon,date\n1,2,3/4/24\n1,2,4/17/24\n");
    assert_eq!(times(&month_first), ["2024-03-04", "2024-04-17"]);
    let unclear = read_table("lat,lon,date\n1,2,3/4/2024\n1,2,4/4/2024\n");
    assert_eq!(codes(&unclear), [Code::DateOrderUnclear]);
    assert_eq!(times(&unclear), ["no: 3/4/2024", "2024-04-04"]);
    let both = read_table("lat,lon,date\n1,2,3/4/2024\n1,2,17/4/2024\n1,2,4/17/2024\n");
    assert_eq!(codes(&both), [Code::DateOrderUnclear]);
    assert_eq!(times(&both), ["no: 3/4/2024", "2024-04-17", "2024-04-17"]);
}

#[test]
fn times_are_utc_where_the_user_or_the_header_says_so() {
    let text = "lat,lon,when\n1,2,2024-05-01 07:14\n1,2,2024-05-01T07:14:00+01:00\n1,2,17/5/2024 07:14\n";
    assert_eq!(
        times(&read_table(text)),
        ["2024-05-01T07:14:00", "2024-05-01T06:14:00Z", "2024-05-17T07:14:00"]
    );
    let utc = Export { time_zone: CsvClock::Utc, ..export(Format::Csv) };
    let expected = ["2024-05-01T07:14:00Z", "2024-05-01T06:14:00Z", "2024-05-17T07:14:00Z"];
    assert_eq!(times(&read_with(&utc, text.as_bytes())), expected);
    assert_eq!(times(&read_table(&text.replace("when", "Timestamp (UTC)"))), expected);
}

#[test]
fn bare_numbers_are_in_the_units_of_the_export() {
    let metric = Export {
        depth_unit: DepthUnit::Metres,
        temperature_unit: TemperatureUnit::Celsius,
        ..export(Format::Csv)
    };
    let text = b"lat,lon,fish depth,water depth,temp\n1,2,4,27ft,71F\n1,2,n/a,,11\n1,2,deep,,\n";
    let read = read_with(&metric, text);
    let fields = read.marks.kept[0].fields;
    assert_eq!((fields.fish_depth_m, fields.water_depth_m), (Some(4.0), Some(8.2296)));
    assert!((fields.water_temp_c.unwrap() - 21.666_667).abs() < 1e-5);
    assert_eq!(read.marks.kept[1].fields.water_temp_c, Some(11.0));
    assert_eq!(codes(&read), [Code::NumberUnreadable]);
}

#[test]
fn any_line_break_ends_a_row() {
    for line_break in ["\n", "\r\n", "\r"] {
        let text =
            ["name,lat,lon", "A,36.1,-86.2", "", "\"B\nb\",36.2,-86.3", "C,36.3,-86.4", ""].join(line_break);
        let read = read_table(&text);
        let seen: Vec<_> = read.marks.kept.iter().map(|mark| (mark.words.name(), mark.origin.line)).collect();
        assert_eq!(seen, [("A", 2), ("B\nb", 4), ("C", 6)], "{line_break:?}");
    }
}

#[test]
fn long_tables_are_read_row_by_row() {
    let rows = (0..20_000)
        .map(|i| format!("\"M {i}\",36.{i:05},-86.2\n{}", if i % 7 == 0 { "\"x\n" } else { "" }))
        .collect::<Vec<_>>()
        .concat();
    let read = read_table(&format!("name,lat,lon\n{rows}"));
    assert_eq!((read.marks.kept.len(), read.marks.set_aside.len()), (20_000, 2858));
    let mut line = 2;
    for (i, mark) in read.marks.kept.iter().enumerate() {
        assert_eq!((mark.words.name(), mark.origin.line), (format!("M {i}").as_str(), line));
        line += 1 + u32::from(i % 7 == 0);
    }
    let origins = [read.marks.set_aside[2000].origin, read.marks.kept[19_999].origin];
    let texts = record_texts(&export(Format::Csv), format!("name,lat,lon\n{rows}").as_bytes(), &origins);
    assert_eq!(texts, ["name,lat,lon\n\"x", "name,lat,lon\n\"M 19999\",36.19999,-86.2"]);
}

#[test]
fn many_rows_without_a_position_share_rows_that_can_be_mended_and_fed_back() {
    let rows: String = "M,,-86.2\n".repeat(12_000);
    let text = format!("name,lat,lon\n{rows}");
    let read = read_table(&text);
    let aside = &read.marks.set_aside;
    assert_eq!((read.counts.marks, aside.len()), (12_000, 10_000));
    assert_eq!(aside.iter().map(|row| row.records).sum::<u32>(), 12_000);
    let many = record_texts(&export(Format::Csv), text.as_bytes(), &[aside[9_999].origin]);
    assert_eq!(many[0].lines().count(), 2002);
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(["file", "line", "code", "reason", "record"]).unwrap();
    out.write_record(["f", "1", "position-missing", "no lat", &many[0].replace(",,", ",36.1,")]).unwrap();
    let again = read_with(&export(Format::Csv), &out.into_inner().unwrap());
    assert_eq!((again.counts.marks, again.marks.kept.len()), (2001, 2001));
}

#[test]
fn columns_that_the_user_names_win() {
    let columns = Columns {
        lat: Some("N-S".into()),
        lon: Some("E-W".into()),
        fish_depth: Some("D".into()),
        time: Some("gone".into()),
        ..Columns::default()
    };
    let export = Export { columns, ..export(Format::Csv) };
    let read = read_with(&export, b"n-s,e-w,D,lat\n36.1,-86.2,10,99\n");
    assert_eq!(codes(&read), [Code::ColumnMissing]);
    assert_eq!((read.marks.kept[0].lat_deg, read.marks.kept[0].fields.fish_depth_m), (36.1, Some(3.048)));
}

#[test]
fn bad_rows_are_set_aside_alone() {
    let read = read_table(
        "name,lat,lon\nA,36.1,-86.2\nshort,36.1\nempty,,-86.2\nwords,north,west\n\"open,36.1,-86.2\nB,36.3,-86.4\n\n",
    );
    let names: Vec<_> = read.marks.kept.iter().map(|mark| mark.words.name()).collect();
    assert_eq!(names, ["A", "B"]);
    assert_eq!(
        codes(&read),
        [Code::RowShort, Code::PositionMissing, Code::PositionUnreadable, Code::RecordDamaged]
    );
    assert_eq!(read.marks.set_aside.iter().map(|aside| aside.origin.line).collect::<Vec<_>>(), [3, 4, 5, 6]);
    assert_eq!(read.marks.kept[1].origin.line, 7);
}

#[test]
fn bytes_that_are_no_utf_8_are_windows_1252() {
    let read = read_with(
        &export(Format::Csv),
        b"\xef\xbb\xbfname,lat,lon\nGr\xfcn,36.1,-86.2\nGr\xc3\xbcn,36.1,-86.2\n",
    );
    assert_eq!(codes(&read), [Code::EncodingRepaired]);
    assert_eq!(read.marks.kept[0].words.name(), "Grün");
    assert_eq!(read.marks.kept[1].words.name(), "Grün");
}

#[test]
fn a_file_without_a_position_names_its_headers() {
    let read = read_table("name,depth\nA,1\n");
    assert_eq!(codes(&read), [Code::FileNotCsv]);
    assert!(read.marks.findings[0].seen.contains("`name`, `depth`"));
    assert_eq!(read.counts.marks, 0);
    assert_eq!(codes(&read_table(" \n")), [Code::FileEmpty]);
    assert_eq!(codes(&read_table("\0\u{1}PNG")), [Code::FileNotCsv]);
    // A title above the header is passed over.
    assert_eq!(read_table("My marks 2024\n\nname,lat,lon\nA,1.0,2.0\n").marks.kept[0].origin.line, 4);
}

#[test]
fn our_own_table_of_marks_is_read_back() {
    let read = read_table(
        "id,lon,lat,kind,name,note,time,local_date,season,season_day,fish_depth_ft,water_depth_ft,water_temp_f,level_ft,unit\n\
         a1,-86.25,36.125,bait,BAIT,thick,2024-05-01T12:00:00Z,2024-05-01,2024,122,10,20,50,0,bow\n\
         a2,-86.25,36.125,cover,,,,2024-05-02,2024,123,,,,,bow\n",
    );
    assert_eq!(codes(&read), []);
    let fields = read.marks.kept[0].fields;
    assert_eq!(fields.kind, Some(Kind::Bait));
    assert_eq!(
        (fields.fish_depth_m, fields.water_depth_m, fields.water_temp_c),
        (Some(3.048), Some(6.096), Some(10.0))
    );
    assert_eq!(times(&read), ["2024-05-01T12:00:00Z", "2024-05-02"]);
    assert_eq!(read.marks.kept[0].words.cmt(), "thick");
}

#[test]
fn what_was_set_aside_can_be_mended_and_fed_back() {
    let gpx = export(Format::Gpx);
    let gpx_text = "<gpx><wpt lat='' lon='-86.2'><name>a \"b\"</name></wpt><wpt lat='1' lon='2'/></gpx>";
    let table = export(Format::Csv);
    let csv_text = "name;lat;lon;date\nA;36.1;-86.2;17/4/2024\n\"B;x\";;-86.2;3/4/2024\n";
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(["file", "line", "code", "reason", "record"]).unwrap();
    for (export, text) in [(&gpx, gpx_text), (&table, csv_text)] {
        let read = read_with(export, text.as_bytes());
        let origins: Vec<Origin> = read.marks.set_aside.iter().map(|aside| aside.origin).collect();
        for record in record_texts(export, text.as_bytes(), &origins) {
            out.write_record(["f", "1", "position-missing", "no lat", &record]).unwrap();
        }
    }
    let file = out.into_inner().unwrap();
    // Unmended, each comes back as what it was, and as text once more.
    let again = read_with(&table, &file);
    assert_eq!(codes(&again), [Code::PositionUnreadable, Code::PositionMissing]);
    let origins: Vec<Origin> = again.marks.set_aside.iter().map(|aside| aside.origin).collect();
    let texts = record_texts(&table, file.as_slice(), &origins);
    assert_eq!(
        texts,
        ["<wpt lat='' lon='-86.2'><name>a \"b\"</name></wpt>", "name;lat;lon;date\n\"B;x\";;-86.2;3/4/2024"]
    );

    let mended = String::from_utf8(file)
        .unwrap()
        .replace("lat=''", "lat='36.1'")
        .replace("\"B;x\"\";;", "\"B;x\"\";36.1;");
    let read = read_with(&table, mended.as_bytes());
    let names: Vec<_> = read.marks.kept.iter().map(|mark| mark.words.name()).collect();
    assert_eq!(names, ["a \"b\"", "B;x"]);
    assert_eq!(read.marks.kept[1].origin.record, 2);
}
