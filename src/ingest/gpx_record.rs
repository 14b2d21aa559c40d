//! Reads one `wpt`, `rtept` or `trkpt` out of the text, whole or broken.

use super::gpx_dialect::Dialect;
use super::quantity_text::{BareUnits, Quantity, Unit, number_and_unit, put, quantity_named};
use super::xml_text::{TextRepairs, clean, clean_literal, clean_plain};
use super::xml_tokens::{MOST_BYTES, StartTag, TagName, Token, Tokens, attributes};
use crate::terms::mark::{Fields, Kind};
use std::borrow::Cow;

/// Deepest nesting inside a record that is followed. Own choice; extensions in use nest three or four deep.
const MOST_NESTED: usize = 64;

/// How a record ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// With its end tag, everything in it matched.
    Complete,
    /// Without its end tag.
    BrokenOff,
    /// Tags in it do not match.
    NotWellFormed,
    /// It is longer than any record may be.
    TooLong,
}

/// What a record says.
#[derive(Debug)]
pub(super) struct Record<'a> {
    /// Attribute `lat` as it stands.
    pub(super) lat: Option<&'a [u8]>,
    /// Attribute `lon` as it stands.
    pub(super) lon: Option<&'a [u8]>,
    /// Name, sym, type, cmt, desc; empty where not wanted.
    pub(super) words: [Cow<'a, str>; 5],
    /// Text of `time`.
    pub(super) time: Cow<'a, str>,
    /// Text of our own `date`: the day of a mark without a time.
    pub(super) date: Cow<'a, str>,
    /// Text of our own `note`.
    pub(super) note: Cow<'a, str>,
    /// Number in `ele`.
    pub(super) ele_m: Option<f64>,
    /// Depths, temperature and kind.
    pub(super) fields: Fields,
    /// The first depth or temperature that is no number.
    pub(super) unreadable_number: Option<Box<str>>,
    /// What had to be repaired in its texts.
    pub(super) repairs: TextRepairs,
    /// How it ends.
    pub(super) end: End,
}

/// Whether the texts of a record are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    /// Marks: everything.
    Words,
    /// Points of tracks: time and fields.
    Fields,
    /// The same, and `ele`.
    FieldsAndEle,
}

/// Where the text of an element goes.
#[derive(Clone, Copy, Debug)]
enum Slot {
    Word(usize),
    Time,
    OwnDate,
    OwnNote,
    OwnName,
    Kind,
    Ele,
    Quantity(Quantity, Option<Unit>),
}

/// An element with more than text in it, whose text is being gathered.
struct Gathering {
    slot: Slot,
    level: usize,
    unit: Option<Unit>,
    text: String,
}

/// Reads the record whose start tag, at `tag_start`, was just taken from `tokens`; leaves `tokens` behind its end, or at the tag that
/// shows that it has none. `plain` is the whole text, when it is plain ASCII. `open` is
/// scratch space for the names of open elements.
pub(super) fn read_record<'a>(
    tokens: &mut Tokens<'a>,
    plain: Option<&'a str>,
    dialect: &Dialect,
    wanted: Wanted,
    tag_start: usize,
    tag: StartTag<'a>,
    open: &mut Vec<&'a [u8]>,
) -> Record<'a> {
    if tokens.at() - tag_start > MOST_BYTES {
        return Record::too_long(tag);
    }
    let mut record = Record::new(tag);
    if tag.empty {
        return record;
    }
    let start = tokens.at();
    let mut gathering: Option<Gathering> = None;
    open.clear();
    record.end = loop {
        if gathering.is_none() {
            tokens.pass_text();
        }
        let before = tokens.at();
        if before - start > MOST_BYTES {
            break End::TooLong;
        }
        if gathering.is_none() && record.plain_child(tokens, plain, open.len(), dialect, wanted) {
            continue;
        }
        let Some(token) = tokens.next() else { break End::BrokenOff };
        match token {
            Token::Start(StartTag { name: child, attributes, empty, closed }) => {
                if dialect.shape(child).is_some() {
                    tokens.go_to(before);
                    break End::BrokenOff;
                }
                if !closed {
                    record.end = End::NotWellFormed;
                }
                if empty || !closed {
                    continue;
                }
                if gathering.is_none() {
                    let slot = slot_of(child, open.len(), dialect, wanted);
                    if let Some(raw) = tokens.leaf_text(child) {
                        if let Some(slot) = slot {
                            let text = clean(raw.trim_ascii(), &mut record.repairs);
                            record.fill(slot, unit_attribute(slot, attributes), text);
                        }
                        continue;
                    }
                    gathering = slot.map(|slot| Gathering {
                        slot,
                        level: open.len(),
                        unit: unit_attribute(slot, attributes),
                        text: String::new(),
                    });
                }
                if open.len() == MOST_NESTED {
                    record.end = End::NotWellFormed;
                } else {
                    open.push(child.whole);
                }
            }
            Token::End(closed) => {
                if open.last() == Some(&closed.whole) {
                    open.pop();
                    if let Some(done) = gathering.take_if(|g| g.level == open.len()) {
                        record.fill(done.slot, done.unit, Cow::Owned(done.text.trim().to_owned()));
                    }
                } else if closed.whole == tag.name.whole {
                    break if open.is_empty() { record.end } else { End::NotWellFormed };
                } else if dialect.shape(closed).is_some() {
                    tokens.go_to(before);
                    break End::BrokenOff;
                } else {
                    record.end = End::NotWellFormed;
                }
            }
            Token::Text(raw) => {
                if let Some(gathering) = &mut gathering {
                    gathering.text.push_str(&clean(raw, &mut record.repairs));
                }
            }
            Token::Cdata(raw) => {
                if let Some(gathering) = &mut gathering {
                    gathering.text.push_str(&clean_literal(raw, &mut record.repairs));
                }
            }
            Token::Aside => {}
            Token::Broken => record.end = End::NotWellFormed,
        }
    };
    if record.end == End::TooLong {
        record = Record::too_long(tag);
    }
    record
}

/// Where the text of a child goes: GPX's own elements only directly in the record and only without a foreign prefix,
/// so that `<u:name>` beside `<name>` changes nothing; fields by local name at any depth.
fn slot_of(name: TagName<'_>, level: usize, dialect: &Dialect, wanted: Wanted) -> Option<Slot> {
    let local = name.local();
    if level == 0 && dialect.owns(name) {
        let word = match local {
            b"time" => return Some(Slot::Time),
            b"name" => 0,
            b"sym" => 1,
            b"type" => 2,
            b"cmt" => 3,
            b"desc" => 4,
            b"ele" => return (wanted != Wanted::Fields).then_some(Slot::Ele),
            b"extensions" => return None,
            _ => return field_slot(local),
        };
        return (wanted == Wanted::Words).then_some(Slot::Word(word));
    }
    // Our own words by our own prefix, which our writer always gives.
    match (name.prefix(), local) {
        (b"sw", b"date") if wanted == Wanted::Words => Some(Slot::OwnDate),
        (b"sw", b"note") if wanted == Wanted::Words => Some(Slot::OwnNote),
        (b"sw", b"name") if wanted == Wanted::Words => Some(Slot::OwnName),
        _ => field_slot(local),
    }
}

fn field_slot(local: &[u8]) -> Option<Slot> {
    if local.eq_ignore_ascii_case(b"kind") {
        return Some(Slot::Kind);
    }
    quantity_named(local).map(|(quantity, unit)| Slot::Quantity(quantity, unit))
}

/// The unit that an attribute such as `unit="ft"` tells.
fn unit_attribute(slot: Slot, attributes_: &[u8]) -> Option<Unit> {
    if attributes_.is_empty() || !matches!(slot, Slot::Quantity(..)) {
        return None;
    }
    attributes(attributes_)
        .filter(|(key, _)| [&b"unit"[..], b"units", b"uom"].contains(&key.local()))
        .find_map(|(_, value)| Unit::from_word(&str::from_utf8(value).ok()?.to_lowercase()))
}

impl<'a> Record<'a> {
    fn new(tag: StartTag<'a>) -> Self {
        let mut record = Self {
            lat: None,
            lon: None,
            words: [const { Cow::Borrowed("") }; 5],
            time: Cow::Borrowed(""),
            date: Cow::Borrowed(""),
            note: Cow::Borrowed(""),
            ele_m: None,
            fields: Fields::default(),
            unreadable_number: None,
            repairs: TextRepairs::default(),
            end: if tag.closed { End::Complete } else { End::NotWellFormed },
        };
        for (key, value) in attributes(tag.attributes) {
            match key.whole {
                b"lat" => record.lat = Some(value),
                b"lon" => record.lon = Some(value),
                _ => {}
            }
        }
        record
    }

    /// Says nothing: how much of it was read depends on where it was cut off.
    fn too_long(tag: StartTag<'a>) -> Self {
        Self { end: End::TooLong, ..Self::new(StartTag { attributes: b"", ..tag }) }
    }

    /// Takes a child that is nothing but text, where the text around it is plain; `false`: nothing was taken.
    fn plain_child(
        &mut self,
        tokens: &mut Tokens<'a>,
        plain: Option<&'a str>,
        level: usize,
        dialect: &Dialect,
        wanted: Wanted,
    ) -> bool {
        let Some(plain) = plain else { return false };
        let before = tokens.at();
        let Some((child, at)) = tokens.plain_leaf() else { return false };
        if dialect.shape(child).is_some() {
            tokens.go_to(before);
            return false;
        }
        if let Some(slot) = slot_of(child, level, dialect, wanted)
            && let Some(text) = plain.get(at)
        {
            let text = clean_plain(text.trim_ascii(), &mut self.repairs);
            self.fill(slot, None, text);
        }
        true
    }

    /// Puts a text where it belongs; of two elements of one name the first that says something stays.
    fn fill(&mut self, slot: Slot, unit: Option<Unit>, text: Cow<'a, str>) {
        match slot {
            Slot::Word(word) if self.words[word].is_empty() => self.words[word] = text,
            Slot::Time if self.time.is_empty() => self.time = text,
            Slot::OwnDate if self.date.is_empty() => self.date = text,
            Slot::OwnNote if self.note.is_empty() => self.note = text,
            // The whole name of a mark that was written shortened for the boat.
            Slot::OwnName if !text.is_empty() => self.words[0] = text,
            Slot::OwnName | Slot::Word(_) | Slot::Time | Slot::OwnDate | Slot::OwnNote => {}
            // A height that is no number is no finding: nothing but a question hangs on it.
            Slot::Ele => self.ele_m = self.ele_m.or_else(|| Some(number_and_unit(&text)?.0)),
            Slot::Kind => self.fields.kind = self.fields.kind.or_else(|| Kind::from_word(&text)),
            Slot::Quantity(quantity, name_unit) => {
                let read = put(&mut self.fields, quantity, unit.or(name_unit), BareUnits::METRIC, &text);
                if !read && !text.is_empty() {
                    self.unreadable_number.get_or_insert_with(|| (*text).into());
                }
            }
        }
    }
}
