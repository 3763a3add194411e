//! Muscles and joints, as the trade groups them.

use crate::Refused;
use crate::bounds::word;

macro_rules! body_part {
    ($(#[$doc:meta])* $name:ident, $what:literal, { $($variant:ident = $key:literal, $label:literal;)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $(#[doc = $label] $variant,)*
        }

        impl $name {
            /// All of them, in the order in which they are shown.
            pub const ALL: &'static [$name] = &[$($name::$variant,)*];
            const WORDS: &'static [(&'static str, $name)] = &[$(($key, $name::$variant),)*];

            /// Reads the snake_case key, ignoring case, spaces and hyphens.
            pub fn parse(text: &str) -> Result<$name, Refused> {
                word($what, text, Self::WORDS)
            }

            /// The snake_case key used in files.
            #[must_use]
            pub fn key(self) -> &'static str {
                match self { $($name::$variant => $key,)* }
            }

            /// The name used in sentences.
            #[must_use]
            pub fn label(self) -> &'static str {
                match self { $($name::$variant => $label,)* }
            }
        }
    };
}

body_part! {
    /// A muscle or muscle group that a set can train.
    Muscle, "muscle", {
        Quadriceps = "quadriceps", "quadriceps";
        Hamstrings = "hamstrings", "hamstrings";
        Glutes = "glutes", "glutes";
        Adductors = "adductors", "adductors";
        Abductors = "abductors", "abductors";
        Calves = "calves", "calves";
        Tibialis = "tibialis", "shins";
        HipFlexors = "hip_flexors", "hip flexors";
        SpinalErectors = "spinal_erectors", "spinal erectors";
        Abdominals = "abdominals", "abdominals";
        Obliques = "obliques", "obliques";
        Chest = "chest", "chest";
        Lats = "lats", "lats";
        UpperBack = "upper_back", "upper back";
        Trapezius = "trapezius", "trapezius";
        FrontDelts = "front_delts", "front delts";
        SideDelts = "side_delts", "side delts";
        RearDelts = "rear_delts", "rear delts";
        RotatorCuff = "rotator_cuff", "rotator cuff";
        Biceps = "biceps", "biceps";
        Brachialis = "brachialis", "brachialis";
        Triceps = "triceps", "triceps";
        Forearms = "forearms", "forearms";
        Neck = "neck", "neck";
        Serratus = "serratus", "serratus";
    }
}

body_part! {
    /// A joint or spinal region that a lift loads and that can complain.
    Joint, "joint", {
        Shoulder = "shoulder", "shoulder";
        Elbow = "elbow", "elbow";
        Wrist = "wrist", "wrist";
        Neck = "neck", "neck";
        UpperBack = "upper_back", "upper back";
        LowerBack = "lower_back", "lower back";
        Hip = "hip", "hip";
        Knee = "knee", "knee";
        Ankle = "ankle", "ankle";
    }
}
