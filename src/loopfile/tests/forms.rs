use super::*;
use crate::loopfile::{Ending, Form};

const VERSE: &str = "[loop]\ntempo = 90\nbars = 4\n[tab]\nall = 'kick x'\n[master]\nceiling = -3\n[[mix]]\nname = 'dry'\nset = { \"kick.gain\" = -1 }\n";
const CHORUS: &str = "[loop]\ntempo = 100\nbars = 2\n[tab]\nall = 'snare x'\n";
const NIGHT: &str = "[form]\ntitle = 'A night'\n[[section]]\nname = 'verse'\nloop = 'verse.toml'\ntimes = 2\n[[section]]\nloop = 'chorus.toml'\n";

fn form(text: &str, changes: &Changes) -> Result<Form, Problems> {
    let files = Files::new(&[
        ("form.toml", text),
        ("verse.toml", VERSE),
        ("chorus.toml", CHORUS),
        ("other.toml", NIGHT),
    ]);
    match read(&files.path("form.toml"), changes)? {
        Draft::Form(draft) => Ok(draft.resolve(|_| KitDefaults::new())),
        Draft::Loop(_) => panic!("a form was written"),
    }
}

#[test]
fn a_form_strings_loops_together() {
    let night = form(NIGHT, &Changes::default()).expect("a form");
    assert_eq!((night.title.as_str(), night.ending), ("A night", Ending::LetRing));
    let sections: Vec<(&str, u32, u32)> = night
        .sections
        .iter()
        .map(|section| (section.name.as_str(), section.times, section.plays.bars))
        .collect();
    assert_eq!(sections, [("verse", 2, 4), ("chorus", 1, 2)]);
    assert_eq!(night.master.ceiling_db, Some(-3.0));
    let own = form(&format!("{NIGHT}[master]\ngain = 1\n"), &Changes::default()).expect("a form");
    assert_eq!((own.master.gain_db, own.master.ceiling_db), (1.0, Some(-1.0)));
}

#[test]
fn changes_go_to_the_sections_that_know_them() {
    let mut changes = set(&[("snare.gain", "-7"), ("loop.tempo", "95")]);
    changes.mix = Some("dry".into());
    changes.only = vec!["snare".into()];
    let night = form(NIGHT, &changes).expect("a form");
    let [verse, chorus] = night.sections.as_slice() else {
        panic!()
    };
    assert_eq!(
        (chorus.plays.parts[0].strip.gain_db, verse.plays.parts[0].strip.gain_db),
        (-7.0, -1.0)
    );
    assert_eq!((verse.plays.time.tempo, chorus.plays.time.tempo), (95.0, 95.0));
    assert!(verse.plays.parts[0].silenced && !chorus.plays.parts[0].silenced);
    let unknown = form(NIGHT, &set(&[("bass.gain", "1")]))
        .expect_err("no bass")
        .to_string();
    assert!(unknown.contains("no section has anything called `bass`"), "{unknown}");
    let unknown = form(
        NIGHT,
        &Changes {
            mix: Some("dri".into()),
            ..Changes::default()
        },
    )
    .expect_err("no mix")
    .to_string();
    assert!(unknown.contains("did you mean \"dry\"?"), "{unknown}");
}

#[test]
fn a_forms_problems_point_into_it_and_into_its_loops() {
    let wrong = |text: &str| form(text, &Changes::default()).expect_err("a problem").to_string();
    assert!(wrong("[form]\n").contains("lacks `section`"));
    assert!(wrong("[form]\n[[section]]\nloop = 'none.toml'\n").contains("form.toml:3:9: "));
    assert!(wrong("[form]\n[[section]]\nloop = 'other.toml'\n").contains("is a form file"));
    assert!(wrong("[form]\n[[section]]\nloop = 'verse.toml'\ntimes = 0\n").contains("from 1 to 1000"));
    assert!(wrong("[form]\nsection = []\n").contains("form.toml"));
}
