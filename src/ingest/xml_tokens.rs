//! Cuts XML text into tags and text, over bytes, leniently.
//!
//! Not a validating parser, on purpose: a bad byte, an undeclared prefix or a bare `&` must cost no more than the
//! record it stands in, and no entity is ever expanded here. Tag names are not matched; the caller does that.
//!
//! One rule keeps damage local: `<` never stands inside a tag (XML 1.0, productions 10 and 40), so a tag that meets
//! one before its `>` is broken, and the next token starts at that `<`.

use memchr::memmem;
use std::ops::Range;

/// Most bytes a record, a comment or a declaration may take. Longer ones are passed over, so that memory stays
/// bounded whatever the file holds. (Our own choice: a thousand times the size of a usual record.)
pub(super) const MOST_BYTES: usize = 1 << 20;

/// Name of a tag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TagName<'a> {
    /// As it stands.
    pub(super) whole: &'a [u8],
    local_from: usize,
}

impl<'a> TagName<'a> {
    /// The name that starts at the first byte of `bytes`; ends at white space, `/`, `>`, `<` or the end.
    pub(super) fn at_start(bytes: &'a [u8]) -> Self {
        let mut local_from = 0;
        let mut end = bytes.len();
        for (i, byte) in bytes.iter().enumerate() {
            match byte {
                b':' => local_from = i + 1,
                b' ' | b'\t' | b'\r' | b'\n' | b'/' | b'>' | b'<' => {
                    end = i;
                    break;
                }
                _ => {}
            }
        }
        Self { whole: &bytes[..end], local_from }
    }

    /// Without its prefix.
    pub(super) fn local(self) -> &'a [u8] {
        &self.whole[self.local_from..]
    }

    /// The prefix without its colon; empty when there is none.
    pub(super) fn prefix(self) -> &'a [u8] {
        &self.whole[..self.local_from.saturating_sub(1)]
    }
}

/// A start tag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct StartTag<'a> {
    pub(super) name: TagName<'a>,
    /// What stands between name and end, values still escaped.
    pub(super) attributes: &'a [u8],
    /// Whether it is its own end: `<name/>`.
    pub(super) empty: bool,
    /// Whether it has its `>`.
    pub(super) closed: bool,
}

/// A piece of XML text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Token<'a> {
    /// `<name …>` or `<name …/>`; or, when not `closed`, what starts like one and has no end.
    Start(StartTag<'a>),
    /// `</name>`.
    End(TagName<'a>),
    /// Text, its entities still in it.
    Text(&'a [u8]),
    /// Inside of a CDATA section: text without entities.
    Cdata(&'a [u8]),
    /// Comment, declaration or processing instruction.
    Aside,
    /// Looks like any other tag, but is none.
    Broken,
}

/// Walks over a text.
#[derive(Clone, Debug)]
pub(super) struct Tokens<'a> {
    text: &'a [u8],
    at: usize,
    declarations: Declarations,
}

impl<'a> Tokens<'a> {
    pub(super) const fn new(text: &'a [u8]) -> Self {
        Self { text, at: 0, declarations: Declarations::new() }
    }

    /// Where the next token starts.
    pub(super) const fn at(&self) -> usize {
        self.at
    }

    /// Goes back or forth to where a token starts.
    pub(super) const fn go_to(&mut self, at: usize) {
        self.at = at;
    }

    /// Passes over text to the next tag.
    pub(super) fn pass_text(&mut self) {
        let rest = &self.text[self.at..];
        // Between two elements mostly stand a line feed and a few blanks: too short a way to call a search for.
        let blanks = rest.iter().take(16).take_while(|byte| byte.is_ascii_whitespace()).count();
        self.at += match rest.get(blanks) {
            Some(b'<') => blanks,
            _ => memchr::memchr(b'<', rest).unwrap_or(rest.len()),
        };
    }

    /// An element without attributes and with nothing but text in it, if one stands here: its name and where in the
    /// whole its text lies. Passes it. The form of nearly all elements of a record.
    pub(super) fn plain_leaf(&mut self) -> Option<(TagName<'a>, Range<usize>)> {
        let rest = self.text[self.at..].strip_prefix(b"<")?;
        let name = TagName::at_start(rest);
        let length = name.whole.len();
        if rest.get(length) != Some(&b'>') || name.local().is_empty() || matches!(rest[0], b'!' | b'?') {
            return None;
        }
        let back = self.at;
        self.at += length + 2;
        let from = self.at;
        let Some(text) = self.leaf_text(name) else {
            self.at = back;
            return None;
        };
        Some((name, from..from + text.len()))
    }

    /// Text of an element whose start tag was just read, if nothing but text stands in it; passes its end tag.
    pub(super) fn leaf_text(&mut self, name: TagName<'a>) -> Option<&'a [u8]> {
        let rest = &self.text[self.at..];
        let end = memchr::memchr(b'<', rest)?;
        let after = rest[end + 1..].strip_prefix(b"/")?.strip_prefix(name.whole)?;
        if after.first() != Some(&b'>') {
            return None;
        }
        self.at += end + name.whole.len() + 3;
        Some(&rest[..end])
    }

    /// The next token; `None` at the end.
    pub(super) fn next(&mut self) -> Option<Token<'a>> {
        let rest = &self.text[self.at..];
        if *rest.first()? != b'<' {
            let end = memchr::memchr(b'<', rest).unwrap_or(rest.len());
            self.at += end;
            return Some(Token::Text(&rest[..end]));
        }
        match rest.get(1) {
            Some(b'!') => {
                let Some(length) = self.declarations.length(self.text, self.at) else {
                    self.at += 2;
                    return Some(Token::Broken);
                };
                self.at += length;
                Some(match rest[..length].strip_prefix(b"<![CDATA[") {
                    Some(inside) => Token::Cdata(&inside[..inside.len() - 3]),
                    None => Token::Aside,
                })
            }
            Some(b'/') => {
                let name = TagName::at_start(&rest[2..]);
                let (length, closed) = tag_length(rest, 2 + name.whole.len());
                self.at += length;
                Some(if closed && !name.local().is_empty() { Token::End(name) } else { Token::Broken })
            }
            Some(b'?') => {
                let (length, closed) = tag_length(rest, 2);
                self.at += length;
                Some(if closed { Token::Aside } else { Token::Broken })
            }
            _ => {
                let name = TagName::at_start(&rest[1..]);
                let from = 1 + name.whole.len();
                let (length, closed) = tag_length(rest, from);
                self.at += length;
                if name.local().is_empty() {
                    return Some(Token::Broken);
                }
                if !closed {
                    return Some(Token::Start(StartTag { name, attributes: b"", empty: false, closed }));
                }
                let inside = &rest[from..length - 1];
                let (attributes, empty) =
                    inside.strip_suffix(b"/").map_or((inside, false), |attributes| (attributes, true));
                Some(Token::Start(StartTag { name, attributes, empty, closed }))
            }
        }
    }
}

/// Length of the tag that starts `bytes`, looked for from `from` on, and whether it is closed. A `>` inside quotes
/// does not close it; `<` anywhere and the end of the text break it.
fn tag_length(bytes: &[u8], from: usize) -> (usize, bool) {
    // Most tags have neither attributes nor blanks.
    if bytes.get(from) == Some(&b'>') {
        return (from + 1, true);
    }
    let mut quote = None;
    for (i, &byte) in bytes.iter().enumerate().skip(from) {
        match (byte, quote) {
            (b'<', _) if i > 0 => return (i, false),
            (b'>', None) => return (i + 1, true),
            (b'"' | b'\'', None) => quote = Some(byte),
            (_, Some(open)) if byte == open => quote = None,
            _ => {}
        }
    }
    (bytes.len(), false)
}

/// Finds where comments, CDATA sections and document types end. Remembers where no end is, so that a text of nothing
/// but open ones takes no longer than any other.
#[derive(Clone, Debug)]
pub(super) struct Declarations {
    comment: Ends,
    cdata: Ends,
    bracket: Ends,
    angle: Ends,
}

/// Looks for one kind of end.
#[derive(Clone, Debug)]
struct Ends {
    end: &'static [u8],
    /// No end starts and finishes in here.
    none: Range<usize>,
}

impl Declarations {
    pub(super) const fn new() -> Self {
        Self {
            comment: Ends::new(b"-->"),
            cdata: Ends::new(b"]]>"),
            bracket: Ends::new(b"]"),
            angle: Ends::new(b">"),
        }
    }

    /// Length of the comment, CDATA section or document type that starts at `at` of `text` (with `<!`); `None` when
    /// it does not end within [`MOST_BYTES`].
    pub(super) fn length(&mut self, text: &[u8], at: usize) -> Option<usize> {
        let text = &text[..text.len().min(at + MOST_BYTES)];
        let start = &text[at..];
        let end = if start.starts_with(b"<!--") {
            self.comment.after(text, at + 4)?
        } else if start.starts_with(b"<![CDATA[") {
            self.cdata.after(text, at + 9)?
        } else {
            // A document type may hold declarations in brackets.
            let close = at + 2 + memchr::memchr3(b'[', b'>', b'<', start.get(2..)?)?;
            match text[close] {
                b'>' => close + 1,
                b'<' => return None,
                _ => {
                    let bracket = self.bracket.after(text, close)?;
                    self.angle.after(text, bracket)?
                }
            }
        };
        Some(end - at)
    }
}

impl Ends {
    const fn new(end: &'static [u8]) -> Self {
        Self { end, none: 0..0 }
    }

    /// Where the first end at or after `from` is over.
    fn after(&mut self, text: &[u8], from: usize) -> Option<usize> {
        let known = self.none.contains(&from);
        // An end may have been cut off where the last search stopped.
        let look_from =
            if known { from.max((self.none.end + 1).saturating_sub(self.end.len())) } else { from };
        let found = memmem::find(text.get(look_from..)?, self.end);
        if found.is_none() {
            self.none = if known { self.none.start } else { from }..text.len();
        }
        Some(look_from + found? + self.end.len())
    }
}

/// The attributes of a start tag, in order, values still escaped. Values without quotes end at white space.
pub(super) fn attributes(mut bytes: &[u8]) -> impl Iterator<Item = (TagName<'_>, &[u8])> {
    std::iter::from_fn(move || {
        let equals = memchr::memchr(b'=', bytes)?;
        let name = bytes[..equals].trim_ascii();
        // After a stray word without `=`, the name is the last word before the sign.
        let name = &name[name.iter().rposition(u8::is_ascii_whitespace).map_or(0, |i| i + 1)..];
        let rest = bytes[equals + 1..].trim_ascii_start();
        let (value, after) = match rest.first() {
            Some(&quote @ (b'"' | b'\'')) => {
                let inside = &rest[1..];
                let end = memchr::memchr(quote, inside).unwrap_or(inside.len());
                (&inside[..end], inside.get(end + 1..).unwrap_or_default())
            }
            _ => rest.split_at(rest.iter().position(u8::is_ascii_whitespace).unwrap_or(rest.len())),
        };
        bytes = after;
        Some((TagName::at_start(name), value))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &[&str]) {
        let text_of = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let mut tokens = Tokens::new(text.as_bytes());
        let mut seen = Vec::new();
        while let Some(token) = tokens.next() {
            seen.push(match token {
                Token::Start(tag) => {
                    let sign = if tag.empty { "/+" } else { "+" };
                    let end = if tag.closed { "" } else { "…" };
                    format!("{sign}{}{}{end}", text_of(tag.name.whole), text_of(tag.attributes))
                }
                Token::End(name) => format!("-{}", text_of(name.whole)),
                Token::Text(t) => text_of(t),
                Token::Cdata(t) => format!("[{}]", text_of(t)),
                Token::Aside => "aside".to_owned(),
                Token::Broken => "broken".to_owned(),
            });
        }
        assert_eq!(seen, expected);
    }

    #[test]
    fn tags_text_and_asides_are_told_apart() {
        check(
            "<?xml version='1.0'?><a b='>'>t<c/><![CDATA[<d>]]><!-- <e> --></a >",
            &["aside", "+a b='>'", "t", "/+c", "[<d>]", "aside", "-a"],
        );
    }

    #[test]
    fn a_broken_tag_ends_at_the_next_one() {
        check("<wpt lat=\"1 lon=\"2\"><name>x</name>", &["+wpt…", "+name", "x", "-name"]);
        check("a<", &["a", "broken"]);
        check("<!-- open <b>", &["broken", "-- open ", "+b"]);
    }

    #[test]
    fn a_document_type_is_passed_over_whole() {
        check("<!DOCTYPE gpx [<!ENTITY a \"b\">]><gpx/>", &["aside", "/+gpx"]);
    }

    #[test]
    fn attributes_come_with_and_without_quotes() {
        let seen: Vec<_> =
            attributes(b" lat = \"1\" x lon='2' z:u=3 ").map(|(n, v)| (n.local(), v)).collect();
        assert_eq!(seen, [(&b"lat"[..], &b"1"[..]), (b"lon", b"2"), (b"u", b"3")]);
    }

    #[test]
    fn tags_of_sound_files_are_those_of_a_second_reader() {
        // Second reader: quick-xml 0.42. Both give `+name` and `-name`; an empty tag is both.
        use quick_xml::events::Event;
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/gpx");
        let mut files = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let Ok(text) = std::fs::read_to_string(&path) else { continue };
            if path.extension().is_none_or(|e| e != "gpx") {
                continue;
            }
            let mut theirs = Vec::new();
            let mut reader = quick_xml::Reader::from_str(&text);
            loop {
                let name = |name: &str, sign| format!("{sign}{name}");
                match reader.read_event().unwrap() {
                    Event::Start(tag) => theirs.push(name(tag.name().as_ref(), '+')),
                    Event::End(tag) => theirs.push(name(tag.name().as_ref(), '-')),
                    Event::Empty(tag) => {
                        theirs.push(name(tag.name().as_ref(), '+'));
                        theirs.push(name(tag.name().as_ref(), '-'));
                    }
                    Event::Eof => break,
                    _ => {}
                }
            }
            let mut ours = Vec::new();
            let mut tokens = Tokens::new(text.as_bytes());
            while let Some(token) = tokens.next() {
                let name = |name: TagName<'_>, sign| format!("{sign}{}", String::from_utf8_lossy(name.whole));
                match token {
                    Token::Start(tag) => {
                        ours.push(name(tag.name, '+'));
                        if tag.empty {
                            ours.push(name(tag.name, '-'));
                        }
                    }
                    Token::End(tag) => ours.push(name(tag, '-')),
                    Token::Broken => ours.push("broken".to_owned()),
                    Token::Text(_) | Token::Cdata(_) | Token::Aside => {}
                }
            }
            assert!(ours == theirs, "{}", path.display());
            files += 1;
        }
        assert!(files > 30);
    }
}
