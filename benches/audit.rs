//! How fast a long log is audited, how much memory that takes, and how that compares with
//! polars computing the same measures from the same file in the same run.
//!
//! `cargo bench --bench audit` uses a million readings, `cargo bench --bench audit --
//! 10000000` ten million. Polars comes from `tests/outside/requirements.txt`; without it
//! only this program is measured. The figures of both must be the same.

#![allow(clippy::expect_used, clippy::panic)] // a bench that cannot be set up must say so

use std::fs::File;
use std::io::{BufReader, BufWriter, Write as _};
use std::path::Path;
use std::process::Command;
use std::time::Instant;
use tempwright::audit::{Audit, Auditor, Options};
use tempwright::eval::Case;
use tempwright::model;
use tempwright::source::MemoryLibrary;

const PROTOCOL: &str = r#"protocol long {
  title    "A long case (invented example, not for patient care)"
  unit     "None"
  version  1.0.0
  review   2027-01-01
  purpose  therapeutic-hypothermia
  patients adult
  method   surface feedback from core
  timezone "UTC"
  people { nurse "Bedside nurse" }
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase cool "Cool" { cool core to 33.0 °C }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.3 °C
    lasts 400 days
  }
  every 1 min record core
}
"#;

fn main() {
    let readings: u64 = std::env::args()
        .skip(1)
        .find_map(|argument| argument.parse().ok())
        .unwrap_or(1_000_000);
    let folder = std::env::temp_dir().join(format!("tempwright-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let auditor = auditor();
    let small = folder.join("small.csv");
    let large = folder.join("large.csv");
    write(&small, readings / 10);
    write(&large, readings);
    let _ = audit(&auditor, &small);
    let after_small = peak();
    let begun = Instant::now();
    let ours = audit(&auditor, &large);
    let took = begun.elapsed().as_secs_f64();
    let after_large = peak();
    println!(
        "{readings} readings: {took:.2} s, {:.0} readings a second",
        readings as f64 / took
    );
    println!(
        "peak memory after {} readings {after_small} kB, after {readings} readings {after_large} kB",
        readings / 10
    );
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/audit_polars.py");
    match Command::new("python3").arg(&script).arg(&large).output() {
        Ok(output) if output.status.success() => {
            let theirs = String::from_utf8(output.stdout).expect("text");
            let mut lines = theirs.lines();
            let seconds: f64 = lines
                .next()
                .and_then(|line| line.parse().ok())
                .expect("seconds");
            println!(
                "polars, the same measures of the same file: {seconds:.2} s; this program takes {:.1} times as long",
                took / seconds
            );
            for line in lines {
                let (key, value) = line.split_once(' ').expect("a figure");
                let own = ours
                    .figure(key)
                    .and_then(|figure| figure.value)
                    .map(|value| value.to_string());
                assert_eq!(own.as_deref(), Some(value), "{key}");
                println!("  {key} = {value} in both");
            }
        }
        other => println!("polars was not measured: {other:?}"),
    }
    std::fs::remove_dir_all(&folder).expect("removed");
}

fn auditor() -> Auditor {
    let library = MemoryLibrary::default().with("long.protocol", PROTOCOL);
    let mut loaded = model::load(&library, &["long.protocol"]).expect("the file is there");
    let (_, protocol) = loaded.protocols.pop().expect("one protocol");
    Auditor::new(&protocol, Options::default())
}

fn audit(auditor: &Auditor, path: &Path) -> Audit {
    let open = || File::open(path).map(|file| BufReader::with_capacity(1 << 18, file));
    let audit = auditor
        .audit("long", open, &Case::default(), &mut |_, _| {})
        .expect("it is there");
    assert!(audit.problems.is_empty(), "{:?}", audit.problems);
    audit
}

/// A reading every 3 s: down to 33 °C in three hours, then up and down around it.
fn write(path: &Path, readings: u64) {
    let mut out = BufWriter::new(File::create(path).expect("a file"));
    writeln!(out, "time,core").expect("written");
    let mut dice: u64 = 1;
    for index in 0..readings {
        dice = dice
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        let noise = (dice >> 33) % 9;
        let fall = index / 100;
        let tenths = if fall < 36 { 366 - fall } else { 326 + noise };
        let seconds = index * 3;
        let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
        writeln!(
            out,
            "{hours}:{minutes:02}:{:02},{}.{}",
            seconds % 60,
            tenths / 10,
            tenths % 10
        )
        .expect("written");
    }
    out.flush().expect("written");
}

/// The most memory that this process has had, in kB; 0 where the system does not say.
fn peak() -> u64 {
    std::fs::read_to_string("/proc/self/status")
        .unwrap_or_default()
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .and_then(|rest| rest.trim().trim_end_matches("kB").trim().parse().ok())
        .unwrap_or(0)
}
