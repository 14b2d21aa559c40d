//! interpret: raw marks in, marks with place, time, kind, depth and temperature out.
//!
//! Sets aside: marks without a usable position, and our own suggestions come back.
//! Does not: open files, ask the clock, judge whether two marks are the same (that is `merge`).
