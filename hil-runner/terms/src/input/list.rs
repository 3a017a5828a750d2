//! Values that are one thing or a list of them.

use toml::de::DeValue;

use super::reader::Value;

/// The items of a list, or the value itself.
pub fn one_or_many<'v, 'i>(value: &'v Value<'i>) -> &'v [Value<'i>] {
    match value.get_ref() {
        DeValue::Array(items) => items,
        _ => std::slice::from_ref(value),
    }
}
