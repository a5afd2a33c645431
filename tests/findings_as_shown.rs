//! A few findings as a clinician sees them.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use tempwright::checks::{self, Context, example};
use tempwright::diag::render;
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// An example with its findings, or with those of one name only.
fn shown(text: &str, only: Option<&str>) -> String {
    let whole = example::complete(text).expect("a host");
    let library = MemoryLibrary::default().with("example.protocol", &whole);
    let loaded = load(&library, &["example.protocol"]).expect("the text is in memory");
    let (_, protocol) = loaded.protocols.first().expect("a whole protocol");
    let context = Context::new(protocol, &loaded.sources)
        .on(example::day(text))
        .with_fingerprint(Some(example::FINGERPRINT));
    let mut page = format!("{}\n", text.trim_end());
    let findings = checks::check(&context, loaded.diagnostics.clone()).findings;
    for finding in findings
        .into_iter()
        .filter(|finding| only.is_none_or(|only| finding.name == only))
    {
        page.push_str("\n----\n");
        page.push_str(&render::human(
            &finding,
            &loaded.sources,
            render::Style::default(),
        ));
    }
    page
}

#[test]
fn findings_as_shown() {
    for check in checks::all().filter(|check| !check.fires.is_empty()) {
        insta::assert_snapshot!(check.name, shown(check.fires, None));
    }
}

#[test]
fn published_limits_as_shown() {
    for (name, text) in [
        (
            "k-low",
            "rule potassium-low {\n  when potassium below 2.9 mmol/L\n  then call doctor within 30 min\n  again after 4 h\n}\n",
        ),
        (
            "rewarm-cap-adult",
            "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 37.0 °C at 2/3 °C/h\n  never faster than 2/3 °C/h\n}\n",
        ),
        (
            "pa-fever-erc-2022",
            "guideline erc-2022\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.8 °C\n  ends 71 h after rosc\n}\n",
        ),
        (
            "skin-burn-curve",
            "# host warming\nreading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record pad\nlimit pad never above 43.0 °C\n",
        ),
    ] {
        insta::assert_snapshot!(format!("limit-{name}"), shown(text, Some(name)));
    }
}

#[test]
fn pages_as_shown() {
    for name in [
        "seen-too-late",
        "neo-rewarm-window",
        "map-trials",
        "unknown-name",
    ] {
        let page = checks::explain(name).expect("a page");
        insta::assert_snapshot!(format!("page-{name}"), page.to_string());
    }
}
