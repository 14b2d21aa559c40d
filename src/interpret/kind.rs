//! Kinds: which of the words in a record's texts tells what the mark is on.

use super::kind_words::DEFAULTS;
use super::tokens::Token;
use super::{Draft, Labels};
use crate::terms::mark::Kind;
use std::collections::HashMap;

/// A run of tokens that names a kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Match {
    /// First token and the one after the last.
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) kind: Kind,
    strength: Strength,
}

/// A word that also means something else counts only when no better word stands in the same text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Strength {
    Weak,
    Strong,
    User,
}

use Strength::Weak;

/// Words after which a kind word says that nothing was there.
const NEGATIONS: [&str; 4] = ["no", "not", "zero", "without"];

/// Words in a row, what they name and how surely.
type Phrase = (Vec<&'static str>, Kind, Strength);

/// The words that tell kinds: the user's own and ours.
#[derive(Debug)]
pub(super) struct Rules {
    /// Phrases by their first word (singular), longest first.
    phrases: HashMap<&'static str, Vec<Phrase>>,
    /// The user's patterns: words of each, longest first.
    user: Vec<(Vec<String>, Kind)>,
}

impl Rules {
    pub(super) fn new(labels: &Labels) -> Self {
        let mut phrases: HashMap<_, Vec<Phrase>> = HashMap::new();
        for (kind, strength, words) in DEFAULTS {
            for phrase in words.split(", ") {
                let words: Vec<&str> = phrase.split(' ').collect();
                phrases.entry(words[0]).or_default().push((words, *kind, *strength));
            }
        }
        for candidates in phrases.values_mut() {
            candidates.sort_by_key(|(words, ..)| std::cmp::Reverse(words.len()));
        }
        let lists = [
            (Kind::Bait, &labels.bait),
            (Kind::Gamefish, &labels.gamefish),
            (Kind::Cover, &labels.cover),
            (Kind::Structure, &labels.structure),
            (Kind::Hazard, &labels.hazard),
            (Kind::Access, &labels.access),
            (Kind::Other, &labels.other),
        ];
        let mut user: Vec<(Vec<String>, Kind)> = lists
            .into_iter()
            .flat_map(|(kind, patterns)| patterns.iter().map(move |pattern| (pattern, kind)))
            .map(|(pattern, kind)| {
                (pattern.to_lowercase().split_whitespace().map(str::to_owned).collect(), kind)
            })
            .filter(|(words, _): &(Vec<String>, Kind)| !words.is_empty())
            .collect();
        user.sort_by_key(|(words, _)| std::cmp::Reverse(words.len()));
        Self { phrases, user }
    }

    /// All runs of words in a text that name a kind, in order, longest first at each place.
    pub(super) fn matches(&self, tokens: &[Token]) -> Vec<Match> {
        let words: Vec<(usize, &str)> =
            tokens.iter().enumerate().filter_map(|(i, t)| Some((i, t.word()?))).collect();
        let mut found = Vec::new();
        let mut at = 0;
        while at < words.len() {
            let rest = &words[at..];
            let hit = self.user_match(rest).or_else(|| self.default_match(rest));
            let Some((length, kind, strength)) = hit else {
                at += 1;
                continue;
            };
            let negated = at > 0 && NEGATIONS.contains(&words[at - 1].1);
            if !negated {
                found.push(Match { from: rest[0].0, to: rest[length - 1].0 + 1, kind, strength });
            }
            at += length;
        }
        found
    }

    fn user_match(&self, words: &[(usize, &str)]) -> Option<(usize, Kind, Strength)> {
        self.user
            .iter()
            .find(|(patterns, _)| {
                patterns.len() <= words.len()
                    && patterns.iter().zip(words).all(|(pattern, (_, word))| {
                        matches_pattern(pattern, word)
                            || singulars(word).any(|s| matches_pattern(pattern, &s))
                    })
            })
            .map(|(patterns, kind)| (patterns.len(), *kind, Strength::User))
    }

    fn default_match(&self, words: &[(usize, &str)]) -> Option<(usize, Kind, Strength)> {
        let fits = |pattern: &str, word: &str| pattern == word || singulars(word).any(|s| s == pattern);
        let first = words[0].1;
        let direct = self.phrases.get(first).into_iter().flatten();
        let by_singular =
            singulars(first).filter_map(|s| self.phrases.get(s.as_str())).flatten().collect::<Vec<_>>();
        direct
            .chain(by_singular)
            .find(|(pattern, ..)| {
                pattern.len() <= words.len() && pattern.iter().zip(words).all(|(p, (_, w))| fits(p, w))
            })
            .map(|(pattern, kind, strength)| (pattern.len(), *kind, *strength))
    }
}

/// What a word may be the plural of: `stumps`, `bushes`, `marinas`, `berries`.
fn singulars(word: &str) -> impl Iterator<Item = String> {
    let strip = |ending: &str, instead: &str| {
        word.strip_suffix(ending).filter(|stem| stem.len() > 1).map(|stem| format!("{stem}{instead}"))
    };
    // "bass", "grass" and "gas" are no plurals: their stems name nothing.
    [strip("s", ""), strip("es", ""), strip("ies", "y")].into_iter().flatten()
}

/// Pattern with `*` (any run of characters, also none) and `?` (one character).
fn matches_pattern(pattern: &str, word: &str) -> bool {
    if !pattern.contains(['*', '?']) {
        return pattern == word;
    }
    let (pattern, word): (Vec<char>, Vec<char>) = (pattern.chars().collect(), word.chars().collect());
    // Backtracks only to the last star, so the time is at most the product of the lengths.
    let (mut p, mut w, mut star) = (0, 0, None);
    while w < word.len() {
        if p < pattern.len() && (pattern[p] == '?' || pattern[p] == word[w]) {
            (p, w) = (p + 1, w + 1);
        } else if p < pattern.len() && pattern[p] == '*' {
            star = Some((p, w));
            p += 1;
        } else if let Some((star_at, covered)) = star {
            star = Some((star_at, covered + 1));
            (p, w) = (star_at + 1, covered + 1);
        } else {
            return false;
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

/// Which of the five texts is the symbol.
const SYMBOL: usize = 1;

/// The kind of a mark, and where its words are.
#[derive(Debug)]
pub(super) struct Spoken {
    pub(super) kind: Kind,
    /// Whether anything told it.
    pub(super) named: bool,
    /// Whether nothing but the symbol did, by one of our own words.
    pub(super) by_symbol: bool,
    /// The kinds that the texts name, the chosen first, where they name several.
    pub(super) rivals: Vec<Kind>,
    /// For each of the five texts.
    pub(super) matches: [Vec<Match>; 5],
}

/// Chooses the kind: the record's own field, else the user's words in any text, else the first text whose words
/// tell one. In one text a plain word beats one that also means something else, and the earlier beats the later.
pub(super) fn of(draft: &Draft, texts: &[Vec<Token>; 5], rules: &Rules) -> Spoken {
    let mut matches: [Vec<Match>; 5] = std::array::from_fn(|i| rules.matches(&texts[i]));
    if is_numbered(&texts[0]) {
        matches[0].clear();
    }
    if let Some(kind) = draft.raw.fields.kind {
        return Spoken { kind, named: true, by_symbol: false, rivals: Vec::new(), matches };
    }
    let users = |found: &&Vec<Match>| found.iter().any(|m| m.strength == Strength::User);
    let by_user = matches.iter().find(users).and_then(|found| best(found));
    let chosen = by_user.or_else(|| matches.iter().find_map(|found| best(found)));
    let by_symbol = by_user.is_none()
        && matches.iter().enumerate().all(|(text, found)| (text == SYMBOL) != found.is_empty());
    // A symbol is weak evidence: units without one for bait show a fish. It is heard only where nothing else speaks.
    let spoken = matches.iter().enumerate().filter(|(text, _)| *text != SYMBOL).flat_map(|(_, found)| found);
    let mut kinds: Vec<Kind> = chosen.into_iter().collect();
    for found in spoken.filter(|m| m.strength > Weak) {
        if !kinds.contains(&found.kind) {
            kinds.push(found.kind);
        }
    }
    if by_user.is_some() || kinds.len() == 1 {
        kinds.clear();
    }
    Spoken { kind: chosen.unwrap_or(Kind::Other), named: chosen.is_some(), by_symbol, rivals: kinds, matches }
}

/// The kind that the matches of one text tell: a plain word beats one that also means something else, and the earlier
/// beats the later.
pub(super) fn best(found: &[Match]) -> Option<Kind> {
    let best = found.iter().map(|m| m.strength).max()?;
    found.iter().find(|m| m.strength == best).map(|m| m.kind)
}

/// `0417`, `WPT 12`, `Mark 3`: the unit's own numbering, which tells nothing.
pub(super) fn is_numbered(name: &[Token]) -> bool {
    const STEMS: [&str; 8] = ["wpt", "waypt", "waypoint", "way", "point", "pt", "mark", "wp"];
    let mut numbers = 0;
    name.iter().all(|token| match token {
        Token::Number { .. } => {
            numbers += 1;
            true
        }
        Token::Word { text, .. } => STEMS.contains(&text.as_str()),
        Token::Sign { sign, .. } => matches!(sign, '#' | '-' | '_' | '.'),
    }) && numbers == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interpret::Draft;
    use crate::interpret::tokens::lex;
    use crate::terms::codes::Codes;
    use crate::terms::export::FileId;
    use crate::terms::mark::{Fields, Origin, RawMark, RawTime, Words};
    use crate::terms::place::Place;

    fn labels() -> Labels {
        Labels {
            bait: vec!["ts".into(), "ball*".into()],
            hazard: vec!["old wall".into()],
            ..Labels::default()
        }
    }

    /// `name | sym | type | cmt | desc` → kind, with `!` behind it when a conflict was told, `?` when unknown.
    #[track_caller]
    fn check(texts: &str, expected: &str) {
        let mut parts = texts.split('|').map(str::trim).chain(std::iter::repeat(""));
        let mut next = || parts.next().unwrap();
        let words = Words::new(next(), next(), next(), next(), next());
        let raw = RawMark {
            origin: Origin::whole_file(FileId(0)),
            lon_deg: 0.0,
            lat_deg: 0.0,
            time: RawTime::Missing,
            words,
            fields: Fields::default(),
            note: "".into(),
        };
        let place = Place { lon: 1.0, lat: 1.0 };
        let draft = Draft::new(raw, place, None, Codes::default());
        let tokens = draft.raw.words.in_order().map(lex);
        let spoken = of(&draft, &tokens, &Rules::new(&labels()));
        let flag = if !spoken.named {
            "?"
        } else if spoken.rivals.is_empty() {
            ""
        } else {
            "!"
        };
        assert_eq!(format!("{}{flag}", spoken.kind.word()), expected, "{texts}");
    }

    #[test]
    fn the_words_anglers_type_name_their_kind() {
        for (text, kind) in [
            ("SHAD 24FT 71F", "bait"),
            ("bait27ft", "bait"),
            ("BaitBall", "bait"),
            ("STUMP!", "hazard"),
            ("stumps", "hazard"),
            ("Brush Pile 2", "cover"),
            ("brushpiles", "cover"),
            ("ROCK PILE", "structure"),
            ("drop-off", "structure"),
            ("alewives", "bait"),
            ("ciscoes", "bait"),
            ("LMB 4-7", "gamefish"),
            ("boat ramp", "access"),
            ("Skull and Crossbones", "hazard"),
            ("sauger", "gamefish"),
            ("Laker 60ft", "gamefish"),
            ("lake trout", "gamefish"),
            ("salmon", "gamefish"),
            ("wipers", "gamefish"),
            ("bluegills", "gamefish"),
            ("CATS", "gamefish"),
            ("creek mouth", "structure"),
            ("red buoy", "hazard"),
            ("deadheads", "hazard"),
        ] {
            check(text, kind);
        }
    }

    #[test]
    fn numbered_names_tell_nothing_but_the_symbol_may() {
        for text in ["0417", "WPT 12", "Mark #3", "Point 7", "", "B 24"] {
            check(text, "other?");
        }
        check("0417 | Fish", "gamefish");
    }

    #[test]
    fn the_users_words_beat_ours_and_may_hold_stars() {
        check("TS 24", "bait");
        check("ballpark", "bait");
        check("brush | | | TS", "bait");
        check("old wall", "hazard");
    }

    #[test]
    fn the_first_text_in_order_wins_and_a_conflict_is_told() {
        check("SHAD | | cover", "bait!");
        check("bass on brush", "gamefish!");
        check("0417 | | brush | shad", "cover!");
        check("SHAD | Fish", "bait");
        check("0417 | Fish | | shad", "gamefish!");
    }

    #[test]
    fn words_with_a_second_meaning_yield_to_plain_ones() {
        check("school of bass", "gamefish");
        check("fish on hump", "gamefish!");
        check("school", "bait");
        check("bait fish", "bait");
        check("bait shop", "other");
        check("fish attractor", "cover");
    }

    #[test]
    fn no_bait_is_no_bait() {
        check("no bait here", "other?");
        check("no shad, brush only", "cover");
    }

    #[test]
    fn a_pattern_with_stars_matches_what_it_says() {
        for (pattern, word, yes) in [
            ("ball*", "balls", true),
            ("*ball", "baitball", true),
            ("b?ll", "bull", true),
            ("b*l*x", "ball", false),
        ] {
            assert_eq!(matches_pattern(pattern, word), yes, "{pattern} {word}");
        }
    }
}
