//! The QR code of the footer, as rows of dark modules.

use qrcode::{EcLevel, QrCode};

/// Dark modules by row, without the quiet zone. Empty when the text is too long for any code.
pub(super) fn modules(text: &str) -> Vec<Vec<bool>> {
    let Ok(code) = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M) else {
        return Vec::new();
    };
    let width = code.width();
    let dark: Vec<bool> = code
        .into_colors()
        .into_iter()
        .map(|color| color == qrcode::Color::Dark)
        .collect();
    dark.chunks(width).map(<[bool]>::to_vec).collect()
}
