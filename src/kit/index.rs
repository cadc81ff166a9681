//! What a kit holds, without its sound.

use std::collections::BTreeMap;

/// What a kit holds, without its sound.
#[derive(Debug, Clone, Default)]
pub struct Index {
    /// The pieces: first those that the kit is made of, then single files of pieces that have several, which are pieces
    /// of their own to whoever asks for them by name.
    pub pieces: Vec<Piece>,
    /// How many of the pieces the kit is made of.
    listed: usize,
    /// Every name that a piece goes by, its own included.
    names: BTreeMap<String, usize>,
    /// By the numbers of recordings: the MIDI key, fractions too, at which one sounds as recorded, where it is known.
    roots: Vec<Option<f64>>,
    /// By the names of pieces that the kit lacks: the names of those that play for them.
    lent: BTreeMap<String, String>,
}

impl Index {
    /// An index of pieces that go by their own names alone.
    pub fn new(pieces: Vec<Piece>) -> Index {
        let names = pieces
            .iter()
            .enumerate()
            .rev()
            .map(|(at, piece)| (piece.name.clone(), at))
            .collect();
        Index {
            listed: pieces.len(),
            pieces,
            names,
            roots: Vec::new(),
            lent: BTreeMap::new(),
        }
    }

    /// The same with the MIDI keys at which recordings sound as recorded, by their numbers.
    pub fn with_roots(self, roots: Vec<Option<f64>>) -> Index {
        Index { roots, ..self }
    }

    /// The MIDI key, fractions of a semitone too, at which a recording sounds as recorded; none where it is not known.
    pub fn root(&self, take: usize) -> Option<f64> {
        self.roots.get(take).copied().flatten()
    }

    /// Says at which key a recording sounds.
    pub(super) fn set_root(&mut self, take: usize, root: Option<f64>) {
        if self.roots.len() <= take {
            self.roots.resize(take + 1, None);
        }
        self.roots[take] = root;
    }

    /// An index of the pieces that a kit is made of, of single files beside them, and of all names.
    pub(super) fn with_names(listed: Vec<Piece>, singles: Vec<Piece>, names: BTreeMap<String, usize>) -> Index {
        let count = listed.len();
        Index {
            pieces: [listed, singles].concat(),
            listed: count,
            names,
            roots: Vec::new(),
            lent: BTreeMap::new(),
        }
    }

    /// Adds a piece that is not offered, under its name, whatever had that name before.
    pub(super) fn add_single(&mut self, piece: Piece) {
        self.names.insert(piece.name.clone(), self.pieces.len());
        self.pieces.push(piece);
    }

    /// Adds a piece that the kit lacks, played by another.
    pub(super) fn add_lent(&mut self, piece: Piece, substitute: &str) {
        self.lent.insert(piece.name.clone(), substitute.to_string());
        self.add_single(piece);
    }

    /// The name of the piece that plays for one that the kit lacks; none where the kit has it, or nothing is lent.
    pub fn substitute(&self, name: &str) -> Option<&str> {
        self.lent.get(name).map(String::as_str)
    }

    /// The piece that goes by a name, as its place in `pieces`: its General MIDI name in short, or its file's name as it
    /// is or in lower case with hyphens.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.names.get(name).copied()
    }

    /// The pieces that the kit is made of, to be listed and offered.
    pub fn listed(&self) -> &[Piece] {
        &self.pieces[..self.listed]
    }

    /// Every name that a piece goes by, in alphabetical order, and the piece's place in `pieces`.
    pub fn names(&self) -> impl Iterator<Item = (&str, usize)> {
        self.names.iter().map(|(name, piece)| (name.as_str(), *piece))
    }
}

/// One piece of a kit.
#[derive(Debug, Clone)]
pub struct Piece {
    /// Its name: the General MIDI percussion name in short where it is one, else the name that its file has.
    pub name: String,
    /// Its velocity layers from the softest to the hardest, at least one; the last reaches 127.
    pub layers: Vec<Layer>,
    /// The group in which hits stop one another, unless the loop file says otherwise.
    pub choke: Option<String>,
}

/// The takes of one piece for a range of velocities.
#[derive(Debug, Clone)]
pub struct Layer {
    /// The highest velocity that it is for.
    pub upto: f64,
    /// The takes that hits without a pitch take in turn, as numbers of recordings in the kit; at least one. Of a piece that
    /// was recorded at several pitches, those of one pitch.
    pub takes: Vec<usize>,
    /// All its takes, of which a note takes those that were recorded nearest to its pitch, in turn.
    pub zones: Vec<usize>,
}

impl Layer {
    /// A layer of some takes.
    pub fn new(upto: f64, takes: Vec<usize>) -> Layer {
        Layer {
            upto,
            zones: takes.clone(),
            takes,
        }
    }
}
