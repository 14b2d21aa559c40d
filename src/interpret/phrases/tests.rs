//! Cases of depths, temperatures and weights in words.

use super::*;
use crate::interpret::kind::Rules;
use crate::interpret::tokens::lex;

/// Text → `f` fish, `w` water, `?` untold depth in feet, `~` bare depth, `t` temperature in Fahrenheit, `lb`.
#[track_caller]
fn check(text: &str, expected: &str) {
    let tokens = lex(text);
    let matches = Rules::new(&crate::interpret::Labels::default()).matches(&tokens);
    let said = read(&tokens, &matches, DepthUnit::Feet, TemperatureUnit::Fahrenheit);
    let mut got = Vec::new();
    for (whose, depth) in said.depths {
        let letter = match whose {
            Whose::Fish => 'f',
            Whose::Water => 'w',
            Whose::Untold => '?',
        };
        got.push(format!("{letter}{:.1}", depth.feet()));
    }
    got.extend(said.bare.iter().map(|depth| format!("~{:.1}", depth.feet())));
    got.extend(said.temps.iter().map(|temp| format!("t{:.1}", temp.fahrenheit())));
    got.extend(said.impossible.iter().map(|value| format!("!{value}")));
    got.extend(said.weight.then(|| "lb".to_owned()));
    assert_eq!(got.join(" "), expected, "{text}");
}

#[test]
fn a_written_unit_tells_depth_temperature_or_weight() {
    check("BAIT 27FT", "?27.0");
    check("bait27ft", "?27.0");
    check("shad 30'", "?30.0");
    check("shad 30’", "?30.0");
    check("9.1 m", "?29.9");
    check("9,1 m", "?29.9");
    check("5 fathoms", "?30.0");
    check("SHAD 24FT 71F", "?24.0 t71.0");
    check("21.5C", "t70.7");
    check("71*", "t71.0");
    check("71° surface", "t71.0");
    check("bass 3.5#", "lb");
    check("4 lb 7 oz", "lb");
    check("bass 5lb 12ft", "?12.0 lb");
    check("5'6\" down", "?5.5");
}

#[test]
fn words_around_a_depth_tell_whose_it_is() {
    check("10 over 32", "f10.0 w32.0");
    check("shad 10ft over 32ft", "f10.0 w32.0");
    check("bait 3 over 9 m", "f9.8 w29.5");
    check("bait 40'/55'", "f40.0 w55.0");
    check("bait 40ft / 55ft", "f40.0 w55.0");
    check("fish 12 in 30 fow", "f12.0 w30.0");
    check("water depth 40 ft", "w40.0");
    check("40 ft of water", "w40.0");
    check("35 fow", "w35.0");
    check("bottom 41", "w41.0");
    check("suspended 22", "f22.0");
    check("20 ft down", "f20.0");
    check("depth 76.7 ft; water 40.1 F", "?76.7 t40.1");
    check("fish depth: 18", "f18.0");
    check("water temp 68", "t68.0");
    check("@24", "?24.0");
    check("shad @ 24", "?24.0");
}

#[test]
fn a_range_beside_a_unit_is_its_middle() {
    check("bait 24-28 ft", "?26.0");
    check("24 to 28ft", "?26.0");
    check("24ft-28ft", "?26.0");
    check("bait 24-28", "~26.0");
}

#[test]
fn a_slash_parts_depth_and_temperature_but_not_a_date() {
    check("22/68", "?22.0 t68.0");
    check("shad 22/68F", "?22.0 t68.0");
    check("bait 10/12", "");
    check("shad 5/12/24", "");
    check("shad 2024-05-01", "");
}

#[test]
fn a_bare_number_counts_beside_a_bait_word_only() {
    check("BAIT 27", "~27.0");
    check("27 shad", "~27.0");
    check("BAIT-27", "~27.0");
    check("BAIT 1", "");
    check("BAIT 027", "");
    check("BAIT #27", "");
    check("bait x12", "");
    check("hump 27", "");
    check("BAIT 140", "");
    check("bass 4", "");
    check("bass 24", "~24.0");
    check("15 bass", "");
}

#[test]
fn numbers_with_a_fish_may_be_its_weight_and_clock_times_are_no_depths() {
    check("bass 4-7", "lb");
    check("shad 6:30", "");
    check("bait 9am", "");
    check("bait 12 mph", "");
}

#[test]
fn heights_courses_air_and_positions_are_no_depths_and_no_water_temperatures() {
    for text in [
        "brush 8 ft tall",
        "20 ft off bottom",
        "30 ft from bank",
        "air temp 71F",
        "air 71",
        "heading 45°",
        "vis 3 ft",
        "lake level 606.5 ft",
        "36° 07.5' N 94° 03.1' W",
        "36 deg 7 min",
        "waves 2 ft high",
    ] {
        check(text, "");
    }
    check("shad 24ft, air 50F, water 61F", "?24.0 t61.0");
}

#[test]
fn a_depth_that_no_lake_has_is_told_apart() {
    check("bait 9999ft", "!9999");
}

#[test]
fn any_text_is_cut_without_losing_its_place() {
    for text in ["", "'", "1.", "1,,2", "№5 ½ft", "über 30'", "1e999", "0x1F", "٣ft", "-"] {
        let tokens = lex(text);
        let _ = read(&tokens, &[], DepthUnit::Metres, TemperatureUnit::Celsius);
        assert!(tokens.len() <= text.chars().count(), "{text}");
    }
}
