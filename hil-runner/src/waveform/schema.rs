//! The JSON Schema of what is told of a capture.

use schemars::generate::SchemaSettings;

use super::WaveformReport;

/// The schema, as it stands in `waveform.schema.json`.
///
/// # Panics
/// Never: a schema is plain JSON.
#[must_use]
pub fn waveform_schema_text() -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let schema = generator.into_root_schema_for::<WaveformReport>();
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is plain JSON");
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::waveform_schema_text;

    /// To bring the file up to date: `UPDATE_SCHEMA=1 cargo test --package hil-runner schema`.
    #[test]
    fn the_schema_of_a_waveform_is_up_to_date() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/waveform/waveform.schema.json");
        if std::env::var_os("UPDATE_SCHEMA").is_some() {
            std::fs::write(path, waveform_schema_text()).unwrap();
        }
        let written = std::fs::read_to_string(path).unwrap();
        assert!(written == waveform_schema_text(), "run with UPDATE_SCHEMA=1, and read the difference");
    }
}
