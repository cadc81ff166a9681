//! How the registry declares a setting. One whose type does not go with its kind does not compile.

use std::marker::PhantomData;

pub(super) use super::kind::Kind;
pub(super) use super::note_values::Length;
pub(super) use super::setting::DefaultValue::{Described, Off, Required};
pub(super) use super::setting::{DefaultValue, Setting};
use super::settings::Held;
pub(super) use super::settings::{
    Accents, Levels, LoopPoint, NamedTables, NamesByName, NoteNumbers, Pattern, PiecesByMark, RecordingWords, Settings,
};
pub(super) use super::table::Table;
pub(super) use super::tree::Node;
pub(super) use crate::text::Words;

const fn declared<T>(name: &'static str, kind: Kind, default: DefaultValue) -> Setting<T> {
    Setting {
        name,
        kind,
        off: false,
        when_off: 0.0,
        default,
        doc: "",
        held: PhantomData,
    }
}

/// A setting of any kind.
pub(super) const fn setting<T: Held>(name: &'static str, kind: Kind, default: DefaultValue) -> Setting<T> {
    assert!(
        kind.held_as() as u8 == T::FORM as u8,
        "the type is not that of the kind"
    );
    declared(name, kind, default)
}

/// A number in some range, with its unit and its default.
pub(super) const fn number(
    name: &'static str,
    (from, to): (f64, f64),
    unit: &'static str,
    default: f64,
) -> Setting<f64> {
    declared(name, Kind::Number(from, to, unit), DefaultValue::Number(default))
}

/// A number that may be lacking or off, and is no number then.
pub(super) const fn level(
    name: &'static str,
    (from, to): (f64, f64),
    unit: &'static str,
    default: DefaultValue,
) -> Setting<Option<f64>> {
    declared(name, Kind::Number(from, to, unit), default)
}

/// True or false.
pub(super) const fn switch(name: &'static str, default: bool) -> Setting<bool> {
    declared(name, Kind::Switch, DefaultValue::Switch(default))
}

impl<T> Setting<T> {
    /// The same, but that `"off"` may stand for its value; a number is 0 then.
    pub(super) const fn or_off(self) -> Setting<T> {
        Setting { off: true, ..self }
    }

    /// The same with another default.
    pub(super) const fn default(self, default: DefaultValue) -> Setting<T> {
        Setting { default, ..self }
    }

    /// The same with a sentence or two on what it does.
    pub(super) const fn doc(self, doc: &'static str) -> Setting<T> {
        Setting { doc, ..self }
    }

    /// The same, whatever the type of its value.
    pub const fn any(self) -> Setting {
        Setting {
            when_off: self.when_off,
            off: self.off,
            ..declared(self.name, self.kind, self.default)
        }
        .doc(self.doc)
    }
}

impl Setting<f64> {
    /// The same, but that `"off"` may stand for its value, and for a number of its own.
    pub(super) const fn or_off_as(self, when_off: f64) -> Setting<f64> {
        Setting {
            off: true,
            when_off,
            ..self
        }
    }
}
