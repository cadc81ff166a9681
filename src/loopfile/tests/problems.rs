use proptest::prelude::*;

use super::*;

const TOP: &str = "[loop]\ntempo = 90\nbars = 2\n";

fn one(rest: &str) -> String {
    let problems = wrong(&format!("{TOP}{rest}"));
    assert_eq!(problems.len(), 1, "{problems:?}");
    problems[0].clone()
}

#[test]
fn unknown_keys_offer_the_nearest_known_one_or_where_they_belong() {
    assert_eq!(
        one("[[part]]\nname = 'kick'\ngian = 3\n"),
        "6:1 `[[part]]` has no key `gian`; did you mean `gain`?"
    );
    assert_eq!(
        one("[feel]\ntempo = 3\n"),
        "5:1 `[feel]` has no key `tempo`; `tempo` belongs in `[loop]`"
    );
    assert_eq!(
        one("[feeling]\n"),
        "4:2 a loop file has no key `feeling`; did you mean `feel`?"
    );
    assert_eq!(
        one("[master]\nroom = -3\n"),
        "5:1 `[master]` has no key `room`; the master has no sends"
    );
    assert!(one("[[bus]]\nname = 'drums'\ncompress = { treshold = -3 }\n").contains("did you mean `threshold`?"));
}

#[test]
fn all_problems_come_at_once_in_the_order_of_the_text() {
    let problems = wrong(
        "[loop]\ntempo = 0\nbars = 2.5\nmetre = \"5/3\"\n[feel]\nswing = \"lots\"\n\
         [[part]]\nname = \"kick\"\ngain = nan\npan = \"3\"\nbus = \"drms\"\nmute = 1\n[[bus]]\nname = \"drums\"\n",
    );
    assert_eq!(
        problems,
        [
            "2:9 `tempo` is 0, but goes from 5 to 999 BPM",
            "3:8 `bars` is a whole number from 1 to 10000 bars, not 2.5",
            "4:9 `metre` is a metre from \"1/1\" to \"32/32\", such as \"4/4\" or \"6/8\", not the text \"5/3\"",
            "6:9 `swing` is a number from 25 to 90 percent, or \"off\", not the text \"lots\"",
            "9:8 `gain` must be a finite number; it is a number from -120 to 40 dB",
            "10:7 `pan` is a number from -100 to 100, or \"off\", not the text \"3\"; write the number without quotes",
            "11:8 there is no bus called `drms`; did you mean `drums`?",
            "12:8 `mute` is true or false, not 1",
        ]
    );
}

#[test]
fn what_must_be_there_is_asked_for() {
    assert_eq!(wrong("title = 1\n[loop]\nbars = 2\n").len(), 2);
    assert_eq!(wrong("").len(), 2);
    assert_eq!(
        wrong("[loop]\nbars = 2\n"),
        ["1:1 `[loop]` lacks `tempo`; `tempo` is a number from 5 to 999 BPM"]
    );
    assert!(one("[[part]]\ngain = 2\n").starts_with("4:1 `[[part]]` lacks `name`"));
    assert!(one("[[bus]]\nname = 'b'\nduck = { depth = 3 }\n").contains("`duck` lacks `by`"));
    assert!(one("[[bus]]\nname = 'b'\neq = [{ at = 300 }]\n").contains("`eq` lacks `gain`"));
    assert!(one("[[mix]]\nname = 'b'\n").contains("`[[mix]]` lacks `set`"));
}

#[test]
fn absurd_numbers_are_refused_with_their_range() {
    for tempo in [
        "0",
        "-90",
        "nan",
        "inf",
        "-inf",
        "1e9",
        "4.99",
        "1000",
        "99999999999999999999",
    ] {
        let problems = wrong(&format!("[loop]\ntempo = {tempo}\nbars = 2\n"));
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert!(problems[0].contains("from 5 to 999"), "{problems:?}");
    }
    for bars in ["0", "-1", "10001", "4294967297", "1e5", "nan"] {
        let problems = wrong(&format!("[loop]\ntempo = 90\nbars = {bars}\n"));
        assert!(problems[0].contains("from 1 to 10000"), "{problems:?}");
    }
    let problems = wrong("[loop]\ntempo = 5\nbars = 10000\n");
    assert!(problems[0].contains("can last 120 minutes at most"), "{problems:?}");
}

#[test]
fn names_are_one_set_and_some_are_taken() {
    assert!(one("[[part]]\nname = 'a'\n[[bus]]\nname = 'a'\n").starts_with("7:9 there is a part called `a` already"));
    assert!(one("[[part]]\nname = 'room'\n").starts_with("5:9 a part can't be called `room`"));
    assert!(
        one("[tab]\nall = 'drums x'\n[[bus]]\nname = 'drums'\n").contains("there is a part called `drums` already")
    );
    assert!(one("[[part]]\nname = 'a.b'\n").contains("can't hold '.'"));
    assert!(one("[[part]]\nname = '../kick'\n").contains("can't hold"));
    assert!(one("[rooms.hall]\n[delays.hall]\n").contains("room or delay called `hall` already"));
}

#[test]
fn references_must_lead_somewhere_and_not_in_a_circle() {
    assert!(one("[[part]]\nname = 'a'\nbus = 'master'\n").contains("leave `bus` out"));
    assert!(
        one("[[part]]\nname = 'a'\nsends = { hal = -3 }\n[rooms.hall]\n")
            .starts_with("6:11 there is no room or delay called `hal`; did you mean `hall`?")
    );
    assert!(one("[[part]]\nname = 'a'\nsends = { room = -3 }\n").contains("write room = …"));
    assert!(
        one("[[bus]]\nname = 'a'\nduck = { by = 'kik' }\n[tab]\nall = 'kick x'\n").contains("did you mean `kick`?")
    );
    assert!(
        one("[[bus]]\nname = 'a'\nbus = 'b'\n[[bus]]\nname = 'b'\nbus = 'a'\n")
            .starts_with("6:8 bus `a` feeds itself through `b`")
    );
    assert!(one("[[part]]\nname = 'a'\nduck = { by = 'a' }\n").contains("would duck under itself"));
    assert!(one("[room]\nimpulse = 'a.wav'\ndecay = 3\n").starts_with("6:1 `decay` is of no use"));
}

#[test]
fn hits_stand_in_one_place_and_their_problems_point_into_the_marks() {
    assert!(
        one("[tab]\nall = 'kick x'\n[[part]]\nname = 'kick'\nhits = 'x'\n")
            .starts_with("8:1 `kick` has hits in `[tab]` and of its own")
    );
    let problem = one("[[part]]\nname = 'kick'\nhits = 'x-?-'\n");
    assert!(problem.starts_with("6:11 "), "{problem}");
    assert!(one("[[part]]\nname = 'kick'\nhits = 3\n").contains("a line of marks"));
}

#[test]
fn syntax_errors_come_together_and_hide_no_unknown_keys() {
    let problems = wrong("[loop]\ntempo = \nbras = 2\nending = off\n");
    assert_eq!(problems.len(), 3, "{problems:?}");
    assert!(problems[0].starts_with("2:9 the value is missing"), "{problems:?}");
    assert!(problems[1].contains("did you mean `bars`?"), "{problems:?}");
    assert!(
        problems[2].contains("is neither a number nor a text in quotes; write \"off\""),
        "{problems:?}"
    );
}

#[test]
fn lines_may_end_as_on_any_system_and_a_byte_order_mark_is_passed_over() {
    let text =
        "\u{feff}[loop]\r\ntempo = 90\r\nbars = 1\r\n[tab]\r\nall = \"\"\"\r\nkick  x---\r\nsnare --x-\r\n\"\"\"\r\n";
    let night = resolved(text);
    assert_eq!(
        night.parts.iter().map(|part| part.strokes.len()).collect::<Vec<_>>(),
        [1, 1]
    );
    let problem = wrong(&text.replace("--x-", "--?-")).join("\n");
    assert!(problem.starts_with("7:9 "), "{problem}");
    assert!(wrong(&text.replace("tempo", "temp")).join("\n").starts_with("1:"));
}

#[test]
fn a_thousand_problems_are_told_in_no_time() {
    let text: String = (0..3000).map(|index| format!("key-{index} = 1\n")).collect();
    assert_eq!(
        wrong(&format!("{TOP}{text}{}", "[[mix]]\nname = 'a'\nset = {}\n")).len(),
        3000
    );
}

#[test]
fn deep_nesting_is_a_problem_and_no_crash() {
    let deep = 50_000;
    for text in [
        format!("a = {}", "[".repeat(deep)),
        format!("a = {}1{}", "[".repeat(deep), "]".repeat(deep)),
        format!("{}a = 1", "a.".repeat(deep)),
        format!("[{}a]", "a.".repeat(deep)),
        format!("a = {}", "{ a = ".repeat(deep)),
    ] {
        assert!(!wrong(&format!("{TOP}{text}\n")).is_empty());
    }
}

#[test]
fn advice_fits_the_value() {
    assert!(one("[delay]\ntime = 180\n").ends_with("; for milliseconds, write \"180 ms\""));
    assert!(one("[[part]]\nname = 3\n").ends_with("; write it in quotes"));
    assert!(one("[[part]]\nname = 'a'\nroom = false\n").ends_with("; to switch it off, write \"off\""));
    assert!(one("[part]\nname = 'a'\n").contains("write [[part]] in place of [part]"));
    assert!(one("[[feel]]\n").contains("write [feel] in place of [[feel]]"));
    assert!(one("[[part]]\nname = 'a'\ndrive = 99\n").contains("`drive` is 99, but goes from 0 to 60 dB"));
    assert!(one("[[part]]\nname = 'a'\neq = { at = 3 }\n").contains("write eq = [{ … }]"));
}

#[test]
fn a_value_without_quotes_is_one_problem_with_its_own_advice() {
    let problems = wrong("[loop]\ntempo = 92 bpm\nbars = 4\nkit = ../kit\nmetre = 4/4\nbeat = 1/4 # plain\n");
    assert_eq!(
        problems,
        [
            "2:9 `92 bpm` is neither a number nor a text in quotes; write the number alone: 92",
            "4:7 `../kit` is neither a number nor a text in quotes; write \"../kit\"",
            "5:9 `4/4` is neither a number nor a text in quotes; write \"4/4\"",
            "6:8 `1/4` is neither a number nor a text in quotes; write \"1/4\"",
        ]
    );
}

#[test]
fn every_mix_is_checked_even_where_none_is_chosen() {
    let problem = one("[tab]\nall = 'kick x'\n[[mix]]\nname = 'dry'\nset = { \"kik.gain\" = 2 }\n");
    assert_eq!(
        problem,
        "8:10 there is no part, bus or table called `kik`; did you mean `kick.gain`?"
    );
    assert!(
        one("[[mix]]\nname = 'dry'\nset = { \"room.decay\" = 200 }\n")
            .starts_with("6:24 `decay` is 200, but goes from 0.05 to 60")
    );
    assert!(
        one("[tab]\nall = 'kick x'\n[[mix]]\nname = 'dry'\nset = { kick.bus = 'drums' }\n")
            .contains("there is no bus called `drums`")
    );
}

#[test]
fn what_is_no_file_says_so() {
    let files = Files::new(&[]);
    let missing = read(&files.path("none.toml"), &Changes::default()).expect_err("no file");
    assert!(missing.to_string().contains("can't be read"), "{missing}");
    let folder = read(files.0.path(), &Changes::default()).expect_err("a folder");
    assert!(folder.to_string().contains("is a folder"), "{folder}");
    std::fs::write(files.path("a.wav"), [0xff, 0xfe, 0x00]).expect("a file");
    assert!(
        read(&files.path("a.wav"), &Changes::default())
            .expect_err("bytes")
            .to_string()
            .contains("not a text")
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_makes_reading_panic(words in prop::collection::vec(prop::sample::select(WORDS), 0..40), noise in "\\PC{0,12}") {
        let mut text = words.concat();
        text.push_str(&noise);
        let changes = set(&[(&noise, "3"), ("kick.hits", &noise), ("room.decay", &noise)]);
        let _ = draft(&text, &Changes::default()).map(|draft| draft.resolve(&KitDefaults::new()));
        let _ = draft(&text, &changes).map(|draft| draft.resolve(&KitDefaults::new()));
    }

    #[test]
    fn no_setting_makes_reading_panic(key in "[a-z.\"= ]{0,12}", value in "\\PC{0,12}") {
        let _ = draft(&format!("{TOP}[tab]\nall = 'kick x'\n"), &set(&[(&key, &value)]));
    }
}

const WORDS: &[&str] = &[
    "[loop]\n",
    "tempo = 90\n",
    "bars = 2\n",
    "[[part]]\n",
    "name = \"kick\"\n",
    "hits = \"x-x-\"\n",
    "[tab]\n",
    "[feel]\n",
    "swing = 60\n",
    "[[bus]]\n",
    "bus = \"a\"\n",
    "name = \"a\"\n",
    "[rooms.hall]\n",
    "[room]\n",
    "decay = ",
    "[[mix]]\n",
    "set = {",
    "}",
    "\"",
    "'''",
    "\"\"\"\n",
    "all = ",
    "é",
    "\u{1F941}",
    "\\",
    "= ",
    ".",
    "off",
    "nan",
    "1e999",
    "[",
    "]",
    "{ x = 1 }",
    "\n",
    "\r\n",
    "kick",
    " x-|x ",
    "{xxx}",
    "[form]\n",
    "[[section]]\n",
    "loop = \"night.toml\"\n",
    "duck = { by = \"kick\" }\n",
    "eq = [{}]\n",
    "0x7f",
    "1979-05-27",
    "#",
];
