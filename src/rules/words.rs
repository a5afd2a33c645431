//! The fixed words as the rule file spells them, each a closed set in the schema.

use crate::model::words as w;
use crate::model::{self as m, FixedWord};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// One fixed word of the language, in its printed spelling.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word<W>(pub W);

impl<W: FixedWord> Serialize for Word<W> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.word())
    }
}

impl<'de, W: FixedWord> Deserialize<'de> for Word<W> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(deserializer)?;
        W::ALL
            .iter()
            .find(|word| word.word() == text)
            .map(|word| Word(*word))
            .ok_or_else(|| {
                serde::de::Error::custom(format!("`{text}` is no {} of the language", W::SET))
            })
    }
}

impl<W: FixedWord> JsonSchema for Word<W> {
    fn schema_name() -> Cow<'static, str> {
        Cow::Owned(format!("Word: {}", W::SET))
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let words: Vec<&str> = W::ALL.iter().map(|word| word.word()).collect();
        json_schema!({ "type": "string", "enum": words })
    }
}

pub type PurposeWord = Word<w::Purpose>;
pub type EventWord = Word<w::Event>;
pub type PopulationWord = Word<w::Population>;
pub type MeansWord = Word<w::Means>;
pub type SiteWord = Word<w::Site>;
pub type MediumWord = Word<w::Medium>;
pub type ScaleWord = Word<w::Scale>;
pub type SignWord = Word<w::Sign>;
pub type AnalyteWord = Word<w::Analyte>;
pub type RouteWord = Word<w::Route>;
pub type DrugClassWord = Word<w::DrugClass>;
pub type OccasionWord = Word<w::Occasion>;
pub type TopicWord = Word<w::Topic>;
pub type GuidelineWord = Word<w::Guideline>;

/// A small closed set of the model's, with its words in the rule file.
macro_rules! mirror {
    ($($(#[$doc:meta])* $name:ident of $model:ty { $($variant:ident,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum $name { $($variant,)* }

        impl From<$model> for $name {
            fn from(from: $model) -> Self {
                match from { $(<$model>::$variant => $name::$variant,)* }
            }
        }

        impl From<$name> for $model {
            fn from(from: $name) -> Self {
                match from { $($name::$variant => <$model>::$variant,)* }
            }
        }
    )*};
}

mirror! {
    /// How a value is compared.
    Comparison of m::Cmp { Below, Above, AtOrBelow, AtOrAbove, }
    /// Which side of a value.
    OneSide of m::Side { Above, Below, }
    /// By more, or by less.
    MoreOrLess of m::MoreLess { More, Less, }
    /// Which way a value goes.
    Trend of m::TrendWay { Rises, Falls, }
    /// Which way a phase takes the patient.
    Direction of m::Way { Cool, Warm, }
    /// How a value is come by.
    Asking of m::AskWay { Record, Score, Test, }
    /// What a line about patients says.
    CriterionSort of m::CriterionKind { Include, Exclude, Caution, }
}
