//! What a file's first bytes say: whether it is GPX, and which prefixes its own elements carry.

use super::xml_tokens::{StartTag, TagName, Token, Tokens, attributes};
use memchr::memmem;

/// Elements that give a GPX file its shape. Reading can take up again at each of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    Gpx,
    Waypoint,
    Route,
    RoutePoint,
    Track,
    TrackSegment,
    TrackPoint,
}

/// Most prefixes that a file may give to GPX; those in use are one or two. More would make every tag dear.
const MOST_PREFIXES: usize = 8;

/// Which elements of a file are GPX's own. Namespaces are not resolved: an undeclared prefix is no reason to lose a
/// record, and many files carry no namespace or a wrong one.
#[derive(Clone, Debug, Default)]
pub(super) struct Dialect {
    /// Prefixes beside the empty one.
    prefixes: Vec<Vec<u8>>,
}

impl Dialect {
    /// Whether a name belongs to GPX: no prefix, or one of the file's own.
    pub(super) fn owns(&self, name: TagName<'_>) -> bool {
        name.prefix().is_empty() || self.prefixes.iter().any(|own| own == name.prefix())
    }

    /// The shape that a tag name stands for.
    pub(super) fn shape(&self, name: TagName<'_>) -> Option<Shape> {
        let shape = match name.local() {
            b"wpt" => Shape::Waypoint,
            b"trkpt" => Shape::TrackPoint,
            b"rtept" => Shape::RoutePoint,
            b"trkseg" => Shape::TrackSegment,
            b"trk" => Shape::Track,
            b"rte" => Shape::Route,
            b"gpx" => Shape::Gpx,
            _ => return None,
        };
        self.owns(name).then_some(shape)
    }

    /// From the first element that may be GPX's.
    fn of_first(name: TagName<'_>) -> Self {
        let prefix = name.prefix();
        Self { prefixes: if prefix.is_empty() { Vec::new() } else { vec![prefix.to_vec()] } }
    }

    /// Takes over the prefixes that the root declares.
    fn declare(&mut self, attributes_: &[u8]) {
        for (key, value) in attributes(attributes_) {
            // GPX namespaces: http://www.topografix.com/GPX/1/0 and …/1/1.
            if key.prefix() == b"xmlns"
                && memmem::find(value, b"topografix.com/GPX/1").is_some()
                && self.prefixes.len() < MOST_PREFIXES
            {
                self.prefixes.push(key.local().to_vec());
            }
        }
    }

    /// Takes over the prefix of the first mark, route or track outside extensions, so that a prefix which nobody
    /// declared costs nothing.
    fn adopt_prefix(&mut self, tokens: &mut Tokens<'_>) {
        let mut in_extensions = false;
        while let Some(token) = tokens.next() {
            match token {
                Token::Start(tag) if tag.name.local() == b"extensions" => in_extensions = !tag.empty,
                Token::End(name) if name.local() == b"extensions" => in_extensions = false,
                Token::Start(tag)
                    if !in_extensions && [&b"wpt"[..], b"rte", b"trk"].contains(&tag.name.local()) =>
                {
                    if !self.owns(tag.name) {
                        self.prefixes.push(tag.name.prefix().to_vec());
                    }
                    return;
                }
                _ => {}
            }
        }
    }
}

/// What a file is.
#[derive(Debug)]
pub(super) enum Head {
    /// Nothing but white space.
    Empty,
    /// GPX; `damaged` when its first element is not `gpx`, but records follow.
    Gpx { dialect: Dialect, damaged: bool },
    /// Something else, in words.
    Other(String),
}

/// Looks at the first bytes of a file's text.
pub(super) fn look(head: &[u8]) -> Head {
    if head.trim_ascii().is_empty() {
        return Head::Empty;
    }
    if head.starts_with(b"PK\x03\x04") {
        return Head::Other("a zip archive".to_owned());
    }
    let mut tokens = Tokens::new(head);
    let mut first_other = None;
    while let Some(token) = tokens.next() {
        let Token::Start(StartTag { name, attributes, .. }) = token else { continue };
        let local = name.local();
        let mut dialect = Dialect::of_first(name);
        if let Some(shape) = dialect.shape(name) {
            let damaged = first_other.is_some() && shape != Shape::Gpx;
            // A record by itself must be the same record as in its file: nothing in it speaks for the file.
            if shape == Shape::Gpx {
                dialect.declare(attributes);
                dialect.adopt_prefix(&mut tokens);
            }
            return Head::Gpx { dialect, damaged };
        }
        if first_other.is_none() {
            first_other = Some(String::from_utf8_lossy(&local[..local.len().min(40)]).into_owned());
            // A page or a KML file may quote GPX; that makes it none.
            if [&b"html"[..], b"kml", b"head", b"body"].iter().any(|other| local.eq_ignore_ascii_case(other))
            {
                break;
            }
        }
    }
    Head::Other(first_other.map_or_else(
        || "no XML element in its first megabyte".to_owned(),
        |name| format!("its first element is `{name}`"),
    ))
}
