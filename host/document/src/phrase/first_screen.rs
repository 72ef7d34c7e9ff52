//! The phrases of the first screen of a decision, and of the table of a day: short, since each has a line at most.

/// Makes one table of phrases out of those given and the ones of the first screen.
macro_rules! with_the_first_screen {
    ($($row:tt)*) => {
        phrases! {
            $($row)*
            // What stands at the left; the longest decides how far in the texts begin.
            ScreenDevice "screen.device" "DEVICE",
            ScreenDoNow "screen.do-now" "DO NOW",
            ScreenDoNot "screen.do-not" "DO NOT",
            ScreenTakeCare "screen.take-care" "TAKE CARE",
            ScreenDecidedBy "screen.decided-by" "DECIDED BY",
            ScreenChecked "screen.checked" "CHECKED",
            ScreenNeeded "screen.needed" "NEEDED",
            ScreenBefore "screen.before" "BEFORE",
            ScreenLife "screen.life" "ITS LIFE",
            ScreenMore "screen.more" "MORE",
            // What to do next, by what was decided.
            NextFit "next.fit" "Tag it as stock; later: {command}",
            NextJudge "next.judge" "Tag it; a person judges it: {command}",
            NextAssess "next.assess" "To assess it: {command}",
            NextGuided "next.guided" "Led through charge, rest and discharge: {command}",
            NextWatch "next.watch" "Only when those you called let you, under watch: {command}",
            NextKeep "next.keep" "No book holds this. To act on it: {command}",
            NextNumber "next.number" "Give it a number and a tag, then assess it under that number.",
            // What the decision forbids, behind "do not".
            ForbidLook "forbid.look" "go near it",
            ForbidLoad "forbid.load" "put a load on it",
            ForbidPreCharge "forbid.pre-charge" "pre-charge it",
            ForbidCharge "forbid.charge" "charge it",
            // What was checked.
            DecidingNumber "screen.deciding" "{what} {found}, limit {limit}: {finding}",
            GuardTripped "screen.guard" "guard: {cause}",
            CheckedOne "screen.one" "{what} {found} ({limit})",
            CheckedFailed "screen.failed" "failed: {what}",
            CheckedOpen "screen.open" "not clear: {what}",
            CheckedMissing "screen.missing" "not measured: {what}",
            CheckedPassed "screen.passed" "passed: {what}",
            CheckedNotNeeded "screen.not-needed" "not measured, not needed for this fate: {what}",
            CheckedSigns "screen.signs" "{count} signs, none found",
            CheckedSomeSigns "screen.some-signs" "nobody has looked for: {open}",
            CountFailed "screen.count-failed" "{count} more failed",
            CountOpen "screen.count-open" "{count} not clear",
            CountMissing "screen.count-missing" "{count} not measured",
            CountPassed "screen.count-passed" "{count} passed",
            CountMore "screen.count-more" "(and {count} more)",
            CountOthers "screen.count-others" "{count} more",
            NothingNeeded "screen.nothing-needed" "nothing more for this fate",
            NothingBefore "screen.nothing-before" "nothing in the book",
            NotAskedBefore "screen.not-asked-before" "no book was asked",
            // Where the rest is.
            ScreenWhole "screen.whole" "{whole} (all)",
            ScreenNumbers "screen.numbers" "{numbers} (why)",
            ScreenSupports "screen.supports" "A trained person's judgement and the law of the place go before it.",
            // The table of a day.
            DayTitle "day.title" "THE DAY",
            BatchTitle "day.batch" "THE BATCH",
            DayFate "day.fate" "fate",
            DayDecided "day.decided" "decided by",
            DayNotTested "day.not-tested" "NOT TESTED",
            DayNotBegun "day.not-begun" "NOT BEGUN",
        }
    };
}
