//! What a lesson plays: all of a loop or a form at several tempos, each part with and without the others, and what counts in.

use super::{Options, Plays, Project};
use crate::base::audio::{Audio, gain_of_db, peak};
use crate::export::credits::Cast;
use crate::kit::Kit;
use crate::loopfile::{Ending, Exact, Loop, Part, Time};
use crate::render::{Order, Rendered};
use crate::render_cache::RenderCache;
use crate::schema::STAND_IN;
use crate::text::Problems;

/// The tempos of all of it, in percent of the written one.
const TEMPOS: [u32; 3] = [100, 85, 70];
/// Pieces that may count in, the first that a kit has: short, and easily told from the music [practice].
const COUNTS: [&str; 6] = [
    "side-stick",
    "claves",
    "woodblock-high",
    "hat-closed",
    "hat-pedal",
    "cowbell",
];
/// The most dB by which a part alone is raised to be as loud as all of it.
const HIGHEST_RAISE: f64 = 12.0;
/// How far the peak of the count's accent lies under that of the music, and that of its other beats under the accent, in dB.
const COUNT_BELOW: (f64, f64) = (6.0, 3.0);
/// Seconds in which a count fades where the next one begins.
const FADE: f64 = 0.005;

/// One sound of a lesson.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Take {
    /// All of it, at so many percent of its tempo.
    Whole(u32),
    /// A part or a bus alone.
    Alone(String),
    /// All but a part or a bus.
    Without(String),
}

/// The sounds of a lesson, ready to be rendered: all of it first.
pub(crate) struct Lesson {
    pub takes: Vec<(Take, Project)>,
    count: Count,
}

/// What counts in.
struct Count {
    /// The piece; none for a tone of our own.
    piece: Option<&'static str>,
    project: Project,
}

/// How loud all of a lesson is, which its other sounds are brought to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Aim {
    lufs: Option<f64>,
    peak_db: Option<f64>,
}

impl Project {
    /// Its lesson. What repeats rings out instead, since each sound has a beginning and an end.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub(crate) fn lesson(&self) -> Result<Lesson, Problems> {
        let mut base = self.options.clone();
        if self.ending() == Ending::Repeat {
            base = base.ending(Ending::LetRing);
        }
        let whole = |percent: u32| (Take::Whole(percent), base.clone().at_tempo(f64::from(percent) / 100.0));
        let mut asked: Vec<(Take, Options)> = TEMPOS.into_iter().map(whole).collect();
        for name in self.learnt() {
            asked.push((Take::Alone(name.clone()), base.clone().alone(&name)));
            asked.push((Take::Without(name.clone()), base.clone().without([name])));
        }
        let open = |(take, options)| Ok::<_, Problems>((take, self.reopened(options)?));
        Ok(Lesson {
            takes: asked.into_iter().map(open).collect::<Result<_, _>>()?,
            count: self.count()?,
        })
    }

    /// The same file with other changes, on the kits that are open already.
    fn reopened(&self, options: Options) -> Result<Project, Problems> {
        if options.substitutes {
            return options.open();
        }
        let mut kits = self.loops().into_iter().map(|(_, kit)| kit.clone());
        options.open_on(&mut |folders, swaps, _| kits.next().map_or_else(|| Kit::open(folders, swaps), Ok))
    }

    /// The names of what can be learnt by itself: buses of several parts, then parts that play. None where there is one alone.
    fn learnt(&self) -> Vec<String> {
        let (mut buses, mut names): (Vec<String>, Vec<String>) = Default::default();
        let add = |list: &mut Vec<String>, name: &String| {
            if !list.contains(name) {
                list.push(name.clone());
            }
        };
        for (song, _) in self.loops() {
            let heard = song.heard();
            let plays =
                |(number, part): &(usize, &Part)| heard.parts[*number] && !part.double && !part.strokes.is_empty();
            let parts: Vec<&Part> = song
                .parts
                .iter()
                .enumerate()
                .filter(plays)
                .map(|(_, part)| part)
                .collect();
            for (number, bus) in song.buses.iter().enumerate() {
                let members = parts.iter().filter(|part| goes_through(song, part, number)).count();
                if members > 1 && members < parts.len() {
                    add(&mut buses, &bus.name);
                }
            }
            parts.iter().for_each(|part| add(&mut names, &part.name));
        }
        match names.len() {
            0 | 1 => Vec::new(),
            _ => buses.into_iter().chain(names).collect(),
        }
    }

    /// What counts in: a piece of the first kit, else a short high tone.
    fn count(&self) -> Result<Count, Problems> {
        let (song, kit) = self.loops()[0];
        let text = |part: &str| {
            format!(
                "[loop]\ntempo = 120\nbars = 1\nending = \"damp\"\n[master]\nceiling = \"off\"\n[[part]]\nname = \"count\"\n{part}\n"
            )
        };
        let options = |part: String| Options::new("count-in".into()).text(text(&part));
        for piece in COUNTS.into_iter().filter(|piece| kit.index().find(piece).is_some()) {
            let plays = options(format!("piece = \"{piece}\"\nhits = \"X---\""));
            let own = plays.open_on(&mut |_, swaps, pieces| Kit::open_for(&song.kits, swaps, pieces.unwrap_or(&[])));
            if let Ok(project) = own {
                return Ok(Count {
                    piece: Some(piece),
                    project,
                });
            }
        }
        let click = format!("piece = \"{STAND_IN}\"\nnotes = \"C6 - - -\"\nenvelope = {{ decay = 60 }}");
        Ok(Count {
            piece: None,
            project: options(click).open()?,
        })
    }

    /// Everything before its first sound, in whole notes: a bar, and what its pickup leaves of another.
    fn counted(&self, order: &Order) -> Exact {
        let bar = self.first().time.bar();
        let pickup = match &self.plays {
            Plays::Form(form, _) if order.bars.is_none() => form.pickup,
            _ => None,
        };
        bar + pickup.map_or(Exact::from_integer(0), |pickup| bar - pickup)
    }
}

/// True for a part that goes through a bus, by whatever others.
fn goes_through(song: &Loop, part: &Part, bus: usize) -> bool {
    std::iter::successors(part.bus, |bus| song.buses[*bus].bus).any(|through| through == bus)
}

/// What is counted of a metre, in whole notes: what the tempo counts where it divides the bar, else the metre's lower figure.
fn beat(time: &Time) -> Exact {
    match (time.bar() / time.beat).is_integer() {
        true => time.beat,
        false => Exact::new(1, time.unit.into()),
    }
}

impl Lesson {
    /// What counts in, in words.
    pub(crate) fn count_words(&self) -> String {
        format!("one bar of counts on {}", self.count.piece.unwrap_or("a short tone"))
    }

    /// Everything that sounds in it, the count too.
    pub(crate) fn cast(&self, order: &Order) -> Result<Cast, Problems> {
        let mut cast = self.takes[0].1.cast(order)?;
        for (credit, role) in self.count.project.cast(&Order::default())? {
            let known = cast.entry(credit).or_default();
            for (piece, hits) in role.hits {
                *known.hits.entry(piece).or_default() += hits;
            }
        }
        Ok(cast)
    }

    /// Renders the sound of a number, counted in, and how loud it is before that. The first aims at nothing; what comes of it is
    /// what the others aim at.
    pub(crate) fn render(
        &self,
        number: usize,
        order: &Order,
        cache: &RenderCache,
        aim: Option<Aim>,
    ) -> Result<(Audio, Aim), Problems> {
        let project = &self.takes[number].1;
        let finished = project.render_sharing(order, Some(&cache.queued(number)), &|_| ())?;
        let own = Aim {
            lufs: finished.lufs,
            peak_db: finished.true_peak_db,
        };
        let gain = aim.map_or(0.0, |aim| self.gain_db(&finished, aim));
        let mut audio = finished.audio;
        scale(&mut audio, gain);
        let count = self.counts(project, order, aim.unwrap_or(own), audio.channels.len())?;
        for (side, counts) in audio.channels.iter_mut().zip(count.channels) {
            side.splice(0..0, counts);
        }
        Ok((audio, own))
    }

    /// What brings a sound to the loudness of all of it, under the ceiling.
    fn gain_db(&self, own: &Rendered, aim: Aim) -> f64 {
        let (Some(lufs), Some(wanted), Some(peak)) = (own.lufs, aim.lufs, own.true_peak_db) else {
            return 0.0;
        };
        let master = match &self.takes[0].1.plays {
            Plays::Loop(song, _) => &song.master,
            Plays::Form(form, _) => &form.master,
        };
        // What is above its ceiling already stays where it is.
        let room = (master.ceiling_db.unwrap_or(0.0) - peak).max(0.0);
        (wanted - lufs).min(room).min(HIGHEST_RAISE)
    }

    /// The counts before a take: beats of its tempo, the first of a bar louder.
    fn counts(&self, project: &Project, order: &Order, aim: Aim, sides: usize) -> Result<Audio, Problems> {
        let rate = f64::from(order.rate);
        let one = Order {
            rate: order.rate,
            ..Order::default()
        };
        let struck = self.count.project.render(&one)?.audio;
        let time = &project.first().time;
        let (counted, beat) = (project.counted(order), beat(time));
        let frame = |whole_notes: Exact| (time.seconds(whole_notes) * rate).round() as usize;
        let mut channels = vec![vec![0.0f32; frame(counted)]; sides];
        let loudest = f64::from(peak(&struck.channels)).max(1e-9);
        let accent = gain_of_db(aim.peak_db.unwrap_or(0.0).min(0.0) - COUNT_BELOW.0) / loudest;
        // Beats stand on those of the bar: the last one ends where the music, or its pickup's bar, would begin.
        let mut at = Exact::from_integer(0);
        while at < counted {
            let first = (at / time.bar()).is_integer();
            let gain = if first {
                accent
            } else {
                accent * gain_of_db(-COUNT_BELOW.1)
            };
            let (from, to) = (frame(at), frame((at + beat).min(counted)));
            for (number, side) in channels.iter_mut().enumerate() {
                let sound = &struck.channels[number % struck.channels.len()];
                count(&mut side[from..to], sound, gain, (FADE * rate) as usize);
            }
            at += beat;
        }
        Ok(Audio {
            rate: order.rate,
            channels,
        })
    }
}

/// Puts a count into the time of its beat, faded where it is longer.
fn count(place: &mut [f32], sound: &[f32], gain: f64, fade: usize) {
    let frames = place.len();
    for (n, (sample, sound)) in place.iter_mut().zip(sound).enumerate() {
        let left = ((frames - n) as f64 / fade.max(1) as f64).min(1.0);
        *sample = (f64::from(*sound) * gain * left) as f32;
    }
}

fn scale(audio: &mut Audio, gain_db: f64) {
    if gain_db != 0.0 {
        let gain = gain_of_db(gain_db) as f32;
        let samples = audio.channels.iter_mut().flatten();
        samples.for_each(|sample| *sample *= gain);
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    /// What the sounds of a lesson from one to before another make by way of one cache.
    fn made(lesson: &Lesson, numbers: std::ops::Range<usize>) -> std::collections::BTreeMap<&'static str, usize> {
        let cache = RenderCache::default();
        let order = Order {
            rate: 16_000,
            ..Order::default()
        };
        for number in numbers {
            let project = &lesson.takes[number].1;
            let finished = project.render_sharing(&order, Some(&cache), &|_| ());
            finished.expect("it renders");
        }
        cache.made()
    }

    #[test]
    fn parts_alone_and_left_out_share_what_they_have_in_common() {
        let kit = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio");
        let text = format!(
            "[loop]\ntempo = 97.3\nbars = 2\nkit = '{}'\n[tab]\n\"all\" = \"\"\"\nkick X--- --x-\nsnare ---- X--g\nhat-closed x-x- x-x-\n\
             shaker xxxx xxxx\n\"\"\"\n[[part]]\nname = \"snare\"\nbus = \"drums\"\nroom = -8\n[[part]]\nname = \"kick\"\nbus = \"drums\"\n\
             [[bus]]\nname = \"drums\"\ncompress = {{ threshold = -20, ratio = 3 }}\n[room]\ndecay = 0.5\n",
            kit.display()
        );
        let project = Project::options("loop.toml").text(text).open().expect("it opens");
        let lesson = project.lesson().expect("a lesson");
        let takes: Vec<&Take> = lesson.takes.iter().map(|(take, _)| take).collect();
        assert_eq!(takes[..3], [&Take::Whole(100), &Take::Whole(85), &Take::Whole(70)]);
        assert_eq!(
            takes[3..5],
            [&Take::Alone("drums".into()), &Take::Without("drums".into())]
        );
        assert_eq!(takes.len(), 3 + 2 * 5);
        let (one, three, all) = (made(&lesson, 0..1), made(&lesson, 0..3), made(&lesson, 0..takes.len()));
        // Recordings are opened once. Ten sounds more at the written tempo run fewer strips than three renders of their own.
        assert_eq!(all["recordings"], one["recordings"], "{all:?}");
        assert_eq!(three["strips"], 3 * one["strips"], "{three:?}");
        assert!(all["strips"] < three["strips"] + 3 * one["strips"], "{one:?} {all:?}");
        assert!(all["answers"] <= three["answers"] + 1, "{all:?}");
    }
}
