//! What is told of a thing: the same facts as plain sentences and as JSON.

use serde_json::{Map, Value};
use std::fmt::Write;

/// Lines of a list that a person reads; the rest is counted.
const MOST_LINES: usize = 12;

/// An explanation being put together: each fact once, with its sentence.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    lines: Vec<String>,
    facts: Map<String, Value>,
}

impl Told {
    /// An explanation that begins with a sentence on what the thing is.
    pub(super) fn new(what: &str, id: &str, title: String) -> Self {
        let mut told = Self { lines: vec![title], facts: Map::new() };
        told.fact("what", what.into());
        told.fact("id", id.into());
        told
    }

    /// A fact that the sentences tell already.
    pub(super) fn fact(&mut self, key: &str, value: Value) {
        self.facts.insert(key.to_owned(), value);
    }

    /// A fact with its sentence.
    pub(super) fn say(&mut self, key: &str, value: Value, sentence: String) {
        self.fact(key, value);
        self.lines.push(sentence);
    }

    /// A sentence alone.
    pub(super) fn line(&mut self, sentence: String) {
        self.lines.push(sentence);
    }

    /// A list with a sentence above it.
    pub(super) fn list(&mut self, key: &str, heading: String, items: Vec<(Value, String)>) {
        self.lines.push(heading);
        let more = items.len().saturating_sub(MOST_LINES);
        // A list that is one line too long is shown whole: "1 more" would take that line.
        let shown = if more <= 1 { items.len() } else { MOST_LINES };
        self.lines.extend(items[..shown].iter().map(|(_, line)| format!("  {line}")));
        if shown < items.len() {
            self.lines.push(format!("  and `{more}` more: --json lists them all"));
        }
        self.fact(key, items.into_iter().map(|(value, _)| value).collect());
    }

    /// Another explanation below this one, under a key of its own.
    pub(super) fn below(&mut self, key: &str, other: Self) {
        self.lines.extend(other.lines);
        self.fact(key, Value::Object(other.facts));
    }

    /// For a person.
    #[must_use]
    pub fn text(&self) -> String {
        self.lines.iter().fold(String::new(), |mut text, line| {
            let _ = writeln!(text, "{line}");
            text
        })
    }

    /// For a program.
    #[must_use]
    pub fn json(&self) -> Value {
        Value::Object(self.facts.clone())
    }
}
