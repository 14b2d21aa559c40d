//! Turns CSV rows into raw marks; gathers what the rows together say about the order of day and month.

use super::asides;
use super::coordinate::{Coordinate, read_coordinate, read_pair};
use super::csv_columns::{Layout, Position};
use super::csv_rows::CsvRow;
use super::csv_time::{CellTime, NumberedDate, Order, in_utc, read_cells};
use super::quantity_text::{BareUnits, put};
use super::record_findings::{MEND, repair_findings, unreadable_number, unreadable_time};
use super::time_text::unreadable;
use super::{Counts, FileRead};
use crate::terms::export::{CsvClock, Export, FileId};
use crate::terms::finding::{Code, Finding, Outcome, SetAside};
use crate::terms::mark::{Fields, Kind, Origin, RawMark, RawTime, Words};

/// Marks of one file as they come.
pub(super) struct CsvMarks<'e> {
    export: &'e Export,
    file: FileId,
    rows: u32,
    counts: Counts,
    marks: Outcome<RawMark>,
    /// Marks whose date waits for the file's order of day and month: number in `marks.kept`, date, and its text.
    waiting: Vec<(usize, NumberedDate, String)>,
    one_by_one: bool,
}

impl<'e> CsvMarks<'e> {
    pub(super) fn new(export: &'e Export, file: FileId) -> Self {
        Self {
            export,
            file,
            rows: 0,
            counts: Counts::default(),
            marks: Outcome::default(),
            waiting: Vec::new(),
            one_by_one: false,
        }
    }

    /// Gives each record that is set aside a row of its own: it stands in a cell, and only rows can be told together.
    pub(super) const fn one_by_one(&mut self) {
        self.one_by_one = true;
    }

    /// A finding about the file as a whole.
    pub(super) fn tell(&mut self, finding: Finding) {
        self.marks.findings.push(finding.at(Origin::whole_file(self.file), ""));
    }

    /// Where a row stands, numbered.
    pub(super) fn next_origin(&mut self, row: &CsvRow) -> Origin {
        self.rows += 1;
        Origin { file: self.file, record: self.rows, line: row.line, bytes: row.bytes, start: row.start }
    }

    /// Takes in what a GPX fragment in one row held.
    pub(super) fn join(&mut self, read: FileRead, origin: Origin) {
        if read.counts.marks == 0 {
            self.not_a_record(origin);
            return;
        }
        self.counts.marks += read.counts.marks;
        self.marks.kept.extend(read.marks.kept.into_iter().map(|mark| RawMark { origin, ..mark }));
        self.marks.set_aside.extend(read.marks.set_aside.into_iter().map(|mut aside| {
            aside.origin = origin;
            aside.finding.origin = Some(origin);
            aside
        }));
        self.marks.findings.extend(read.marks.findings.into_iter().map(|mut finding| {
            finding.origin = Some(origin);
            finding
        }));
    }

    /// Sets aside a row that holds no record.
    pub(super) fn not_a_record(&mut self, origin: Origin) {
        self.counts.marks += 1;
        let finding = Finding::new(Code::RecordDamaged, "the row holds no record that can be read")
            .fix("mend the record; if it is a CSV row, name its columns in the settings (`columns`)");
        self.set_aside(finding, origin, "");
    }

    fn set_aside(&mut self, finding: Finding, origin: Origin, name: &str) {
        let aside = SetAside::one(origin, finding.at(origin, name));
        if self.one_by_one {
            self.marks.set_aside.push(aside);
        } else {
            asides::add(&mut self.marks.set_aside, aside);
        }
    }

    /// Reads one row.
    pub(super) fn row(&mut self, mut row: CsvRow, layout: &Layout, origin: Origin) {
        self.counts.marks += 1;
        let Some(position) = layout.position else { return };
        if !row.whole {
            let finding = Finding::new(
                Code::RecordDamaged,
                "a quote in the row is opened or closed in the wrong place",
            );
            return self.set_aside(finding.fix(MEND), origin, "");
        }
        row.cells.iter_mut().for_each(take_text_sign);
        let fits = rejoin(&mut row.cells, layout, position);
        let cell = |column: Option<usize>| column.and_then(|i| row.cells.get(i)).map_or("", String::as_str);
        let name = cell(layout.words[0]);
        if !fits {
            let seen = format!("the row has {} cells and the header {}", row.cells.len(), layout.width);
            return self.set_aside(Finding::new(Code::RecordDamaged, seen).fix(MEND), origin, name);
        }
        if row.cells.len() <= position.last_cell() {
            let seen = format!(
                "the row has {} cells; its position needs {}",
                row.cells.len(),
                position.last_cell() + 1
            );
            return self.set_aside(Finding::new(Code::RowShort, seen).fix(MEND), origin, name);
        }
        let (lon, lat) = match read_position(position, &row.cells) {
            Ok(found) => found,
            Err(finding) => return self.set_aside(*finding, origin, name),
        };
        let mut findings: Vec<Finding> = repair_findings(row.repairs).collect();
        if !(lon.plain && lat.plain) {
            let seen = format!("position is {}", shown(position, &row.cells));
            let done = format!("read as latitude {}, longitude {}", lat.deg, lon.deg);
            findings.push(Finding::new(Code::PositionForm, seen).done(done));
        }
        let fields = self.fields(&row.cells, layout, &mut findings);
        let time = self.time(cell(layout.time), cell(layout.clock), cell(layout.local_date), layout.utc);
        if let RawTime::Unreadable(text) = &time {
            findings.push(unreadable_time(text));
        }
        // A kind in the user's own words is a text like any other.
        let told_kind = if fields.kind.is_none() { cell(layout.kind) } else { "" };
        let type_ = [cell(layout.words[2]), told_kind].join(" ");
        let words = Words::new(
            name,
            cell(layout.words[1]),
            type_.trim(),
            cell(layout.words[3]),
            cell(layout.words[4]),
        );
        self.marks.findings.extend(findings.into_iter().map(|finding| finding.at(origin, name)));
        self.marks.kept.push(RawMark {
            origin,
            lon_deg: lon.deg,
            lat_deg: lat.deg,
            time,
            words,
            fields,
            note: "".into(),
        });
    }

    fn fields(&self, cells: &[String], layout: &Layout, findings: &mut Vec<Finding>) -> Fields {
        let bare = BareUnits { depth: self.export.depth_unit, temperature: self.export.temperature_unit };
        let mut fields = Fields::default();
        for (column, quantity, unit) in &layout.quantities {
            let Some(text) = cells.get(*column).filter(|text| !says_nothing(text)) else { continue };
            if !put(&mut fields, *quantity, *unit, bare, text) {
                findings.push(unreadable_number(text));
            }
        }
        fields.kind = layout.kind.and_then(|column| Kind::from_word(cells.get(column)?));
        fields
    }

    /// Reads the time, or notes that it waits for the file's order of day and month.
    fn time(&mut self, date: &str, clock: &str, local_date: &str, utc: bool) -> RawTime {
        let (date, clock) =
            if date.is_empty() && clock.is_empty() { (local_date, "") } else { (date, clock) };
        match read_cells(date, clock) {
            CellTime::Known(time) => self.in_zone(time, utc),
            CellTime::Numbers(numbers) => {
                // The zone is settled with the order.
                let numbers = if utc { numbers.in_utc() } else { numbers };
                self.waiting.push((self.marks.kept.len(), numbers, format!("{date} {clock}")));
                RawTime::Missing
            }
        }
    }

    fn in_zone(&self, time: RawTime, utc: bool) -> RawTime {
        match time {
            RawTime::Civil(civil) if utc || self.export.time_zone == CsvClock::Utc => in_utc(civil),
            time => time,
        }
    }

    /// Settles the order of day and month for the whole file and hands everything over.
    pub(super) fn finish(mut self) -> FileRead {
        self.settle_dates();
        asides::tell_many(&mut self.marks.set_aside);
        FileRead { file: self.file, counts: self.counts, marks: self.marks, track_logs: Vec::new() }
    }

    fn settle_dates(&mut self) {
        let waiting = std::mem::take(&mut self.waiting);
        if waiting.is_empty() {
            return;
        }
        let votes = |order| waiting.iter().filter(|(_, date, _)| date.order() == Some(order)).count();
        let (day_first, month_first) = (votes(Order::DayFirst), votes(Order::MonthFirst));
        let order = match (day_first, month_first) {
            (1.., 0) => Some(Order::DayFirst),
            (0, 1..) => Some(Order::MonthFirst),
            _ => None,
        };
        let mut undated = 0_u32;
        for (number, date, text) in waiting {
            let order =
                date.order().or(order).or_else(|| date.is_same_either_way().then_some(Order::DayFirst));
            let read = order.and_then(|order| date.read(order));
            undated += u32::from(read.is_none());
            let time = read.map_or_else(|| unreadable(text.trim()), |time| self.in_zone(time, false));
            if let Some(mark) = self.marks.kept.get_mut(number) {
                mark.time = time;
            }
        }
        if let Some(order) = order {
            let (word, rows) = match order {
                Order::DayFirst => ("day/month", day_first),
                Order::MonthFirst => ("month/day", month_first),
            };
            let seen = format!("dates were read as {word} because of {rows} row(s)");
            self.tell(Finding::new(Code::DateOrder, seen));
        }
        if undated > 0 {
            let seen = if day_first + month_first == 0 {
                format!(
                    "{undated} row(s) have dates that can be read as day/month and as month/day, and no row decides"
                )
            } else {
                format!(
                    "{undated} row(s) have dates that can be read both ways: {day_first} row(s) say that the day comes \
                     first and {month_first} that the month does"
                )
            };
            self.tell(
                Finding::new(Code::DateOrderUnclear, seen)
                    .done("the marks of these rows are undated")
                    .fix("write dates as year-month-day"),
            );
        }
    }
}

/// Whether a row has no more cells than its header, once a comma inside the last column's text is put back. Where the
/// position has no decimals, the extra cells may be its own, cut at decimal commas: then nothing is put back.
fn rejoin(cells: &mut Vec<String>, layout: &Layout, position: Position) -> bool {
    while cells.len() > layout.width && cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    if cells.len() <= layout.width {
        return true;
    }
    let whole_numbers = match position {
        Position::Apart { lat, lon } => [lat, lon].iter().any(|i| cells[*i].bytes().all(|b| b != b'.')),
        Position::Together(_) => false,
    };
    let last = layout.width - 1;
    let is_text = layout.words.contains(&Some(last));
    if whole_numbers || !is_text {
        return false;
    }
    let joined = cells.drain(last..).collect::<Vec<_>>().join(", ");
    cells.push(joined);
    true
}

/// Longitude and latitude of a row that has the cells for it.
fn read_position(position: Position, cells: &[String]) -> Result<(Coordinate, Coordinate), Box<Finding>> {
    let empty = match position {
        Position::Apart { lat, lon } => cells[lat].is_empty() || cells[lon].is_empty(),
        Position::Together(both) => cells[both].is_empty(),
    };
    if empty {
        let finding = Finding::new(Code::PositionMissing, "latitude or longitude is empty");
        return Err(Box::new(finding.fix(MEND)));
    }
    let read = match position {
        Position::Apart { lat, lon } => read_coordinate(&cells[lon]).zip(read_coordinate(&cells[lat])),
        Position::Together(both) => read_pair(&cells[both]).map(|[lat, lon]| (lon, lat)),
    };
    read.ok_or_else(|| {
        let seen = format!("position is {}", shown(position, cells));
        Box::new(Finding::new(Code::PositionUnreadable, seen).fix(MEND))
    })
}

fn shown(position: Position, cells: &[String]) -> String {
    let cut = |i: usize| cells[i].chars().take(40).collect::<String>();
    match position {
        Position::Apart { lat, lon } => format!("`{}`, `{}`", cut(lat), cut(lon)),
        Position::Together(both) => format!("`{}`", cut(both)),
    }
}

/// Takes off the apostrophe that our tables and spreadsheets put before a text which would run as a formula.
fn take_text_sign(cell: &mut String) {
    if cell.strip_prefix('\'').is_some_and(|rest| rest.starts_with(['=', '+', '-', '@'])) {
        cell.remove(0);
    }
}

/// An empty cell, or one of the marks for it.
fn says_nothing(text: &str) -> bool {
    matches!(
        text.to_ascii_lowercase().as_str(),
        "" | "-" | "--" | "?" | "n/a" | "na" | "none" | "null" | "nan" | "unknown"
    )
}
