//! A reader of README or of the manual, who does what the text asks: every file and every command in it, in order, in a folder
//! that holds some one-shots in `my-shots`.
//!
//! A command may name what the person fills in (LOOP, FOLDER); it gets what the text has written so far. `cargo` is left to
//! whoever checks changes. `watch` is ended after its first render; `play` finds no player here, and must say so.

use std::path::Path;

use super::Desk;
use super::watched::Watched;

/// The loop to which blocks without a file's name are added.
pub const LOOP: &str = "first.toml";

/// The list of a catalogue.
const CATALOGUE: &str = "catalogue.toml";

/// Who reads, and what came of it.
pub struct Reader {
    pub desk: Desk,
    /// The files that the text had them write.
    pub files: Vec<String>,
    /// The commands that it had them type.
    pub ran: Vec<String>,
}

/// What a text asks its reader to do.
#[derive(Debug)]
enum Step {
    /// Put a text into a file, [`LOOP`] where none is named: at its end where it is there.
    Write(String, String),
    /// Type a command.
    Type(String),
}

impl Reader {
    /// A reader with one-shots, a performance, a drummer's and a finished recording.
    pub fn new() -> Reader {
        let desk = Desk::new();
        for name in [
            "kick_01",
            "snare_01",
            "snare_02",
            "hat-closed_01",
            "hat-closed_02",
            "hat-open_01",
        ] {
            let name = format!("{name}.wav");
            desk.write(&format!("my-shots/{name}"), demo(&name));
        }
        perform(&desk);
        for name in ["ines", "tove"] {
            desk.write(&format!("{name}.json"), answers(name));
        }
        Reader {
            desk,
            files: Vec::new(),
            ran: Vec::new(),
        }
    }

    /// Does all that a text asks, and renders at last what was written.
    pub fn follow(&mut self, text: &str) {
        for step in steps(text) {
            match step {
                Step::Write(name, text) => self.write(name, &text),
                Step::Type(command) => self.run(command),
            }
        }
        let other = |file: &&String| !file.ends_with("kit.toml") && *file != CATALOGUE;
        for file in self.files.iter().filter(other) {
            self.desk.run(&["render", file]).assert_done();
        }
    }

    fn write(&mut self, name: String, text: &str) {
        let before = match self.files.contains(&name) {
            true => std::fs::read_to_string(self.desk.path(&name)).expect("a file to add to"),
            false => String::new(),
        };
        self.desk.write(&name, before + text);
        let answer = match name.strip_suffix("/kit.toml") {
            Some(kit) => self.desk.run(&["kit", kit]),
            None if name == CATALOGUE => self.desk.run(&["catalogue", &name, "--dry"]),
            None => self.desk.run(&["check", &name]),
        };
        assert_eq!(answer.code, Some(0), "{name} with\n{text}\n{}", answer.err);
        if !self.files.contains(&name) {
            self.files.push(name);
        }
    }

    /// Types a command that was not typed before.
    fn run(&mut self, command: String) {
        if self.ran.contains(&command) {
            return;
        }
        let desk = &self.desk;
        let mut words = words(&command);
        let into = words.iter().position(|word| word == ">").map(|at| words.split_off(at));
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        match words[0] {
            "watch" => {
                let mut watched = Watched::new(desk, &words[1..]);
                while !watched.line().contains("LUFS") {}
            }
            "play" => {
                let answer = desk.run_in(&desk.path("."), &[("PATH", "")], &words);
                assert_eq!(answer.code, Some(1), "{command}: {}", answer.err);
                assert!(answer.err.contains("no player was found"), "{command}: {}", answer.err);
            }
            _ => {
                let answer = desk.run(&words);
                assert_eq!(answer.code, Some(0), "{command}: {}", answer.err);
                if let Some([_, file]) = into.as_deref() {
                    desk.write(file, &answer.out);
                }
            }
        }
        self.ran.push(command);
    }
}

/// A file of the demo kit.
pub fn demo(name: &str) -> Vec<u8> {
    let kit = Path::new(env!("CARGO_MANIFEST_DIR")).join("kits/harbour-studio");
    std::fs::read(kit.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// A performance, a drummer's, and a finished recording.
fn perform(desk: &Desk) {
    let text = "[loop]\nkit = \"my-shots\"\ntempo = 96\nbars = 1\n[tab]\nall = \"\"\"\nkick x--- x---\nsnare --x- --x-\"\"\"\n\
                [[part]]\nname = \"tune\"\npiece = \"stand-in\"\nnotes = \"G4 Bb4\"\n";
    let other = Desk::new();
    desk.write("played-before.toml", text);
    let out = other.path("take.wav");
    let out = out.to_string_lossy();
    desk.run(&["render", "played-before.toml", "--midi", "-o", &out])
        .assert_done();
    for (from, to) in [
        ("mid", "take.mid"),
        ("mid", "drummer.mid"),
        ("wav", "my-last-single.wav"),
    ] {
        let bytes = std::fs::read(other.path(&format!("take.{from}"))).expect("what was rendered");
        desk.write(to, bytes);
    }
    std::fs::remove_file(desk.path("played-before.toml")).expect("a file to take away");
}

/// What a listener answered on a page: one round of whether two versions are the same.
fn answers(name: &str) -> String {
    let versions = "[{\"name\": \"as written\", \"setting\": null}, {\"name\": \"harder\", \"setting\": null}]";
    let page = format!("{{\"title\": \"First\", \"identity\": \"3f2a\", \"versions\": {versions}}}");
    let round = "{\"round\": 1, \"a\": 1, \"b\": 1, \"answer\": \"same\", \"guess\": \"same\", \"correct\": true, \"seconds\": 4}";
    let test = format!(
        "{{\"id\": \"{name}\", \"kind\": \"same\", \"versions\": [1, 2], \"rounds_set\": 1, \"complete\": true, \"rounds\": [{round}]}}"
    );
    format!("{{\"pressroll_results\": 1, \"page\": {page}, \"listener\": \"{name}\", \"tests\": [{test}]}}")
}

/// Files and commands in the order of a text.
fn steps(text: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut prose = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        let Some(kind) = line.strip_prefix("```") else {
            prose.push_str(line);
            prose.push('\n');
            continue;
        };
        let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        let code = in_code(&prose);
        // The name stands in the sentence that leads to the block.
        let leads = prose.trim_end().rsplit("\n\n").next().unwrap_or("");
        let named = in_code(leads)
            .into_iter()
            .find(|code| code.ends_with(".toml") && !code.contains(' '));
        steps.extend(code.into_iter().filter_map(typed));
        prose.clear();
        match kind {
            "toml" => steps.push(Step::Write(
                named.unwrap_or_else(|| LOOP.into()),
                block.join("\n") + "\n",
            )),
            "sh" => steps.extend(block.iter().filter_map(|line| typed(line.to_string()))),
            _ => {}
        }
    }
    steps.extend(in_code(&prose).into_iter().filter_map(typed));
    steps
}

/// What stands between backticks.
fn in_code(prose: &str) -> Vec<String> {
    let odd = prose.split('`').skip(1).step_by(2);
    odd.map(|code| code.replace('\n', " ")).collect()
}

/// A command; settings by themselves are tried on the loop.
fn typed(code: String) -> Option<Step> {
    let command = code.split(" #").next().unwrap_or("").trim();
    if command.starts_with("--set ") {
        return Some(Step::Type(format!("pressroll check {LOOP} {command}")));
    }
    // What pressroll writes into files begins so too, but goes on with no command.
    let own = command.strip_prefix("pressroll ");
    let own = own.is_some_and(|words| words.starts_with(|letter: char| letter.is_ascii_lowercase()));
    own.then(|| Step::Type(command.to_string()))
}

/// The words of a command as a shell cuts them, with something for each word that stands for what the person fills in.
fn words(command: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
    for letter in command.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(std::mem::take(&mut word)),
            letter => word.push(letter),
        }
    }
    words.push(word);
    words.retain(|word| !word.is_empty() && word != "[KEY]");
    let begins = words[1] == "start";
    let filled = words.into_iter().skip(1).map(|word| match word.as_str() {
        "LOOP" => LOOP.into(),
        "FOLDER" if begins => "another".into(),
        "FOLDER" => "my-shots".into(),
        "PIECE" => "snare".into(),
        "KEY" => "G minor".into(),
        "KEY=VALUE" => "snare.gain=-3".into(),
        "RESULTS…" => "ines.json".into(),
        "FILE…" => "my-last-single.wav".into(),
        _ => word,
    });
    filled.collect()
}
