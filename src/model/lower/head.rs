//! What stands once in every protocol: title, version, patients, method …

use super::names::Kind;
use super::*;
use crate::quantity::{Age, Weight, unit_named};

/// Statements that may stand only once, and those that every protocol needs.
const ONCE: &[(R, &str, bool)] = &[
    (R::title, "title", true),
    (R::unit_line, "unit", true),
    (R::version, "version", true),
    (R::review, "review", true),
    (R::purpose, "purpose", true),
    (R::patients, "patients", true),
    (R::method, "method", true),
    (R::timezone, "timezone", true),
    (R::start_within, "start within", false),
    (R::shifts, "shifts", false),
    (R::workload, "workload", false),
    (R::both_scales, "show", false),
];

impl<'t> Lowerer<'t> {
    pub(super) fn head(&mut self, input: &Input<'_, 't>) -> Option<Head> {
        let main = input.fragments.first()?.block;
        let lines: Vec<(Node<'t>, &Node<'t>)> = main
            .statements
            .iter()
            .filter_map(|line| line.first().map(|statement| (statement, line)))
            .collect();
        self.once(main, &lines, &input.lost);
        let find = |rule: R| lines.iter().find(|(statement, _)| statement.rule() == rule);

        let title = find(R::title).and_then(|(node, _)| self.text(node));
        let unit = find(R::unit_line).and_then(|(node, _)| self.text(node));
        let version = find(R::version).and_then(|(node, _)| self.version(node));
        let review = find(R::review)
            .and_then(|(node, _)| node.find(R::date))
            .and_then(|date| self.date(&date));
        let purpose = find(R::purpose).map(|(node, _)| {
            let names = node.all(R::name);
            let purpose = names.first().and_then(|name| self.fixed(name));
            let after = names.get(1).map(|name| self.fixed(name));
            (purpose, after)
        });
        let patients = find(R::patients).and_then(|(node, line)| self.patients(node, line));
        let method = find(R::method).and_then(|(node, _)| self.method(node));
        let timezone = find(R::timezone).and_then(|(node, _)| self.timezone(node));
        let start_within = find(R::start_within).map(|(node, line)| self.start_within(node, line));
        let shifts = find(R::shifts).map(|(node, _)| {
            let clocks = node.all(R::clock);
            clocks
                .iter()
                .map(|clock| self.clock(clock))
                .collect::<Option<Vec<_>>>()
        });
        let workload = find(R::workload).map(|(node, _)| self.workload(node));
        let both_scales = find(R::both_scales).map(|(node, _)| self.both_scales(node));
        let mut guidelines = Vec::new();
        let mut approvals = Vec::new();
        for (node, line) in &lines {
            match node.rule() {
                R::guideline => {
                    for name in node
                        .all(R::names)
                        .iter()
                        .flat_map(|names| names.all(R::name))
                    {
                        guidelines.push(self.fixed(&name));
                    }
                }
                R::approved => approvals.push(self.approval(node, line)),
                _ => {}
            }
        }
        let (purpose, after) = purpose?;
        Some(Head {
            title: title?,
            unit: unit?,
            version: version?,
            review: review?,
            purpose: purpose?,
            after: optional(after)?,
            patients: patients?,
            method: method?,
            timezone: timezone?,
            guidelines: guidelines.into_iter().collect::<Option<_>>()?,
            start_within: optional(start_within)?,
            shifts: optional(shifts)?.unwrap_or_default(),
            workload: optional(workload)?,
            both_scales: optional(both_scales)?.is_some(),
            approvals: approvals.into_iter().collect::<Option<_>>()?,
        })
    }

    fn once(
        &mut self,
        main: &TreeBlock<'t>,
        lines: &[(Node<'t>, &Node<'t>)],
        lost: &BTreeSet<String>,
    ) {
        for (rule, word, needed) in ONCE {
            let found: Vec<Span> = lines
                .iter()
                .filter(|(statement, _)| statement.rule() == *rule)
                .map(|(statement, _)| statement.span())
                .collect();
            if let [first, second, ..] = found.as_slice() {
                self.error(
                    Diagnostic::error("stated-twice", *second, format!("`{word}` is stated twice"))
                        .also(*first, "first here")
                        .why("the sheet could print either")
                        .help("keep one of the two")
                        .source("structural"),
                );
            }
            // A broken line of that kind has its own error.
            let first_word = word.split(' ').next().unwrap_or(word);
            if found.is_empty() && *needed && !lost.contains(&format!(" {first_word}")) {
                self.error(
                    Diagnostic::error(
                        "missing-statement",
                        main.head.span(),
                        format!("the protocol does not state its `{word}`"),
                    )
                    .why("it stands on every sheet, and the checks go by it")
                    .help(format!("add a line that begins with `{word}`"))
                    .source("structural"),
                );
            }
        }
    }

    pub(super) fn version(&mut self, node: &Node<'t>) -> Option<At<Version>> {
        let text = node.find(R::three_numbers)?;
        let parts: Vec<u32> = text
            .text()
            .split('.')
            .filter_map(|part| part.parse().ok())
            .collect();
        let [major, minor, patch] = parts.as_slice() else {
            self.error(
                Diagnostic::error("bad-number", text.span(), "a version number is too large")
                    .why("two versions could not be told apart")
                    .help("write three small numbers, such as `2.1.0`")
                    .source("structural"),
            );
            return None;
        };
        Some(At::new(
            Version {
                major: *major,
                minor: *minor,
                patch: *patch,
            },
            text.span(),
        ))
    }

    fn patients(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Patients> {
        let group = self.fixed(&node.find(R::name)?);
        let mut patients = Patients {
            group: group?,
            weight: None,
            birth_weight: None,
            age: None,
            gestation: None,
            on_arrival: Vec::new(),
            reason: self.reason(line),
            span: node.span(),
        };
        let mut seen: Vec<R> = Vec::new();
        for range in node.children() {
            let rule = range.rule();
            match rule {
                R::weight_range => patients.weight = Some(self.weights(&range)?),
                R::birth_weight => patients.birth_weight = Some(self.weights(&range)?),
                R::age_range => patients.age = Some(self.ages(&range)?),
                R::gestation_range => patients.gestation = Some(self.ages(&range)?),
                R::arrival_range => {
                    let reading = self.reading_id(&range.find(R::name)?)?.value;
                    let found = self.levels(&range, reading)?;
                    for end in [&found.low, &found.high] {
                        self.on_scale(Some(end.clone()), reading)?;
                    }
                    patients.on_arrival.push((reading, found));
                }
                _ => continue,
            }
            if seen.contains(&rule) && rule != R::arrival_range {
                self.error(
                    Diagnostic::error("stated-twice", range.span(), "a range is stated twice")
                        .why("a patient could be inside the one and outside the other")
                        .help("keep one of the two")
                        .source("structural"),
                );
            }
            seen.push(rule);
        }
        Some(patients)
    }

    fn weights(&mut self, node: &Node<'t>) -> Option<Range<Weight>> {
        let values = node.all(R::value);
        let low = self.weight(values.first()?)?;
        let high = self.weight(values.get(1)?)?;
        let ordered = low.value <= high.value;
        self.range(low, high, ordered, node.span())
    }

    fn ages(&mut self, node: &Node<'t>) -> Option<Range<Age>> {
        let values = node.all(R::value);
        let low = self.age(values.first()?)?;
        let high = self.age(values.get(1)?)?;
        let ordered = low.value <= high.value;
        self.range(low, high, ordered, node.span())
    }

    /// `V to V` of a reading.
    pub(super) fn levels(
        &mut self,
        node: &Node<'t>,
        reading: ReadingId,
    ) -> Option<Range<crate::quantity::Level>> {
        let values = node.all(R::value);
        let low = self.level(values.first()?, reading);
        let high = self.level(values.get(1)?, reading);
        let (low, high) = (low?, high?);
        let ordered = low.value <= high.value;
        self.range(low, high, ordered, node.span())
    }

    pub(super) fn range<Q>(
        &mut self,
        low: Q,
        high: Q,
        ordered: bool,
        span: Span,
    ) -> Option<Range<Q>> {
        if !ordered {
            self.error(
                Diagnostic::error("range-reversed", span, "a range runs from high to low")
                    .why("no value lies in it")
                    .help("write the lower value first")
                    .source("structural"),
            );
            return None;
        }
        Some(Range { low, high, span })
    }

    fn method(&mut self, node: &Node<'t>) -> Option<Method> {
        let mut means = Vec::new();
        for name in node
            .find(R::method_words)?
            .all(R::names)
            .iter()
            .flat_map(|names| names.all(R::name))
        {
            means.push(self.fixed(&name));
        }
        let means: Vec<At<words::Means>> = means.into_iter().collect::<Option<_>>()?;
        self.passive_stands_alone(&means, false);
        let feedback = match node.find(R::feedback) {
            None => None,
            Some(feedback) => Some(self.reading_id(&feedback.find(R::name)?)?),
        };
        Some(Method {
            means,
            feedback,
            span: node.span(),
        })
    }

    pub(super) fn passive_stands_alone(&mut self, means: &[At<words::Means>], of_phase: bool) {
        let passive = means
            .iter()
            .find(|means| means.value == words::Means::Passive);
        let Some(passive) = passive.filter(|_| means.len() > 1) else {
            return;
        };
        self.error(
            Diagnostic::error(
                "passive-with-others",
                passive.span,
                "`passive` stands beside another method",
            )
            .why("passive means that nothing controls the temperature")
            .help(if of_phase {
                "take `passive` away here, or make a phase of its own of the time without control"
            } else {
                "take `passive` away here, and write `by passive` in the phase that is so"
            })
            .source("structural"),
        );
    }

    fn timezone(&mut self, node: &Node<'t>) -> Option<At<String>> {
        let text = self.text(node)?;
        if jiff::tz::TimeZone::get(&text.markdown).is_err() {
            self.error(
                Diagnostic::error(
                    "unknown-timezone",
                    text.span,
                    format!("there is no time zone `{}`", text.markdown),
                )
                .why("clock times would be wrong when the clocks change")
                .help("write a name of the IANA table, such as `\"Europe/London\"`")
                .source("IANA Time Zone Database"),
            );
            return None;
        }
        Some(At::new(text.markdown, text.span))
    }

    fn start_within(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<StartWithin> {
        let within = self.duration(&node.find(R::value)?);
        let of = self.refer(Kind::Mark, &node.find(R::name)?);
        Some(StartWithin {
            within: within?,
            of: MarkId(of?.value),
            reason: self.reason(line),
            span: node.span(),
        })
    }

    fn workload(&mut self, node: &Node<'t>) -> Option<At<u32>> {
        let count = node.find(R::count)?;
        match count.text().parse() {
            Ok(entries) if entries > 0 => Some(At::new(entries, count.span())),
            _ => {
                self.error(
                    Diagnostic::error(
                        "bad-number",
                        count.span(),
                        "a workload must be a small whole number",
                    )
                    .why("whether an hour is too heavy is decided by it")
                    .help("write how many entries an hour a nurse can make, such as `24`")
                    .source("structural"),
                );
                None
            }
        }
    }

    /// The two scales may stand in either order: what is written comes first on the sheet.
    fn both_scales(&mut self, node: &Node<'t>) -> Option<()> {
        let units = node.all(R::unit);
        let mut names: Vec<&str> = units
            .iter()
            .filter_map(|unit| unit_named(unit.text()))
            .map(|unit| unit.name)
            .collect();
        names.sort_unstable();
        if names == ["°C", "°F"] {
            return Some(());
        }
        self.error(
            Diagnostic::error(
                "unknown-unit",
                node.span(),
                "only the two scales of temperature can be shown side by side",
            )
            .why("every other quantity is printed as it is written, so that nothing is converted by mistake")
            .help("write `show °C and °F`, or take the line away")
            .source("structural"),
        );
        None
    }

    fn approval(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Approval> {
        let texts = node.all(R::text);
        let by = self.text(texts.first()?);
        let on = self.date(&node.find(R::date)?);
        let fingerprint = self.text(texts.get(1)?);
        Some(Approval {
            by: by?,
            on: on?,
            fingerprint: fingerprint?,
            reason: self.reason(line),
            span: node.span(),
        })
    }
}

/// Absent is fine; present and wrong is not.
pub(super) fn optional<T>(part: Option<Option<T>>) -> Option<Option<T>> {
    match part {
        None => Some(None),
        Some(inner) => inner.map(Some),
    }
}
