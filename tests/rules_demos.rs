//! The six demo protocols are free of findings about rules, as their authors mean
//! them to be.

mod rules;

use rules::{DEMOS, demo_library, rule_findings, shown};
use tempwright::model::load;

#[test]
fn the_demo_protocols_are_clean() {
    let library = demo_library();
    let mut wrong = Vec::new();
    for demo in DEMOS {
        let path = format!("{demo}.protocol");
        let loaded = load(&library, &[&path]).expect("the demo protocol");
        assert!(
            !loaded.protocols.is_empty(),
            "{demo}: {:#?}",
            loaded.diagnostics
        );
        let (findings, replays) = rule_findings(&loaded);
        for found in &replays.wrong {
            wrong.push(format!("{demo}: not reproduced: {found:#?}"));
        }
        if !findings.is_empty() {
            wrong.push(format!("{demo}:\n{}", shown(&loaded, &findings)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
