//! The PDF as other programs read it.

use crate::forms::folder;
use crate::outside;
use crate::printed::{BOTH, Printed, all};
use tempwright::document::pdf;

/// Every sheet as a file; the test goes on with those.
fn files(name: &str) -> Vec<(Printed, String)> {
    let folder = folder(name);
    all(&BOTH)
        .into_iter()
        .enumerate()
        .map(|(index, sheet)| {
            let path = folder.join(format!("{index}.pdf"));
            let bytes = pdf::render(&sheet.document).expect("a PDF");
            assert_eq!(
                bytes,
                pdf::render(&sheet.document).expect("a PDF"),
                "{}: the same input gives the same bytes",
                sheet.what()
            );
            std::fs::write(&path, bytes).expect("written");
            (sheet, path.display().to_string())
        })
        .collect()
}

#[test]
fn each_file_is_sound_says_its_signs_and_names_itself() {
    for (sheet, path) in files("sound") {
        let what = sheet.what();
        if let Some(said) = outside::program("qpdf", &["--check", &path]) {
            assert!(
                said.contains("No syntax or stream encoding errors"),
                "{what}: {said}"
            );
        }
        let Some(text) = outside::program("pdftotext", &["-layout", &path, "-"]) else {
            return;
        };
        let pages: Vec<&str> = text
            .split('\u{c}')
            .filter(|page| !page.trim().is_empty())
            .collect();
        let short: String = sheet.document.meta.fingerprint.chars().take(16).collect();
        for (index, page) in pages.iter().enumerate() {
            for wanted in [
                format!("Page {} of {}", index + 1, pages.len()),
                format!("{}, version {}", sheet.name, sheet.document.meta.version),
                short.clone(),
                "does not replace local policy and clinical judgement".to_string(),
            ] {
                assert!(
                    page.contains(&wanted),
                    "{what} page {}: {wanted}",
                    index + 1
                );
            }
        }
        for sign in ["°C", "☐", "…"] {
            assert!(text.contains(sign), "{what}: {sign}");
        }
        let Some(about) = outside::program("pdfinfo", &[&path]) else {
            return;
        };
        let line = |name: &str| {
            about
                .lines()
                .find_map(|line| line.strip_prefix(name))
                .map(str::trim)
        };
        assert_eq!(
            line("Title:"),
            Some(sheet.document.title.as_str()),
            "{what}"
        );
        assert_eq!(line("Tagged:"), Some("yes"), "{what}");
        assert_eq!(line("Creator:"), Some("tempwright"), "{what}");
    }
}

#[test]
fn the_signs_of_the_trade_come_out_of_the_pdf_as_they_went_in() {
    use tempwright::document::{Block, Paper};
    let mut sheet = all(&[Paper::A4]).remove(0);
    let signs =
        "33.0 °C ± 0.5 °C, ≤ 10.0 mmol/L, ≥ 65 mmHg, ½ dose → step 2, µ, 0.25 °C/h × 4 h ÷ 2";
    sheet.document.blocks.push(Block::paragraph(signs));
    let path = folder("signs").join("signs.pdf");
    std::fs::write(&path, pdf::render(&sheet.document).expect("a PDF")).expect("written");
    let path = path.display().to_string();
    if let Some(text) = outside::program("pdftotext", &["-layout", &path, "-"]) {
        assert!(text.contains(signs), "{text}");
    }
}

#[test]
fn a_checker_of_tagged_pdf_has_no_findings() {
    let files = files("tagged");
    let paths: Vec<&str> = files.iter().map(|(_, path)| path.as_str()).collect();
    if let Some(said) = outside::python("pdf_ua.py", "pdfua", &paths, "") {
        assert_eq!(said, "");
    }
}

#[test]
fn the_code_on_every_page_gives_the_whole_fingerprint() {
    let (sheet, path) = files("code").remove(2);
    let folder = folder("code-pages");
    let stem = folder.join("page").display().to_string();
    if outside::program("pdftoppm", &["-r", "150", "-gray", "-png", &path, &stem]).is_none() {
        return;
    }
    let mut pages: Vec<_> = std::fs::read_dir(&folder)
        .expect("the folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    pages.sort();
    assert!(pages.len() > 3);
    let wanted = format!(
        "{} {} {}",
        sheet.name, sheet.document.meta.version, sheet.document.meta.fingerprint
    )
    .to_uppercase();
    for page in pages {
        let path = page.display().to_string();
        let Some(said) = outside::program("zbarimg", &["--quiet", "--raw", &path]) else {
            return;
        };
        assert_eq!(said.trim(), wanted, "{path}");
    }
}
