//! The page itself: one file that holds the protocols, the engine, the style and the script.
//!
//! Takes the texts, the list that the page opens with and the engine's bytes; gives the HTML.
//! Nothing in it points outside: no address is named but within the page, and its own policy
//! forbids every request.

use super::{Listed, Texts};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

/// The library of this crate as WebAssembly, made by `.ci/engine` and committed.
pub static ENGINE: &[u8] = include_bytes!("engine.wasm");

const FRAME: &str = include_str!("page/page.html");
const STYLE: &str = include_str!("page/page.css");
const SCRIPT: &str = include_str!("page/page.js");

#[derive(Serialize)]
struct Inside<'a> {
    listed: &'a [Listed],
    #[serde(flatten)]
    texts: &'a Texts,
}

/// The whole page; it fails only where the texts are no JSON, which no text can cause.
pub fn html(texts: &Texts, listed: &[Listed]) -> Result<String, serde_json::Error> {
    // `<` never stands in the data, so nothing in a protocol can end its element.
    let inside = serde_json::to_string(&Inside { listed, texts })?.replace('<', "\\u003c");
    let hash = format!(
        "sha256-{}",
        STANDARD.encode(Sha256::digest(SCRIPT.as_bytes()))
    );
    let engine = STANDARD.encode(ENGINE);
    Ok(filled(&[
        ("{script-hash}", &hash),
        ("{style}", STYLE),
        ("{version}", env!("CARGO_PKG_VERSION")),
        ("{texts}", &inside),
        ("{engine}", &engine),
        ("{script}", SCRIPT),
    ]))
}

/// The frame with its places filled, in their order: what was put in is not searched again.
fn filled(parts: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = FRAME;
    for (place, text) in parts {
        if let Some((before, after)) = rest.split_once(place) {
            out.push_str(before);
            out.push_str(text);
            rest = after;
        }
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_of_the_frame_is_filled_once() {
        let texts = Texts {
            files: [("a.protocol".to_owned(), "{script} </script>".to_owned())].into(),
            roots: Vec::new(),
        };
        let page = html(&texts, &[]).expect("a page");
        assert_eq!(page.matches("</script>").count(), 3, "three elements end");
        for place in [
            "{script-hash}",
            "{style}",
            "{version}",
            "{texts}",
            "{engine}",
        ] {
            assert!(!page.contains(place), "{place}");
        }
        assert!(page.contains("{script} \\u003c/script>"));
        assert!(page.ends_with("</html>\n"));
    }

    #[test]
    fn the_page_names_no_address() {
        for (name, text) in [("frame", FRAME), ("style", STYLE), ("script", SCRIPT)] {
            for word in [
                "http:",
                "https:",
                "url(",
                "fetch(",
                "XMLHttpRequest",
                "WebSocket",
                "sendBeacon",
                "localStorage",
                "sessionStorage",
                "indexedDB",
                "cookie",
                "import(",
                "@import",
            ] {
                assert!(!text.contains(word), "the {name} has `{word}`");
            }
        }
    }
}
