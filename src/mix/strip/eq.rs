//! The equaliser: bells, one after another.

use super::filter::{self, Curve, Filter, chain};
use crate::loopfile::Bell;
use crate::mix::Effect;

/// A chain of bells.
#[derive(Debug, Clone)]
pub struct Eq {
    bells: Vec<Filter>,
    rate: u32,
    channels: usize,
}

impl Eq {
    /// An equaliser for a rate in Hz and a number of channels, at rest.
    pub fn new(bells: &[Bell], rate: u32, channels: usize) -> Eq {
        let mut eq = Eq {
            bells: Vec::new(),
            rate,
            channels,
        };
        eq.set(bells);
        eq
    }

    /// Its bells, in their order.
    pub fn bells(&self) -> impl Iterator<Item = &Filter> {
        self.bells.iter()
    }

    /// The same, to be run.
    pub fn bells_mut(&mut self) -> impl Iterator<Item = &mut Filter> {
        self.bells.iter_mut()
    }

    /// Changes its bells from the next frame on; the state of those that stay in their place stays.
    pub fn set(&mut self, bells: &[Bell]) {
        self.bells.truncate(bells.len());
        for (index, bell) in bells.iter().enumerate() {
            let curve = Curve::Bell(bell.clone());
            match self.bells.get_mut(index) {
                Some(filter) => filter.set(&curve),
                None => self.bells.push(Filter::new(&curve, self.rate, self.channels)),
            }
        }
    }
}

impl Effect for Eq {
    fn run_in(&self) -> usize {
        filter::run_in(self.bells())
    }

    fn process(&mut self, block: &mut [&mut [f32]]) {
        chain(self.bells_mut(), block);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::test_signals::{noise, run};

    #[test]
    fn bells_multiply() {
        let bells = [
            Bell {
                at: 100.0,
                gain_db: 4.0,
                width: 1.0,
            },
            Bell {
                at: 3000.0,
                gain_db: -6.0,
                width: 1.5,
            },
        ];
        let signal = vec![noise(0.5, 4, 5000), noise(0.5, 5, 5000)];
        let mut one = run(
            &mut Filter::new(&Curve::Bell(bells[0].clone()), 48_000, 2),
            &signal,
            &[64],
        );
        one = run(&mut Filter::new(&Curve::Bell(bells[1].clone()), 48_000, 2), &one, &[64]);
        let mut eq = Eq::new(&bells, 48_000, 2);
        assert_eq!(run(&mut eq, &signal, &[333]), one);
        eq.set(&bells[..1]);
        assert_eq!(eq.bells.len(), 1);
    }
}
