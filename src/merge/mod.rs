//! merge: marks of many exports in, one log out.
//!
//! Sets aside: what the user's edits drop.
//! Does not: group marks into schools; two marks on one school stay two.
