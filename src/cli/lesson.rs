//! `pressroll chart --lesson`: a folder to learn a loop from, and to play along with.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::options::{Depth, OutputOptions};
use super::progress::Together;
use super::replace::Rule;
use super::{Done, messages, output};
use crate::base::audio::Audio;
use crate::export::lesson::{self, LessonPage, PartSounds, Sound, address};
use crate::export::mark::MADE_BY;
use crate::export::name::safe;
use crate::export::staves::{self, Wish};
use crate::export::{self, write_beside, write_folder};
use crate::notation::Asked;
use crate::project::Project;
use crate::project::lesson::{Aim, Lesson, Take};
use crate::project::side_by_side;
use crate::render::{LONGEST, Order};
use crate::render_cache::{RenderCache, Versions};
use crate::text::{Problem, Problems, count_of, one_line, shown};

const PAGE: &str = "index.html";
const CHART: &str = "chart.txt";
const STAVES: &str = "staves.html";
const AUDIO: &str = "audio";
/// The most sounds of a lesson.
const MOST: usize = 200;
/// The most files of a folder that are looked through before it is replaced.
const MOST_THERE: usize = 2000;

/// What is asked for.
pub(super) struct LessonOrder<'a> {
    /// The loop or form file.
    pub file: &'a Path,
    /// Where it goes, in place of renders/NAME-lesson.
    pub output: Option<&'a Path>,
    /// The chart as plain text.
    pub chart: String,
    /// The bars that are taken alone.
    pub bars: Option<(u32, u32)>,
    /// How samples are stored.
    pub depth: Depth,
    /// True for FLAC in place of WAV.
    pub flac: bool,
    /// What may be written over.
    pub written: &'a OutputOptions,
}

/// Writes a lesson and says where.
pub(super) fn write(project: &Project, asked: &LessonOrder) -> Done {
    let begun = Instant::now();
    if asked.output == Some(Path::new("-")) {
        return Err(Problem::new("a lesson is a folder, which the terminal can't show")
            .help("name a folder with -o")
            .into());
    }
    let lesson = project.lesson()?;
    let count = lesson.takes.len();
    if count > MOST {
        let what = format!("a lesson of this would have {count} sounds; {MOST} are the most");
        return Err(Problem::new(what).help("take some parts or buses with --only").into());
    }
    let order = Order {
        bars: asked.bars,
        ..Order::default()
    };
    let folder = Folder::of(asked, project, &lesson);
    folder.allow(asked, project)?;
    write_folder(&folder.place, |new| {
        folder.fill(new, &lesson, &order, (asked.depth, asked.flac))
    })?;
    let hints = lesson.takes[0].1.notices();
    let said = format!(
        "{}\n  {} in {} s; open {PAGE}, and start with the volume low",
        folder.place.display(),
        count_of(count, "sound"),
        (begun.elapsed().as_secs_f64() * 10.0).round() / 10.0
    );
    let said = output::to_stdout(&said);
    messages::report_hints_once(hints);
    Ok(said?)
}

/// A lesson's folder and what its files are called.
struct Folder {
    place: PathBuf,
    /// What the loop's own files are called.
    stem: String,
    title: String,
    source: String,
    about: Vec<String>,
    chart: String,
    chords: Vec<String>,
    /// The file of each sound, in the folder.
    sounds: Vec<String>,
}

impl Folder {
    fn of(asked: &LessonOrder, project: &Project, lesson: &Lesson) -> Folder {
        let stem = asked.file.file_stem().unwrap_or_default().to_string_lossy();
        let place = Path::new("renders").join(format!("{stem}-lesson"));
        let ending = if asked.flac { "flac" } else { "wav" };
        let sounds = (1..).zip(&lesson.takes).map(|(number, (take, _))| {
            let name = match take {
                Take::Whole(percent) => format!("all {percent} percent"),
                Take::Alone(part) => format!("{part} alone"),
                Take::Without(part) => format!("without {part}"),
            };
            format!("{AUDIO}/{number:02}-{}.{ending}", safe(&name).replace(' ', "-"))
        });
        let bars = asked.bars.unwrap_or((1, project.bars()));
        Folder {
            place: asked.output.map_or(place, Path::to_path_buf),
            stem: safe(&stem),
            title: project.title().into_owned(),
            source: asked
                .file
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned(),
            about: project.about(),
            chart: asked.chart.clone(),
            chords: chords(project, bars),
            sounds: sounds.collect(),
        }
    }

    fn midi(&self) -> String {
        format!("{}.mid", self.stem)
    }

    fn musicxml(&self) -> String {
        format!("{}.musicxml", self.stem)
    }

    fn credits(&self) -> String {
        format!("{}.credits.txt", self.stem)
    }

    /// All files, by their places in the folder.
    fn files(&self) -> Vec<String> {
        let own = [
            PAGE.to_string(),
            CHART.to_string(),
            STAVES.to_string(),
            self.midi(),
            self.musicxml(),
            self.credits(),
        ];
        own.into_iter().chain(self.sounds.iter().cloned()).collect()
    }

    /// Makes sure, before anything is made, that the folder may be written. One that is there is replaced where all that lies in it
    /// is of a lesson: what a person put there would be lost.
    fn allow(&self, asked: &LessonOrder, project: &Project) -> Result<(), Problem> {
        let rule = Rule::new(asked.written.force, "folder with -o").keep(project);
        rule.allow_folder(&self.place)?;
        let new: BTreeSet<PathBuf> = self.files().iter().map(|file| self.place.join(file)).collect();
        rule.allow(&new)?;
        let unforced = Rule::new(false, "folder with -o, or take the file out of this one").keep(project);
        let mut there = Vec::new();
        listed(&self.place, &mut there);
        if there.len() > MOST_THERE {
            let what = format!("{} holds more files than a lesson has", self.place.display());
            return Err(Problem::new(what).help("name another folder with -o"));
        }
        unforced.allow(there.iter().filter(|file| !new.contains(*file)))
    }

    /// Fills a new folder.
    fn fill(&self, new: &Path, lesson: &Lesson, order: &Order, format: (Depth, bool)) -> Result<(), Problems> {
        let whole = &lesson.takes[0].1;
        let lengths = self.write_sounds(new, lesson, order, format)?;
        let (song, _) = whole.midi(order)?;
        export::midi::write(&new.join(self.midi()), &song)?;
        let sheet = whole.sheet(Asked {
            bars: order.bars,
            ..Asked::default()
        });
        export::musicxml::write(&new.join(self.musicxml()), &sheet)?;
        let staves = staves::page(&sheet, &Wish::default())?;
        write_beside(&new.join(STAVES), |out| out.write_all(staves.as_bytes()))?;
        let cast = lesson.cast(order)?;
        export::credits::write(&new.join(self.credits()), &self.title, "this lesson", &cast)?;
        // Its second line is the mark by which it may be replaced.
        let chart = format!(
            "{}\nThe chart of a lesson, rendered by {MADE_BY}\n\n{}\n",
            one_line(&self.title),
            self.chart
        );
        write_beside(&new.join(CHART), |out| out.write_all(chart.as_bytes()))?;
        lesson::write(&new.join(PAGE), &self.page(lesson, &lengths))?;
        Ok(())
    }

    /// Renders and writes every sound, the first before the others, which are brought to its loudness; gives their seconds.
    fn write_sounds(
        &self,
        new: &Path,
        lesson: &Lesson,
        order: &Order,
        (depth, flac): (Depth, bool),
    ) -> Result<Vec<f64>, Problems> {
        let cache = RenderCache::sparing(Versions::OfMany);
        let shown = Together::new(lesson.takes.len());
        let write = |number: usize, (audio, aim): (Audio, Aim)| {
            let project = &lesson.takes[number].1;
            let (coding, seed) = (depth.coding(), project.first().seed);
            let path = new.join(&self.sounds[number]);
            let tags = project.tags(order.bars, None);
            match flac {
                true => export::flac::write(&path, &audio, coding, (&tags, MADE_BY), seed)?,
                false => export::wav::write(&path, &audio, coding, &tags, seed)?,
            }
            shown.show(number, 1.0);
            Ok::<_, Problems>((audio.seconds(), audio.bytes(), aim))
        };
        let (seconds, bytes, aim) = write(0, lesson.render(0, order, &cache, None)?)?;
        if seconds > LONGEST {
            return Err(Problem::new("a lesson's sounds are an hour long at the most").into());
        }
        let others = side_by_side::make(lesson.takes.len() - 1, side_by_side::how_many(bytes), |number| {
            write(number + 1, lesson.render(number + 1, order, &cache, Some(aim))?)
        });
        let others = others.into_iter().map(|made| made.map(|(seconds, ..)| seconds));
        [Ok(seconds)].into_iter().chain(others).collect()
    }

    fn page(&self, lesson: &Lesson, lengths: &[f64]) -> LessonPage {
        let sound = |number: usize, name: String, short: String| Sound {
            name,
            short,
            file: address(&self.sounds[number]),
            length: format!("{}:{:02}", lengths[number] as u64 / 60, lengths[number] as u64 % 60),
        };
        let (mut whole, mut parts): (Vec<Sound>, Vec<PartSounds>) = Default::default();
        for (number, (take, _)) in lesson.takes.iter().enumerate() {
            match take {
                Take::Whole(percent) => {
                    let speed = match percent {
                        100 => "full speed".to_string(),
                        percent => format!("{percent} percent of the tempo"),
                    };
                    whole.push(sound(number, format!("All parts at {speed}"), speed));
                }
                Take::Alone(name) => parts.push(PartSounds {
                    name: name.clone(),
                    alone: sound(number, format!("{name} alone"), "alone".to_string()),
                    without: Sound::default(),
                }),
                Take::Without(name) => {
                    if let Some(part) = parts.last_mut() {
                        part.without = sound(number, format!("All parts without {name}"), "without it".to_string());
                    }
                }
            }
        }
        let files = [
            ("Staves on a page that prints", STAVES.to_string()),
            ("The chart as text", CHART.to_string()),
            ("The notes as MIDI", self.midi()),
            ("The staves for notation programs, as MusicXML", self.musicxml()),
            ("Whose sounds these are", self.credits()),
        ];
        LessonPage {
            title: self.title.clone(),
            source: self.source.clone(),
            about: self.about.clone(),
            count_in: lesson.count_words(),
            whole,
            parts,
            chart: self.chart.clone(),
            chords: self.chords.clone(),
            files: files.map(|(what, file)| (what.to_string(), address(&file))).to_vec(),
        }
    }
}

/// The files of a folder and of those in it.
fn listed(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        if files.len() > MOST_THERE {
            return;
        }
        match entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            true => listed(&entry.path(), files),
            false => files.push(entry.path()),
        }
    }
}

/// The chords of a loop's bars in words, bar by bar where they change; none for a form, whose chart names each section's.
fn chords(project: &Project, (first, last): (u32, u32)) -> Vec<String> {
    let [(song, _)] = project.loops()[..] else {
        return Vec::new();
    };
    let mut bars: Vec<(u32, Vec<String>)> = Vec::new();
    for change in &song.chords {
        let bar = change.at.floor().to_integer() as u32 + 1;
        let symbol = match &change.chord {
            Some(chord) => chord.symbol.clone(),
            None if change.silence => "no chord".to_string(),
            None => continue,
        };
        match bars.last_mut() {
            Some((known, symbols)) if *known == bar => symbols.push(symbol),
            _ => bars.push((bar, vec![symbol])),
        }
    }
    let within = bars.into_iter().filter(|(bar, _)| (first..=last).contains(bar));
    within
        .map(|(bar, symbols)| format!("Bar {bar}: {}", shown(&symbols.join(", "))))
        .collect()
}
