//! Reads pool levels: a CSV with the columns `date` and `level`.

use crate::terms::units::{Units, level_m};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Why a level file could not be used.
#[derive(Debug, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct LevelsError {
    line: u64,
    what: String,
}

/// Reads levels by local date, in metres. Bare numbers are in feet for US units and metres for metric ones; a cell
/// may name its unit (`606.5 ft`, `184.9 m`). Of two rows with one date the later row counts.
///
/// # Errors
/// With the line, when a column is missing or a cell is no date or no number.
pub fn read_levels(text: &str, units: Units) -> Result<BTreeMap<Date, f64>, LevelsError> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let at = |line: u64, what: String| LevelsError { line, what };
    let headers = reader.headers().map_err(|e| at(1, e.to_string()))?.clone();
    let column = |word: &str| {
        headers.iter().position(|h| h.eq_ignore_ascii_case(word)).ok_or_else(|| {
            at(
                1,
                format!(
                    "there is no column `{word}` (columns here: {})",
                    headers.iter().collect::<Vec<_>>().join(", ")
                ),
            )
        })
    };
    let (date_column, level_column) = (column("date")?, column("level")?);
    let mut levels = BTreeMap::new();
    for row in reader.records() {
        let row = row.map_err(|e| at(e.position().map_or(0, csv::Position::line), e.to_string()))?;
        let line = row.position().map_or(0, csv::Position::line);
        let date: Date = row[date_column]
            .parse()
            .map_err(|_| at(line, format!("`{}` is no date; write it like 2024-05-31", &row[date_column])))?;
        let metres = level_m(&row[level_column], units).ok_or_else(|| {
            at(line, format!("`{}` is no level; write it like 606.5 or 606.5 ft", &row[level_column]))
        })?;
        levels.insert(date, metres);
    }
    Ok(levels)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn levels_read_in_feet_or_as_the_cell_says() {
        let levels = read_levels("Date,Level\n2024-05-01,606.5\n2024-05-02, 185 m\n", Units::Us).unwrap();
        assert!((levels[&date(2024, 5, 1)] - 184.8612).abs() < 1e-9);
        assert!((levels[&date(2024, 5, 2)] - 185.0).abs() < 1e-9);
    }

    #[test]
    fn a_broken_row_is_told_with_its_line() {
        let error = read_levels("date,level\n2024-05-01,606\n31/5/24,606\n", Units::Us).unwrap_err();
        assert_eq!(error.to_string(), "line 3: `31/5/24` is no date; write it like 2024-05-31");
        assert!(read_levels("day,level\n", Units::Us).unwrap_err().to_string().contains("no column `date`"));
    }
}
