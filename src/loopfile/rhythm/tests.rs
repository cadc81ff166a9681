//! The whole reading, from a part as written to its strokes.

use crate::loopfile::limits::MOST_MARKS;
use proptest::prelude::*;

use super::*;
use crate::loopfile::Exact;
use crate::loopfile::written::tab::tab;
use crate::schema::{Pattern, Play};
use crate::text::Source;

/// A string of a loop file, between quotes.
pub(crate) fn words(text: &str) -> Words {
    Words {
        text: text.to_string(),
        source: Source::new("night-ferry.toml", format!("\"{text}\"")),
        start: 1,
        literal: 0..text.len() + 2,
        plain: true,
    }
}

/// A part of a piece of its own name, with lines of tablature.
pub(crate) fn part(name: &str, lines: &[(&str, &str)]) -> HitPart {
    let line = |(bars, play): &(&str, &str)| Pattern {
        bars: words(bars),
        play: Play::Line(words(play)),
        swell: None,
    };
    HitPart {
        name: words(name),
        piece: words(name),
        marks: Vec::new(),
        changed_marks: Vec::new(),
        lines: lines.iter().map(line).collect(),
    }
}

/// The text that a problem points at.
pub(crate) fn pointed_at(problem: &Problem) -> &str {
    let place = problem.place.as_ref().expect("the problem has a place");
    &place.source.text[place.span.clone()]
}

pub(crate) fn metre(counts: u32, unit: u32) -> Time {
    Time {
        tempo: 92.0,
        beat: Exact::new(1, 4),
        counts,
        unit,
    }
}

pub(crate) fn heard(parts: &[HitPart], bars: u32) -> Vec<ReadPart> {
    let mut problems = Vec::new();
    let read = read(parts, &metre(4, 4), bars, &mut problems);
    assert_eq!(problems, []);
    read
}

/// Places as numerators over one denominator.
pub(crate) fn places(read: &ReadPart, over: i128) -> Vec<i128> {
    let scaled = read.strokes.iter().map(|stroke| stroke.at * over);
    scaled
        .inspect(|at| assert!(at.is_integer(), "{at} is off the grid"))
        .map(|at| at.to_integer())
        .collect()
}

/// One part of one line, in one bar.
pub(crate) fn line(marks: &str, over: i128) -> Vec<i128> {
    places(&heard(&[part("snare", &[("all", marks)])], 1)[0], over)
}

/// A part that counts its hits aloud in every bar.
pub(crate) fn counting(name: &str, hits: &[&str]) -> HitPart {
    let hits = hits.iter().map(|hit| words(hit)).collect();
    let lines = vec![Pattern {
        bars: words("all"),
        play: Play::Counted(hits),
        swell: None,
    }];
    HitPart {
        lines,
        ..part(name, &[])
    }
}

/// The one thing that is wrong with a part in a loop of four bars.
pub(crate) fn problem_of(part: HitPart) -> Problem {
    let mut problems = Vec::new();
    let read = read(&[part], &metre(4, 4), 4, &mut problems);
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(read[0].strokes, [], "what is wrong is silent");
    problems.remove(0)
}

pub(crate) fn wrong_line(marks: &str, what: &str, word: &str) {
    let problem = problem_of(part("snare", &[("all", marks)]));
    assert_eq!(problem.what, what);
    assert_eq!(pointed_at(&problem), word, "{what}");
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
    snare.lines.push(Pattern {
        bars: words("all"),
        play: Play::Line(line),
        swell: None,
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
        "[-xXgfdrbm39op{}| ]{0,24}",
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

fn any_part() -> impl Strategy<Value = HitPart> {
    let play = prop_oneof![
        any_text().prop_map(|text| Play::Line(words(&text))),
        prop::collection::vec(any_text(), 0..4)
            .prop_map(|hits| Play::Counted(hits.iter().map(|hit| words(hit)).collect())),
    ];
    let line = (any_key(), play).prop_map(|(bars, play)| Pattern {
        bars: words(&bars),
        play,
        swell: None,
    });
    let mark = (any::<char>(), any_text()).prop_map(|(mark, piece)| (mark, words(&piece)));
    let name = prop_oneof!["(hat|kick|ä)", any_text()].prop_map(|name| words(&name));
    (
        name.clone(),
        name,
        prop::collection::vec(mark, 0..3),
        prop::collection::vec(line, 0..4),
    )
        .prop_map(|(name, piece, marks, lines)| HitPart {
            changed_marks: Vec::new(),
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
            let Play::Line(marks) = line.play else { panic!("a line of tablature is no list") };
            for words in [name, marks] {
                let place = words.whole();
                prop_assert_eq!(&place.source.text[place.span], words.text.as_str());
                prop_assert!(!words.text.is_empty());
            }
        }
    }
}
