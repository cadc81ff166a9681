//! A loop that is watched: the binary at work, what it says, and how a person's programs save files.

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use super::Desk;

/// Nothing takes longer, however busy the machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// `pressroll watch` in a desk's folder.
pub struct Watched {
    child: Child,
    out: Receiver<String>,
    err: Receiver<String>,
}

impl Watched {
    /// Begins to watch.
    pub fn new(desk: &Desk, arguments: &[&str]) -> Watched {
        let mut child = Command::new(env!("CARGO_BIN_EXE_pressroll"))
            .arg("watch")
            .args(arguments)
            .env("XDG_CACHE_HOME", desk.cache())
            .env("NO_COLOR", "1")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .current_dir(desk.path("."))
            .spawn()
            .expect("the binary runs");
        let out = heard(child.stdout.take().expect("a pipe"));
        let err = heard(child.stderr.take().expect("a pipe"));
        Watched { child, out, err }
    }

    /// The next line that it says of its renders.
    #[track_caller]
    pub fn line(&mut self) -> String {
        match self.out.recv_timeout(PATIENCE) {
            Ok(line) => line,
            Err(_) => panic!(
                "it says nothing; of errors it said {:?}",
                self.err.try_iter().collect::<Vec<_>>()
            ),
        }
    }

    /// What it says is wrong, up to a line that has some words in it.
    #[track_caller]
    pub fn wrong(&mut self, words: &str) -> String {
        let mut said = String::new();
        loop {
            let line = self.err.recv_timeout(PATIENCE);
            let line = line.unwrap_or_else(|_| panic!("it does not say `{words}`, but {said}"));
            said.push_str(&line);
            said.push('\n');
            if line.contains(words) {
                return said;
            }
        }
    }

    /// What it says of its renders within some time, or of what is wrong.
    pub fn says_within(&mut self, time: Duration) -> Vec<String> {
        let until = Instant::now() + time;
        let mut said = Vec::new();
        loop {
            match self.out.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(line) => said.push(line),
                Err(RecvTimeoutError::Timeout) => break,
                Err(RecvTimeoutError::Disconnected) => panic!("it has ended"),
            }
        }
        said.extend(self.err.try_iter());
        said
    }

    /// Ends it as the person does, by a signal's name, and gives its exit code.
    pub fn end(&mut self, signal: &str) -> Option<i32> {
        let sent = Command::new("kill")
            .args([&format!("-{signal}"), &self.child.id().to_string()])
            .status();
        assert!(sent.expect("signals can be sent").success());
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            if let Some(status) = self.child.try_wait().expect("it can be waited for") {
                return status.code();
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        panic!("it does not end");
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn heard(pipe: impl Read + Send + 'static) -> Receiver<String> {
    let (tell, heard) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(pipe).lines().map_while(Result::ok) {
            if tell.send(line).is_err() {
                break;
            }
        }
    });
    heard
}

impl Desk {
    /// Saves as many editors do: beside the file, then renamed into its place.
    pub fn save_by_rename(&self, name: &str, text: impl AsRef<[u8]>) {
        let beside = self.write(&format!("{name}.new~"), text);
        std::fs::rename(beside, self.path(name)).expect("a file is renamed");
    }

    /// Saves as some editors do: the old file is moved away, and a new one written piece by piece.
    pub fn save_by_backup(&self, name: &str, text: &[u8]) {
        use std::io::Write;
        std::fs::rename(self.path(name), self.path(&format!("{name}~"))).expect("a file is renamed");
        let mut file = std::fs::File::create(self.path(name)).expect("a file is made");
        for piece in text.chunks(text.len() / 4 + 1) {
            file.write_all(piece).expect("a file is written");
        }
    }
}
