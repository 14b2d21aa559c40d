//! What a run writes: the output folder, a merged log, a table.

use super::reread::Reread;
use super::{Extent, Run, RunError};
use crate::account::{StageAccount, printable};
use crate::layers::{
    Layer, Planned, Results, all, boat, boat_marks, boat_route, geojson, geopackage, gpx, sheet, tables,
};
use crate::output::{OutputError, OutputFile, OutputFolder};
use crate::report::{self, Report};
use crate::terms::export::FileId;
use crate::terms::finding::Finding;
use crate::terms::mark::Origin;
use rusqlite::Connection;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// How a merged log is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogFormat {
    /// GPX 1.1.
    Gpx,
    /// GeoJSON.
    GeoJson,
    /// CSV.
    Csv,
}

impl LogFormat {
    /// The format that a path's ending names.
    ///
    /// # Errors
    /// When it names none.
    pub fn of(path: &Path) -> Result<Self, RunError> {
        match path.extension().map(|e| e.to_string_lossy().to_lowercase()).as_deref() {
            Some("gpx") => Ok(Self::Gpx),
            Some("geojson") => Ok(Self::GeoJson),
            Some("csv") => Ok(Self::Csv),
            _ => Err(RunError::LogEnding { path: path.to_owned() }),
        }
    }
}

impl Run {
    fn results(&self) -> Results<'_> {
        let (sightings, areas) = (&self.schools.sightings, &self.schools.areas);
        Results::new(&self.lake, &self.exports, &self.log, sightings, areas, &self.movement)
            .with_bottom(&self.bottom)
            .with_date(
                self.settings.prefish.date.or(self.settings.outlook.date),
                self.settings.prefish.clearance.metres(),
            )
            .with_effort(&self.looked_out.effort)
            .with_outlook(self.looked_out.outlook.as_ref())
            .with_pairing(self.schools.pairing.as_ref())
            .with_plan(self.prefish.as_ref().map(|prefish| Planned {
                prefish,
                keep_off_m: self.settings.prefish.keep_off.metres(),
                // No stage reads an expected temperature yet; unknown counts as cold.
                surface: self.settings.outlook.water_temp,
            }))
    }

    /// The layers, as far as the run went.
    fn layers<'a>(&self, results: &'a Results<'a>) -> Vec<Layer<'a>> {
        let mut layers = vec![all::marks(results)];
        if self.extent >= Extent::Soundings {
            layers.extend([all::contours(results), all::hazards_and_cover(results)]);
        }
        if self.extent >= Extent::Schools {
            layers.extend([all::sightings(results), all::areas(results), all::area_centres(results)]);
        }
        if self.extent >= Extent::Movement {
            layers.extend([all::movement(results), all::movement_days(results)]);
        }
        if self.looked_out.outlook.is_some() {
            layers.push(all::outlook(results));
        }
        if self.extent >= Extent::Outlook {
            layers.push(all::effort(results));
        }
        if self.prefish.is_some() {
            layers.extend([all::prefish_stops(results), all::prefish_legs(results)]);
        }
        layers
    }

    fn report<'a>(&'a self, results: &'a Results<'a>) -> Report<'a> {
        let findings = self.all_findings().collect();
        Report { results, effort: &self.looked_out.effort, account: &self.account, findings }
    }

    /// Findings about kept records, files and the run, and the reasons of what was set aside.
    pub fn all_findings(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().chain(self.set_aside.iter().map(|s| &s.finding))
    }

    /// The folder that `run` writes: `out` if given, else the one the settings name, beside the settings file.
    #[must_use]
    pub fn output_folder(&self, out: Option<&Path>) -> PathBuf {
        out.map_or_else(|| self.settings.path(Path::new(&self.settings.output.dir)), Path::to_owned)
    }

    /// Stops a run of which nothing came.
    ///
    /// # Errors
    /// When every input gave nothing, with what was found in each.
    pub fn require_something(&self) -> Result<(), RunError> {
        if !self.account.files.iter().all(crate::account::FileAccount::gave_nothing) {
            return Ok(());
        }
        let told = (0..)
            .zip(&self.exports)
            .map(|(number, export)| {
                let of_file = |origin: Option<Origin>| origin.is_some_and(|o| o.file == FileId(number));
                let Some(finding) = self.all_findings().find(|f| of_file(f.origin)) else {
                    return format!("\n  {}: no marks and no track logs", printable(&export.label));
                };
                let mut told = format!("\n  {}: {}", printable(&export.label), finding.code.meaning());
                for (word, what) in [("seen", &finding.seen), ("fix", &finding.fix)] {
                    if !what.is_empty() {
                        let _ = write!(told, "\n    {word}: {}", printable(what));
                    }
                }
                told
            })
            .collect();
        Err(RunError::Nothing { told })
    }

    /// Writes the merged log.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_log(&self, out: &mut impl Write, format: LogFormat) -> io::Result<()> {
        let results = Results::of_log(&self.lake, &self.exports, &self.log);
        match format {
            LogFormat::Gpx if self.settings.output.for_boat => {
                boat_marks::boat_marks(out, &results, &self.settings.output)
            }
            LogFormat::Gpx => gpx::merged(out, &results),
            LogFormat::GeoJson => geojson::write(out, &all::marks(&results)),
            LogFormat::Csv => tables::marks(out, &results),
        }
    }

    /// Writes the merged log into a file, whole or not at all. What was set aside goes into a second file beside it
    /// (`all.gpx`, `all.set-aside.csv`), which is returned when there is one; one that an earlier merge left is emptied. Both are whole before either is put in
    /// its place, that second one first.
    ///
    /// # Errors
    /// When a file is one that the run reads, or cannot be written; when an input was changed since it was read and
    /// records of it were set aside.
    pub fn write_log_file(&self, path: &Path, format: LogFormat) -> Result<Option<PathBuf>, RunError> {
        self.spare_inputs(path)?;
        let aside = path.with_extension("set-aside.csv");
        let any = !self.set_aside.is_empty();
        if any {
            self.spare_inputs(&aside)?;
        }
        // The table of an earlier merge would tell of records that this one kept.
        let outdated = || self.spare_inputs(&aside).is_ok() && is_set_aside_table(&aside);
        let aside = (any || outdated()).then_some(aside);
        let written = aside.as_ref().map(|aside| {
            let mut texts = Reread::new(self);
            OutputFile::write(aside, |w| self.write_set_aside(w, &mut texts))
                .map_err(|error| texts.why(error))
        });
        let written = written.transpose()?;
        let log = OutputFile::write(path, |w| self.write_log(w, format))?;
        if let Some(written) = written {
            written.finish()?;
        }
        log.finish()?;
        Ok(aside.filter(|_| any))
    }

    /// Writes the table of the last stage: holding areas, or the days of the movement tracks.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_table(&self, out: &mut impl Write, extent: Extent) -> io::Result<()> {
        match extent {
            Extent::Soundings => tables::soundings(out, &self.bottom, self.lake.units),
            Extent::Log => tables::marks(out, &self.results()),
            Extent::Schools => tables::areas(out, &self.results()),
            Extent::Movement => tables::movement(out, &self.results()),
            Extent::Outlook => tables::outlook(out, &self.results()),
        }
    }

    /// Writes the table of the backtest.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_skill(&self, out: &mut impl Write) -> io::Result<()> {
        tables::skill(out, self.looked_out.backtest.as_ref())
    }

    /// Writes the output folder, whole or not at all; returns where it stands.
    ///
    /// # Errors
    /// When an input lies in that folder, or was changed since it was read and records of it were set aside; when the
    /// folder is not ours, or it cannot be written.
    pub fn write_folder(&mut self, target: &Path) -> Result<PathBuf, RunError> {
        let start = Instant::now();
        self.spare_inputs(target)?;
        let folder = OutputFolder::begin(target, FILES)?;
        let mut texts = Reread::new(self);
        folder
            .write("set-aside/set-aside.csv", |w| self.write_set_aside(w, &mut texts))
            .map_err(|error| texts.why(error))?;
        let results = self.results();
        let layers = self.layers(&results);
        let (database, rest) =
            rayon::join(|| write_database(&folder, &layers), || self.write_files(&folder, &results, &layers));
        database.and(rest)?;
        drop(layers);
        self.account.stages.push(StageAccount {
            name: "layers",
            seconds: start.elapsed().as_secs_f64(),
            went_in: self.log.len() as u64,
            came_out: folder.files(),
        });
        let account = self.account.clone().with_coarse_seconds();
        folder.write("summary.json", |w| {
            serde_json::to_writer_pretty(&mut *w, &account)?;
            w.write_all(b"\n")
        })?;
        Ok(folder.finish()?)
    }

    /// Writes the layers as GeoJSON, the files for the boat, the tables, the report and the sheet.
    fn write_files(
        &self,
        folder: &OutputFolder,
        r: &Results<'_>,
        layers: &[Layer<'_>],
    ) -> Result<(), OutputError> {
        for layer in layers {
            folder.write(&format!("layers/{}.geojson", layer.name), |w| geojson::write(w, layer))?;
        }
        folder.write("boat/marks.gpx", |w| boat_marks::boat_marks(w, r, &self.settings.output))?;
        folder.write("tables/marks.csv", |w| tables::marks(w, r))?;
        folder.write("tables/findings.csv", |w| tables::findings(w, self.all_findings(), &self.exports))?;
        if self.extent >= Extent::Soundings {
            folder.write("tables/soundings.csv", |w| tables::soundings(w, &self.bottom, self.lake.units))?;
        }
        if self.extent >= Extent::Schools {
            folder.write("tables/sightings.csv", |w| tables::sightings(w, r))?;
            folder.write("tables/areas.csv", |w| tables::areas(w, r))?;
            folder.write("tables/pairing.csv", |w| tables::pairing(w, r))?;
            folder.write("boat/areas.gpx", |w| boat::boat_areas(w, r, &self.settings.output))?;
        }
        if self.extent >= Extent::Movement {
            folder.write("tables/movement.csv", |w| tables::movement(w, r))?;
            folder.write("tables/season-shifts.csv", |w| tables::season_shifts(w, r))?;
        }
        if self.extent >= Extent::Outlook {
            folder.write("tables/skill.csv", |w| tables::skill(w, self.looked_out.backtest.as_ref()))?;
            if self.looked_out.outlook.is_some() {
                folder.write("tables/outlook.csv", |w| tables::outlook(w, r))?;
            }
            folder.write("report.html", |w| report::write(w, &self.report(r)))?;
        }
        if self.prefish.is_some() {
            folder.write("tables/prefish.csv", |w| tables::prefish(w, r))?;
            folder.write("boat/prefish.gpx", |w| boat_route::boat_prefish(w, r, &self.settings.output))?;
            folder.write("prefish-sheet.html", |w| sheet::sheet(w, r))?;
        }
        Ok(())
    }

    /// Each record set aside, whole.
    fn write_set_aside(&self, out: &mut impl Write, texts: &mut Reread<'_>) -> io::Result<()> {
        tables::set_aside(out, &self.set_aside, &self.exports, |one| texts.text(one.origin))?;
        texts.finish()
    }

    /// Refuses an output that would overwrite a file that the run reads, or the folder that holds one.
    pub(super) fn spare_inputs(&self, target: &Path) -> Result<(), RunError> {
        let Ok(target) = fs::canonicalize(target) else { return Ok(()) };
        let read = self.exports.iter().map(|e| &e.path).chain(&self.others);
        for path in read {
            if fs::canonicalize(path).is_ok_and(|input| input.starts_with(&target)) {
                return Err(RunError::OverInput { path: path.clone() });
            }
        }
        Ok(())
    }
}

/// Whether a file is a table of records set aside, as we write it.
fn is_set_aside_table(path: &Path) -> bool {
    let head = tables::SET_ASIDE.join(",");
    let mut start = vec![0; head.len()];
    fs::File::open(path).and_then(|mut file| file.read_exact(&mut start)).is_ok() && start == head.as_bytes()
}

/// All layers in one GeoPackage.
fn write_database(folder: &OutputFolder, layers: &[Layer<'_>]) -> Result<(), OutputError> {
    folder.make("layers/layers.gpkg", |path| {
        let database = Connection::open(path).map_err(io::Error::other)?;
        geopackage::write(&database, layers)?;
        database.close().map_err(|(_, error)| io::Error::other(error))
    })
}

/// The files of an output folder.
const FILES: &[&str] = &[
    "report.html",
    "summary.json",
    "prefish-sheet.html",
    "layers/marks.geojson",
    "layers/contours.geojson",
    "layers/hazards-and-cover.geojson",
    "tables/soundings.csv",
    "layers/sightings.geojson",
    "layers/areas.geojson",
    "layers/area-centres.geojson",
    "layers/movement.geojson",
    "layers/movement-days.geojson",
    "layers/effort.geojson",
    "layers/outlook.geojson",
    "tables/skill.csv",
    "tables/outlook.csv",
    "layers/prefish-stops.geojson",
    "layers/prefish-legs.geojson",
    "layers/layers.gpkg",
    "tables/marks.csv",
    "tables/sightings.csv",
    "tables/areas.csv",
    "tables/pairing.csv",
    "tables/movement.csv",
    "tables/season-shifts.csv",
    "tables/prefish.csv",
    "tables/findings.csv",
    "boat/areas.gpx",
    "boat/marks.gpx",
    "boat/prefish.gpx",
    "set-aside/set-aside.csv",
];
