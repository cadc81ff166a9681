//! What of a loop is audible: the parts whose sound gets anywhere, and the rooms and delays that it gets to.

use super::{Loop, Strip, Target};

/// What of a loop is audible.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// By parts: true where what it plays reaches the master, itself or by a room or delay.
    pub parts: Vec<bool>,
    /// By parts: the rooms and delays that it reaches, itself or by its buses, each as an index.
    pub spaces: Vec<Vec<usize>>,
}

impl Loop {
    /// Follows every part through its buses, as far as nothing is silenced. A fader or a send that moves is taken for one that is up.
    pub fn heard(&self) -> Heard {
        let mut heard = Heard {
            parts: Vec::new(),
            spaces: Vec::new(),
        };
        for (number, part) in self.parts.iter().enumerate() {
            let mut spaces = Vec::new();
            let mut open = !part.silenced && self.passes(&part.strip, Target::Part(number));
            let mut next = part.bus;
            if open {
                self.sends_of(&part.strip, Target::Part(number), &mut spaces);
            }
            while let (true, Some(bus)) = (open, next) {
                open = !self.buses[bus].silenced && self.passes(&self.buses[bus].strip, Target::Bus(bus));
                if open {
                    self.sends_of(&self.buses[bus].strip, Target::Bus(bus), &mut spaces);
                }
                next = self.buses[bus].bus;
            }
            spaces.sort_unstable();
            spaces.dedup();
            heard.parts.push(open || !spaces.is_empty());
            heard.spaces.push(spaces);
        }
        heard
    }

    fn moves(&self, target: Target) -> bool {
        self.sweeps.iter().any(|sweep| sweep.target == target)
    }

    fn passes(&self, strip: &Strip, target: Target) -> bool {
        strip.gain_db > f64::NEG_INFINITY || self.moves(target)
    }

    fn sends_of(&self, strip: &Strip, target: Target, spaces: &mut Vec<usize>) {
        for send in &strip.sends {
            let level = self.spaces[send.to].level_db;
            let answers = level > f64::NEG_INFINITY || self.moves(Target::Space(send.to));
            if answers && (send.level_db > f64::NEG_INFINITY || self.moves(target)) {
                spaces.push(send.to);
            }
        }
    }
}
