//! report: everything in, one self-contained page out.
//!
//! Does not: compute what a stage should have computed; open files (it writes to what it is handed).
//!
//! The page is fixed text with blocks of JSON in it. No text of the user goes into HTML: its script reads the blocks and
//! sets text only. Its policy (Content Security Policy Level 3) lets nothing run but the two scripts that stand in it,
//! by their digests, and lets nothing be loaded.

mod blocks;
mod script_text;

use crate::account::Account;
use crate::effort::Effort;
use crate::layers::Results;
use crate::terms::finding::Finding;
use crate::terms::sha256;
use std::io::{self, Write};

/// The map library, unchanged.
const LIBRARY: &str = include_str!("library/leaflet.js");
/// Its licence, which goes where it goes.
const LICENCE: &str = include_str!("library/leaflet-LICENSE");
/// The library's style, unchanged, then our own.
const STYLES: [&str; 2] = [
    include_str!("library/leaflet.css"),
    concat!(include_str!("page/page.css"), include_str!("page/parts.css"), include_str!("page/print.css")),
];
/// Our own script, by subject.
const SCRIPT: &str = concat!(
    "(() => {\n\"use strict\";\n",
    include_str!("page/data.js"),
    include_str!("page/words.js"),
    include_str!("page/state.js"),
    include_str!("page/shapes.js"),
    include_str!("page/map.js"),
    include_str!("page/route.js"),
    include_str!("page/outlook.js"),
    include_str!("page/draw.js"),
    include_str!("page/looks.js"),
    include_str!("page/pick.js"),
    include_str!("page/panel.js"),
    include_str!("page/controls.js"),
    include_str!("page/tables.js"),
    include_str!("page/plot.js"),
    include_str!("page/plots.js"),
    include_str!("page/skill.js"),
    include_str!("page/account.js"),
    include_str!("page/start.js"),
    "})();\n"
);
const PAGE: &str = include_str!("page/page.html");

/// What the page is made from.
pub struct Report<'a> {
    /// What the stages computed.
    pub results: &'a Results<'a>,
    /// Where was looked, by outing.
    pub effort: &'a Effort,
    /// The account. Its stages and their seconds are not shown.
    pub account: &'a Account,
    /// All findings, in their order.
    pub findings: Vec<&'a Finding>,
}

/// Writes the page. The same report gives the same bytes.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: &mut impl Write, report: &Report<'_>) -> io::Result<()> {
    for part in PAGE.split("{{").enumerate() {
        let text = match part {
            (0, text) => text,
            (_, slot) => {
                let (name, text) = slot.split_once("}}").unwrap_or(("", slot));
                fill(out, name, report)?;
                text
            }
        };
        out.write_all(text.as_bytes())?;
    }
    Ok(())
}

/// Writes what a slot of the page stands for.
fn fill(out: &mut impl Write, slot: &str, report: &Report<'_>) -> io::Result<()> {
    match slot {
        "policy" => out.write_all(policy().as_bytes()),
        "styles" => STYLES.iter().try_for_each(|style| writeln!(out, "<style>{style}</style>")),
        "blocks" => blocks::write(out, report),
        "scripts" => {
            [LIBRARY, SCRIPT].iter().try_for_each(|script| writeln!(out, "<script>{script}</script>"))
        }
        "licence" => out.write_all(LICENCE.as_bytes()),
        _ => Ok(()),
    }
}

/// The policy: nothing is loaded, sent or framed, and nothing runs but what stands in the page.
fn policy() -> String {
    let sources = |texts: &[&str]| -> String {
        // A browser reads every line end as a line feed before it takes the digest (HTML, 13.2.3.5).
        let seen = texts.iter().map(|text| text.replace("\r\n", "\n"));
        seen.fold(String::new(), |all, text| all + " '" + &sha256::policy_source(&text) + "'")
    };
    format!(
        "default-src 'none'; script-src{}; style-src{}; base-uri 'none'; form-action 'none'",
        sources(&[LIBRARY, SCRIPT]),
        sources(&STYLES)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fixed_texts_keep_within_their_elements() {
        for text in [LIBRARY, SCRIPT] {
            assert!(!text.contains("</script") && !text.contains("<!--"));
        }
        assert!(STYLES.iter().all(|style| !style.contains("</style")));
        assert!(!LICENCE.contains(['<', '&']), "the licence stands in the page as text");
    }

    #[test]
    fn the_policy_names_a_text_as_a_browser_reads_it() {
        // Computed by coreutils: tr -d '\r' < leaflet.css | sha256sum, in base64.
        assert!(STYLES[0].contains("\r\n"));
        assert!(
            policy().contains("style-src 'sha256-M3v8pcq9A7OYFbJwD+vis7ft9VkhxZzUn4jssyghIwM=' "),
            "{}",
            policy()
        );
    }

    #[test]
    fn every_slot_of_the_page_is_known() {
        let slots: Vec<&str> = PAGE.split("{{").skip(1).filter_map(|s| Some(s.split_once("}}")?.0)).collect();
        assert_eq!(slots, ["policy", "styles", "licence", "blocks", "scripts"]);
    }

    #[test]
    fn our_script_never_turns_text_into_markup_or_code() {
        for word in [
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "document.write",
            "eval(",
            "new Function",
            "fetch(",
        ] {
            assert!(!SCRIPT.contains(word), "{word}");
        }
    }
}
