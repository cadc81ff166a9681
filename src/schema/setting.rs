//! A setting as the registry declares it: its name, what it takes, its default, what it does.

use std::fmt;
use std::marker::PhantomData;

use super::kind::Kind;

/// A setting: what it is called, what it takes, what holds without it, what it does. `T` is the type in which its value is
/// held; the tables of the registry list settings of every type, which `()` stands for.
#[derive(Debug, PartialEq)]
pub struct Setting<T = ()> {
    /// Its name as it is written.
    pub name: &'static str,
    /// What it takes.
    pub kind: Kind,
    /// True where `"off"` may stand for its value.
    pub off: bool,
    /// The number that holds where a number is off.
    pub(super) when_off: f64,
    /// What holds where nobody says anything.
    pub default: DefaultValue,
    /// What it does, in a sentence or two.
    pub doc: &'static str,
    pub(super) held: PhantomData<fn() -> T>,
}

impl<T> Clone for Setting<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Setting<T> {}

/// Its name.
impl<T> fmt::Display for Setting<T> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.name)
    }
}

/// What holds for a setting where nobody says anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DefaultValue {
    /// A number.
    Number(f64),
    /// A whole number.
    Whole(u64),
    /// A text.
    Text(&'static str),
    /// On or off, for a switch.
    Switch(bool),
    /// No effect at all.
    Off,
    /// Something that follows from elsewhere, in words.
    Described(&'static str),
    /// Nothing: there must be a value.
    Required,
}

impl Setting {
    /// What the setting takes, `"off"` included, in words.
    pub fn describe(&self) -> String {
        let takes = self.kind.describe();
        if self.off {
            format!("{takes}, or \"off\"")
        } else {
            takes
        }
    }
}

impl DefaultValue {
    /// What holds, as it is shown to the person.
    pub fn shown(&self) -> String {
        match self {
            DefaultValue::Number(number) => number.to_string(),
            DefaultValue::Whole(number) => number.to_string(),
            DefaultValue::Text(text) => format!("\"{text}\""),
            DefaultValue::Switch(on) => on.to_string(),
            DefaultValue::Off => "off".into(),
            DefaultValue::Described(words) => (*words).into(),
            DefaultValue::Required => "required".into(),
        }
    }
}
