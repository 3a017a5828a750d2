//! The JSON Schemas of what this tool writes, as they stand in the files beside the types.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;

/// The schema of what is written, as it stands in its file. `name` is what its `$id` ends in.
///
/// # Panics
/// Never: a schema is plain JSON.
#[must_use]
pub fn schema_text<T: JsonSchema>(name: &str) -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<T>();
    schema.insert("$id".into(), format!("urn:slotwise:schema:{name}").into());
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is plain JSON");
    text.push('\n');
    text
}

#[cfg(test)]
pub(crate) mod tests {
    use schemars::JsonSchema;

    use super::schema_text;
    use slotwise_bench::debug_probe::Listed;
    use slotwise_history::regression::RunComparison;
    use slotwise_past::Night;
    use slotwise_past::{FindingRow, RunDetail, RunRow, SensorDay};
    use slotwise_record::Record;
    use slotwise_study::Study;
    use slotwise_study::identify::Identification;
    use slotwise_study::line::LineStudy;
    use slotwise_waveform::{WaveformLine, WaveformReport};

    /// Holds a file below `src` against the type whose schema it is.
    ///
    /// To bring the files up to date: `UPDATE_SCHEMA=1 cargo test --package hil-runner schema`.
    #[track_caller]
    pub(crate) fn assert_up_to_date<T: JsonSchema>(file: &str) {
        let name = file.rsplit('/').next().and_then(|name| name.strip_suffix(".schema.json")).expect("a name");
        let text = schema_text::<T>(name);
        let path = format!("{}/src/{file}", env!("CARGO_MANIFEST_DIR"));
        if std::env::var_os("UPDATE_SCHEMA").is_some() {
            std::fs::write(&path, &text).unwrap();
        }
        let written = std::fs::read_to_string(&path).unwrap();
        assert!(written == text, "{file}: run with UPDATE_SCHEMA=1, and read the difference");
    }

    /// The names of a schema that stand for a form of their own: its title and its definitions, but for those that only hold a number.
    fn forms(schema: &serde_json::Value) -> Vec<(String, serde_json::Value)> {
        let definitions = schema["$defs"].as_object().into_iter().flatten();
        let mut forms: Vec<_> = definitions.map(|(name, form)| (name.clone(), form.clone())).collect();
        let mut whole = schema.clone();
        let title = whole["title"].as_str().expect("a title").to_owned();
        for key in ["$id", "$schema", "$defs", "title"] {
            whole.as_object_mut().expect("an object").remove(key);
        }
        forms.push((title, whole));
        forms
    }

    #[test]
    fn one_name_in_the_schemas_is_one_form() {
        let mut known = std::collections::BTreeMap::<String, (String, serde_json::Value)>::new();
        let mut files = 0;
        let mut open = vec![std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR"))];
        while let Some(folder) = open.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                if path.is_dir() && name != "target" {
                    open.push(path);
                } else if name.ends_with(".schema.json") {
                    files += 1;
                    let schema = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
                    for (form, text) in forms(&schema) {
                        let (first, kept) = known.entry(form.clone()).or_insert_with(|| (name.clone(), text.clone()));
                        assert!(*kept == text, "{form} is one thing in {first} and another in {name}");
                    }
                }
            }
        }
        assert!(files >= 15, "{files}");
    }

    #[test]
    fn the_schemas_beside_the_sources_are_up_to_date() {
        assert_up_to_date::<Record>("../record/src/record.schema.json");
        assert_up_to_date::<Study>("../study/src/study.schema.json");
        assert_up_to_date::<LineStudy>("../study/src/line/line.schema.json");
        assert_up_to_date::<Identification>("../study/src/identify/identify.schema.json");
        assert_up_to_date::<WaveformReport>("../waveform/src/waveform.schema.json");
        assert_up_to_date::<WaveformLine<'_>>("../waveform/src/lines.schema.json");
        assert_up_to_date::<Night>("../past/src/night.schema.json");
        assert_up_to_date::<Vec<RunRow>>("../history/src/history-list.schema.json");
        assert_up_to_date::<RunDetail>("../history/src/history-show.schema.json");
        assert_up_to_date::<RunComparison>("../history/src/regression/history-compare.schema.json");
        assert_up_to_date::<Vec<SensorDay>>("../history/src/history-follow.schema.json");
        assert_up_to_date::<Vec<FindingRow>>("../history/src/history-changes.schema.json");
        assert_up_to_date::<Vec<Listed>>("cli/debug-probes.schema.json");
    }
}
