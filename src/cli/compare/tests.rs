use super::*;
use crate::cli::counts::{Counts, LITTLE, Line, desk, line, of_one, on_any_threads};
use crate::render_cache::ROOM;

/// What a comparison of versions of a file makes, and what one render of it does.
#[track_caller]
fn counted(file: &str, words: &[&str], room: usize) -> (Counts, Counts) {
    let folder = desk();
    let words: Vec<&str> = ["compare"].into_iter().chain(words.iter().copied()).collect();
    let Line::Compare(compare) = line(&folder.path().join(file), &words) else {
        panic!("it says compare");
    };
    let options = compare.options.project(compare.audio.ending);
    let asked = Asked::of(&options, &compare.vary, &compare.bypass);
    let asked = asked.expect("the versions open");
    let keep = || RenderCache::of(room, Some(compare.versions()));
    let made = on_any_threads(keep, |keep| {
        let comparing = Comparing {
            versions: asked.iter().map(|one| &one.project).collect(),
            recordings: Vec::new(),
            matched: true,
            cache: keep,
            progress: &|_, _| (),
        };
        let rendered = comparing.rendered(&compare.audio.order(&compare.options));
        assert_eq!(rendered.expect("all render").0.len(), asked.len());
    });
    (made, of_one(&compare.options, &compare.audio))
}

#[test]
fn eight_rooms_share_all_that_feeds_the_room_on_any_number_of_threads() {
    let decays = "room.decay=0.2,0.3,0.4,0.6,0.7,0.8,0.9,1.0";
    let (made, one) = counted("loop.toml", &["--vary", decays], ROOM);
    for what in ["recordings", "sounds", "envelopes", "strips"] {
        assert_eq!(made[what], one[what], "{what}");
    }
    for what in ["responses", "answers"] {
        assert_eq!(
            made[what],
            one[what] + 8,
            "{what}: eight rooms beside the one that is written"
        );
    }
}

#[test]
fn what_two_versions_share_and_the_first_does_not_have_is_made_twice_at_the_most() {
    let vary = ["--vary", "kick.tune=-3,-2", "--vary", "room.decay=0.2,0.3,0.4,0.6"];
    let (made, one) = counted("loop.toml", &vary, ROOM);
    // The first version to ask for a kick that is tuned otherwise makes it for itself, the second for all others too.
    assert_eq!(made["recordings"], one["recordings"]);
    assert!(made["sounds"] <= one["sounds"] + 2 * 2 * 2, "{made:?}");
    assert!(made["strips"] <= 5 * one["strips"], "{made:?}");
}

#[test]
fn where_there_is_room_for_little_the_same_is_made_on_any_number_of_threads() {
    for vary in [
        &["--vary", "room.decay=0.2,0.3,0.4,0.6,0.7"][..],
        &["--vary", "kick.tune=-3,-2", "--vary", "room.decay=0.2,0.3,0.4"],
    ] {
        let (made, one) = counted("loop.toml", vary, LITTLE);
        assert!(made["strips"] > one["strips"], "{made:?}");
    }
}

#[test]
fn sections_of_a_form_are_mixed_once_each_on_any_number_of_threads() {
    let (made, one) = counted("form.toml", &["--vary", "master.gain=-3,-2,-1,1,2,3"], ROOM);
    assert_eq!(made, one);
    let (made, one) = counted("form.toml", &["--vary", "room.decay=0.2,0.3,0.4,0.6,0.7"], ROOM);
    assert_eq!(made["strips"], one["strips"]);
}
