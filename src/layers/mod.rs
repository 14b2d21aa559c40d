//! layers: everything in, GeoJSON, GPX and CSV text out.
//!
//! Does not: compute what a stage should have computed; open files (it writes to what it is handed).
