//! The JSON Schema of a study of a line.

use schemars::generate::SchemaSettings;

use super::LineStudy;

/// The schema, as it stands in `line.schema.json`.
///
/// # Panics
/// Never: a schema is plain JSON.
#[must_use]
pub fn line_schema_text() -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let schema = generator.into_root_schema_for::<LineStudy>();
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is plain JSON");
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::line_schema_text;

    /// To bring the file up to date: `UPDATE_SCHEMA=1 cargo test --package hil-runner schema`.
    #[test]
    fn the_schema_of_a_study_of_a_line_is_up_to_date() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/study/line/line.schema.json");
        if std::env::var_os("UPDATE_SCHEMA").is_some() {
            std::fs::write(path, line_schema_text()).unwrap();
        }
        let written = std::fs::read_to_string(path).unwrap();
        assert!(written == line_schema_text(), "run with UPDATE_SCHEMA=1, and read the difference");
    }
}
