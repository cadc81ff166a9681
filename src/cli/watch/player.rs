//! The newest render, played on and on through the system's player.

use std::path::PathBuf;
use std::process::Child;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::base::audio::Audio;
use crate::cli::messages;
use crate::cli::player::{GLANCE, Player, end, lengthen};
use crate::export;
use crate::export::bars::Bars;
use crate::files::plainly;
use crate::text::{Problem, Problems};
use crate::wav::{Coding, Tags};

/// A bar that is nearer than this is too near to change at: the file is yet to be written, and the player to be started.
const READY: Duration = Duration::from_millis(400);

/// A render to be played.
pub(super) struct Render {
    /// Its audio.
    pub audio: Audio,
    /// Where its bars lie.
    pub bars: Bars,
    /// True where it repeats.
    pub repeats: bool,
}

/// A player at work, and who hands it renders.
pub(super) struct WatchPlayer {
    renders: Sender<Render>,
    stopped: Arc<AtomicBool>,
    turning: JoinHandle<()>,
}

impl WatchPlayer {
    /// A deck on which nothing lies yet.
    ///
    /// # Errors
    /// A system without a player; no temporary folder.
    pub(super) fn new(asked: Option<&str>, rate: u32) -> Result<WatchPlayer, Problems> {
        match (cfg!(feature = "sound"), asked) {
            (true, None) => WatchPlayer::sounding(rate),
            _ => WatchPlayer::playing(asked),
        }
    }

    /// One that sounds by itself: each render takes over at the next bar, to the frame.
    #[cfg(feature = "sound")]
    fn sounding(rate: u32) -> Result<WatchPlayer, Problems> {
        use crate::device::{Output, Record};
        // A device belongs to the thread that opened it, on some systems.
        let (opened, answer) = channel();
        let (renders, coming) = channel::<Render>();
        let stopped = Arc::new(AtomicBool::new(false));
        let flag = stopped.clone();
        let turning = thread::spawn(move || {
            let output = match Output::open(rate) {
                Ok(output) => output,
                Err(problem) => return drop(opened.send(Err(problem))),
            };
            let _ = opened.send(Ok(()));
            while !flag.load(Ordering::SeqCst) {
                let Ok(render) = coming.recv_timeout(GLANCE) else {
                    continue;
                };
                output.put(Record {
                    audio: render.audio.into(),
                    bars: render.bars.bars.iter().map(|bar| bar.start).collect(),
                });
            }
        });
        answer.recv().map_err(|_| Problem::new("the sound device is gone"))??;
        Ok(WatchPlayer {
            renders,
            stopped,
            turning,
        })
    }

    #[cfg(not(feature = "sound"))]
    fn sounding(_: u32) -> Result<WatchPlayer, Problems> {
        WatchPlayer::playing(None)
    }

    /// One that hands files to a player.
    fn playing(asked: Option<&str>) -> Result<WatchPlayer, Problems> {
        let player = Player::find(asked)?;
        let folder = tempfile::tempdir()
            .map_err(|error| Problem::new(format!("no temporary folder can be made: {}", plainly(&error))))?;
        let (renders, coming) = channel();
        let stopped = Arc::new(AtomicBool::new(false));
        let flag = stopped.clone();
        let turning = thread::spawn(move || {
            let mut hands = Hands {
                player,
                folder,
                stopped: flag,
                written: 0,
                playing: None,
            };
            if let Err(problem) = hands.turn(&coming) {
                messages::report_problems(&problem.into());
            }
            hands
                .playing
                .iter_mut()
                .for_each(|playing| drop(end(&mut playing.child)));
        });
        Ok(WatchPlayer {
            renders,
            stopped,
            turning,
        })
    }

    /// Whom to hand renders to.
    pub(super) fn renders(&self) -> Sender<Render> {
        self.renders.clone()
    }

    /// Ends the player.
    pub(super) fn stop(self) {
        self.stopped.store(true, Ordering::SeqCst);
        let _ = self.turning.join();
    }
}

/// What plays now.
struct Playing {
    child: Child,
    file: PathBuf,
    since: Instant,
    /// The frame of the render with which the file begins.
    from: usize,
    render: Render,
}

impl Playing {
    /// How long it is to the next bar that can be made ready for, and which that is; none where it does not repeat.
    fn next_bar(&self) -> Option<(Duration, usize)> {
        let (round, rate) = (self.render.audio.frames(), f64::from(self.render.audio.rate));
        if !self.render.repeats || round == 0 {
            return None;
        }
        let at = |frame: usize| frame as f64 / rate;
        let now = (at(self.from) + self.since.elapsed().as_secs_f64()) % at(round);
        let until = |(bar, start): (usize, usize)| {
            let ahead = (at(start) - now - READY.as_secs_f64()).rem_euclid(at(round));
            (Duration::from_secs_f64(ahead + READY.as_secs_f64()), bar)
        };
        let starts = self.render.bars.bars.iter().map(|bar| bar.start);
        starts.enumerate().map(until).min()
    }
}

struct Hands {
    player: Player,
    folder: TempDir,
    stopped: Arc<AtomicBool>,
    written: usize,
    playing: Option<Playing>,
}

impl Hands {
    fn over(&self) -> bool {
        self.stopped.load(Ordering::SeqCst)
    }

    /// Plays what comes until it is stopped.
    fn turn(&mut self, coming: &Receiver<Render>) -> Result<(), Problem> {
        while !self.over() {
            match coming.recv_timeout(GLANCE) {
                Ok(render) => self.change(render)?,
                Err(RecvTimeoutError::Timeout) => self.go_on()?,
                Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        Ok(())
    }

    /// Starts the player again where it has come to the end of its file.
    fn go_on(&mut self) -> Result<(), Problem> {
        let Some(playing) = &mut self.playing else {
            return Ok(());
        };
        match playing.child.try_wait() {
            Ok(None) => {}
            Ok(Some(status)) if status.success() => {
                playing.child = self.player.start(&playing.file)?;
                playing.since = Instant::now();
            }
            _ => {
                // The terminal's Ctrl-C reaches the player as well, which may be gone before the flag is seen.
                thread::sleep(5 * GLANCE);
                if !self.over() {
                    return Err(self.player.unable());
                }
            }
        }
        Ok(())
    }

    /// Lets a render take over at the next bar.
    fn change(&mut self, render: Render) -> Result<(), Problem> {
        let asked = Instant::now();
        let next = self.playing.as_ref().and_then(Playing::next_bar);
        let bars = &render.bars.bars;
        let from = match next {
            Some((_, bar)) if render.repeats && !bars.is_empty() => bars[bar % bars.len()].start,
            _ => 0,
        };
        let mut audio = render.audio.clone();
        if render.repeats {
            audio.channels.iter_mut().for_each(|side| side.rotate_left(from));
            lengthen(&mut audio);
        }
        // The file that plays stays as it is until it is no longer played.
        self.written += 1;
        let file = self.folder.path().join(format!("loop-{}.wav", self.written % 2));
        export::wav::preview(&file, &audio, Coding::Int24, &Tags::default(), 1)?;
        while next.is_some_and(|(wait, _)| asked.elapsed() < wait) && !self.over() {
            thread::sleep(GLANCE / 4);
        }
        if let Some(mut old) = self.playing.take() {
            // One that has ended by itself can't be ended.
            let _ = end(&mut old.child);
        }
        if self.over() {
            return Ok(());
        }
        let child = self.player.start(&file)?;
        self.playing = Some(Playing {
            child,
            file,
            since: Instant::now(),
            from,
            render,
        });
        Ok(())
    }
}
