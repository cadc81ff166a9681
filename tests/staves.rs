//! `chart --page`: a loop or a form as one HTML file of staves that prints, is told in words, and asks for nothing else.

use std::path::Path;

use crate::support::{Desk, click};

/// Height that a page of letter leaves with the page's margins, in mm: ANSI letter is 11 inches tall.
const LETTER: f64 = 11.0 * 25.4 - 2.0 * 12.0;

fn demo(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("kits/harbour-studio/loops/{name}.toml"));
    path.to_str().expect("a path of text").to_string()
}

fn page(file: &str, options: &[&str]) -> String {
    let desk = Desk::new();
    let answer = desk.run(&[&["chart", file, "--page", "-o", "page.html"], options].concat());
    answer.assert_done();
    std::fs::read_to_string(desk.path("page.html")).expect("a page")
}

/// What each system says in words.
fn words(page: &str) -> Vec<&str> {
    let said = page.split("<desc ").skip(1);
    said.filter_map(|rest| rest.split_once('>')?.1.split_once("</desc>"))
        .map(|(words, _)| words)
        .collect()
}

fn between<'a>(text: &'a str, begin: &str, end: &str) -> Vec<&'a str> {
    text.split(begin)
        .skip(1)
        .filter_map(|rest| rest.split_once(end))
        .map(|(inside, _)| inside)
        .collect()
}

/// A desk with a loop of two bars: a bass on four quarters, a kick.
fn small(more: &str) -> Desk {
    let desk = Desk::new();
    for piece in ["kick", "bass_E1"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    let text = format!(
        "[loop]\ntitle = 'Slack <water>'\ntempo = 90\nbars = 2\nkey = 'G minor'\n[chords]\n'1-2' = 'Gm7 | Eb7 / D7(b9) /'\n\
         [tab]\nall = 'kick x--- x--- x--- x--g'\n[[part]]\nname = 'bass'\nnotes = 'G2 Bb2 D3 F#2 | Eb2 = = ='\n{more}"
    );
    desk.write("quay.toml", text);
    desk
}

#[test]
fn a_loop_becomes_one_page_beside_it_that_is_replaced_only_where_it_is_ours() {
    let desk = small("");
    let answer = desk.run(&["chart", "quay.toml", "--page"]);
    answer.assert_done();
    assert_eq!(answer.out.trim(), "quay-chart.html");
    let first = std::fs::read(desk.path("quay-chart.html")).expect("a page");
    desk.run(&["chart", "quay.toml", "--page"]).assert_done();
    assert_eq!(first, std::fs::read(desk.path("quay-chart.html")).expect("a page"));
    desk.write("quay-chart.html", "<!doctype html><title>mine</title>");
    let refused = desk.run(&["chart", "quay.toml", "--page"]);
    assert_eq!(refused.code, Some(1));
    assert!(
        refused.err.contains("does not carry pressroll's mark"),
        "{}",
        refused.err
    );
    desk.run(&["chart", "quay.toml", "--page", "--force"]).assert_done();
    let over = desk.run(&["chart", "quay.toml", "--page", "-o", "quay.toml", "--force"]);
    assert_eq!(over.code, Some(1), "{}", over.out);
}

#[test]
fn every_bar_is_told_in_words() {
    let desk = small("");
    let answer = desk.run(&["chart", "quay.toml", "--page", "-o", "-"]);
    answer.assert_done();
    let page = answer.out;
    assert!(
        page.contains("<html lang=\"en\">") && page.contains("<h1>Slack &lt;water&gt;</h1>"),
        "{page}"
    );
    let words = words(&page).join("\n");
    for told in [
        "Bar 1, quarter = 90: Gm7.",
        "Bass: G2 quarter, B flat 2 quarter, D3 quarter, F sharp 2 quarter.",
        "Bar 2: Eb7, D7(b9) on 3.",
        "Bass: E flat 2 whole.",
    ] {
        let told = told.replace("Bass", "bass");
        assert!(words.contains(&told), "{told} in {words}");
    }
    let drawings = page.matches("role=\"img\" aria-labelledby=").count();
    assert_eq!(drawings, page.matches("<desc ").count());
    for foreign in ["<script", "http:", "https:", "<link rel=\"stylesheet\"", "url("] {
        assert!(!page.contains(foreign), "{foreign}");
    }
}

#[test]
fn a_part_alone_is_transposed_for_instruments() {
    let desk = small("");
    let said = |options: &[&str]| {
        let answer = desk.run(&[&["chart", "quay.toml", "--page", "-o", "-", "--only", "bass"], options].concat());
        answer.assert_done();
        answer.out
    };
    let concert = said(&[]);
    assert!(!concert.contains("kick") && !concert.contains("unpitchedPercussionClef"));
    // G minor is A minor for B flat instruments, E minor for E flat ones [practice].
    let flat = said(&["--for", "Bb"]);
    assert!(
        flat.contains("For B flat instruments") && flat.contains("A minor"),
        "{flat}"
    );
    assert!(flat.contains("s-gClef\"") && !flat.contains("s-fClef"), "{flat}");
    assert!(
        words(&flat)[0]
            .contains("Bar 1, quarter = 90: Am7. bass: A4 quarter, C5 quarter, E5 quarter, G sharp 4 quarter."),
        "{:?}",
        words(&flat)
    );
    let alto = said(&["--for", "Eb"]);
    assert!(
        alto.contains("For E flat instruments") && alto.contains("E minor"),
        "{alto}"
    );
    assert!(
        words(&alto)[0]
            .contains("Bar 1, quarter = 90: Em7. bass: E4 quarter, G4 quarter, B4 quarter, D sharp 4 quarter."),
        "{:?}",
        words(&alto)
    );
    let refused = desk.run(&["chart", "quay.toml", "--page", "--for", "F#"]);
    assert_eq!(refused.code, Some(2), "{}", refused.out);
    let alone = desk.run(&["chart", "quay.toml", "--for", "Bb"]);
    assert_eq!(alone.code, Some(2), "{}", alone.out);
}

#[test]
fn drums_stand_on_a_staff_or_in_a_table() {
    let desk = small("");
    let said = |options: &[&str]| {
        let answer = desk.run(&[&["chart", "quay.toml", "--page", "-o", "-"], options].concat());
        answer.assert_done();
        answer.out
    };
    let staff = said(&[]);
    assert!(staff.contains("s-unpitchedPercussionClef1") && !staff.contains("<table>"));
    let table = said(&["--drums", "tablature"]);
    assert!(!table.contains("s-unpitchedPercussionClef1"));
    let row = between(&table, "<th scope=\"row\">", "</tr>").join("\n");
    assert!(row.contains("kick</th>"), "{row}");
    let cells = between(&row, "<td", "</td>");
    let marks: Vec<&str> = cells.iter().filter_map(|cell| Some(cell.split_once('>')?.1)).collect();
    assert_eq!(marks, ["x---", "x---", "x---", "x--g"]);
    assert!(table.contains("class=\"first\">1–2</th>"), "{table}");
}

#[test]
fn bars_of_a_table_that_look_the_same_stand_once_and_drums_that_rest_have_no_line() {
    let desk = Desk::new();
    for piece in ["kick", "snare", "crash"] {
        desk.one_shot(&format!("{piece}.wav"), &[click()]);
    }
    desk.write(
        "quay.toml",
        "[loop]\ntempo = 90\nbars = 8\n[tab]\nall = 'kick x-x- xx--'\n'every 4 bars' = 'snare --xx -xxx'\n",
    );
    desk.write(
        "wharf.toml",
        "[loop]\ntempo = 90\nbars = 1\n[tab]\nall = 'crash xxxx xxxx xxxx xxxx'\n",
    );
    desk.write(
        "form.toml",
        "[form]\ntitle = 'Quay'\n[[section]]\nname = 'A'\nloop = 'quay.toml'\n[[section]]\nname = 'B'\nloop = 'wharf.toml'\n",
    );
    let answer = desk.run(&["chart", "form.toml", "--page", "-o", "-", "--drums", "tablature"]);
    answer.assert_done();
    let text = |cell: &&str| cell.split_once('>').map(|(_, text)| text.to_string());
    let heads: Vec<String> = between(&answer.out, "<th scope=\"colgroup\"", "</th>")
        .iter()
        .filter_map(text)
        .collect();
    assert_eq!(heads, ["1–3, 5–7", "4, 8", "9"]);
    assert_eq!(
        between(&answer.out, "<caption>", "</caption>"),
        ["Drums, A, bars 1 to 8", "Drums, B, bar 9"]
    );
    let rows = between(&answer.out, "<th scope=\"row\">", "</tr>");
    let names: Vec<&str> = rows.iter().filter_map(|row| Some(row.split_once("</th>")?.0)).collect();
    assert_eq!(names.len(), 3, "{names:?}");
    let row = |name: &str| {
        let row = rows.iter().find(|row| row.starts_with(name)).expect("a row");
        between(row, "<td", "</td>").iter().filter_map(text).collect::<Vec<_>>()
    };
    // A bar of eighths has two marks a beat, whatever the sixteenths of another.
    assert_eq!(row("kick"), ["x-", "x-", "xx", "--", "x-", "x-", "xx", "--"]);
    assert_eq!(row("snare"), ["--", "--", "--", "--", "--", "xx", "-x", "xx"]);
    assert_eq!(row("crash"), ["xxxx", "xxxx", "xxxx", "xxxx"]);
}

#[test]
fn a_keyboards_hands_have_a_staff_each_and_transposing_instruments_one() {
    let desk = Desk::new();
    desk.one_shot("keys_C4.wav", &[click()]);
    desk.write(
        "quay.toml",
        "[loop]\ntempo = 90\nbars = 1\n[[part]]\nname = 'keys'\nnotes = 'G2+C4+E4 - - D5'\n",
    );
    let said = |options: &[&str]| {
        let answer = desk.run(&[&["chart", "quay.toml", "--page", "-o", "-"], options].concat());
        answer.assert_done();
        answer.out
    };
    let both = said(&[]);
    assert!(both.contains("#s-gClef\"") && both.contains("#s-fClef\""), "{both}");
    let told = words(&both).join("\n");
    assert!(
        told.contains("keys, right hand: C4 and E4 quarter") && told.contains("keys, left hand: G2 quarter"),
        "{told}"
    );
    let one = said(&["--for", "Bb"]);
    assert!(
        !one.contains("#s-fClef\"") && words(&one)[0].contains(" keys: "),
        "{:?}",
        words(&one)
    );
}

#[test]
fn some_bars_alone_are_a_page() {
    let desk = small("");
    let answer = desk.run(&["chart", "quay.toml", "--page", "-o", "-", "--bars", "2-2"]);
    answer.assert_done();
    let told = words(&answer.out).join("\n");
    assert!(told.starts_with("Bar 2, quarter = 90: Eb7, D7(b9) on 3."), "{told}");
    assert!(!told.contains("Bar 1"), "{told}");
    let beyond = desk.run(&["chart", "quay.toml", "--page", "-o", "-", "--bars", "2-3"]);
    assert_eq!(beyond.code, Some(1));
    assert!(beyond.err.contains("bars 2-3 are not in this file"), "{}", beyond.err);
}

#[test]
fn a_key_says_what_the_signs_mean_that_are_there() {
    let key = |more: &str, options: &[&str]| -> Vec<String> {
        let desk = small(more);
        let answer = desk.run(&[&["chart", "quay.toml", "--page", "-o", "-"], options].concat());
        answer.assert_done();
        let list = between(&answer.out, "<ul class=\"key\"", "</ul>").concat();
        let entries = between(&list, "<li>", "</li>");
        let last = |entry: &&str| {
            entry
                .rsplit_once("</")
                .map_or("", |(_, end)| end.split_once("> ").map_or("", |end| end.1))
                .to_string()
        };
        entries.iter().map(last).collect()
    };
    // The kick of every bar has a ghost note.
    assert_eq!(key("", &[]), ["ghost note"]);
    let more = "[[part]]\nname = 'tune'\npiece = 'stand-in'\nnotes = 'C5:scoop E5^ G5:fall C5:dead'\n";
    assert_eq!(
        key(more, &[]),
        [
            "accent",
            "ghost note",
            "dead note",
            "scoop: comes up from below",
            "fall"
        ]
    );
    assert_eq!(key("", &["--drums", "tablature"]), ["hit", "ghost note", "nothing"]);
}

#[test]
fn what_lies_between_the_steps_of_a_table_is_in_braces() {
    let desk = Desk::new();
    desk.one_shot("snare.wav", &[click()]);
    desk.one_shot("hat-closed.wav", &[click()]);
    desk.write(
        "quay.toml",
        "[loop]\ntempo = 90\nbars = 1\n[tab]\nall = '''\nhat-closed x-x- x-x- xxxx x-x-\n\
         snare      ---- x{xxx}-- {xxxxx} x--x\n'''\n",
    );
    let answer = desk.run(&["chart", "quay.toml", "--page", "-o", "-", "--drums", "tablature"]);
    answer.assert_done();
    let rows = between(&answer.out, "<th scope=\"row\">", "</tr>");
    let row = |name: &str| {
        let row = rows.iter().find(|row| row.starts_with(name)).expect("a row");
        let cells = between(row, "<td", "</td>");
        cells
            .iter()
            .filter_map(|cell| Some(cell.split_once('>')?.1.to_string()))
            .collect::<Vec<_>>()
    };
    assert_eq!(row("hat-closed"), ["x-x-", "x-x-", "xxxx", "x-x-"]);
    assert_eq!(row("snare"), ["----", "x{xxx}--", "{xxxxx}", "x--x"]);
}

#[test]
fn eight_bars_of_a_full_band_are_one_page() {
    for name in ["low-tide", "high-water", "night-ferry"] {
        let page = page(&demo(name), &[]);
        let heights = between(&page, "style=\"height:", "mm\"");
        let heights: f64 = heights
            .iter()
            .map(|height| height.parse::<f64>().expect("a height"))
            .sum();
        let between_systems = 4.0 * words(&page).len() as f64;
        // The title and the two lines below it take 24 mm.
        assert!(heights + between_systems + 24.0 <= LETTER, "{name}: {heights}");
        assert_eq!(words(&page).join("\n").matches("Bar ").count(), 8, "{name}");
    }
}

#[test]
fn a_form_names_its_sections_and_degrees_stand_under_notes() {
    let plain = page(&demo("tide-tables"), &[]);
    for section in ["the water falls", "low tide again"] {
        assert!(plain.contains(section), "{section}");
        assert!(
            words(&plain)
                .iter()
                .any(|words| words.contains(&format!("{section} begins"))),
            "{section}"
        );
    }
    let bass = page(&demo("low-tide"), &["--only", "bass"]);
    let degrees = page(&demo("low-tide"), &["--only", "bass", "--degrees"]);
    // The same bars in the same words, drawn taller: there is a row more.
    assert_eq!(words(&bass).join("\n"), words(&degrees).join("\n"));
    let height = |page: &str| -> f64 {
        let heights = between(page, "style=\"height:", "mm\"");
        heights
            .iter()
            .map(|height| height.parse::<f64>().expect("a height"))
            .sum()
    };
    assert!(height(&degrees) > height(&bass) + 2.0);
}
