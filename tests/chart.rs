//! The chart prints a groove as a musician reads it: counts, marks, 80 columns.

use proptest::prelude::*;

use crate::support::{Desk, click, tab};

fn desk() -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "snare", "hat-closed", "hat-open", "clap"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk
}

/// What `chart` prints of a loop or form.
fn chart(text: &str, options: &[&str]) -> String {
    let desk = desk();
    desk.write("loop.toml", text);
    let answer = desk.run(&[&["chart", "loop.toml"], options].concat());
    answer.assert_done();
    assert!(
        answer.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        answer.out
    );
    answer.out
}

#[track_caller]
fn assert_page(is: &str, wanted: &[&str]) {
    assert_eq!(is.lines().collect::<Vec<_>>(), wanted);
}

#[test]
fn bars_have_counts_and_marks_and_equal_ones_stand_once() {
    let text = "[loop]\ntitle = 'Night shift'\ntempo = 92\nbars = 8\nkey = 'G minor'\n[tab]\nall = '''\nhat-closed x-x- X-x- x-x- X-xo\nsnare ---- X--g ---- X---\n'''\n'every 2 bars from 1' = 'kick X--- --x- X--- ----'\n'8' = 'snare ---- X--g -g-- {345}'\n";
    assert_page(
        &chart(text, &[]),
        &[
            "Night shift",
            "1/4 = 92 · 4/4 · 8 bars · G minor",
            "",
            "           bars 1, 3, 5, 7        bars 2, 4, 6           bar 8",
            "           1e&a 2e&a 3e&a 4e&a  | 1e&a 2e&a 3e&a 4e&a  | 1e&a 2e&a 3e&a 4e&a",
            "hat-closed x-x- X-x- x-x- X-xo  | x-x- X-x- x-x- X-xo  | x-x- X-x- x-x- X-xo",
            "snare      ---- X--g ---- X---  | ---- X--g ---- X---  | ---- X--g -g-- {345}",
            "kick       X--- --x- X--- ----  | ---- ---- ---- ----  | ---- ---- ---- ----",
        ],
    );
}

#[test]
fn what_is_printed_can_be_written() {
    let lines = "hat-closed xg-xX-x-x-x-X{xgx}xo\nkick X-- x--";
    let page = chart(&tab("100", 1, lines), &[]);
    let marks: Vec<String> = page.lines().skip(5).map(str::to_string).collect();
    assert_eq!(marks.len(), 2, "{page}");
    let desk = desk();
    let play = |lines: &str| desk.render(&tab("100", 1, lines)).left().to_vec();
    assert!(play(lines) == play(&marks.join("\n")), "{page}");
}

#[test]
fn eighths_triplets_and_compound_metres_are_counted_as_players_count() {
    let counts = |tempo: &str, lines: &str| {
        chart(&tab(tempo, 1, lines), &[])
            .lines()
            .nth(4)
            .unwrap_or_default()
            .trim()
            .to_string()
    };
    assert_eq!(counts("100", "kick xxxx"), "1 2 3 4");
    assert_eq!(counts("100", "kick x-xx xxxx"), "1& 2& 3& 4&");
    assert_eq!(counts("100", "kick xxx xxx xxx x-x"), "1tl 2tl 3tl 4tl");
    assert_eq!(counts("100\nmetre = '6/8'", "kick xxx x-x"), "123 456");
    assert_eq!(counts("100\nmetre = '6/8'", "kick xx-x-- x-x-xx"), "1&2&3& 4&5&6&");
    assert_eq!(
        counts("100\nmetre = '12/8'", "kick xxx x-x x-x xxx"),
        "1 2 3  4 5 6  7 8 9  10 11 12"
    );
    assert_eq!(counts("100\nmetre = '7/4'", "kick x-x-x-x"), "1 2 3 4 5 6 7");
}

#[test]
fn a_bar_that_needs_another_grid_says_so() {
    let text = "[loop]\ntempo = 92\nbars = 4\n[tab]\nall = 'kick x-x- x--x x-x- x-x-'\n'3' = 'kick xxx xxx xxx xxx'\n'4' = 'kick x x x x'\n";
    assert_page(
        &chart(text, &[]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 4 bars",
            "",
            "     bars 1-2              bar 3, in 1/8 triplets   bar 4",
            "     1e&a 2e&a 3e&a 4e&a | 1tl  2tl  3tl  4tl     | 1e&a 2e&a 3e&a 4e&a",
            "kick x-x- x--x x-x- x-x- | xxx  xxx  xxx  xxx     | x--- x--- x--- x---",
        ],
    );
}

#[test]
fn feel_says_how_many_ms_each_hit_lies_off_the_grid() {
    // Swing of 60 % on sixteenths at 120: the second of a pair, 125 ms after the first, comes 25 ms later. The snare is
    // 8 ms ahead throughout, and once 12 ms after that.
    let text = "[loop]\ntempo = 120\nbars = 1\n[feel]\nswing = 60\n[tab]\nall = 'kick xx-- ---- x--- --xx'\n[[part]]\nname = 'kick'\n[[part]]\nname = 'snare'\nbehind = -8\nhits = ['2 X', '4 X +12ms']\n";
    assert_page(
        &chart(text, &["--feel"]),
        &[
            "loop",
            "1/4 = 120 · 4/4 · 1 bar",
            "",
            "      bar 1",
            "      1 e&a┊2e&a┊3e&a┊4e& a",
            "kick  x x--┊----┊x---┊--x x",
            "      0 +25      0      0 +25",
            "snare - ---┊X---┊----┊X-- -",
            "            -8        +4",
        ],
    );
}

#[test]
fn chords_stand_over_their_beats_and_keep_bars_apart() {
    let text = "[loop]\ntempo = 92\nbars = 8\n[chords]\n'1-2' = 'Gm9'\n'3' = 'Cm7 / / F13'\n'4' = 'N.C.'\n'5-6' = 'Gm9 Ebmaj7(#11)'\n[tab]\nall = 'kick x-x- x--x x-x- x-x-'\n";
    assert_page(
        &chart(text, &[]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 8 bars",
            "",
            "     bars 1-2: Gm9         bar 3: Cm7     F13    bar 4: N.C.",
            "     1e&a 2e&a 3e&a 4e&a | 1e&a 2e&a 3e&a 4e&a | 1e&a 2e&a 3e&a 4e&a",
            "kick x-x- x--x x-x- x-x- | x-x- x--x x-x- x-x- | x-x- x--x x-x- x-x-",
            "     bars 5-6          bars 7-8",
            "     Gm9 Ebmaj7(#11) |",
            "as bar 1: kick",
        ],
    );
}

#[test]
fn long_symbols_widen_narrow_bars_and_tones_stand_under_them() {
    let text = "[loop]\ntempo = 92\nbars = 1\n[chords]\nall = 'Ebmaj7(#11) Am7b5 D7(b9,#11) Gm/Bb'\n[tab]\nall = 'kick xxxx'\n";
    assert_page(
        &chart(text, &["--tones"]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 1 bar",
            "",
            "     bar 1",
            "     Ebmaj7(#11) Am7b5 D7(b9,#11) Gm/Bb",
            "     Eb G Bb D A A C   D F# A C   G Bb",
            "                 Eb G  Eb G#      D /Bb",
            "     1           2     3          4",
            "kick x           x     x          x",
        ],
    );
}

#[test]
fn accents_of_the_band_have_a_row_that_says_whose_they_are() {
    let text = "[loop]\ntempo = 92\nbars = 2\n[tab]\nall = \"\"\"\nkick x-x-\nsnare -x-x\n\"\"\"\n[accents]\n'1' = 'X--X'\n'2' = { hits = '---X', parts = ['snare', 'kick'] }\n";
    assert_page(
        &chart(text, &[]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 2 bars",
            "",
            "        bar 1     bar 2",
            "accents X - - X | - - - -",
            "accents of snare, kick",
            "        - - - - | - - - X",
            "        1 2 3 4 | 1 2 3 4",
            "kick    x - x - | x - x -",
            "snare   - x - x | - x - x",
        ],
    );
}

#[test]
fn notes_go_by_their_names_and_comping_by_its_marks() {
    let text = "chords = 'Gm7 | C7'\n[loop]\ntempo = 92\nbars = 2\nkey = 'G minor'\n[[part]]\nname = 'bass'\npiece = 'stand-in'\ndegrees = '1 = 5^ (b3)'\n[[part]]\nname = 'lead'\npiece = 'stand-in'\nnotes = '- D5+F#5 = = | = - G4 -'\n[[part]]\nname = 'keys'\npiece = 'stand-in'\ncomp = 'x=-< d-uk'\n[[part]]\nname = 'kick'\nhits = 'x---'\ndouble = [{ piece = 'clap' }]\n";
    assert_page(
        &chart(text, &[]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 2 bars · G minor",
            "",
            "     bar 1: Gm7            bar 2: C7",
            "     1&┊2  &  ┊3 &┊4  &  | 1&┊2  &  ┊3 &┊4  &",
            "bass G2┊=  =  ┊D3^┊(Bb2) | C2┊=  =  ┊G2^┊(Eb2)",
            "lead --┊D5+F#5┊= =┊=  =  | ==┊-  -  ┊G4=┊-  -",
            "keys x=┊-  <  ┊d -┊u  k  | x=┊-  <  ┊d -┊u  k",
            "kick x-┊-  -  ┊- -┊-  -  | x-┊-  -  ┊- -┊-  -",
            "along with their parts: kick double 1 (clap)",
        ],
    );
}

#[test]
fn bars_on_another_piece_are_told() {
    let text = "[loop]\ntempo = 92\nbars = 4\n[[part]]\nname = 'hat-closed'\nhits = 'x-xo'\n[part.change]\n'2-3' = { piece = 'clap' }\n";
    let page = chart(text, &[]);
    assert!(
        page.contains("bars 1-4\n") && page.ends_with("\nhat-closed plays on clap in bars 2-3\n"),
        "{page}"
    );
}

#[test]
fn a_form_goes_section_by_section() {
    let desk = desk();
    desk.write("verse.toml", tab("92", 2, "kick xx-- x---"));
    desk.write("chorus.toml", tab("100\nmetre = '3/4'", 1, "clap xxx"));
    let form = "[form]\ntitle = 'The watch'\npickup = '1/4'\nend = 'hit'\n[[section]]\nname = 'A'\nloop = 'verse.toml'\ntimes = 2\n[[section]]\nname = 'B'\nloop = 'chorus.toml'\n[[section]]\nname = 'A again'\nloop = 'verse.toml'\n";
    desk.write("form.toml", form);
    let page = |options: &[&str]| {
        let answer = desk.run(&[&["chart", "form.toml"], options].concat());
        answer.assert_done();
        answer.out
    };
    assert_page(
        &page(&[]),
        &[
            "The watch",
            "7 bars · pickup 1/4 · ends with a hit",
            "",
            "A: bars 1-4 · 2 times · 1/4 = 92 · 4/4",
            "     bars 1-2",
            "     1& 2& 3& 4&",
            "kick xx -- x- --",
            "",
            "B: bar 5 · 1/4 = 100 · 3/4",
            "     bar 1",
            "     1 2 3",
            "clap x x x",
            "",
            "A again: bars 6-7 · as A above",
        ],
    );
    let some = page(&["--bars", "5-6"]);
    assert!(
        !some.contains("A: bars")
            && some.contains("B: bar 5")
            && some.contains("     bar 1\n     1& 2& 3& 4&\nkick xx"),
        "{some}"
    );
    let past = desk.run(&["chart", "form.toml", "--bars", "7-8"]);
    assert_eq!(past.code, Some(1));
    assert!(
        past.err.contains("bars 7-8 are not in this file, which has bars 1-7"),
        "{}",
        past.err
    );
}

#[test]
fn options_of_the_loop_reach_the_chart() {
    let text = "[loop]\ntempo = 92\nbars = 2\n[tab]\nall = '''\nkick x---\nsnare --x-\n'''\n[[mix]]\nname = 'busy'\nset = { 'kick.mute' = true }\n";
    assert!(chart(text, &["--only", "kick"]).ends_with("\nkick x - - -\nnot heard: snare\n"));
    assert!(chart(text, &["--mix", "busy"]).contains("not heard: kick"));
    assert!(chart(text, &["--bars", "2"]).contains(" bar 2\n"));
    let silent = chart(
        "[loop]\ntempo = 92\nbars = 2\n[tab]\n'1' = 'kick x---'\n",
        &["--bars", "2"],
    );
    assert!(silent.ends_with("     bar 2\n     silence\n"), "{silent}");
}

#[test]
fn eighty_columns_are_never_exceeded_and_a_pipe_has_no_escapes() {
    let kits = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("kits");
    let desk = desk();
    let mut charted = 0;
    for kit in ["harbour-studio", "boat-shed"] {
        for file in std::fs::read_dir(kits.join(kit).join("loops"))
            .expect("the demo loops")
            .flatten()
        {
            let path = file.path();
            if path.extension().is_none_or(|extension| extension != "toml") {
                continue;
            }
            for options in [&[][..], &["--feel"]] {
                let arguments = [&["chart", path.to_str().expect("a path")], options].concat();
                let answer = desk.run_in(&desk.path(""), &[], &arguments);
                answer.assert_done();
                assert!(!answer.out.contains('\u{1b}'));
                let widest = answer.out.lines().map(|line| line.chars().count()).max();
                assert!(
                    widest.is_some_and(|widest| (20..=80).contains(&widest)),
                    "{path:?}: {widest:?}"
                );
            }
            charted += 1;
        }
    }
    assert!(charted >= 5, "{charted} demo loops");
    // Bars wider than a page go over several lines; so do long titles and names.
    let long = "a-part-whose-name-is-longer-than-any-that-a-page-could-hold";
    let wide = format!(
        "[loop]\ntitle = '{0}'\ntempo = 92\nmetre = '32/8'\nbars = 1\n[tab]\nall = '{1} {2}'\n[[part]]\nname = '{1}'\npiece = 'kick'\n",
        "very long ".repeat(30),
        long,
        "xx".repeat(32)
    );
    let page = chart(&wide, &[]);
    assert!(page.contains("bar 1, from count "), "{page}");
    let rows = page.lines().filter(|line| line.starts_with("a-part-whose"));
    let marks = rows.map(|row| row.chars().skip(24).filter(|mark| *mark == 'x').count());
    assert_eq!(marks.sum::<usize>(), 64, "{page}");
    chart(&tab("92", 1, &format!("kick {}", "x{xgx}".repeat(40))), &[]);
    chart(&tab("92", 1, &format!("kick {}", "xg".repeat(500))), &["--feel"]);
}

#[test]
fn tones_show_what_comping_parts_play_and_pinned_notes_are_theirs() {
    let text = "chords = 'Dm9 | C7#9 (E3 Bb3 Eb4) | % | Dm9'\n[loop]\ntempo = 92\nbars = 4\n[[part]]\nname = 'keys'\npiece = 'stand-in'\ncomp = 'x--<'\nregister = 'C4'\n";
    let page = chart(text, &["--tones"]);
    let from = page.lines().position(|line| line == "keys plays").expect("a table");
    assert_page(
        &page.lines().skip(from).collect::<Vec<_>>().join("\n"),
        &[
            "keys plays",
            "  Dm9   F3 A3 C4 E4  bars 1, 3-4",
            "  C7#9  E3 Bb3 Eb4   bars 1-3",
        ],
    );
}

/// Two phrases of four bars with a fill, on bars of which a part's may be any.
fn phrase() -> String {
    "[loop]\ntempo = 92\nbars = 8\n[tab]\nall = \"\"\"\nhat-closed x-x- x-x- x-x- x-x-\nsnare ---- X--- ---- X---\nkick X--- --x- X--- ----\n\"\"\"\n'every 2 bars' = 'kick X--- ---x --x- ----'\n'3' = 'snare ---- X--- ---- X-gg'\n'8' = 'snare ---- X--- {xxxxxx} X---'\n".into()
}

#[test]
fn a_part_that_plays_what_earlier_bars_show_is_named_with_them() {
    assert_page(
        &chart(&phrase(), &[]),
        &[
            "loop",
            "1/4 = 92 · 4/4 · 8 bars",
            "",
            "           bars 1, 5, 7          bars 2, 4, 6          bar 3",
            "           1e&a 2e&a 3e&a 4e&a | 1e&a 2e&a 3e&a 4e&a | 1e&a 2e&a 3e&a 4e&a",
            "hat-closed x-x- x-x- x-x- x-x- | x-x- x-x- x-x- x-x- | x-x- x-x- x-x- x-x-",
            "snare      ---- X--- ---- X--- | ---- X--- ---- X--- | ---- X--- ---- X-gg",
            "kick       X--- --x- X--- ---- | X--- ---x --x- ---- | X--- --x- X--- ----",
            "           bar 8",
            "           1e&a 2e&a 3e&a     4e&a",
            "snare      ---- X--- {xxxxxx} X---",
            "as bar 2: hat-closed, kick",
        ],
    );
}

/// The chart of `form.toml` from the line on that begins so.
fn charted_from(desk: &Desk, begins: &str) -> String {
    let answer = desk.run(&["chart", "form.toml"]);
    answer.assert_done();
    let page = answer.out.lines().collect::<Vec<_>>();
    let from = page
        .iter()
        .position(|line| line.starts_with(begins))
        .expect("such a line");
    page[from..].join("\n")
}

#[test]
fn a_form_names_what_its_sections_share() {
    let desk = desk();
    desk.write("verse.toml", phrase());
    desk.write(
        "chorus.toml",
        phrase().replace("kick X--- --x- X--- ----", "kick x-x- x-x- x-x- x-x-"),
    );
    let section =
        |name: &str, file: &str, more: &str| format!("[[section]]\nname = '{name}'\nloop = '{file}.toml'\n{more}\n");
    let sections = [
        section("verse", "verse", ""),
        section("break", "verse", "only = ['hat-closed', 'snare']"),
        section("chorus", "chorus", "bars = '1-4'"),
        section("verse again", "verse", ""),
    ];
    desk.write("form.toml", format!("[form]\ntitle = 'Watch'\n{}", sections.concat()));
    assert_page(
        &charted_from(&desk, "break: bars 9-16"),
        &[
            "break: bars 9-16 · as in verse: hat-closed, snare",
            "not heard: kick",
            "",
            "chorus: bars 17-20 · bars 1-4 of chorus · as in verse: hat-closed, snare",
            "     bars 1, 3             bars 2, 4",
            "     1e&a 2e&a 3e&a 4e&a | 1e&a 2e&a 3e&a 4e&a",
            "kick x-x- x-x- x-x- x-x- | X--- ---x --x- ----",
            "",
            "verse again: bars 21-28 · as verse above",
        ],
    );
}

#[test]
fn a_section_with_all_that_another_has_names_what_is_new() {
    let desk = desk();
    desk.write("verse.toml", phrase());
    desk.write(
        "fuller.toml",
        phrase().replace("'3' = ", "'1-8' = 'clap ---- x--- ---- x---'\n'3' = "),
    );
    let sections = ["verse", "fuller"].map(|name| format!("[[section]]\nname = '{name}'\nloop = '{name}.toml'\n"));
    desk.write("form.toml", format!("[form]\ntitle = 'Watch'\n{}", sections.concat()));
    assert_page(
        &charted_from(&desk, "fuller"),
        &[
            "fuller: bars 9-16 · as in verse: all its parts",
            "     bars 1-8",
            "     1 2 3 4",
            "clap - x - x",
        ],
    );
}

/// A line of marks for a bar of so many counts, each divided as it likes.
fn marks(counts: usize) -> impl Strategy<Value = String> {
    let count = prop::sample::select(vec![
        "x", "x-", "xx", "x-g", "xxx", "--x-", "-xdx", "xfxg-", "x-xgxx", "R-xx-b-x", "-",
    ]);
    prop::collection::vec(count.prop_map(|count| format!("{{{count}}}")), counts).prop_map(|groups| groups.join(" "))
}

/// A line of words for a bar.
fn words() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "C4",
        "C4 =",
        "-",
        "Bb1^",
        "(F#3) = =",
        "D5+F#5+A5+C6",
        "{C4 Eb4 G4}",
        "B3/C4:7",
        "Ab2:scoop:fall",
        "-",
    ]);
    prop::collection::vec(word, 1..=12).prop_map(|words| words.join(" "))
}

fn chords() -> impl Strategy<Value = String> {
    let chord = prop::sample::select(vec!["Gm", "Ebmaj7(#11)", "D7(b9,#9,b13)/F#", "N.C.", "C"]);
    prop::collection::vec(chord, 1..5).prop_map(|chords| chords.join(" "))
}

/// What two drums, a bass, a tune and the chords have in a bar.
type Bar = (String, String, String, String, String);

/// Loops of any metre, with parts of long names.
fn loops() -> impl Strategy<Value = String> {
    let metre = prop::sample::select(vec![
        (4, 4),
        (3, 4),
        (6, 8),
        (7, 8),
        (15, 8),
        (5, 4),
        (2, 2),
        (12, 8),
        (1, 4),
    ]);
    metre.prop_flat_map(|(counts, unit)| {
        let bars = prop::collection::vec((marks(counts), marks(counts), words(), words(), chords()), 1..7);
        let name = "[a-z]{1,12}";
        (bars, name).prop_map(move |(bars, name)| {
            let mut text = format!(
                "[loop]\ntempo = 100\nmetre = '{counts}/{unit}'\nbars = {}\n[chords]\n",
                bars.len() * 2
            );
            let each = |line: &dyn Fn(&Bar) -> String| -> String {
                let twice = bars.iter().chain(&bars).enumerate();
                twice
                    .map(|(number, bar)| format!("'{}' = '{}'\n", number + 1, line(bar)))
                    .collect()
            };
            text += &each(&|bar| bar.4.clone());
            for (part, of) in [("kick", 0), ("snare", 1)] {
                text += &format!("[[part]]\nname = '{part}-{name}'\npiece = '{part}'\n[part.hits]\n");
                text += &each(&|bar| if of == 0 { bar.0.clone() } else { bar.1.clone() });
            }
            for (part, of) in [("bass", 0), ("tune", 1)] {
                text += &format!("[[part]]\nname = '{part}'\npiece = 'stand-in'\n[part.notes]\n");
                text += &each(&|bar| if of == 0 { bar.2.clone() } else { bar.3.clone() });
            }
            text
        })
    })
}

/// The lines of each system: what stands above its rows is indented.
fn systems(page: &str) -> Vec<Vec<&str>> {
    let mut systems = vec![Vec::new()];
    let mut above = "";
    for line in page.lines() {
        if line.is_empty() || line.starts_with(' ') && !above.starts_with(' ') {
            systems.push(Vec::new());
        }
        systems.last_mut().expect("there is one").push(line);
        above = line;
    }
    systems
}

/// Where the signs between beats and bars stand in a line.
fn signs(line: &str) -> Vec<usize> {
    let signs = line.chars().enumerate().filter(|(_, sign)| "┊|".contains(*sign));
    signs.map(|(column, _)| column).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, max_shrink_iters: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any loop fits 80 columns. Its beats and bars stand under one another in every row of a system, each bar is named once, and a
    /// bar that looks like an earlier one is not printed again.
    #[test]
    fn any_loop_fits_the_page_and_keeps_its_columns(text in loops()) {
        let desk = desk();
        desk.write("loop.toml", &text);
        for options in [&[][..], &["--tones"], &["--feel"]] {
            let answer = desk.run(&[&["chart", "loop.toml"], options].concat());
            prop_assert_eq!(answer.code, Some(0), "{}\n{}", answer.err, text);
            let page = &answer.out;
            prop_assert!(page.lines().all(|line| line.chars().count() <= 80), "{}\n{}", page, text);
            if options == ["--feel"] {
                continue;
            }
            let mut rows = 0;
            for system in systems(page) {
                // Counts are what stands above the first row that has a name, and is indented as far.
                let Some(first) = system.iter().position(|line| !line.starts_with(' ')) else { continue };
                let Some(counts) = first.checked_sub(1).map(|above| system[above]) else { continue };
                for row in system[first..].iter().take_while(|line| !line.starts_with("as bar")) {
                    prop_assert_eq!(signs(row), signs(counts), "{}\n{}", page, text);
                    rows += 1;
                }
            }
            prop_assert!(rows > 0, "{}\n{}", page, text);
            // The second half is the first again: its bars stand in the first one's headings.
            prop_assert!(page.lines().any(|line| line.trim_start().starts_with("bars 1")), "{}\n{}", page, text);
        }
    }
}
