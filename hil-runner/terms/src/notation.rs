//! How the driver's types are written in a record: a part by its number, a resolution in bits, a ROM code as text.
//!
//! The types whose names end in `Form` exist for the schema alone: they describe what the driver's own serialisation
//! writes. A test holds each against the other.

#[cfg(feature = "schema")]
use schemars::JsonSchema;

/// A family, as its part number.
pub mod part {
    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;
    use slotwise::thermometer::Family;

    const FAMILIES: [Family; 5] = [Family::Ds18s20, Family::Ds1822, Family::Ds18b20, Family::Ds1825, Family::Ds28ea00];

    /// Writes it.
    ///
    /// # Errors
    /// That of the serializer.
    pub fn serialize<S: Serializer>(family: &Family, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(family.part())
    }

    /// Reads it.
    ///
    /// # Errors
    /// If no family has this part number.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Family, D::Error> {
        let text = String::deserialize(deserializer)?;
        FAMILIES
            .into_iter()
            .find(|family| family.part() == text)
            .ok_or_else(|| D::Error::custom(format!("part number {text:?} is not known")))
    }
}

/// A resolution, as its number of bits.
pub mod bits {
    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;
    use slotwise::thermometer::Resolution;

    /// Writes it.
    ///
    /// # Errors
    /// That of the serializer.
    pub fn serialize<S: Serializer>(resolution: &Resolution, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u8(resolution.bits())
    }

    /// Reads it.
    ///
    /// # Errors
    /// If there is no such resolution.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Resolution, D::Error> {
        let bits = u8::deserialize(deserializer)?;
        Resolution::from_bits(bits).ok_or_else(|| D::Error::custom(format!("{bits} bits where 9 to 12 belong")))
    }

    /// A resolution that may be missing.
    pub mod optional {
        use serde::de::{Deserialize, Deserializer};
        use serde::ser::Serializer;
        use slotwise::thermometer::Resolution;

        /// Writes it.
        ///
        /// # Errors
        /// That of the serializer.
        pub fn serialize<S: Serializer>(resolution: &Option<Resolution>, serializer: S) -> Result<S::Ok, S::Error> {
            match resolution {
                Some(resolution) => serializer.serialize_some(&resolution.bits()),
                None => serializer.serialize_none(),
            }
        }

        /// Reads it.
        ///
        /// # Errors
        /// If there is no such resolution.
        pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Resolution>, D::Error> {
            #[derive(serde::Deserialize)]
            struct Bits(#[serde(with = "super")] Resolution);
            Ok(Option::<Bits>::deserialize(deserializer)?.map(|Bits(resolution)| resolution))
        }
    }
}

/// How nine bytes of a scratchpad are written: hexadecimal, in wire order, with blanks.
pub mod hex9 {
    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;

    /// The text.
    #[must_use]
    pub fn text(bytes: &[u8; 9]) -> String {
        bytes.map(|byte| format!("{byte:02X}")).join(" ")
    }

    /// Writes them.
    ///
    /// # Errors
    /// That of the serializer.
    pub fn serialize<S: Serializer>(bytes: &[u8; 9], serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&text(bytes))
    }

    /// Reads them.
    ///
    /// # Errors
    /// If they are not nine bytes in hexadecimal.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<[u8; 9], D::Error> {
        let text = String::deserialize(deserializer)?;
        let bytes: Result<Vec<u8>, _> = text.split(' ').map(|byte| u8::from_str_radix(byte, 16)).collect();
        bytes
            .ok()
            .and_then(|bytes| bytes.try_into().ok())
            .ok_or_else(|| D::Error::custom(format!("{text:?} where nine bytes in hexadecimal belong")))
    }

    /// Nine bytes that may be missing.
    pub mod optional {
        use serde::de::{Deserialize, Deserializer};
        use serde::ser::Serializer;

        /// Writes them.
        ///
        /// # Errors
        /// That of the serializer.
        pub fn serialize<S: Serializer>(bytes: &Option<[u8; 9]>, serializer: S) -> Result<S::Ok, S::Error> {
            match bytes {
                Some(bytes) => serializer.serialize_some(&super::text(bytes)),
                None => serializer.serialize_none(),
            }
        }

        /// Reads them.
        ///
        /// # Errors
        /// If they are not nine bytes in hexadecimal.
        pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<[u8; 9]>, D::Error> {
            #[derive(serde::Deserialize)]
            struct Bytes(#[serde(with = "super")] [u8; 9]);
            Ok(Option::<Bytes>::deserialize(deserializer)?.map(|Bytes(bytes)| bytes))
        }
    }
}

/// How a sensor is powered.
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Supply", rename_all = "kebab-case"))]
#[expect(missing_docs, reason = "the driver documents them")]
pub enum SupplyForm {
    Local,
    Parasite,
}

/// Alarm limits, in whole degrees Celsius.
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "AlarmLimits"))]
#[expect(missing_docs, reason = "the driver documents them")]
pub struct AlarmLimitsForm {
    pub low: i8,
    pub high: i8,
}

/// A reason not to trust a number that is otherwise intact.
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Doubt", rename_all = "kebab-case"))]
#[expect(missing_docs, reason = "the driver documents them")]
pub enum DoubtForm {
    PowerOnValue,
    NoConversion,
    UndefinedBits,
    ReservedBytes,
    OutOfRange,
    SharedFamily,
}

/// What is known of the conversion behind a number.
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Evidence", rename_all = "kebab-case"))]
#[expect(missing_docs, reason = "the driver documents them")]
pub enum EvidenceForm {
    None,
    Waited,
    SeenBusy,
    Proven,
}

/// A number with a fraction. Read as JSON's own number first: where that keeps every digit as text, as the decoder of the
/// firmware's log wants it, a plain `f64` inside a tagged form cannot be read.
pub fn number<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    let number = <serde_json::Number as serde::Deserialize>::deserialize(deserializer)?;
    number.as_f64().ok_or_else(|| serde::de::Error::custom("a number that is no finite one"))
}

#[cfg(test)]
mod tests {
    use schemars::schema_for;
    use serde_json::{Value, json};
    use slotwise::thermometer::{Doubt, Evidence, Resolution, Supply};

    use super::*;

    fn words<T: JsonSchema>() -> Vec<Value> {
        let schema = schema_for!(T);
        schema.get("enum").and_then(Value::as_array).cloned().expect("an enum of words")
    }

    fn written(values: impl IntoIterator<Item = impl serde::Serialize>) -> Vec<Value> {
        values.into_iter().map(|value| serde_json::to_value(value).unwrap()).collect()
    }

    #[test]
    fn forms_describe_what_the_driver_writes() {
        assert_eq!(words::<SupplyForm>(), written([Supply::Local, Supply::Parasite]));
        assert_eq!(words::<DoubtForm>(), written(Doubt::ALL));
        assert_eq!(
            words::<EvidenceForm>(),
            written([Evidence::None, Evidence::Waited, Evidence::SeenBusy, Evidence::Proven])
        );
    }

    #[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
    struct All {
        #[serde(with = "part")]
        part: slotwise::thermometer::Family,
        #[serde(with = "bits")]
        bits: Resolution,
        #[serde(with = "bits::optional")]
        none: Option<Resolution>,
        #[serde(with = "hex9::optional")]
        bytes: Option<[u8; 9]>,
    }

    #[test]
    fn notation_round_trips_and_reads_as_text() {
        let all = All {
            part: slotwise::thermometer::Family::Ds18s20,
            bits: Resolution::Bits10,
            none: None,
            bytes: Some([0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C]),
        };
        let value = serde_json::to_value(&all).unwrap();
        assert_eq!(value, json!({"part": "DS18S20", "bits": 10, "none": null, "bytes": "50 05 4B 46 7F FF 0C 10 1C"}));
        assert_eq!(serde_json::from_value::<All>(value).unwrap(), all);
    }

    #[test]
    fn rejects_what_is_not_in_the_notation() {
        for (key, value) in [("part", json!("DS9999")), ("bits", json!(13)), ("bytes", json!("50 05"))] {
            let mut whole = json!({"part": "DS18B20", "bits": 12, "none": null, "bytes": null});
            whole[key] = value;
            assert!(serde_json::from_value::<All>(whole).is_err(), "{key}");
        }
    }
}
