//! Words for what has a name in the record: the same ones.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// The word of a choice without further data, as the record writes it.
pub(super) fn word(choice: &impl Serialize) -> String {
    match serde_json::to_value(choice) {
        Ok(Value::String(word)) => word,
        // Not reached: only plain choices are given to this.
        _ => String::new(),
    }
}

/// The choice of a word.
pub(super) fn choice<T: DeserializeOwned>(word: &str) -> Option<T> {
    serde_json::from_value(Value::String(word.to_owned())).ok()
}
