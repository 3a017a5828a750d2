//! The JSON Schema of a record.

use schemars::generate::SchemaSettings;

use super::Record;

/// The schema, as it stands in `record.schema.json`.
///
/// # Panics
/// Never: a schema is plain JSON.
#[must_use]
pub fn schema_text() -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let schema = generator.into_root_schema_for::<Record>();
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is plain JSON");
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::schema_text;

    /// To bring the file up to date: `UPDATE_SCHEMA=1 cargo test --package hil-runner schema`.
    #[test]
    fn the_schema_beside_the_source_is_up_to_date() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/record/record.schema.json");
        if std::env::var_os("UPDATE_SCHEMA").is_some() {
            std::fs::write(path, schema_text()).unwrap();
        }
        let written = std::fs::read_to_string(path).unwrap();
        assert!(written == schema_text(), "run with UPDATE_SCHEMA=1, and read the difference");
    }
}
