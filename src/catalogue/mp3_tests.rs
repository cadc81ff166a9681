//! A preview as MP3: what stands in its file, and that the index plays it. Compiled with the feature `mp3` alone.

use std::fs;
use std::path::Path;

use id3::{Tag, TagLike};

use super::{Index, List, Plan, Running, Store};
use crate::base::audio::Audio;
use crate::export::wav;
use crate::wav::{Coding, Tags};

const LOOP: &str = "[loop]\nkit = \"kit\"\ntitle = \"Quay\"\nkey = \"G minor\"\ntempo = 96.4\nbars = 2\n[tab]\nall = \"kick x--- x-x- x--- x---\"\n";
const LIST: &str = "[catalogue]\ntitle = \"Beds\"\nformats = [\"mp3\", \"wav\"]\n[[collection]]\nname = \"Late\"\nloops = \"quay.toml\"\n";

/// The frames of a stream of MPEG-1 Layer III at 192 kbit/s and 48 kHz: each begins with these 20 bits (ISO/IEC 11172-3, 2.4.1.3) and
/// is 144 * 192,000 / 48,000 = 576 bytes long.
fn frames(stream: &[u8]) -> usize {
    let frames = stream.chunks_exact(576);
    assert!(
        frames.remainder().is_empty(),
        "{} bytes are over",
        frames.remainder().len()
    );
    frames
        .inspect(|frame| {
            assert!(
                frame.starts_with(&[0xff, 0xfb]) && frame[2] & 0xfc == 0xb4,
                "{:x?}",
                &frame[..4]
            )
        })
        .count()
}

#[test]
fn an_mp3_preview_has_its_tags_and_is_what_the_index_plays() {
    let desk = tempfile::tempdir().expect("a folder");
    let at = |name: &str| desk.path().join(name);
    let mut click = Audio::silence(1, 4800, 48_000);
    (0..480).for_each(|frame| click.channels[0][frame] = 0.5 * (1.0 - frame as f32 / 480.0));
    fs::create_dir(at("kit")).expect("a folder");
    wav::write(&at("kit/kick.wav"), &click, Coding::Int16, &Tags::default(), 1).expect("a one-shot");
    fs::write(at("quay.toml"), LOOP).expect("a loop");
    fs::write(at("list.toml"), LIST).expect("a list");
    let list = List::read(&at("list.toml")).expect("a list");
    let plan = Plan::of(&list).expect("a plan");
    let store = Store::open(&at("out"), &list).expect("a folder");
    let running = Running {
        list: (&list, desk.path()),
        plan: &plan,
        numbers: &plan.order,
        store: &store,
        packs: false,
        memory: 512 << 20,
        progress: &|_| (),
    };
    let outcome = running.run();
    assert_eq!((outcome.made, outcome.failed.len()), (1, 0), "{outcome:?}");

    let bytes = fs::read(at("out/previews/Late/quay.mp3")).expect("a preview");
    let tag = Tag::read_from2(std::io::Cursor::new(&bytes))
        .map_err(|error| error.to_string())
        .expect("ID3");
    let text = |id: &str| tag.get(id).and_then(|frame| frame.content().text());
    // ID3v2.4.0, 4.2: a tempo is a whole number, a key three letters at most.
    assert_eq!(
        (tag.title(), text("TBPM"), text("TKEY")),
        (Some("Quay"), Some("96"), Some("Gm"))
    );
    // A head of 10 bytes says in 7 bits a byte how long the tag is (ID3v2.4.0, 3.1).
    let long = bytes[6..10].iter().fold(0, |long, byte| long << 7 | usize::from(*byte));
    // Two bars at 96.4 BPM in frames of 1152 samples, with what the codec puts before and behind.
    let (sound, there) = (2.0 * 4.0 * 60.0 / 96.4 * 48_000.0 / 1152.0, frames(&bytes[10 + long..]));
    assert!(
        (sound..sound + 4.0).contains(&(there as f64)),
        "{there} frames for {sound}"
    );

    let index = Index::gather(&store, &plan, true, false).expect("an index");
    index.write(&store, &list.title).expect("it is written");
    assert_eq!(index.records[0].told.file, "previews/Late/quay.mp3");
    let rows = fs::read_to_string(at("out/index/rows-0000.js")).expect("rows");
    assert!(rows.contains("[\"previews/Late/quay.mp3\",\"Quay\""), "{rows}");
    assert!(Path::new(&at("out/previews/Late/quay.wav")).exists());
}
