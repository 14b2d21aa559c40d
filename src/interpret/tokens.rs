//! Tokens: the words, numbers and signs of a text.

/// A piece of a text.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Token {
    /// Letters, in lower case.
    Word { text: String, glued: bool },
    /// Digits with at most one decimal sign; `ordinal`: written with a leading zero, so it counts something.
    Number { value: f64, ordinal: bool, glued: bool },
    /// Anything else that is no space.
    Sign { sign: char, glued: bool },
}

impl Token {
    /// The letters of a word.
    pub(super) fn word(&self) -> Option<&str> {
        if let Self::Word { text, .. } = self { Some(text) } else { None }
    }

    /// The value of a number.
    pub(super) fn number(&self) -> Option<f64> {
        if let Self::Number { value, .. } = self { Some(*value) } else { None }
    }

    /// Whether it is one of these signs.
    pub(super) fn is_sign(&self, signs: &[char]) -> bool {
        matches!(self, Self::Sign { sign, .. } if signs.contains(sign))
    }

    /// Whether no space stands before it.
    pub(super) const fn glued(&self) -> bool {
        match self {
            Self::Word { glued, .. } | Self::Number { glued, .. } | Self::Sign { glued, .. } => *glued,
        }
    }
}

/// Cuts a text into words, numbers and signs; `SHAD24FT` and `BaitBall` are cut inside.
pub(super) fn lex(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut chars = text.char_indices().peekable();
    let mut glued = false;
    while let Some((start, c)) = chars.next() {
        if c.is_whitespace() {
            glued = false;
            continue;
        }
        if c.is_ascii_digit() {
            let mut end = start + 1;
            let mut has_point = false;
            while let Some((at, next)) = chars.peek().copied() {
                let digit_follows = text[at + next.len_utf8()..].starts_with(|d: char| d.is_ascii_digit());
                if next.is_ascii_digit() || (matches!(next, '.' | ',') && digit_follows && !has_point) {
                    has_point |= !next.is_ascii_digit();
                    end = at + 1;
                    chars.next();
                } else {
                    break;
                }
            }
            let digits = text[start..end].replace(',', ".");
            let ordinal = digits.len() > 1 && digits.starts_with('0') && !has_point;
            // A number that long is no number of ours; it stays as one that no rule accepts.
            tokens.push(Token::Number { value: digits.parse().unwrap_or(f64::MAX), ordinal, glued });
        } else if c.is_alphabetic() {
            let mut end = start + c.len_utf8();
            let mut previous = c;
            while let Some((at, next)) = chars.peek().copied() {
                if !next.is_alphabetic() || (previous.is_lowercase() && next.is_uppercase()) {
                    break;
                }
                end = at + next.len_utf8();
                previous = next;
                chars.next();
            }
            tokens.push(Token::Word { text: text[start..end].to_lowercase(), glued });
        } else {
            tokens.push(Token::Sign { sign: c, glued });
        }
        glued = true;
    }
    tokens
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &str) {
        let tokens: Vec<String> = lex(text)
            .iter()
            .map(|token| match token {
                Token::Word { text, .. } => text.clone(),
                Token::Number { value, ordinal, .. } => format!("{value}{}", if *ordinal { "!" } else { "" }),
                Token::Sign { sign, .. } => sign.to_string(),
            })
            .collect();
        assert_eq!(tokens.join(" "), expected, "{text}");
    }

    #[test]
    fn words_are_cut_at_digits_and_inside_at_capitals() {
        check("SHAD24FT", "shad 24 ft");
        check("BaitBall_27'", "bait ball _ 27 '");
        check("9,1m 24,5.3 0417", "9.1 m 24.5 . 3 417!");
        check("Über 30°", "über 30 °");
    }
}
