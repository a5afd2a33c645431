//! Conditions that hold in more ways than can be tried: what is checked or compared ends within
//! bounds that the operating system keeps, and says what is left open.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/bounded.rs"]
mod bounded;

use bounded::{bounded, folder, protocol, rule};

/// `(a or b) and (c or d) and …`: up to two to the thirtieth ways to hold.
fn tangled(pairs: usize, test: impl Fn(usize) -> (String, String)) -> String {
    let parts: Vec<String> = (0..pairs)
        .map(|at| {
            let (one, other) = test(at);
            format!("({one} or {other})")
        })
        .collect();
    parts.join(" and ")
}

fn readings() -> String {
    (0..60)
        .map(|at| {
            format!(
                "  reading w{at} \"W{at}\" temperature of water, shown to 0.1 °C, accurate to 0.2 °C\n  \
                 every 1 h record w{at}\n"
            )
        })
        .collect()
}

#[test]
fn conditions_that_hold_in_a_billion_ways() {
    let of = |pairs: usize, words: &dyn Fn(usize, bool) -> String| {
        tangled(pairs, |at| (words(2 * at, true), words(2 * at + 1, false)))
    };
    let plain = of(30, &|at, up| match up {
        true => format!("w{at} above 30.{} °C", at % 10),
        false => format!("w{at} below 20.{} °C", at % 10),
    });
    let lasting = of(12, &|at, up| match up {
        true => format!("w{at} above 30.0 °C for {} h", at + 1),
        false => format!("w{at} below 20.0 °C for {} h", at + 1),
    });
    let trends = of(6, &|at, up| match up {
        true => format!("w{at} rises more than 1.5 °C in {} h", at + 1),
        false => format!("w{at} falls more than 1.5 °C in {} h", at + 1),
    });
    let one_reading = tangled(30, |at| {
        (
            format!("core above 37.{} °C", at % 7),
            format!("core below 36.{} °C", at % 7),
        )
    });
    for condition in [&plain, &lasting, &trends, &one_reading] {
        let body = |order: &str| {
            let again = rule("b", condition, "lower target by 0.5 °C, at least 36.0 °C");
            protocol(&format!(
                "{}{}{again}",
                readings(),
                rule("a", condition, order)
            ))
        };
        let order = "raise target by 0.5 °C, at most 37.5 °C";
        let folder = folder(&body(order));
        let other = body(order)
            .replace("30.", "31.")
            .replace("1.5 °C", "1.6 °C")
            .replace("37.3 °C", "37.4 °C");
        assert_ne!(other, body(order));
        std::fs::write(folder.path().join("q.protocol"), other).expect("written");
        let output = bounded(folder.path(), &["check", "p.protocol"]);
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        // Two equal conditions with opposite orders: found, or said to be beyond proof.
        assert!(
            said.contains("error[contradiction]") || said.contains("error[not-proved]"),
            "{said}"
        );
        // Those over long times have a test of their own.
        if condition.contains(" for ") {
            continue;
        }
        let output = bounded(folder.path(), &["compare", "p.protocol", "q.protocol"]);
        assert_eq!(output.status.code(), Some(1));
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        assert!(
            said.contains("rule `a`") && said.contains("rule `b`"),
            "{said}"
        );
    }
    // Without the contradiction it is printed and rehearsed.
    let scenario = "scenario \"warm\" for example {\n  at 0:00 core 38.5 °C\n  at 1:00 core 38.6 °C\n  end 3:00\n}\n";
    let text = protocol(&format!(
        "{}{}",
        readings(),
        rule("a", &lasting, "do \"Look\"")
    ));
    let folder = folder(&format!("{text}{scenario}"));
    for arguments in [
        &["sheet", "p.protocol", "-o", "p.pdf"][..],
        &["build", "p.protocol"],
        &["rehearse", "p.protocol"],
        &["rehearse", "p.protocol", "--suggest"],
    ] {
        bounded(folder.path(), arguments);
    }
}

/// Many long conditions: what a comparison may take is counted, and what it leaves open is said.
#[test]
fn a_comparison_of_conditions_over_long_times_ends_and_says_what_is_open() {
    let lasting = tangled(20, |at| {
        (
            format!("w{} above 30.0 °C for {} h", 2 * at, 2 * at + 1),
            format!("w{} below 20.0 °C for {} h", 2 * at + 1, 2 * at + 2),
        )
    });
    let all = rule("a", &lasting, "raise target by 0.5 °C, at most 37.5 °C")
        + &rule("b", &lasting, "lower target by 0.5 °C, at least 36.0 °C");
    let old = protocol(&format!("{}{all}", readings()));
    let folder = folder(&old);
    std::fs::write(
        folder.path().join("q.protocol"),
        old.replace("30.0", "31.0"),
    )
    .expect("written");
    let compared = |old: &str, new: &str| {
        let output = bounded(folder.path(), &["compare", old, new]);
        assert_eq!(output.status.code(), Some(1));
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let said = compared("p.protocol", "q.protocol");
    assert!(said.contains("NOT COMPARED TO THE END"), "{said}");
    for name in ["a", "b"] {
        assert!(
            said.contains(&format!("rule `{name}`, condition: changed")),
            "{name}: {said}"
        );
    }
    // What was not found out is not claimed.
    assert!(
        said.contains("could not be decided") || said.contains("no record is shown, because"),
        "{said}"
    );
    assert!(!said.contains("acts on the same records"), "{said}");
    // A small one is compared to its end.
    std::fs::write(folder.path().join("r.protocol"), protocol("")).expect("written");
    let small = protocol("").replace("above 37.7 °C", "above 37.8 °C");
    std::fs::write(folder.path().join("s.protocol"), small).expect("written");
    assert!(!compared("r.protocol", "s.protocol").contains("NOT COMPARED"));
}
