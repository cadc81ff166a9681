//! Small loops out of bytes: every byte chooses something, so that near bytes make near loops.

/// A plain loop that forms can string together.
pub const PART: &str = "loop = { tempo = 140, bars = 1 }\ntab = { all = \"kick x-x-\" }\n";

/// Gives out choices, zeros when the bytes are used up.
struct Choices<'a>(std::slice::Iter<'a, u8>);

impl Choices<'_> {
    fn byte(&mut self) -> u8 {
        self.0.next().copied().unwrap_or(0)
    }

    fn one<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[usize::from(self.byte()) % of.len()]
    }

    /// A number from a least to a greatest one, in 256 steps.
    fn number(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * f64::from(self.byte()) / 255.0
    }

    fn word(&mut self, letters: &[&str], most: u8) -> String {
        let count = 1 + self.byte() % most;
        (0..count).map(|_| self.one(letters)).collect::<Vec<_>>().concat()
    }
}

/// Marks that every part has.
const MARKS: [&str; 22] = [
    "-", "-", "-", "x", "x", "X", "g", "3", "9", "f", "F", "d", "D", "r", "R", "b", "B", "m", "-", "x", "-", "r",
];

/// A loop file of one or two bars and up to four parts, in which most settings come by.
pub fn text(bytes: &[u8]) -> String {
    let mut choose = Choices(bytes.iter());
    let metre = choose.one(&["4/4", "4/4", "3/4", "6/8", "5/4", "7/8"]);
    let mut page = format!(
        "[loop]\ntempo = {:.2}\nbars = {}\nmetre = \"{metre}\"\nseed = {}\nending = \"{}\"\nkey = \"A minor\"\n",
        choose.number(90.0, 300.0),
        1 + choose.byte() % 2,
        choose.byte(),
        choose.one(&["repeat", "let ring", "damp"]),
    );
    page += &format!(
        "[feel]\nswing = {:.1}\nloose = {{ ms = {:.1}, velocity = {:.1}, together = {:.2} }}\n[chords]\nall = \"{}\"\n",
        choose.number(50.0, 75.0),
        choose.number(0.0, 12.0),
        choose.number(0.0, 12.0),
        choose.number(0.0, 1.0),
        choose.one(&["Am7", "Am7 D7", "Fmaj7 E7b9", "Dm9", "N.C. Am"]),
    );
    for number in 0..1 + choose.byte() % 4 {
        page += &part(&mut choose, number);
    }
    page += &format!(
        "[[bus]]\nname = \"drums\"\ndrive = {:.1}\n{}[room]\nsize = {:.1}\ndecay = {:.2}\ndamping = {:.2}\n[delay]\ntime = \"{}\"\nfeedback = {:.0}\ncross = {}\n[master]\n{}",
        choose.number(0.0, 12.0),
        effect(&mut choose),
        choose.number(2.0, 30.0),
        choose.number(0.1, 2.0),
        choose.number(0.0, 1.0),
        choose.one(&["1/8 dotted", "1/16", "1/8 triplet", "35 ms", "1/2"]),
        choose.number(0.0, 98.0),
        choose.byte().is_multiple_of(2),
        effect(&mut choose),
    );
    page
}

fn part(choose: &mut Choices, number: u8) -> String {
    let bus = if choose.byte().is_multiple_of(2) {
        "bus = \"drums\"\n"
    } else {
        ""
    };
    let plays = match choose.byte() % 4 {
        0 => format!(
            "piece = \"bass\"\nnotes = \"{} = - {}^\"\n",
            choose.one(&["A1", "C2+E2", "(G1)"]),
            choose.one(&["E2", "D1", "A6"])
        ),
        1 => format!(
            "piece = \"bass\"\ndegrees = \"1 {} - {}\"\n",
            choose.one(&["5", "b3", "8", "="]),
            choose.one(&["<1", "3'", "7,"])
        ),
        2 => format!(
            "piece = \"{}\"\ncomp = \"{}\"\nvoicing = \"{}\"\nstrum = {:.0}\n",
            // Its tones are long, and each pitch of them is made by itself: a few are enough.
            choose.one(&["bass", "bass", "bass", "bass", "bass", "bass", "bass", "stand-in"]),
            choose.word(&["x", "-", "X", "d", "u", "k", "<", "=", "g"], 8),
            choose.one(&["close", "open", "drop 2", "rootless", "shell"]),
            choose.number(0.0, 90.0)
        ),
        _ => format!(
            "piece = \"{}\"\nhits = \"{}\"\n",
            choose.one(&["kick", "snare"]),
            choose.word(&MARKS, 16)
        ),
    };
    format!(
        "[[part]]\nname = \"p{number}\"\n{plays}{bus}gain = {:.1}\npan = {:.0}\nbehind = {:.1}\nroom = {:.1}\ndelay = {:.1}\ntune = {:.2}\ndark = {:.0}\nvary = {{ tune = {:.2}, gain = {:.1}, start = {:.1} }}\nenvelope = {{ attack = {:.1}, decay = {:.0} }}\nspread = {:.1}\nreverse = {}\n{}",
        choose.number(-30.0, 24.0),
        choose.number(-100.0, 100.0),
        choose.number(-60.0, 60.0),
        choose.number(-40.0, 6.0),
        choose.number(-40.0, 6.0),
        choose.number(-24.0, 24.0),
        choose.number(0.0, 100.0),
        choose.number(0.0, 3.0),
        choose.number(0.0, 6.0),
        choose.number(0.0, 20.0),
        choose.number(0.0, 80.0),
        choose.number(20.0, 4000.0),
        choose.number(0.0, 20.0),
        choose.byte().is_multiple_of(5),
        effect(choose),
    )
}

/// Lines of a strip: none, one or two effects.
fn effect(choose: &mut Choices) -> String {
    let mut lines = String::new();
    for kind in [choose.byte() % 8, 8 + choose.byte() % 4] {
        lines += &match kind {
            0 => format!("low_cut = {:.0}\n", choose.number(20.0, 2000.0)),
            1 => format!("high_cut = {:.0}\n", choose.number(200.0, 7900.0)),
            2 => format!(
                "eq = [{{ at = {:.0}, gain = {:.1}, width = {:.2} }}]\n",
                choose.number(30.0, 7000.0),
                choose.number(-24.0, 24.0),
                choose.number(0.1, 4.0)
            ),
            3 => format!("width = {:.0}\n", choose.number(0.0, 200.0)),
            8 => format!(
                "compress = {{ threshold = {:.1}, ratio = {:.1}, attack = {:.2}, release = {:.0}, makeup = {:.1}, blend = {:.0} }}\n",
                choose.number(-60.0, 0.0),
                choose.number(1.0, 20.0),
                choose.number(0.1, 100.0),
                choose.number(5.0, 1000.0),
                choose.number(0.0, 24.0),
                choose.number(0.0, 100.0)
            ),
            _ => String::new(),
        };
    }
    lines
}
