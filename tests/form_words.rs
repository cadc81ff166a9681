//! What is wrong in a form is told at its word, and `check` tells what it may not mean.

use crate::support::form::{C, V, VERSE, desk, form};

#[test]
fn errors_point_at_the_word() {
    let desk = desk();
    let wrong = |keys: &str, sections: &[&str], what: &str, line: &str| {
        desk.write("form.toml", form(keys, sections));
        let answer = desk.run(&["render", "form.toml"]);
        assert_eq!(answer.code, Some(1), "{what}");
        assert!(answer.err.contains(what) && answer.err.contains(line), "{}", answer.err);
        assert_eq!(desk.names("renders"), Vec::<String>::new());
    };
    wrong("", &["loop = 'vers.toml'"], "vers.toml can't be read", "form.toml:4:9");
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = '2-3'"],
        "bars 2-3 are not in this section's loop, which has bars 1-2",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = '2-1'"],
        "bars 2-1 run backwards",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nbars = 'all of it'"],
        "`all of it` names no bars",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nmute = ['kick', 'snar']"],
        "verse has no part or bus called `snar`",
        "form.toml:5:18",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nonly = 'clap'"],
        "verse has no part or bus called `clap`",
        "form.toml:5:9",
    );
    wrong(
        "",
        &["loop = 'verse.toml'\nset = { 'bass.gain' = 1 }"],
        "there is no part, bus or table called `bass`",
        "form.toml:5:10",
    );
    wrong(
        "pickup = '64/1'",
        &[V],
        "the pickup is longer than what the first section plays",
        "form.toml:2:10",
    );
    wrong(
        "fade = { out = 3 }",
        &[V],
        "the form fades out over 3 bars, but has only 2",
        "form.toml:2:8",
    );
    wrong(
        "end = 'hit'\nfade = { out = 1 }",
        &[V],
        "a form that fades out has no last hit",
        "form.toml:3:8",
    );
    wrong("end = 'bang'", &[V], "`end` is one of \"hit\"", "form.toml:2:7");
}

#[test]
fn check_tells_what_a_form_may_not_mean() {
    let desk = desk();
    desk.write(
        "gap.toml",
        "[loop]\ntempo = 120\nbars = 4\n[tab]\n'1,3-4' = 'kick -xxx'\n",
    );
    let hints = |keys: &str, sections: &[&str]| {
        desk.write("form.toml", form(keys, sections));
        let answer = desk.run(&["check", "form.toml"]);
        answer.assert_done();
        answer.err
    };
    assert!(hints("", &["name = 'A'\nloop = 'gap.toml'"]).contains("nothing of `A` plays in bar 2 of its loop"));
    assert!(hints("", &["name = 'A'\nloop = 'gap.toml'\nbars = '2'"]).contains("nothing is audible in `A`"));
    assert!(
        hints(
            "",
            &["name = 'A'\nloop = 'verse.toml'\nmute = ['kick', 'tops', 'snare']"]
        )
        .contains("nothing is audible in `A`")
    );
    assert!(
        hints("end = 'hit'", &["name = 'A'\nloop = 'gap.toml'"])
            .contains("nothing of `A` stands on the one of its first bar")
    );
    assert!(
        hints("pickup = '1/4'", &["name = 'A'\nloop = 'gap.toml'\nbars = '1-2'"]).contains("`A` ends with silence")
    );
    assert!(hints("pickup = '1/4'\nending = 'repeat'", &[V]).contains("it is played without its pickup"));
    let uneven = "[loop]\ntempo = 120\nbars = 4\n[tab]\nall = 'kick x | x | xx'\n";
    desk.write("uneven.toml", uneven);
    let twice = hints(
        "",
        &["loop = 'uneven.toml'\nbars = '3'", "loop = 'uneven.toml'\nbars = '4'"],
    );
    assert_eq!(twice.matches("breaks off after 1 bar").count(), 1, "{twice}");
    assert_eq!(hints("", &[C, C]), "");
}

#[test]
fn check_says_that_a_form_leaves_out_what_moves_in_a_loops_master() {
    let desk = desk();
    let sweep = "[[sweep]]\nkey = 'master.gain'\nbars = '1-2'\nfrom = -6\nto = 0\n";
    desk.write("verse.toml", format!("{VERSE}{sweep}"));
    desk.write(
        "form.toml",
        form("title = 'Moving'", &["name = 'A'\nloop = 'verse.toml'"]),
    );
    let answer = desk.run(&["check", "form.toml"]);
    assert_eq!(answer.code, Some(0), "{}", answer.err);
    assert!(
        answer.err.contains("sweeps of the master of `A` are left out"),
        "{}",
        answer.err
    );
}
