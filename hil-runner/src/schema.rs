//! The JSON Schemas of what this tool writes, as they stand in the files beside the types.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;

/// The schema of what is written, as it stands in its file.
///
/// # Panics
/// Never: a schema is plain JSON.
#[must_use]
pub fn schema_text<T: JsonSchema>() -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let schema = generator.into_root_schema_for::<T>();
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is plain JSON");
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::schema_text;
    use crate::identify::Identification;
    use crate::record::Record;
    use crate::study::Study;
    use crate::study::line::LineStudy;
    use crate::waveform::{WaveformLine, WaveformReport};

    /// To bring the files up to date: `UPDATE_SCHEMA=1 cargo test --package hil-runner schema`.
    #[test]
    fn the_schemas_beside_the_sources_are_up_to_date() {
        for (file, text) in [
            ("record/record.schema.json", schema_text::<Record>()),
            ("study/study.schema.json", schema_text::<Study>()),
            ("study/line/line.schema.json", schema_text::<LineStudy>()),
            ("identify/identify.schema.json", schema_text::<Identification>()),
            ("waveform/waveform.schema.json", schema_text::<WaveformReport>()),
            ("waveform/lines.schema.json", schema_text::<WaveformLine<'_>>()),
        ] {
            let path = format!("{}/src/{file}", env!("CARGO_MANIFEST_DIR"));
            if std::env::var_os("UPDATE_SCHEMA").is_some() {
                std::fs::write(&path, &text).unwrap();
            }
            let written = std::fs::read_to_string(&path).unwrap();
            assert!(written == text, "{file}: run with UPDATE_SCHEMA=1, and read the difference");
        }
    }
}
