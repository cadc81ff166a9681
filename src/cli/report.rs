//! What reports of several commands have in common.

use std::path::Path;

use super::messages;
use crate::base::audio::db_of_gain;
use crate::kit;
use crate::measure::Figures;
use crate::text::shown_path;

/// Programmes shorter than this say little about loudness range (EBU Tech 3342), in seconds.
const RANGE_NEEDS: f64 = 60.0;

/// A figure with one decimal, a dash where there is none.
pub(super) fn number_of(figure: Option<f64>) -> String {
    // Nothing is -0.0.
    figure.map_or("-".into(), |figure| {
        format!("{:.1}", (10.0 * figure).round() / 10.0 + 0.0)
    })
}

/// Octaves in dB and a loudness in LUFS, both before level matching.
pub(super) type Octaves = ([Option<f64>; 10], Option<f64>);

/// A version's octaves as they are to be read: by how much each differs from the first version's at equal loudness. The first
/// version's own, which is compared with none, are as they are.
pub(super) fn octaves_of((own, loudness): &Octaves, first: Option<&Octaves>) -> Vec<String> {
    let Some((of_first, loudness_of_first)) = first else {
        return own.iter().map(|octave| number_of(*octave)).collect();
    };
    let louder = loudness.zip(*loudness_of_first);
    let louder = louder.map_or(0.0, |(own, first)| own - first);
    let cell = |(octave, of_first): (&Option<f64>, &Option<f64>)| match (octave, of_first) {
        (Some(octave), Some(of_first)) => signed(octave - of_first - louder),
        _ => "-".into(),
    };
    own.iter().zip(of_first).map(cell).collect()
}

fn signed(figure: f64) -> String {
    format!("{:+.1}", (10.0 * figure).round() / 10.0 + 0.0)
}

/// A peak's amplitude in dBFS; none for silence.
pub(super) fn peak_db(peak: f32) -> Option<f64> {
    (peak > 0.0).then(|| db_of_gain(peak.into()))
}

/// The line under a table in which a loudness range says little; nothing where none does.
pub(super) fn range_note<'a>(mut figures: impl Iterator<Item = &'a Figures>) -> &'static str {
    match figures.any(|figures| figures.lra.is_some() && figures.seconds < RANGE_NEEDS) {
        true => "Loudness range is unreliable under 60 s.\n",
        false => "",
    }
}

/// The last lines of a report on versions: the listening page or what stands in its place, the folder, and how long both took.
pub(super) fn ending(
    (page, page_seconds): (Option<&Path>, f64),
    without_page: &str,
    (folder, seconds): (&Path, f64),
) -> String {
    let page = match page {
        Some(path) => format!("{} · {page_seconds:.2} s for the page\n", shown_path(path)),
        None => without_page.to_string(),
    };
    let listening = messages::listening(kit::listened()).map_or(String::new(), |line| format!("\n{line}"));
    let folder = shown_path(folder);
    format!("{page}{folder} and a WAV each · {seconds:.2} s{listening}")
}
