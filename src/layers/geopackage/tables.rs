//! The tables and triggers that the standard prescribes (OGC 12-128r18, annexes C and F).

/// Marks the file as a GeoPackage 1.3 and makes the tables about tables.
pub(super) const HEAD: &str = "
PRAGMA application_id = 0x47504B47; -- 'GPKG'
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL,
  srs_id INTEGER PRIMARY KEY NOT NULL,
  organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL,
  description TEXT
);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY,
  data_type TEXT NOT NULL,
  identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE,
  min_y DOUBLE,
  max_x DOUBLE,
  max_y DOUBLE,
  srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
);
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL,
  m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
);
CREATE TABLE gpkg_extensions (
  table_name TEXT,
  column_name TEXT,
  extension_name TEXT NOT NULL,
  definition TEXT NOT NULL,
  scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
);
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  name TEXT,
  title TEXT,
  description TEXT,
  mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name)
);
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL,
  value TEXT,
  min NUMERIC,
  min_is_inclusive BOOLEAN,
  max NUMERIC,
  max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
);
CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT ''
);
CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL,
  table_name TEXT,
  column_name TEXT,
  row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id)
);
";

/// WGS 84 as well-known text (OGC 01-009), as the EPSG list has it under 4326.
pub(super) const WGS_84_WKT: &str = r#"GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]"#;

/// The triggers that keep an R-tree in step when a viewer changes the table. `layer` is the bare name, `table` and
/// `rtree` are quoted. The functions in them are the viewer's to bring, as the standard says.
pub(super) fn triggers(layer: &str, table: &str, rtree: &str) -> String {
    let trigger = |name: &str, when: &str, condition: &str, then: &str| {
        format!(
            "CREATE TRIGGER \"rtree_{layer}_geom_{name}\" AFTER {when} ON {table} WHEN {condition} BEGIN {then} END;\n"
        )
    };
    let there = "(NEW.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom))";
    let gone = "(NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))";
    let put = format!(
        "INSERT OR REPLACE INTO {rtree} VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));"
    );
    let take = format!("DELETE FROM {rtree} WHERE id = OLD.fid;");
    let same = |geometry: &str| format!("OLD.fid = NEW.fid AND {geometry}");
    let moved = |geometry: &str| format!("OLD.fid != NEW.fid AND {geometry}");
    [
        trigger("insert", "INSERT", there, &put),
        trigger("update1", "UPDATE OF geom", &same(there), &put),
        trigger("update2", "UPDATE OF geom", &same(gone), &take),
        trigger("update3", "UPDATE", &moved(there), &format!("{take} {put}")),
        trigger(
            "update4",
            "UPDATE",
            &moved(gone),
            &format!("DELETE FROM {rtree} WHERE id IN (OLD.fid, NEW.fid);"),
        ),
        trigger("delete", "DELETE", "OLD.geom NOT NULL", &take),
    ]
    .concat()
}
