//! Every sentence, heading and label that the program itself says on a page: a key and its English text, in one table.
//!
//! A page names the key; the words are changed here, in one place. A blank in braces is filled when the phrase is said.

/// The language of the table.
pub const LANGUAGE: &str = "en";

macro_rules! phrases {
    ($($name:ident $key:literal $english:literal,)*) => {
        /// Something that the program says.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Phrase {
            $(#[doc = $english] $name,)*
        }

        impl Phrase {
            /// All phrases.
            pub const ALL: &'static [Phrase] = &[$(Phrase::$name,)*];

            /// Returns its name, which stays when the words change.
            pub const fn key(self) -> &'static str {
                match self { $(Phrase::$name => $key,)* }
            }

            /// Returns its English text.
            pub const fn english(self) -> &'static str {
                match self { $(Phrase::$name => $english,)* }
            }
        }
    };
}

phrases! {
    // Decision
    KnownBefore "known-before" "Known before:",
    Heed "heed" "HEED",
    Why "why" "WHY",
    Measured "measured" "MEASURED",
    Health "health" "HEALTH",
    WouldSettle "would-settle" "WHAT WOULD SETTLE IT",
    NextSteps "next-steps" "WHAT TO DO NEXT",
    PapersAndPlaces "papers-and-places" "PAPERS AND PLACES",
    MeasurementNotes "measurement-notes" "NOTES ON THE MEASUREMENT",
    NothingMeasured "nothing-measured" "Nothing was measured.",
    Supports "supports" "This page supports a trained person's judgement and replaces neither it nor the law of the place.",
    // Columns
    Criterion "column.criterion" "criterion",
    Found "column.found" "found",
    AskedFor "column.asked-for" "asked for",
    Finding "column.finding" "finding",
    LimitFrom "column.limit-from" "limit from",
    Quantity "column.quantity" "quantity",
    ValueWithDoubt "column.value" "value ± U (k = 2)",
    Method "column.method" "method",
    // Explanation
    HowToRead "how-to-read" "HOW TO READ THIS",
    ScaleSigns "scale.signs" "x fails  ? too close to tell  = passes  | limit, guard band  <-o-> value, 95 %",
    GuardLabel "label.guard" "guard",
    SoLabel "label.so" "so",
    DoubtLabel "label.doubt" "doubt",
    SettleLabel "label.settle" "settle",
    MeasuredLabel "label.measured" "measured",
    HeedLabel "label.heed" "heed",
    LimitLabel "label.limit" "limit",
    // Papers
    Draft "draft" "draft, to be checked by a trained person",
    VerifyWith "verify-with" "verify with {whom}",
    InDoubt "in-doubt" "In doubt: {doubt}.",
    LetterHeight "letter-height" "letters at least {mm} mm high: print without scaling and measure the smallest letter with a ruler",
    NoLetterHeight "no-letter-height" "no text was found that fixes a letter height",
    Contents "contents" "contents",
    Tests "tests" "tests",
    Now "now" "NOW",
    Counted "counted" "counted",
    // Figures
    ScaleMarks "figure.scale-marks" "black dot and bar: value and its 95 % interval · thick line: limit",
    ScaleZones "figure.scale-zones" "white: passes · grey: too close to tell · hatched: fails",
    ChartMarks "figure.chart-marks" "o value, X out, = stated value",
    ChartLimits "figure.chart-limits" "; ( | ) limits and centre of the first {count}, w weighted mean ({weight} for the newest)",
    ChartNoLimits "figure.chart-no-limits" "; limits follow once there are more values",
    ChartDrawn "figure.chart-drawn" "circle: value; filled square: out of control; grey line: weighted mean; dotted: stated value",
    Stated "figure.stated" "stated {value}",
    Centre "figure.centre" "centre {value}",
    UpperLimit "figure.upper-limit" "upper limit {value}",
    LowerLimit "figure.lower-limit" "lower limit {value}",
}

impl Phrase {
    /// Returns its English text with blanks filled. A blank without a value stays visible in its braces: a gap in a sentence
    /// about a cell must not look like a whole sentence. Braces in a value fill nothing.
    pub fn said(self, blanks: &[(&str, &str)]) -> String {
        let mut out = String::new();
        let mut rest = self.english();
        while let Some((before, from)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, after)) = from.split_once('}') else {
                rest = from;
                continue;
            };
            match blanks.iter().find(|(blank, _)| *blank == name) {
                Some((_, value)) => out.push_str(value),
                None => out.push_str(&format!("{{{name}}}")),
            }
            rest = after;
        }
        out + rest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_rules::promise_in;
    use std::collections::BTreeSet;

    #[test]
    fn every_phrase_has_a_key_of_its_own_and_words() {
        let keys: BTreeSet<_> = Phrase::ALL.iter().map(|phrase| phrase.key()).collect();
        assert_eq!(keys.len(), Phrase::ALL.len(), "two phrases have one key");
        assert!(Phrase::ALL.iter().all(|phrase| !phrase.english().trim().is_empty()));
        for phrase in Phrase::ALL {
            let text = phrase.english();
            assert_eq!(text.matches('{').count(), text.matches('}').count(), "{phrase:?}");
        }
    }

    #[test]
    fn no_phrase_promises_anything() {
        let promises: Vec<_> =
            Phrase::ALL.iter().filter(|phrase| promise_in(phrase.english()).is_some()).collect();
        assert!(promises.is_empty(), "{promises:?}");
    }

    #[test]
    fn a_value_fills_its_blank_and_no_other() {
        let said = Phrase::ChartLimits.said(&[("count", "{weight}"), ("weight", "0.2")]);
        assert!(said.contains("the first {weight}, w weighted mean (0.2 for"), "{said}");
        assert_eq!(Phrase::VerifyWith.said(&[]), "verify with {whom}", "a gap stays visible");
    }
}
