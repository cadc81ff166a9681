//! How the values of several tables lie over one another.

use num_rational::Ratio;

use super::note_values;
use super::note_values::Length;
use super::setting::{DefaultValue, Setting};
use super::settings::{Held, PlacedValue, Settings, Value};
use crate::text::Place;
use crate::text::Words;

/// Settings over one another: the first that says something of a setting is taken, and the setting's default where none does.
#[derive(Debug, Clone)]
pub(crate) struct Layers<'a>(Vec<&'a Settings>);

impl<'a> Layers<'a> {
    /// Layers from the topmost down.
    pub(crate) fn new(over: impl IntoIterator<Item = &'a Settings>) -> Layers<'a> {
        Layers(over.into_iter().collect())
    }

    /// The same layers with one more beneath them.
    pub(crate) fn above(&self, settings: &'a Settings) -> Layers<'a> {
        Layers::new(self.0.iter().copied().chain([settings]))
    }

    /// The same layers under one more.
    pub(crate) fn beneath(&self, settings: &'a Settings) -> Layers<'a> {
        Layers::new(std::iter::once(settings).chain(self.0.iter().copied()))
    }

    /// Where the topmost layer stands.
    pub(crate) fn place(&self) -> Place {
        self.0[0].place.clone()
    }

    /// What the topmost layer that speaks of a setting says, and where.
    pub(crate) fn placed<T>(&self, setting: Setting<T>) -> Option<&'a PlacedValue> {
        self.0.iter().find_map(|settings| settings.placed(setting))
    }

    /// What the topmost layer that speaks of a setting says; none where it is off.
    pub(crate) fn get<T: Held>(&self, setting: Setting<T>) -> Option<&'a T> {
        T::of(&self.placed(setting)?.value)
    }

    /// True where some layer speaks of a setting.
    pub(crate) fn says<T>(&self, setting: Setting<T>) -> bool {
        self.placed(setting).is_some()
    }

    /// A number in the file's unit.
    pub(crate) fn number(&self, setting: Setting<f64>) -> f64 {
        match (self.placed(setting).map(|placed| &placed.value), setting.default) {
            (Some(Value::Number(number)), _) => *number,
            (None, DefaultValue::Number(number)) => number,
            _ => setting.when_off,
        }
    }

    /// A number in the file's unit; none where it is off or lacking.
    pub(crate) fn level(&self, setting: Setting<Option<f64>>) -> Option<f64> {
        match (self.placed(setting).map(|placed| &placed.value), setting.default) {
            (Some(Value::Number(number)), _) => Some(*number),
            (None, DefaultValue::Number(number)) => Some(number),
            _ => None,
        }
    }

    /// A whole number; 0 where none is given and the default is none.
    pub(crate) fn whole(&self, setting: Setting<u64>) -> u64 {
        match (self.get(setting), setting.default) {
            (Some(number), _) => *number,
            (None, DefaultValue::Whole(number)) => number,
            _ => 0,
        }
    }

    /// A switch; off is false.
    pub(crate) fn switch(&self, setting: Setting<bool>) -> bool {
        match self.placed(setting) {
            Some(placed) => matches!(placed.value, Value::Switch(true)),
            None => setting.default == DefaultValue::Switch(true),
        }
    }

    /// A text, the default where none is given.
    pub(crate) fn text(&self, setting: Setting<Words>) -> Option<&'a str> {
        match (self.placed(setting).map(|placed| &placed.value), setting.default) {
            (Some(Value::Text(words)), _) => Some(&words.text),
            (None, DefaultValue::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// A note value or a time.
    pub(crate) fn length(&self, setting: Setting<Length>) -> Option<Length> {
        match (self.get(setting), setting.default) {
            (Some(length), _) => Some(*length),
            (None, DefaultValue::Text(text)) => note_values::length(text),
            _ => None,
        }
    }

    /// A note value, in whole notes.
    pub(crate) fn notes(&self, setting: Setting<Length>) -> Option<Ratio<i128>> {
        match self.length(setting) {
            Some(Length::Notes(notes)) => Some(notes),
            _ => None,
        }
    }

    /// A table, setting by setting over those beneath it; none where it is off or nobody gives one.
    pub(crate) fn nested<T>(&self, setting: Setting<T>) -> Option<Layers<'a>> {
        let said = self.0.iter().filter_map(|settings| settings.placed(setting));
        let tables = said.map_while(|placed| Settings::of(&placed.value));
        let nested = Layers(tables.collect());
        (!nested.0.is_empty()).then_some(nested)
    }
}
