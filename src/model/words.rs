//! The fixed words of the language, each with the spellings that are read.

/// A closed set of words. Macro `words!` makes the types.
pub trait FixedWord: Sized + Copy + 'static {
    /// What the set is called in a message: `purpose`, `route`.
    const SET: &'static str;
    const ALL: &'static [Self];
    /// The word as it is printed.
    fn word(self) -> &'static str;
    /// The word, by its own or another accepted spelling.
    fn from_word(text: &str) -> Option<Self>;
}

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident, $set:literal { $($variant:ident = $word:literal $(| $other:literal)*,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($variant,)* }

        impl FixedWord for $name {
            const SET: &'static str = $set;
            const ALL: &'static [Self] = &[$($name::$variant,)*];
            fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }
            fn from_word(text: &str) -> Option<Self> {
                match text {
                    $($word $(| $other)* => Some($name::$variant),)*
                    _ => None,
                }
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }
    )*};
}

words! {
    /// Why temperature is managed.
    Purpose, "purpose" {
        TherapeuticHypothermia = "therapeutic-hypothermia",
        FeverControl = "fever-control",
        NewbornCooling = "newborn-cooling",
        AccidentalHypothermia = "accidental-hypothermia",
        PerioperativeWarmth = "perioperative-warmth",
        HeatStroke = "heat-stroke",
        MalignantHyperthermia = "malignant-hyperthermia",
    }

    /// What happened before.
    Event, "event" {
        CardiacArrest = "cardiac-arrest",
        HeadInjury = "head-injury",
        Stroke = "stroke",
        BrainBleed = "brain-bleed",
        BirthAsphyxia = "birth-asphyxia",
        Sepsis = "sepsis",
    }

    Population, "patient group" {
        Adult = "adult",
        Child = "child",
        Newborn = "newborn" | "neonate",
    }

    /// A route or means of exchanging heat, never a product.
    Means, "method" {
        Esophageal = "esophageal" | "oesophageal",
        Surface = "surface",
        Intravascular = "intravascular",
        Immersion = "immersion",
        Evaporative = "evaporative",
        IcePacks = "ice-packs",
        ColdFluids = "cold-fluids",
        ForcedAir = "forced-air",
        WarmFluids = "warm-fluids",
        Lavage = "lavage",
        Extracorporeal = "extracorporeal",
        Passive = "passive",
    }

    /// Where a body temperature is measured.
    Site, "body site" {
        Esophagus = "esophagus" | "oesophagus",
        Nasopharynx = "nasopharynx",
        Bladder = "bladder",
        Rectum = "rectum",
        PulmonaryArtery = "pulmonary-artery",
        Mouth = "mouth",
        Ear = "ear",
        Armpit = "armpit" | "axilla",
        Forehead = "forehead",
        Skin = "skin",
    }

    /// What else has a temperature.
    Medium, "thing whose temperature is read" {
        Water = "water",
        Air = "air",
        Fluid = "fluid",
        Surface = "surface",
    }

    Scale, "scale" {
        Shivering = "shivering",
        Sedation = "sedation",
        Coma = "coma",
        Pain = "pain",
    }

    Sign, "sign" {
        Consciousness = "consciousness",
        Rhythm = "rhythm",
        Pulse = "pulse",
        Seizure = "seizure",
    }

    /// A laboratory or monitor value.
    Analyte, "amount" {
        Potassium = "potassium",
        Magnesium = "magnesium",
        Phosphate = "phosphate",
        Glucose = "glucose",
        Ph = "ph",
        BaseDeficit = "base-deficit",
        Lactate = "lactate",
        MeanPressure = "mean-pressure",
        SystolicPressure = "systolic-pressure",
        IntracranialPressure = "intracranial-pressure",
        HeartRate = "heart-rate",
        OxygenSaturation = "oxygen-saturation",
    }

    Route, "route" {
        Iv = "iv",
        Im = "im",
        Intraosseous = "intraosseous",
        Subcut = "subcut",
        Oral = "oral",
        Nasogastric = "nasogastric",
        Rectal = "rectal",
        Inhaled = "inhaled",
    }

    DrugClass, "class" {
        Antipyretic = "antipyretic",
        Sedative = "sedative",
        Opioid = "opioid",
        NeuromuscularBlocker = "neuromuscular-blocker",
        Electrolyte = "electrolyte",
        Potassium = "potassium",
        Other = "other",
    }

    /// When a checklist is worked through.
    Occasion, "occasion" {
        BeforeStart = "before-start",
        Placing = "placing",
        Start = "start",
        EachShift = "each-shift",
        EachShiftOfControl = "each-shift-of-control",
        Trouble = "trouble",
        End = "end",
    }

    /// What a piece of free text is about, for the checks.
    Topic, "topic" {
        Flow = "flow",
        Leaks = "leaks",
        Fill = "fill",
        Depth = "depth",
        Position = "position",
        Probe = "probe",
        AlarmLimits = "alarm-limits",
        SkinContact = "skin-contact",
        SkinInspection = "skin-inspection",
        Airway = "airway",
        Decompression = "decompression",
        Pause = "pause",
        Resume = "resume",
        Removal = "removal",
        Disposal = "disposal",
        Acidosis = "acidosis",
        Encephalopathy = "encephalopathy",
        BrainActivity = "brain-activity",
        WarmBeforeInduction = "warm-before-induction",
        PotassiumStop = "potassium-stop",
        Prognosis = "prognosis",
        ExtracorporealTransfer = "extracorporeal-transfer",
        RewarmingFutile = "rewarming-futile",
    }

    /// An edition of a published guideline that the evidence table knows.
    Guideline, "guideline" {
        Aha2015 = "aha-2015",
        Aha2020 = "aha-2020",
        Aha2023 = "aha-2023",
        Aha2025 = "aha-2025",
        Erc2021 = "erc-2021",
        Erc2022 = "erc-2022",
        Erc2025 = "erc-2025",
        Ilcor2022 = "ilcor-2022",
        Ilcor2024 = "ilcor-2024",
        Nice2024 = "nice-2024",
        NiceCg65 = "nice-cg65",
        Toby2008 = "toby-2008",
        Cps2018 = "cps-2018",
        Wms2019 = "wms-2019",
        Sccm2025 = "sccm-2025",
        Esicm2024 = "esicm-2024",
    }
}

pub use crate::syntax::CONNECTING_WORDS;

impl Occasion {
    /// Whether the checklist is worked through at each change of shift, in all phases or in those
    /// with active control.
    pub fn is_each_shift(self) -> bool {
        matches!(self, Occasion::EachShift | Occasion::EachShiftOfControl)
    }
}
