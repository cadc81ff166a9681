//! The listening page: one file that asks the network for nothing, tells everything as it was handed in, and holds the
//! very samples of each version.

use std::path::{Path, PathBuf};

use crate::support::page::{between, shown, told};
use crate::support::{Desk, RATE};
use pressroll::Audio;
use pressroll::internals::export::page::{BITS, Entry, Page, html, write};
use pressroll::internals::export::{Bar, Bars};

/// Noise, so that nothing of it is the same by chance.
fn noise(frames: usize, seed: u32) -> Audio {
    let mut state = seed;
    let mut draw = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 24) as f32 - 0.5
    };
    let mut side = || (0..frames).map(|_| draw()).collect();
    Audio {
        channels: vec![side(), side()],
        rate: RATE,
    }
}

fn bars(starts: &[usize], end: usize) -> Bars {
    let bar = |(place, start): (usize, &usize)| Bar {
        start: *start,
        number: place as u32 + 1,
        counts: 4,
        section: None,
    };
    Bars {
        bars: starts.iter().enumerate().map(bar).collect(),
        end,
    }
}

fn page(entries: Vec<Entry<'_>>, bars: Bars) -> Page<'_> {
    Page {
        title: "Night ferry".into(),
        source: "night-ferry.toml".into(),
        about: vec!["84 BPM".into(), "4/4".into()],
        bars,
        repeats: true,
        matched_lufs: Some(-18.0),
        picture: None,
        blind: false,
        entries,
        seed: 11,
    }
}

/// The sounds of a page, decoded by another library: samples of each version, woven.
fn sounds(html: &str) -> Vec<Vec<i32>> {
    use base64::Engine;
    let stored = between(html, "<script type=\"text/plain\" class=\"sound\">", "</script>");
    let bytes = stored
        .iter()
        .map(|text| base64::prelude::BASE64_STANDARD.decode(text).expect("base64"));
    bytes.map(decoded).collect()
}

fn decoded(bytes: Vec<u8>) -> Vec<i32> {
    use symphonia::core::codecs::audio::AudioDecoderOptions;
    use symphonia::core::formats::{TrackType, probe::Hint};
    let stream = symphonia::core::io::MediaSourceStream::new(Box::new(std::io::Cursor::new(bytes)), Default::default());
    let probe = symphonia::default::get_probe();
    let mut format = probe
        .probe(&Hint::new(), stream, Default::default(), Default::default())
        .expect("FLAC");
    let track = format.default_track(TrackType::Audio).expect("a track");
    let parameters = track
        .codec_params
        .as_ref()
        .and_then(|codec| codec.audio())
        .expect("audio");
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(parameters, &AudioDecoderOptions::default())
        .expect("a decoder");
    let mut woven: Vec<i32> = Vec::new();
    while let Some(packet) = format.next_packet().expect("packets") {
        let mut samples: Vec<i32> = Vec::new();
        decoder
            .decode(&packet)
            .expect("a block")
            .copy_to_vec_interleaved(&mut samples);
        // Decoded samples are left-justified in their 32 bits.
        woven.extend(samples.iter().map(|sample| sample >> (32 - BITS)));
    }
    woven
}

#[test]
fn holds_the_samples_of_every_version() {
    // Lengths around FLAC's blocks, and a sound shorter than one.
    for frames in [96_000, 4096 * 3 + 1, 4096 * 2, 4095, 700] {
        let (one, other) = (noise(frames, 1), noise(frames, 2));
        let entries = vec![Entry::new("as written", &one), Entry::new("harder", &other)];
        let sounds = sounds(&html(&page(entries, bars(&[0, frames / 2], frames))).unwrap());
        for (sound, audio) in sounds.iter().zip([&one, &other]) {
            assert_eq!(sound.len(), 2 * frames);
            let scale = f64::from(1u32 << (BITS - 1));
            for (n, sample) in sound.iter().enumerate() {
                let exact = f64::from(audio.channels[n % 2][n / 2]) * scale;
                assert!(
                    (f64::from(*sample) - exact).abs() <= 1.5,
                    "sample {n}: {sample} for {exact}"
                );
            }
        }
    }
}

#[test]
fn what_two_versions_share_stays_the_same() {
    let one = noise(20_000, 1);
    let mut other = one.clone();
    other.channels[0][15_000] = 0.25;
    let entries = vec![Entry::new("one", &one), Entry::new("other", &other)];
    let sounds = sounds(&html(&page(entries, bars(&[0], 20_000))).unwrap());
    let differ: Vec<usize> = (0..40_000).filter(|n| sounds[0][*n] != sounds[1][*n]).collect();
    assert_eq!(differ, [30_000]);
}

#[test]
fn the_same_versions_give_the_same_bytes() {
    let (one, other) = (noise(30_000, 1), noise(30_000, 2));
    let made = || {
        html(&page(
            vec![Entry::new("a", &one), Entry::new("b", &other)],
            bars(&[0], 30_000),
        ))
        .unwrap()
    };
    assert_eq!(made(), made());
    let alone = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap()
        .install(made);
    assert_eq!(made(), alone);
}

#[test]
fn titles_cannot_break_out_of_their_places() {
    let audio = noise(5_000, 1);
    let nasty = "</script><script>alert(1)</script> \"q\" 'a' & <b> -->";
    let mut entry = Entry::new(nasty, &audio);
    entry.setting = Some(nasty.into());
    entry.figures = vec![(nasty.into(), nasty.into())];
    let mut page = page(vec![entry.clone(), entry], bars(&[0], 5_000));
    page.title = nasty.into();
    page.source = nasty.into();
    page.about = vec![nasty.into()];
    page.bars.bars[0].section = Some(nasty.into());
    let html = html(&page).unwrap();
    for html in [&html, &shown(&html)] {
        assert!(!html.contains("alert(1)</script>"), "a title ended a script");
        assert!(!html.contains("<b> --"), "a title made an element");
        assert!(!html.contains("\"q\" 'a'"), "a title left its quotes as they are");
    }
    // What the script is told is still JSON, and still says the same.
    let told = told(&html);
    assert_eq!(told["title"], nasty);
    assert_eq!(told["versions"][1]["setting"], nasty);
}

#[test]
fn asks_the_network_for_nothing() {
    let audio = noise(5_000, 1);
    let html = html(&page(vec![Entry::new("as written", &audio)], bars(&[0], 5_000))).unwrap();
    assert!(html.contains("default-src 'none'"));
    let html = shown(&html);
    for word in [
        "http:",
        "https:",
        "src=",
        "@import",
        "url(",
        "fetch(",
        "XMLHttp",
        "WebSocket",
    ] {
        assert!(!html.contains(word), "the page has {word}");
    }
    assert_eq!(between(&html, "href=\"", "\""), ["data:,"]);
}

#[test]
fn figures_stand_under_their_names_whichever_version_has_them() {
    let audio = noise(5_000, 1);
    let figure = |name: &str, value: &str| (name.to_string(), value.to_string());
    let one = Entry {
        figures: vec![figure("loudness", "-18.0 LUFS"), figure("true peak", "-3.1 dBTP")],
        moved_db: Some(-1.25),
        ..Entry::new("one", &audio)
    };
    let other = Entry {
        figures: vec![figure("crest", "14 dB"), figure("loudness", "-18.2 LUFS")],
        ..Entry::new("other", &audio)
    };
    let html = shown(&html(&page(vec![one, other], bars(&[0], 5_000))).unwrap());
    let heads = between(&html, "<th scope=\"col\" class=\"figure\">", "</th>");
    assert_eq!(heads, ["gain applied", "loudness", "true peak", "crest"]);
    let rows = between(&html, "<th scope=\"row\">", "</tr>");
    let cells = |row| between(row, "<td class=\"figure\">", "</td>");
    assert_eq!(
        cells(rows[0]),
        ["\u{2212}1.2 dB", "\u{2212}18.0 LUFS", "\u{2212}3.1 dBTP", ""]
    );
    assert_eq!(cells(rows[1]), ["", "\u{2212}18.2 LUFS", "", "14 dB"]);
    assert!(html.contains("same loudness, \u{2212}18.0 LUFS"));
}

#[test]
fn a_page_is_known_by_its_versions() {
    let (one, other) = (noise(5_000, 1), noise(5_000, 2));
    let identity = |name: &str, audio: &Audio| {
        let html = html(&page(vec![Entry::new(name, audio)], bars(&[0], 5_000))).unwrap();
        told(&html)["identity"].as_str().expect("digits").to_string()
    };
    assert_eq!(identity("as written", &one).len(), 64);
    assert_eq!(identity("as written", &one), identity("as written", &one));
    assert_ne!(identity("as written", &one), identity("as written", &other));
    assert_ne!(identity("as written", &one), identity("harder", &one));
}

#[test]
fn no_name_stands_in_the_file() {
    let (one, other) = (noise(5_000, 1), noise(5_000, 2));
    let entry = |name: &str, audio| Entry {
        setting: Some(format!("{name}.gain = -3")),
        figures: vec![(format!("{name} figure"), "-3.25 dB".into())],
        octaves: (0..10).map(|octave| format!("-{octave}.125")).collect(),
        moved_db: Some(-1.25),
        ..Entry::new(name, audio)
    };
    let entries = vec![entry("lanternlight", &one), entry("breakwater", &other)];
    for blind in [false, true] {
        let page = Page {
            blind,
            picture: Some("<svg><text>lanternlight</text></svg>".into()),
            ..page(entries.clone(), bars(&[0], 5_000))
        };
        let html = html(&page).unwrap();
        assert_eq!(told(&html)["blind"], blind);
        let words = ["lanternlight", "breakwater", "3.25", "5.125", "\u{2212}1.2 dB", "<path"];
        for word in words {
            assert!(!html.contains(word), "{word} stands in the file");
            assert!(shown(&html).contains(word), "{word} is nowhere");
        }
    }
}

#[test]
fn one_version_has_nothing_to_be_told_from() {
    let audio = noise(5_000, 1);
    let alone = Page {
        blind: true,
        ..page(vec![Entry::new("as written", &audio)], bars(&[0], 5_000))
    };
    assert_eq!(told(&html(&alone).unwrap())["blind"], false);
}

#[test]
fn octaves_stand_in_a_table_of_their_own() {
    let audio = noise(5_000, 1);
    let entry = Entry {
        octaves: (0..10).map(|octave| format!("-{octave}.5")).collect(),
        ..Entry::new("as written", &audio)
    };
    let html = shown(&html(&page(vec![entry], bars(&[0], 5_000))).unwrap());
    let table = between(&html, "<table id=\"octaves\">", "</table>")[0];
    assert_eq!(
        between(table, "<th scope=\"col\" class=\"figure\">", "</th>")[..2],
        ["31.5 Hz", "63 Hz"]
    );
    assert_eq!(between(table, "<td class=\"figure\">", "</td>")[9], "\u{2212}9.5");
    let plain = html_without_octaves(&audio);
    assert!(!plain.contains("id=\"octaves\""));
}

fn html_without_octaves(audio: &Audio) -> String {
    shown(&html(&page(vec![Entry::new("as written", audio)], bars(&[0], 5_000))).unwrap())
}

#[test]
fn a_recording_put_beside_gets_the_versions_length() {
    let (version, own) = (noise(20_000, 1), noise(9_000, 2));
    for own_frames in [9_000, 31_000] {
        let own = Audio {
            channels: own
                .channels
                .iter()
                .map(|side| side.iter().copied().cycle().take(own_frames).collect())
                .collect(),
            rate: RATE,
        };
        let beside = Entry {
            beside: true,
            ..Entry::new("rehearsal", &own)
        };
        let html = html(&page(
            vec![beside, Entry::new("as written", &version)],
            bars(&[0], 20_000),
        ))
        .unwrap();
        assert!(shown(&html).contains("your recording"));
        assert!(sounds(&html).iter().all(|sound| sound.len() == 40_000));
    }
}

#[test]
fn what_cannot_be_a_page_is_told() {
    let (audio, silent) = (noise(5_000, 1), Audio::silence(2, 0, RATE));
    let told = |entries: Vec<Entry>, bars: Bars| html(&page(entries, bars)).unwrap_err().to_string();
    assert!(told(vec![], bars(&[0], 1)).contains("0 versions"));
    assert!(told(vec![Entry::new("mute", &silent)], bars(&[0], 1)).contains("\"mute\" has no sound"));
    assert!(told(vec![Entry::new("a", &audio)], bars(&[], 1)).contains("bar"));
    let other = Audio {
        rate: 44_100,
        ..audio.clone()
    };
    let both = vec![Entry::new("a", &audio), Entry::new("b", &other)];
    assert!(told(both, bars(&[0], 1)).contains("44100 Hz"));
}

/// A second of a tone of its own, then silence.
fn tone_over_silence(frames: usize, number: usize) -> Audio {
    let hz = 110.0 * 1.02_f64.powi(number as i32);
    let at = |frame: usize| match frame < RATE as usize {
        true => (0.2 * (std::f64::consts::TAU * hz * frame as f64 / f64::from(RATE)).sin()) as f32,
        false => 0.0,
    };
    let side: Vec<f32> = (0..frames).map(at).collect();
    Audio {
        channels: vec![side.clone(), side],
        rate: RATE,
    }
}

/// Writes two mixes of a demo loop as a page for the test in a browser, and says whether there is one to run it.
#[test]
fn a_page_for_the_browser() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("listening-page");
    let desk = Desk::new();
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio/loops/night-ferry.toml");
    let file = file.to_str().expect("a path of letters");
    let render = |options: &[&str]| {
        let (wav, told) = desk.render_file(file, options);
        let channels = wav.channels.clone();
        (
            Audio {
                channels,
                rate: wav.rate,
            },
            told["lufs"].as_f64().expect("a loudness"),
        )
    };
    let (written, loud) = render(&[]);
    let (forward, forward_loud) = render(&["--mix", "bass forward"]);
    let frames = written.frames();
    let starts: Vec<usize> = (0..8).map(|bar| bar * frames / 8).collect();
    let entry = |name: &str, audio, lufs: f64, setting: Option<&str>| Entry {
        setting: setting.map(String::from),
        moved_db: Some(0.0),
        figures: vec![("loudness".into(), format!("{lufs:.1} LUFS"))],
        ..Entry::new(name, audio)
    };
    let entries = vec![
        entry("as written", &written, loud, None),
        entry(
            "bass forward",
            &forward,
            forward_loud,
            Some("low.gain = 1.5, band.gain = -5"),
        ),
    ];
    write(&folder.join("night-ferry.html"), &page(entries, bars(&starts, frames))).unwrap();
    let (faster, _) = render(&["--set", "loop.tempo=96"]);
    let in_eighths = |frames: usize| bars(&(0..8).map(|bar| bar * frames / 8).collect::<Vec<_>>(), frames);
    let own = in_eighths(faster.frames());
    let tempos = vec![
        Entry::new("as written", &written),
        Entry {
            bars: Some(own),
            ..Entry::new("faster", &faster)
        },
    ];
    write(&folder.join("tempos.html"), &page(tempos, in_eighths(frames))).unwrap();
    // More versions than a browser keeps decoded at once, in a file of bearable size: a tone each over silence.
    let many: Vec<Audio> = (0..65)
        .map(|number| tone_over_silence(27 * RATE as usize, number))
        .collect();
    let numbered = many.iter().enumerate();
    let entries = numbered.map(|(number, audio)| Entry::new(format!("shade {}", number + 1), audio));
    write(
        &folder.join("many.html"),
        &page(entries.collect(), in_eighths(27 * RATE as usize)),
    )
    .unwrap();
    let files = [
        ("as-written", &written),
        ("bass-forward", &forward),
        ("faster", &faster),
    ];
    for (name, audio) in files {
        let bytes = crate::support::wav::float(RATE, &audio.channels);
        std::fs::write(folder.join(format!("{name}.wav")), bytes).unwrap();
    }
    let browser = ["chromium", "chromium-browser", "google-chrome"];
    let path = std::env::var_os("PATH").unwrap_or_default();
    if !std::env::split_paths(&path).any(|folder| browser.iter().any(|name| folder.join(name).exists())) {
        println!("no browser is here: tests/browser/run installs one and tries the page in it");
    }
}
