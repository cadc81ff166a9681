//! The whole reading, from a part as written to its strokes.

use proptest::prelude::*;

use super::*;
use crate::loopfile::{Exact, WrittenBars, WrittenPlay};
use crate::text::Source;

/// A string of a loop file, between quotes.
pub fn words(text: &str) -> Words {
    Words {
        text: text.to_string(),
        source: Source::new("night-ferry.toml", format!("\"{text}\"")),
        start: 1,
        literal: 0..text.len() + 2,
        plain: true,
    }
}

/// A part of a piece of its own name, with lines of tablature.
pub fn part(name: &str, lines: &[(&str, &str)]) -> WrittenPart {
    let line = |(bars, play): &(&str, &str)| WrittenBars {
        bars: words(bars),
        play: WrittenPlay::Line(words(play)),
    };
    WrittenPart {
        name: words(name),
        piece: words(name),
        marks: Vec::new(),
        lines: lines.iter().map(line).collect(),
    }
}

/// The text that a problem points at.
pub fn pointed_at(problem: &Problem) -> &str {
    let place = problem.place.as_ref().expect("the problem has a place");
    &place.source.text[place.span.clone()]
}

fn metre(counts: u32, unit: u32) -> Time {
    Time {
        tempo: 92.0,
        beat: Exact::new(1, 4),
        counts,
        unit,
    }
}

fn heard(parts: &[WrittenPart], bars: u32) -> Vec<ReadPart> {
    let mut problems = Vec::new();
    let read = read(parts, &metre(4, 4), bars, &mut problems);
    assert_eq!(problems, []);
    read
}

/// Places as numerators over one denominator.
fn places(read: &ReadPart, over: i128) -> Vec<i128> {
    let scaled = read.strokes.iter().map(|stroke| stroke.at * over);
    scaled
        .inspect(|at| assert!(at.is_integer(), "{at} is off the grid"))
        .map(|at| at.to_integer())
        .collect()
}

/// One part of one line, in one bar.
fn line(marks: &str, over: i128) -> Vec<i128> {
    places(&heard(&[part("snare", &[("all", marks)])], 1)[0], over)
}

/// A part that counts its hits aloud in every bar.
fn counting(name: &str, hits: &[&str]) -> WrittenPart {
    let hits = hits.iter().map(|hit| words(hit)).collect();
    let lines = vec![WrittenBars {
        bars: words("all"),
        play: WrittenPlay::Counted(hits),
    }];
    WrittenPart {
        lines,
        ..part(name, &[])
    }
}

/// The one thing that is wrong with a part in a loop of four bars.
fn problem_of(part: WrittenPart) -> Problem {
    let mut problems = Vec::new();
    let read = read(&[part], &metre(4, 4), 4, &mut problems);
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(read[0].strokes, [], "what is wrong is silent");
    problems.remove(0)
}

fn wrong_line(marks: &str, what: &str, word: &str) {
    let problem = problem_of(part("snare", &[("all", marks)]));
    assert_eq!(problem.what, what);
    assert_eq!(pointed_at(&problem), word, "{what}");
}

#[test]
fn marks_share_the_bar_however_many() {
    assert_eq!(line("xxxxxxxxxxxxxxxx", 16), (0..16).collect::<Vec<_>>());
    assert_eq!(line("xxxxxxxxxxxx", 12), (0..12).collect::<Vec<_>>());
    assert_eq!(line("xxxxx", 5), [0, 1, 2, 3, 4]);
    assert_eq!(line("x-xx-xx", 7), [0, 2, 3, 5, 6]);
    assert_eq!(line("x--- -x-- x--x ---x", 16), [0, 5, 8, 11, 15]);
    assert_eq!(line("x-x x-x", 6), [0, 2, 3, 5]);
}

#[test]
fn a_step_is_as_long_as_its_share() {
    let steps = |marks: &str| -> Vec<Exact> {
        heard(&[part("snare", &[("all", marks)])], 1)[0]
            .strokes
            .iter()
            .map(|stroke| stroke.step)
            .collect()
    };
    assert_eq!(steps("x--- ---- ---- ----"), [Exact::new(1, 16)]);
    assert_eq!(steps("x-x"), [Exact::new(1, 3); 2]);
    assert_eq!(
        steps("x {xxx} - -"),
        [vec![Exact::new(1, 4)], vec![Exact::new(1, 12); 3]].concat()
    );
    assert_eq!(steps("5 in 16"), [Exact::new(1, 16); 5]);
}

#[test]
fn braces_fit_marks_into_a_group_or_a_step() {
    // A group of its own: three in the time of the third quarter, 24, 28 and 32 forty-eighths.
    assert_eq!(line("---- X--g {xxx} X---", 48), [12, 21, 24, 28, 32, 36]);
    // Inside a group: three in the time of one sixteenth.
    assert_eq!(line("---- --x{xxx} ---- ----", 48), [18, 21, 22, 23]);
    assert_eq!(line("{xx}{xxx}", 12), [0, 3, 6, 8, 10]);
    assert_eq!(line("{x-xx-}", 5), [0, 2, 3]);
}

#[test]
fn odd_metres_share_their_bars_as_evenly() {
    for (counts, unit, marks) in [(7, 8, "x-xx-xx"), (12, 16, "x-xx-x-xx-x-")] {
        let mut problems = Vec::new();
        let read = read(
            &[part("snare", &[("all", marks)])],
            &metre(counts, unit),
            2,
            &mut problems,
        );
        let length = i128::from(counts);
        let hits: Vec<i128> = marks
            .chars()
            .zip(0..)
            .filter(|(mark, _)| *mark == 'x')
            .map(|(_, at)| at)
            .collect();
        let both: Vec<i128> = hits.iter().copied().chain(hits.iter().map(|at| at + length)).collect();
        assert_eq!(places(&read[0], length), both);
    }
}

/// Son clave, 3-2, on sixteen steps a bar: 1, 4, 7, 11, 13 [practice]. Conga in a cha-cha: a slap on 2, open tones on 4
/// and its "and" [practice]. Bell in 6/8 over two bars: `x-x-xx -x-x-x` [practice].
#[test]
fn patterns_of_the_trade() {
    assert_eq!(line("x--x --x- --x- x---", 16), [0, 3, 6, 10, 12]);

    let mut conga = part("conga-slap", &[("all", "-- x- -- oo")]);
    conga.marks = vec![('o', words("conga-open"))];
    let aloud = counting("conga-open", &["4 x", "4& x"]);
    let read = heard(&[conga, aloud], 1);
    assert_eq!(places(&read[0], 8), [2, 6, 7]);
    assert_eq!(
        read[0].strokes.iter().map(|stroke| stroke.piece).collect::<Vec<_>>(),
        [0, 1, 1]
    );
    assert_eq!(
        read[0]
            .pieces
            .iter()
            .map(|piece| piece.text.as_str())
            .collect::<Vec<_>>(),
        ["conga-slap", "conga-open"]
    );
    assert_eq!(places(&read[1], 8), [6, 7]);

    let mut problems = Vec::new();
    let bell = part("cowbell", &[("all", "x-x-xx | -x-x-x")]);
    let read = super::read(&[bell], &metre(6, 8), 2, &mut problems);
    assert_eq!(places(&read[0], 6), [0, 2, 4, 5, 7, 9, 11]);
}

#[test]
fn barlines_repeat_over_the_bars_given() {
    let bars = |key: &str, marks: &str| places(&heard(&[part("snare", &[(key, marks)])], 8)[0], 2);
    assert_eq!(bars("all", "x- | -x"), [0, 3, 4, 7, 8, 11, 12, 15]);
    assert_eq!(bars("3-5", "x-|-x|xx"), [4, 7, 8, 9]);
    assert_eq!(bars("2-3", "| x- | -x |"), [2, 5]);
    assert_eq!(bars("every 2 bars", "x- | -x"), [2, 7, 10, 15]);
    assert_eq!(bars("4,8", "|| x- | -x ||"), [6, 15]);
    assert_eq!(bars("1-2", "x- | 2 in 2"), [0, 2, 3]);
}

#[test]
fn later_lines_replace_earlier_ones_bar_by_bar() {
    let read = heard(&[part("snare", &[("1-6", "x- | -x"), ("2,4", "xx"), ("4", "--")])], 8);
    assert_eq!(places(&read[0], 2), [0, 2, 3, 4, 8, 11]);
    assert_eq!(read[0].unnamed_bars, [7, 8]);
}

#[test]
fn even_rhythms_are_bars() {
    assert_eq!(line("5 in 16", 16), [0, 3, 6, 9, 12]);
    assert_eq!(line("5 in 16 from 3", 16), [2, 5, 8, 11, 14]);
    assert_eq!(line("3 in 8 from 8", 8), [2, 5, 7]);
    wrong_line("9 in 8", "9 hits do not fit on 8 steps", "9");
    wrong_line("0 in 8", "an even rhythm has at least one hit", "0");
    wrong_line("3 in 8 from 9", "there is no step 9: the steps go from 1 to 8", "9");
    wrong_line("3 in many", "`many` is no number", "many");
    wrong_line("3 in 8 of 9", "this is no even rhythm", "3 in 8 of 9");
    wrong_line("5 in 5000", "5000 steps are too many: a bar can have 4096", "5000");
}

#[test]
fn marks_have_their_velocities() {
    let mut hat = part("hat-closed", &[("all", "xXg963op")]);
    hat.marks = vec![('p', words("tambourine"))];
    let read = heard(&[hat], 1);
    let velocities: Vec<f64> = read[0].strokes.iter().map(|stroke| stroke.velocity).collect();
    assert_eq!(
        (velocities[0], velocities[1], velocities[2], velocities[3]),
        (96.0, 118.0, 40.0, 127.0)
    );
    assert!(
        (velocities[4] - 75.65).abs() < 0.01 && (velocities[5] - 45.06).abs() < 0.01,
        "{velocities:?}"
    );
    assert_eq!(velocities[6..], [96.0, 96.0]);
    let plain: Vec<bool> = read[0].strokes.iter().map(|stroke| stroke.plain).collect();
    assert_eq!(plain, [true, false, false, false, false, false, true, true]);
    let pieces: Vec<&str> = read[0].pieces.iter().map(|piece| piece.text.as_str()).collect();
    assert_eq!(pieces, ["hat-closed", "hat-open", "tambourine"]);
    let open = read[0].pieces[1].place(0..4);
    assert_eq!(
        &open.source.text[open.span], "o",
        "an untold piece is asked for where its mark stands"
    );
}

#[test]
fn wrong_marks_and_groups_are_pointed_at() {
    wrong_line(
        "x-x- x-x x-x- x-x-",
        "this group has 3 marks and the others have 4: a dash was dropped?",
        "x-x",
    );
    wrong_line(
        "x-x- x-x-x",
        "this group has 4 marks and the others have 5: a dash was dropped?",
        "x-x-",
    );
    wrong_line(
        "x-x x-x-x x-x",
        "this group has 5 marks and the others have 3: a mark too many?",
        "x-x-x",
    );
    wrong_line("x-q- q---", "`q` is no mark", "q");
    wrong_line("x {xxx", "this brace is not closed before the next space", "{");
    wrong_line("x xxx}", "this brace was never opened", "}");
    wrong_line("x{}", "there are no marks between these braces", "{}");
    wrong_line("{x{x}}", "braces stand inside braces", "{");
    wrong_line("x- || x-", "there is nothing between two barlines", "x- || x-");
    wrong_line(" | ", "there are no marks here", " | ");
    let help = problem_of(part("hat-closed", &[("all", "x.x.")])).help;
    assert_eq!(help.as_deref(), Some("write `-` for nothing"));
    let help = problem_of(part("hat-closed", &[("all", "xqxq")]))
        .help
        .unwrap_or_default();
    assert!(
        help.starts_with("the marks are `-` `x` `X` `g` `3` to `9` `o` (hat-open) `p` (hat-pedal);"),
        "{help}"
    );
}

#[test]
fn counting_aloud() {
    let part = counting(
        "snare",
        &[
            "2& x +12ms",
            "1 X",
            "4a g -8 ms",
            "3 t x",
            "3l x",
            "2 e x",
            "4 -",
            "4a X",
        ],
    );
    let read = heard(&[part], 1);
    assert_eq!(places(&read[0], 48), [0, 15, 18, 28, 32, 45, 45]);
    let strokes = &read[0].strokes;
    let steps: Vec<i128> = strokes.iter().map(|stroke| (stroke.step * 48).to_integer()).collect();
    assert_eq!(steps, [12, 3, 6, 4, 4, 3, 3]);
    let shifts: Vec<f64> = strokes.iter().map(|stroke| stroke.shift).collect();
    assert_eq!(shifts, [0.0, 0.0, 0.012, 0.0, 0.0, -0.008, 0.0]);
    assert_eq!(
        (strokes[5].velocity, strokes[6].velocity),
        (40.0, 118.0),
        "one time keeps the file's order"
    );
}

#[test]
fn counts_are_the_lower_figure() {
    let mut problems = Vec::new();
    let read = read(&[counting("snare", &["4& x", "6 x"])], &metre(6, 8), 1, &mut problems);
    assert_eq!(problems, []);
    assert_eq!(places(&read[0], 12), [7, 10]);
}

#[test]
fn wrong_counts_are_pointed_at() {
    for (hit, what, word) in [
        ("5 x", "count 5 is past the end of the bar, which has 4 counts", "5"),
        (
            "99999999999 x",
            "count 99999999999 is past the end of the bar, which has 4 counts",
            "99999999999",
        ),
        ("0 x", "there is no count 0: counts go from 1", "0"),
        ("x 1", "`x` begins without a count", "x"),
        (
            "2i x",
            "`i` is no syllable: they are `e` `&` `a`, and `t` `l` in triplets",
            "i",
        ),
        (
            "2 i x",
            "`i` is no syllable: they are `e` `&` `a`, and `t` `l` in triplets",
            "i",
        ),
        ("2&", "the mark is missing", "2&"),
        ("2 &", "the mark is missing", "2 &"),
        ("2", "the mark is missing", "2"),
        ("2 xx", "`xx` is more than one mark", "xx"),
        ("2& x x", "`x` is one word too many", "x"),
        ("2 q", "`q` is no mark", "q"),
        ("2 x +12", "`+12` is no shift", "+12"),
        ("2 x +1e3ms", "`+1e3ms` is no shift", "+1e3ms"),
        ("2 x -.ms", "`-.ms` is no shift", "-.ms"),
        ("2 x +1001ms", "a hit can be shifted by 1000 ms at the most", "+1001ms"),
        ("", "there is no hit here", ""),
    ] {
        let problem = problem_of(counting("snare", &[hit]));
        assert_eq!(problem.what, what);
        assert_eq!(pointed_at(&problem), word);
    }
}

#[test]
fn borrowing_plays_the_marks_on_its_own_piece() {
    let hat = part("hat-closed", &[("1-2", "xo | gX"), ("3", "--")]);
    let read = heard(&[part("shaker", &[("all", "as hat-closed")]), hat.clone()], 4);
    assert_eq!(places(&read[0], 2), [0, 1, 2, 3]);
    assert_eq!(
        read[0].strokes.iter().map(|stroke| stroke.velocity).collect::<Vec<_>>(),
        [96.0, 96.0, 40.0, 118.0]
    );
    assert_eq!(
        read[0].pieces.len(),
        1,
        "the hat's open mark is a plain hit on a shaker"
    );
    assert_eq!((&read[0].unnamed_bars, &read[1].unnamed_bars), (&vec![], &vec![4]));

    let mut shaker = part("shaker", &[("all", "as hat-closed")]);
    shaker.marks = vec![('o', words("cabasa"))];
    let read = heard(&[shaker, hat], 4);
    assert_eq!(read[0].pieces[1].text, "cabasa", "its own mark keeps its meaning");
}

#[test]
fn borrowed_bars_repeat_over_the_bars_given() {
    let kick = part("kick", &[("1-2", "x- | -x")]);
    let read = heard(&[kick.clone(), part("low kick", &[("3-5", "as kick 1-2")])], 5);
    assert_eq!(places(&read[1], 2), [4, 7, 8]);
    // A part can go on as it began, and its name can have spaces in it.
    let own = part("low kick", &[("1", "xx"), ("2-8", "as low kick 1-7")]);
    assert_eq!(places(&heard(&[kick, own], 8)[1], 2), (0..16).collect::<Vec<_>>());
}

#[test]
fn wrong_borrowing_is_pointed_at() {
    wrong_line("as snares", "there is no part `snares`", "snares");
    assert_eq!(
        problem_of(part("snare", &[("1", "as snaer")])).help.as_deref(),
        Some("did you mean `snare`?")
    );
    wrong_line("as", "`as` names no part", "as");
    wrong_line("as snare 9", "bar 9 is past the end of the loop, which has 4 bars", "9");
    wrong_line("as snare", "bar 1 of `snare` plays as itself", "as snare");

    let mut problems = Vec::new();
    let parts = [
        part("kick", &[("all", "as snare")]),
        part("snare", &[("1-3", "as clap"), ("4", "x")]),
        part("clap", &[("all", "as kick")]),
    ];
    let read = read(&parts, &metre(4, 4), 4, &mut problems);
    assert_eq!(problems.len(), 1);
    assert_eq!(
        problems[0].what,
        "bar 1 of `kick` plays as bar 1 of `snare`, which comes back to it in a circle"
    );
    assert_eq!(pointed_at(&problems[0]), "as snare");
    assert_eq!(places(&read[2], 1), [3], "bars outside of the circle play");
}

#[test]
fn bounds_are_kept_before_memory_is_asked_for() {
    assert_eq!(line(&"x".repeat(MOST_MARKS), MOST_MARKS as i128).len(), MOST_MARKS);
    let long = "x".repeat(MOST_MARKS + 1);
    wrong_line(
        &long,
        "this bar has 4097 marks; 4096 are the most that one can have",
        &long,
    );

    let busy = "x".repeat(MOST_MARKS);
    let mut problems = Vec::new();
    let parts = [part("kick", &[("all", "x")]), part("snare", &[("all", &busy)])];
    let read = read(&parts, &metre(4, 4), 245, &mut problems);
    assert_eq!(problems.len(), 1);
    let what = "with the 1003520 strokes of `snare` the loop has 1003765; 1000000 are the most";
    assert_eq!(problems[0].what, what);
    assert_eq!((read[0].strokes.len(), read[1].strokes.len()), (245, 0));

    let mut problems = Vec::new();
    super::read(&parts, &metre(4, 4), u32::MAX, &mut problems);
    assert_eq!(
        problems[0].what,
        "the loop has 4294967295 bars; hits are read for 10000 at most"
    );
}

#[test]
fn escapes_are_pointed_at_as_a_whole() {
    let mut snare = part("snare", &[]);
    let source = Source::new("night-ferry.toml", "\"x\\u002Dq\"");
    let line = Words {
        text: "x-q".into(),
        literal: 0..source.text.len(),
        source,
        start: 1,
        plain: false,
    };
    snare.lines.push(WrittenBars {
        bars: words("all"),
        play: WrittenPlay::Line(line),
    });
    let problem = problem_of(snare);
    assert_eq!(
        (problem.what.as_str(), pointed_at(&problem)),
        ("`q` is no mark", "\"x\\u002Dq\"")
    );
}

/// Text that is nearly right, and text that is anything.
fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![
        "[-xXg39op{}| ]{0,24}",
        "(as (hat|kick|ä) ?[0-9, -]{0,5}|[0-9]{1,5} in [0-9]{1,5}( from [0-9]{1,3})?)",
        "(all|every [0-9]{1,2} bars( from [0-9])?|[0-9]{1,2}([-,] ?[0-9]{1,2}){0,3})",
        "[0-9]{1,2} ?[e&atl]? [xXgo-]( ?[+-][0-9.]{1,5} ?ms)?",
        ".{0,16}",
    ]
}

/// A bar key that is mostly right.
fn any_key() -> impl Strategy<Value = String> {
    prop_oneof![3 => "(all|[1-5]|1-5|every [1-5] bars)", 1 => any_text()]
}

fn any_part() -> impl Strategy<Value = WrittenPart> {
    let play = prop_oneof![
        any_text().prop_map(|text| WrittenPlay::Line(words(&text))),
        prop::collection::vec(any_text(), 0..4)
            .prop_map(|hits| WrittenPlay::Counted(hits.iter().map(|hit| words(hit)).collect())),
    ];
    let line = (any_key(), play).prop_map(|(bars, play)| WrittenBars {
        bars: words(&bars),
        play,
    });
    let mark = (any::<char>(), any_text()).prop_map(|(mark, piece)| (mark, words(&piece)));
    let name = prop_oneof!["(hat|kick|ä)", any_text()].prop_map(|name| words(&name));
    (
        name.clone(),
        name,
        prop::collection::vec(mark, 0..3),
        prop::collection::vec(line, 0..4),
    )
        .prop_map(|(name, piece, marks, lines)| WrittenPart {
            name,
            piece,
            marks,
            lines,
        })
}

proptest! {
    #[test]
    fn any_text_is_read_without_panic_into_strokes_in_their_bars(
        parts in prop::collection::vec(any_part(), 0..4),
        counts in 0u32..13,
        bars in 0u32..6,
    ) {
        let mut problems = Vec::new();
        let read = read(&parts, &metre(counts, 8), bars, &mut problems);
        prop_assert_eq!(read.len(), parts.len());
        for part in &read {
            prop_assert!(part.strokes.is_sorted_by_key(|stroke| stroke.at));
            for stroke in &part.strokes {
                prop_assert!(stroke.at >= Exact::ZERO && stroke.at < Exact::from(i128::from(bars)));
                prop_assert_eq!(stroke.at, Exact::new(*stroke.at.numer(), *stroke.at.denom()), "in lowest terms");
                prop_assert!(stroke.step > Exact::ZERO && stroke.step <= Exact::ONE);
                prop_assert!((1.0..=127.0).contains(&stroke.velocity));
                prop_assert!(stroke.piece < part.pieces.len());
                prop_assert!(stroke.shift.abs() <= 1.0);
            }
            prop_assert!(part.unnamed_bars.is_sorted() && part.unnamed_bars.iter().all(|&bar| (1..=bars).contains(&bar)));
        }
        for problem in &problems {
            let place = problem.place.as_ref();
            prop_assert!(place.is_some_and(|place| place.source.text.get(place.span.clone()).is_some()), "{:?}", problem);
        }
    }

    #[test]
    fn any_block_splits_into_lines_that_hold_their_places(text in "([a-z-]{0,6} ?[-x# \r\n]{0,9}){0,6}|.{0,40}") {
        let mut problems = Vec::new();
        let block = words(&text);
        for (name, line) in tab(&block, &words("all"), &mut problems) {
            let WrittenPlay::Line(marks) = line.play else { panic!("a line of tablature is no list") };
            for words in [name, marks] {
                let place = words.place(0..words.text.len());
                prop_assert_eq!(&place.source.text[place.span], words.text.as_str());
                prop_assert!(!words.text.is_empty());
            }
        }
    }
}
