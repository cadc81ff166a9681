//! Many makers' habits, built on the disk.

use std::fs;
use std::path::Path;

use crate::kit::Kit;

/// What a folder of empty files holds: each piece's name with its layers, tops and files.
fn read(folder: &Path, files: &[&str]) -> Vec<String> {
    for file in files {
        let path = folder.join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        // Names are all that is read, so the files may be empty.
        fs::write(path, "").unwrap();
    }
    let kit = Kit::open(&[folder.to_path_buf()], &[]).unwrap_or_else(|problems| panic!("{problems}"));
    let stem = |take: &usize| kit.file(*take).file_stem().unwrap().to_string_lossy().into_owned();
    let pieces = kit.index().listed().iter().map(|piece| {
        let layers = piece.layers.iter().map(|layer| {
            let takes: Vec<String> = layer.takes.iter().map(stem).collect();
            format!("{}: {}", layer.upto, takes.join(", "))
        });
        format!("{} {}", piece.name, layers.collect::<Vec<_>>().join("; "))
    });
    pieces.collect()
}

fn pieces(files: &[&str]) -> Vec<String> {
    read(tempfile::tempdir().unwrap().path(), files)
}

#[test]
fn a_folder_that_is_called_after_an_instrument_tells_its_files() {
    let above = tempfile::tempdir().unwrap();
    let told = read(&above.path().join("Snare Hits"), &["01.wav", "02.wav", "deep.wav"]);
    assert_eq!(told, ["snare 127: 01, 02", "snare-2 127: deep"]);
    // A kit may be called anything.
    let told = read(&above.path().join("Snare Street Kit"), &["deep.wav"]);
    assert_eq!(told, ["deep 127: deep"]);
}

#[test]
fn diameters_are_toms_unless_they_count_turns() {
    assert_eq!(
        pieces(&["tom_10.wav", "tom_12.wav", "tom_16.wav"]),
        ["tom-high 127: tom_10", "tom-mid 127: tom_12", "tom-floor 127: tom_16"]
    );
    assert_eq!(
        pieces(&["tom_8.wav", "tom_9.wav", "tom_10.wav"]),
        ["tom-mid 127: tom_8, tom_9, tom_10"]
    );
}

#[test]
fn a_p_is_a_pedal_unless_a_hat_is_also_played_loud() {
    assert_eq!(
        pieces(&["hat_c.wav", "hat_p.wav"]),
        ["hat-closed 127: hat_c", "hat-pedal 127: hat_p"]
    );
    assert_eq!(
        pieces(&["hat_f.wav", "hat_p.wav"]),
        ["hat-closed 64: hat_p; 127: hat_f"]
    );
}

#[test]
fn letters_count_turns_and_an_f_among_them_is_no_forte() {
    let files = [
        "clap a.wav",
        "clap b.wav",
        "clap c.wav",
        "clap d.wav",
        "clap e.wav",
        "clap f.wav",
    ];
    assert_eq!(
        pieces(&files),
        ["clap 127: clap a, clap b, clap c, clap d, clap e, clap f"]
    );
    assert_eq!(pieces(&["clap p.wav", "clap f.wav"]), ["clap 64: clap p; 127: clap f"]);
}

#[test]
fn layers_that_are_numbered_by_velocities_reach_as_far() {
    assert_eq!(
        pieces(&["Kick vel 30.wav", "Kick vel 90.wav", "Kick vel 127.wav"]),
        ["kick 30: Kick vel 30; 90: Kick vel 90; 127: Kick vel 127"]
    );
    assert_eq!(
        pieces(&["SN-L1-R1.wav", "SN-L1-R2.wav", "SN-L2-R1.wav"]),
        ["snare 64: SN-L1-R1, SN-L1-R2; 127: SN-L2-R1"]
    );
}

#[test]
fn rates_and_depths_part_no_takes() {
    assert_eq!(
        pieces(&["Kick 01 48kHz 24bit.wav", "Kick 02 44k 16b.wav"]),
        ["kick 127: Kick 01 48kHz 24bit, Kick 02 44k 16b"]
    );
}

#[test]
fn a_guess_leaves_the_plain_name_to_what_is_sure() {
    assert_eq!(
        pieces(&["Big Cymbal.wav", "Dark Crash.wav"]),
        ["crash-2 127: Big Cymbal", "crash 127: Dark Crash"]
    );
}

#[test]
fn names_in_any_alphabet_go_by_themselves_however_the_disk_writes_them() {
    let folder = tempfile::tempdir().unwrap();
    let files = ["ha\u{308}ngebru\u{308}cke.wav", "Чайка 2.wav", "霧笛.wav", "🐟.wav"];
    read(folder.path(), &files);
    let kit = Kit::open(&[folder.path().to_path_buf()], &[]).unwrap();
    for name in [
        "hängebrücke",
        "ha\u{308}ngebru\u{308}cke",
        "чайка-2",
        "Чайка 2",
        "霧笛",
        "🐟",
    ] {
        assert!(kit.index().find(name).is_some(), "{name}");
    }
}

#[test]
fn every_short_name_of_general_midi_is_read_as_itself() {
    for key in 35..=81 {
        let piece = crate::midi::piece_for(key).unwrap();
        let told = pieces(&[&format!("{piece}.wav")]);
        assert_eq!(told, [format!("{piece} 127: {piece}")]);
    }
    for piece in ["shaker", "conga-slap"] {
        assert_eq!(
            pieces(&[&format!("{piece}_2.wav")]),
            [format!("{piece} 127: {piece}_2")]
        );
    }
}
