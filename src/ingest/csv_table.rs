//! Reads a CSV file of marks, or a file of records that an earlier run set aside.

use super::FileRead;
use super::csv_columns::Layout;
use super::csv_marks::CsvMarks;
use super::csv_rows::CsvRows;
use super::gpx::{USUAL, read_gpx};
use super::record_findings::{empty_file, unreadable_file};
use super::record_text::TextsAt;
use crate::terms::export::{Columns, Export, FileId};
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::Origin;
use std::io::{Chain, Cursor, Read};

/// Rows among which the header is looked for: some programs write a title above it.
const MOST_ROWS_ABOVE: usize = 20;
/// Most headers that a finding names.
const MOST_HEADERS_SHOWN: usize = 12;
/// Bytes of a file in which the header must stand, for [`Around`].
const HEAD: u64 = 1 << 18;

/// What the first rows of a file say.
enum Header {
    /// There is no row.
    Nothing,
    /// No row tells where the position stands; the cells of the first.
    Unknown(Vec<String>),
    /// Records that an earlier run set aside; the column that holds them.
    SetAside(usize),
    /// Marks; where the header stands, and its cells.
    Marks(Box<Layout>, Origin, Vec<String>),
}

/// Reads a CSV file's text.
pub(super) fn read_csv(export: &Export, file: FileId, source: impl Read) -> FileRead {
    let mut rows = CsvRows::new(source);
    let mut marks = CsvMarks::new(export, file);
    if let Some(encoding) = rows.foreign_encoding() {
        let seen = format!("the text of the file is `{encoding}`");
        marks.tell(Finding::new(Code::EncodingRepaired, seen).done("turned into UTF-8"));
    }
    match header(&mut rows, &export.columns) {
        Header::Nothing if rows.failed().is_none() => marks.tell(empty_file()),
        Header::Nothing => {}
        Header::Unknown(cells) => marks.tell(no_position(&cells)),
        Header::SetAside(column) => {
            marks.one_by_one();
            while let Some(row) = rows.next() {
                let origin = marks.next_origin(&row);
                let record = row.cells.get(column).map_or("", String::as_str);
                set_aside_record(&mut marks, export, origin, record);
            }
        }
        Header::Marks(layout, ..) => {
            for name in &layout.missing {
                let seen = format!("no column is headed `{name}`, as the settings say");
                marks.tell(
                    Finding::new(Code::ColumnMissing, seen)
                        .done("guessed from the other headers, or left out")
                        .fix("write the header in `columns` as it stands in the file"),
                );
            }
            while let Some(row) = rows.next() {
                let origin = marks.next_origin(&row);
                marks.row(row, &layout, origin);
            }
        }
    }
    if let Some(finding) = unreadable_file(rows.failed()) {
        marks.tell(finding);
    }
    marks.finish()
}

/// What a record of a table needs to be a record by itself.
pub(super) enum Around {
    /// Nothing.
    Nothing,
    /// The header, with a line feed behind it.
    Header(String),
    /// Only this cell of the row: the file holds records set aside.
    Cell(usize),
}

impl Around {
    /// Reads the head of a file, and gives it back with the source.
    pub(super) fn of<R: Read>(export: &Export, mut source: R) -> (Self, Chain<Cursor<Vec<u8>>, R>) {
        let mut head = Vec::new();
        // What cannot be read now cannot be read below either, and gives empty texts there.
        let _unread = source.by_ref().take(HEAD).read_to_end(&mut head);
        let mut rows = CsvRows::new(head.as_slice());
        let delimiter = rows.delimiter();
        let around = match header(&mut rows, &export.columns) {
            Header::Marks(_, origin, cells) => {
                let mut header = TextsAt::new(head.as_slice()).at(origin);
                if header.contains('\u{fffd}') {
                    // Control characters were taken out when it was read; a quote behind one is no opening quote.
                    header = row_text(&cells, delimiter);
                }
                if CsvRows::new(header.as_bytes()).delimiter() != delimiter {
                    // A title above the header told it.
                    header.insert_str(0, &format!("sep={}\n", char::from(delimiter)));
                }
                header.push('\n');
                Self::Header(header)
            }
            Header::SetAside(column) => Self::Cell(column),
            Header::Nothing | Header::Unknown(_) => Self::Nothing,
        };
        (around, Cursor::new(head).chain(source))
    }

    /// A record by itself.
    pub(super) fn put(&self, mut text: String) -> String {
        match self {
            Self::Nothing => {}
            Self::Header(header) => text.insert_str(0, header),
            Self::Cell(column) => {
                let row = CsvRows::new(text.as_bytes()).next();
                if let Some(record) = row.and_then(|mut row| row.cells.get_mut(*column).map(std::mem::take)) {
                    text = record;
                }
            }
        }
        text
    }
}

/// Cells as one row of text.
fn row_text(cells: &[String], delimiter: u8) -> String {
    let mut writer = csv::WriterBuilder::new().delimiter(delimiter).from_writer(Vec::new());
    let written = writer.write_record(cells).is_ok();
    let text = writer.into_inner().unwrap_or_default();
    if written { String::from_utf8_lossy(text.trim_ascii_end()).into_owned() } else { String::new() }
}

/// Reads rows up to the header.
fn header(rows: &mut CsvRows<impl Read>, columns: &Columns) -> Header {
    let mut first = None;
    for _ in 0..=MOST_ROWS_ABOVE {
        let Some(row) = rows.next() else { break };
        let column = |name: &str| row.cells.iter().position(|cell| cell.eq_ignore_ascii_case(name));
        if let (Some(_), Some(_), Some(record)) = (column("code"), column("reason"), column("record")) {
            return Header::SetAside(record);
        }
        let layout = Layout::of(&row.cells, columns);
        if layout.position.is_some() {
            let origin =
                Origin { record: 0, line: row.line, bytes: row.bytes, start: row.start, file: FileId(0) };
            return Header::Marks(Box::new(layout), origin, row.cells);
        }
        first.get_or_insert(row.cells);
    }
    first.map_or(Header::Nothing, Header::Unknown)
}

fn no_position(cells: &[String]) -> Finding {
    let shown: Vec<String> = cells
        .iter()
        .take(MOST_HEADERS_SHOWN)
        .map(|cell| format!("`{}`", cell.chars().take(40).collect::<String>()))
        .collect();
    Finding::new(
        Code::FileNotCsv,
        format!("no column is known to hold latitude and longitude; headers seen: {}", shown.join(", ")),
    )
    .done("nothing was read from the file")
    .fix("name the columns in the settings: `columns = { lat = \"…\", lon = \"…\" }`")
}

/// Reads a record that was set aside: a GPX fragment, or a header and a row.
fn set_aside_record(marks: &mut CsvMarks<'_>, export: &Export, origin: Origin, record: &str) {
    // Writers put an apostrophe before a cell that a spreadsheet would take for a formula.
    let record = record.strip_prefix('\'').unwrap_or(record);
    if record.starts_with('<') {
        marks.join(read_gpx(origin.file, export.ele, record.as_bytes(), USUAL), origin);
        return;
    }
    let mut rows = CsvRows::new(record.as_bytes());
    let mut found = false;
    if let Header::Marks(layout, ..) = header(&mut rows, &export.columns) {
        while let Some(row) = rows.next() {
            marks.row(row, &layout, origin);
            found = true;
        }
    }
    if !found {
        marks.not_a_record(origin);
    }
}
