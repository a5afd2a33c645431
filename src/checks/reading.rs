//! What reading the text finds: syntax, names, units, numbers, files.
//!
//! The findings themselves are made where the text is read; here stands what
//! `explain` prints about them.

use super::{Check, Family, Run};
use crate::diag::Level;

macro_rules! found_while_reading {
    ($($constant:ident = $name:literal, $level:ident, $summary:literal, $catches:literal, $why:literal;)*) => {
        $(const $constant: Check = Check {
            name: $name,
            family: Family::Notation,
            level: Level::$level,
            since: "0.1.0",
            summary: $summary,
            catches: $catches,
            why: $why,
            fires: "",
            passes: "",
            source: "structural",
            run: Run::Reading,
        };)*

        pub(super) const CHECKS: &[&Check] = &[$(&$constant),*];
    };
}

found_while_reading! {
    UNIT_MISMATCH = "unit-mismatch", Error,
        "a number is of one kind where another belongs",
        "A temperature where a difference belongs, or the other way round (a `let` used as both too); a rate where a \
         duration belongs; a dose per kilogram without a range of weights; amounts of one thing in two units.",
        "32.5 °C is a temperature, and a band 32.5 °C wide is none: nobody can tell which was meant.";
    UNKNOWN_NAME = "unknown-name", Error,
        "a name is not declared",
        "A name that nothing in the file and the files it uses declares, or that names something of another kind.",
        "What the line was to act on does not exist, so it would do nothing.";
    DUPLICATE_NAME = "duplicate-name", Error,
        "a name is given twice",
        "Two things of one name in a file and the files it uses, or a name that is built in.",
        "A record or a finding of years ago could mean either.";
    UNUSED_NAME = "unused-name", Warning,
        "something is declared and used nowhere",
        "A named value, mark, ladder, medication or other thing that no statement uses, and a library of which none \
         is used.",
        "What nobody uses was meant for something: a step may have been forgotten.";
    SYNTAX = "syntax", Error,
        "a line cannot be read",
        "A statement that goes on otherwise than the language has it.",
        "The line was left out of all that follows.";
    TOO_MANY = "too-many-faults", Error,
        "a file has more faults than are worth listing",
        "More faults in one file than anybody would mend one by one: it is probably no protocol.",
        "What stands after the last one that is shown was not looked at.";
    SCHEDULE = "schedule-too-long", Error,
        "a schedule has more lines than a sheet can hold",
        "A plan whose looks and moves are too many to list.",
        "A list that was cut short would look complete.";
    UNKNOWN_WORD = "unknown-word", Error,
        "a word is none of the language's",
        "A word where one of a closed set belongs, or one that begins no statement here.",
        "The line was left out of all that follows.";
    MISPLACED = "misplaced-statement", Error,
        "a statement stands where it has no meaning",
        "A statement in a block of another kind, or outside every block.",
        "The line was left out of all that follows.";
    MISSING_STATEMENT = "missing-statement", Error,
        "something that must be stated is not",
        "A heading, a phase, a rule, a rung or a scenario that lacks what it cannot do without.",
        "What is not stated is decided at the bedside.";
    STATED_TWICE = "stated-twice", Error,
        "something that stands once is stated twice",
        "Two statements of one kind where only one can count.",
        "The sheet would have to choose between the two.";
    MISSING_BRACE = "missing-brace", Error,
        "a block is not closed",
        "A block whose closing brace is missing.",
        "What follows would belong to the wrong rule or phase.";
    BRACE_WITHOUT_HEAD = "brace-without-head", Error,
        "a brace opens or closes nothing",
        "A brace that no block begins with, or one too many at the end.",
        "What follows would belong to the wrong rule or phase.";
    UNCLOSED_TEXT = "unclosed-text", Error,
        "a text has no end",
        "A quotation mark without its partner.",
        "Everything up to the next one would be text.";
    EMPTY_TEXT = "empty-text", Error,
        "a text says nothing",
        "A text without a word in it.",
        "The sheet would show an empty line with a box.";
    EMPTY_FILE = "empty-file", Error,
        "a file holds nothing",
        "A file without a protocol, a library or a scenario.",
        "It was named for a reason, and nothing of it is checked or printed.";
    NESTED = "nested-too-deep", Error,
        "blocks or libraries lie too deep in each other",
        "Parentheses, braces or libraries that use one another, deeper than anybody could read.",
        "What cannot be read aloud cannot be signed.";
    BAD_NUMBER = "bad-number", Error,
        "a number cannot be read safely",
        "A number with too many digits, without a digit before its point, or in another form.",
        "A number that is only nearly right must not be printed.";
    NUMBER_TOO_LARGE = "number-too-large", Error,
        "a time cannot be worked out exactly",
        "Durations and rates whose product does not fit into exact arithmetic.",
        "A time that is only nearly right must not be printed.";
    NOT_POSITIVE = "not-positive", Error,
        "a number must be more than zero here",
        "An interval, a step, a rate or a dose of zero, or something that comes again more often than every minute.",
        "It would ask for something without end, or for nothing.";
    OFF_SCALE = "off-scale", Error,
        "a value lies outside the range of its reading",
        "A threshold or target that the instrument or the score cannot show.",
        "No record can ever meet it, so the line is silent for ever.";
    IDLE_GOAL = "idle-goal", Error,
        "a goal of a measure is met by every case",
        "A goal of at least nothing, or of at most all of the time.",
        "An audit would report as reached what nobody can miss.";
    RANGE_REVERSED = "range-reversed", Error,
        "a range runs backwards",
        "A range whose first end is above its second, or a way that does not go where it says.",
        "No value lies in it, so it says nothing.";
    READING_INCOMPLETE = "reading-incomplete", Error,
        "a reading does not say enough about itself",
        "A temperature or an amount without `shown to`, a body temperature without `accurate to`, an amount without \
         `reads`.",
        "Without it nobody can say which records are possible, or whether a difference can be seen.";
    UNKNOWN_UNIT = "unknown-unit", Error,
        "a unit is none that the language reads",
        "A unit outside the closed table, such as pounds or the sign for micro.",
        "A unit that is guessed is a dose that is guessed.";
    UNKNOWN_TIMEZONE = "unknown-timezone", Error,
        "a time zone is not in the database",
        "A `timezone` that the time-zone database does not have.",
        "Clock times on the sheet would be wrong by hours.";
    BAD_DATE = "bad-date", Error,
        "a date or a time does not exist",
        "A day or a time of day that the calendar or the clock does not have.",
        "A review or a start that has no day never comes.";
    PASSIVE = "passive-with-others", Error,
        "`passive` stands beside active means",
        "A method or phase that is passive and something else.",
        "Passive means that nothing is controlled: one of the two is not true.";
    USE_CYCLE = "use-cycle", Error,
        "files use each other in a ring",
        "A library that uses, directly or by others, the file that uses it.",
        "No one can say which of the two was approved first.";
    USE_OUTSIDE = "use-outside-root", Error,
        "a file outside the project is used",
        "A `use` whose path leads out of the project's folder.",
        "What lies outside is not approved, kept or compared together with the protocol.";
    USE_NO_LIBRARY = "use-not-library", Error,
        "what is used is no library",
        "A `use` of a protocol or of a file of scenarios.",
        "A protocol has its own patients and purpose; taken into another it would say what nobody signed.";
    USE_UNREADABLE = "use-unreadable", Error,
        "a file that is used cannot be read",
        "A `use` of a file that is not there, too large, or no plain UTF-8 text.",
        "The rules in it are missing from the protocol.";
    RULE_FILE = "rule-file-refused", Error,
        "a rule file is not whole",
        "A rule file of another major version, one whose fingerprint or checksum does not fit, one that holds what its \
         version does not have, or one whose parts contradict each other.",
        "A program that goes by it would order something that no committee has approved.";
    RULE_FILE_NEWER = "rule-file-newer", Note,
        "a rule file says more than is read",
        "A rule file of a newer minor version of the format.",
        "What a newer minor version adds changes no order, so the rest can be relied upon.";
    STALE = "stale-output", Error,
        "a written file is not what the protocol gives now",
        "`build --check` compares every file that it would write with the one that is there.",
        "Whoever opens it would work by another protocol than the one that is checked.";
    NOT_FORMATTED = "not-formatted", Warning,
        "a protocol file is not in the one style",
        "`fmt --check` compares each file with what `fmt` would write.",
        "Where every file looks alike, a comparison of two versions shows only what was meant.";
    EXPECTATION = "expectation-failed", Error,
        "a scenario does not go as expected",
        "`rehearse` runs each scenario's records and holds what follows against each `expect`.",
        "The committee wrote down what should happen in this case, and the protocol says something else.";
    NO_SCENARIO = "no-scenario", Error,
        "a protocol has no scenario",
        "`rehearse` found nothing to try.",
        "That nothing failed says nothing where nothing was tried.";
}
