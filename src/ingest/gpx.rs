//! Reads a GPX file: windows side by side, what they hold joined in order.

use super::FileRead;
use super::decode::Text;
use super::gpx_dialect::{Head, look};
use super::gpx_join::Join;
use super::gpx_window::{WindowRead, read_window};
use super::record_findings::{empty_file, unreadable_file};
use super::windows::{WindowSize, Windows};
use super::xml_tokens::MOST_BYTES;
use crate::terms::export::{Ele, FileId};
use crate::terms::finding::{Code, Finding};
use rayon::prelude::*;
use std::io::Read;

/// A window of a quarter megabyte stays in the cache of a core while it is read.
pub(super) const USUAL: WindowSize = WindowSize { window: 1 << 18, at_once: 8 };

/// Reads a GPX file's text. The result does not depend on `size`.
pub(super) fn read_gpx(file: FileId, ele: Ele, source: impl Read + Send, size: WindowSize) -> FileRead {
    let mut text = Text::new(source);
    let mut buffer = Vec::new();
    let more = text.append(&mut buffer, MOST_BYTES);
    let mut join = Join::new(file);
    let encoding = text.foreign_encoding();
    let dialect = match look(&buffer[..buffer.len().min(MOST_BYTES)]) {
        Head::Gpx { dialect, damaged } => {
            if damaged {
                join.tell(
                    Finding::new(Code::XmlDamaged, "the file does not start with a `gpx` element")
                        .done("its records were read all the same"),
                );
            }
            dialect
        }
        Head::Empty => {
            join.tell(unreadable_file(text.failed()).unwrap_or_else(empty_file));
            return join.finish();
        }
        Head::Other(what) => {
            join.tell(
                Finding::new(Code::FileNotGpx, format!("the file is no GPX: {what}"))
                    .done("nothing was read from it")
                    .fix("export it as GPX, or unpack it first"),
            );
            if let Some(finding) = unreadable_file(text.failed()) {
                join.tell(finding);
            }
            return join.finish();
        }
    };
    if let Some(encoding) = encoding {
        let seen = format!("the text of the file is `{encoding}`");
        join.tell(Finding::new(Code::EncodingRepaired, seen).done("turned into UTF-8"));
    }
    let mut windows = Windows::new(text, &dialect, size, buffer, more);
    while let Some(batch) = windows.next_batch() {
        join.pass_lines(batch.lines_passed);
        let mut offset = batch.offset;
        let placed: Vec<(u64, &[u8])> = batch
            .windows
            .into_iter()
            .map(|window| {
                let at = offset;
                offset += window.len() as u64;
                (at, window)
            })
            .collect();
        let read: Vec<WindowRead> =
            placed.into_par_iter().map(|(at, window)| read_window(window, at, file, ele, &dialect)).collect();
        for window in read {
            join.window(window);
        }
    }
    let ended_adrift = windows.ended_adrift();
    if join.ends_early() && !ended_adrift {
        join.tell(
            Finding::new(Code::XmlTruncated, "the file ends before its last element does")
                .done("all complete records before it were read")
                .fix("export it again"),
        );
    }
    if let Some(finding) = unreadable_file(windows.failed()) {
        join.tell(finding);
    }
    join.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY a \"<wpt lat='1' lon='1'/>\">]>\n<gpx>\
        <!-- <wpt lat=\"9\" lon=\"9\"/>\n -->\n<wpt lat=\"1\" lon=\"2\">\n<name>A & <![CDATA[<trk>]]></name></wpt>\
        <wpt lat=\"3\n\" lon='4'><name>broken\n<wpt lat='5' lon='x'/></wpt><trk><name>t</name>\n<trkseg><trkpt lat='1' \
        lon='1'><time>2024-05-01T12:00:00Z</time></trkpt><trkpt/>\n<trkpt lat='2' lon='2'/></trkseg><trkseg><trkpt lat='3' \
        lon='3'></trk>\n<rte><rtept lat='1' lon='1'/></rte></gpx>\n<gpx><!-- open <wpt lat='7' lon='8'/><g:wpt/>\n<wpt lat";

    /// The text read in windows of all sizes gives the same.
    #[track_caller]
    fn check(text: &[u8]) -> FileRead {
        let whole = read_gpx(FileId(0), Ele::Height, text, WindowSize { window: 1 << 30, at_once: 1 });
        for (window, at_once) in [(1, 1), (7, 3), (64, 2), (1000, 4), (1 << 18, 8)] {
            let parts = read_gpx(FileId(0), Ele::Height, text, WindowSize { window, at_once });
            assert_eq!(parts, whole, "windows of {window} bytes, {at_once} at once");
        }
        whole
    }

    #[test]
    fn window_size_changes_nothing() {
        let read = check(SMALL.as_bytes());
        assert_eq!((read.counts.marks, read.counts.track_points), (5, 4));
        for cut in (0..SMALL.len()).step_by(3) {
            check(&SMALL.as_bytes()[..cut]);
        }
    }

    proptest::proptest! {
        #[test]
        fn window_size_changes_nothing_for_any_heap_of_fragments(picks in proptest::collection::vec(0..FRAGMENTS.len(), 0..40)) {
            let inside: String = picks.into_iter().map(|pick| FRAGMENTS[pick]).collect();
            let read = check(format!("<gpx>{inside}").as_bytes());
            assert_eq!((read.marks.kept.len() + read.marks.set_aside.len()) as u64, read.counts.marks);
            // Plain ASCII takes a shorter way than a text with one other letter, two bytes long as `uu`.
            let [plain, other] = ["uu", "ü"].map(|start| {
                let text = format!("<gpx>{start}{inside}");
                read_gpx(FileId(0), Ele::Height, text.as_bytes(), USUAL)
            });
            assert_eq!(plain, other);
        }
    }

    const FRAGMENTS: &[&str] = &[
        "<wpt lat='1' lon='2'>",
        "</wpt>",
        "<wpt lat='3' lon=\"4",
        "<wpt/>",
        "<name>",
        "</name>",
        "text & ",
        "<name>a &amp;amp; b</name>",
        "<time>2024-05-01T12:00:00Z</time>",
        "<s:depth unit='ft'>9</s:depth><depth> 3 </depth>",
        "<!name>x</!name>",
        "<!--",
        "-->",
        "<![CDATA[",
        "]]>",
        "<!DOCTYPE [",
        "]>",
        "<?p ",
        ">",
        "<",
        "\n",
        "<trk>",
        "</trk>",
        "<trkseg>",
        "<trkpt lat='1' lon='2'/>",
        "<trkpt lat='1' lon='2'>",
        "</trkpt>",
        "<rte><rtept>",
        "<x:wpt>",
        "<gpx>",
        "</gpx>",
        "<extensions><depth>3</depth>",
        "</extensions>",
    ];

    #[test]
    fn window_size_changes_nothing_for_other_programs_files() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/gpx");
        let mut files = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            // One-byte windows make the longest files slow.
            if path.extension().is_some_and(|e| e == "gpx") && path.metadata().unwrap().len() < 100_000 {
                check(&std::fs::read(path).unwrap());
                files += 1;
            }
        }
        assert!(files > 25);
    }

    #[test]
    fn window_size_changes_nothing_for_stretches_that_are_passed_over() {
        let long = "y".repeat(MOST_BYTES + 1000);
        let sizes = [(1 << 16, 2), (1 << 18, 8), (1 << 22, 1)];
        for inside in [
            format!("<wpt lat='1' lon='2'><name>{long}</name></wpt>"),
            format!("<wpt lat='1' lon='2'><name>{long}{long}{long}</name></wpt>"),
            format!("<wpt lat='1' lon='2'/><!-- <wpt/> {long} --><wpt lat='1' lon='2'/>"),
            format!("<wpt lat='1' lon='2'/>{}", "<a>b</a>".repeat(3 * MOST_BYTES / 8)),
            format!("<wpt lat='1' lon='2' {}/>", "a='b' ".repeat(MOST_BYTES / 4)),
            format!("<wpt lat='1' lon='2' {}/>", "a='b' ".repeat(MOST_BYTES / 2)),
        ] {
            let text = format!("<gpx>{inside}\n<wpt lat='3' lon='4'/></gpx>");
            let [a, b, c] = sizes.map(|(window, at_once)| {
                read_gpx(FileId(0), Ele::Height, text.as_bytes(), WindowSize { window, at_once })
            });
            // No assert_eq: it would print megabytes.
            let told = |read: &FileRead| {
                read.marks.findings.iter().map(|finding| finding.seen.to_string()).collect::<Vec<_>>()
            };
            assert_eq!((told(&a), a.counts), (told(&b), b.counts));
            assert_eq!((told(&b), b.counts), (told(&c), c.counts));
            assert!(a == b && b == c, "{}", &inside[..80]);
            assert_eq!(a.marks.kept.last().map(|mark| mark.lat_deg), Some(3.0));
        }
    }
}
