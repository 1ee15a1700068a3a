//! How the types stand in documents: a face and a facelet by their names, turns in WCA notation,
//! a cube as six named faces of three rows.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{net, notation};
use crate::{CubeState, Facelet, Turn};

impl Serialize for Facelet {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

impl<'de> Deserialize<'de> for Facelet {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = Cow::<'de, str>::deserialize(deserializer)?;
        Self::from_name(&name).ok_or_else(|| {
            D::Error::custom(format!("{name:?} is no facelet: must be a name such as URF, UF or U"))
        })
    }
}

impl JsonSchema for Facelet {
    fn schema_name() -> Cow<'static, str> {
        "Facelet".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let names: Vec<&str> = Self::all().map(Self::name).collect();
        json_schema!({
            "description": "The piece's letters, the facelet's own face first, the others clockwise.",
            "type": "string", "enum": names,
        })
    }
}

impl Serialize for Turn {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Turn {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(deserializer)?;
        let one = |turns: Vec<Self>| <[Self; 1]>::try_from(turns).ok();
        match notation::parse(&text).map(one) {
            Ok(Some([turn])) => Ok(turn),
            Ok(None) => Err(D::Error::custom(format!("{text:?} must be one turn"))),
            Err(error) => Err(D::Error::custom(error)),
        }
    }
}

impl JsonSchema for Turn {
    fn schema_name() -> Cow<'static, str> {
        "Turn".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "One turn in WCA notation.",
            "type": "string", "pattern": "^[URFDLB](2|')?$",
        })
    }
}

impl Serialize for CubeState {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&net::write_faces(&self.colours()))
    }
}

impl<'de> Deserialize<'de> for CubeState {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(deserializer)?;
        let colours = net::parse_faces(&text).map_err(D::Error::custom)?;
        Self::from_colours(&colours).map_err(D::Error::custom)
    }
}

impl JsonSchema for CubeState {
    fn schema_name() -> Cow<'static, str> {
        "Cube".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A cube: six named faces of three rows, as in U=UUU/UUU/UUU R=RRR/…",
            "type": "string",
            "pattern": "^U=[URFDLB]{3}(/[URFDLB]{3}){2}( [RFDLB]=[URFDLB]{3}(/[URFDLB]{3}){2}){5}$",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Face, random_state};
    use dryturn_units::noise::Seed;
    use std::collections::BTreeMap;

    fn there_and_back<T>(value: &T) -> String
    where
        T: Serialize + for<'a> Deserialize<'a> + PartialEq + core::fmt::Debug,
    {
        let text = serde_json::to_string(value).unwrap();
        assert_eq!(&serde_json::from_str::<T>(&text).unwrap(), value);
        text
    }

    #[test]
    fn what_is_written_is_read_back() {
        let facelets: Vec<Facelet> = Facelet::all().collect();
        let text = there_and_back(&facelets);
        assert!(text.starts_with(r#"["ULB","UB","UBR","UL","U","UR""#), "{text}");
        let turns = notation::parse("U R2 F' D B2 L").unwrap();
        assert_eq!(there_and_back(&turns), r#"["U","R2","F'","D","B2","L"]"#);
        let shown = BTreeMap::from([(Face::U, Face::B)]);
        assert_eq!(there_and_back(&shown), r#"{"U":"B"}"#);
        for trial in 0..20 {
            there_and_back(&random_state(&mut Seed::new(5).stream("scramble", trial, 0)));
        }
    }

    #[test]
    fn what_is_none_is_refused() {
        assert!(serde_json::from_str::<Facelet>(r#""XYZ""#).is_err());
        assert!(serde_json::from_str::<Turn>(r#""U R""#).is_err());
        assert!(serde_json::from_str::<Turn>(r#""u""#).is_err());
        let all_up = "U=UUU/UUU/UUU R=UUU/UUU/UUU F=UUU/UUU/UUU D=UUU/UUU/UUU L=UUU/UUU/UUU \
                      B=UUU/UUU/UUU";
        assert!(serde_json::from_str::<CubeState>(&format!("{all_up:?}")).is_err());
    }
}
