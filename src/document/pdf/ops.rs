//! The canvas for printpdf: what is drawn on a page, as its operations.

use super::canvas::Canvas;
use crate::document::shape::{Anchor, Face, Ink, TextShape};
use printpdf::{
    Color, DictItem, FontId, Greyscale, Line, LineCapStyle, LineDashPattern, LinePoint, Op,
    PaintMode, PdfFontHandle, Point, Polygon, PolygonRing, Pt, Rect, TextItem, TextMatrix,
    WindingOrder,
};
use std::collections::BTreeMap;

/// The canvas that collects printpdf's operations for one page.
pub(super) struct PageOps {
    pub ops: Vec<Op>,
    height: f64,
    set: Set,
}

/// What holds on a page until it is set again: said once, a page is a third shorter.
#[derive(Default)]
struct Set {
    fill: Option<Ink>,
    outline: Option<Ink>,
    thickness: Option<Pt>,
    dashed: Option<bool>,
    font: Option<(Face, Pt)>,
}

/// Whether a value is another than the one that holds; it holds from here.
fn changes<T: PartialEq>(held: &mut Option<T>, value: T) -> bool {
    let changes = held.as_ref() != Some(&value);
    *held = Some(value);
    changes
}

impl PageOps {
    pub fn new(height: f64) -> PageOps {
        PageOps {
            ops: vec![Op::SetLineCapStyle {
                cap: LineCapStyle::Butt,
            }],
            height,
            set: Set::default(),
        }
    }

    fn fill(&mut self, ink: Ink) {
        if changes(&mut self.set.fill, ink) {
            self.ops.push(Op::SetFillColor { col: grey(ink) });
        }
    }

    fn pen(&mut self, ink: Ink, thickness: f64, dashed: bool) {
        if changes(&mut self.set.outline, ink) {
            self.ops.push(Op::SetOutlineColor { col: grey(ink) });
        }
        let thickness = pt(thickness);
        if changes(&mut self.set.thickness, thickness) {
            self.ops.push(Op::SetOutlineThickness { pt: thickness });
        }
        if changes(&mut self.set.dashed, dashed) {
            let dash = if dashed {
                LineDashPattern::new(0.0, &[2.0, 2.0])
            } else {
                LineDashPattern::solid()
            };
            self.ops.push(Op::SetLineDashPattern { dash });
        }
    }

    fn point(&self, (x, y): (f64, f64)) -> Point {
        Point {
            x: pt(x),
            y: pt(self.height - y),
        }
    }

    fn corner(&self, at: (f64, f64)) -> LinePoint {
        LinePoint {
            p: self.point(at),
            bezier: false,
        }
    }

    fn show(&mut self, text: &str, face: Face, size: f64, matrix: [f32; 6]) {
        let id = match face {
            Face::Regular => "F1",
            Face::Bold => "F2",
        };
        self.ops.push(Op::StartTextSection);
        let size = pt(size);
        if changes(&mut self.set.font, (face, size)) {
            let font = PdfFontHandle::External(FontId(id.to_string()));
            self.ops.push(Op::SetFont { font, size });
        }
        self.ops.extend([
            Op::SetTextMatrix {
                matrix: TextMatrix::Raw(matrix),
            },
            Op::ShowText {
                items: vec![TextItem::Text(text.to_string())],
            },
            Op::EndTextSection,
        ]);
    }
}

/// Rounded to a thousandth of a point: enough for print, and the same on every machine.
fn pt(value: f64) -> Pt {
    Pt(((value * 1000.0).round() / 1000.0) as f32)
}

fn grey(ink: Ink) -> Color {
    Color::Greyscale(Greyscale {
        percent: f32::from(ink.0) / 100.0,
        icc_profile: None,
    })
}

impl Canvas for PageOps {
    fn text(&mut self, text: &TextShape, width: f64) {
        let x = match text.anchor {
            Anchor::Start => text.x,
            Anchor::Middle => text.x - width / 2.0,
            Anchor::End => text.x - width,
        };
        let at = self.point((x, text.y));
        let lean = if text.italic { 0.2 } else { 0.0 };
        self.fill(Ink::BLACK);
        let matrix = if text.turned {
            [0.0, 1.0, -1.0, 0.0, at.x.0, at.y.0]
        } else {
            [1.0, 0.0, lean, 1.0, at.x.0, at.y.0]
        };
        self.show(&text.text, text.face, text.size, matrix);
    }

    fn line(&mut self, from: (f64, f64), to: (f64, f64), thickness: f64, ink: Ink, dashed: bool) {
        let line = Line {
            points: vec![self.corner(from), self.corner(to)],
            is_closed: false,
        };
        self.pen(ink, thickness, dashed);
        self.ops.push(Op::DrawLine { line });
    }

    fn rect(&mut self, at: (f64, f64), size: (f64, f64), fill: Option<Ink>, frame: Option<f64>) {
        let mode = match (fill, frame) {
            (Some(_), Some(_)) => PaintMode::FillStroke,
            (Some(_), None) => PaintMode::Fill,
            (None, _) => PaintMode::Stroke,
        };
        if let Some(ink) = fill {
            self.fill(ink);
        }
        if mode != PaintMode::Fill {
            self.pen(Ink::BLACK, frame.unwrap_or(0.5), false);
        }
        let low = self.point((at.0, at.1 + size.1));
        self.ops.push(Op::DrawRectangle {
            rectangle: Rect {
                x: low.x,
                y: low.y,
                width: pt(size.0),
                height: pt(size.1),
                mode: Some(mode),
                winding_order: None,
            },
        });
    }

    fn polygon(&mut self, points: &[(f64, f64)], fill: Ink) {
        let points = points.iter().map(|&at| self.corner(at)).collect();
        self.fill(fill);
        self.ops.push(Op::DrawPolygon {
            polygon: Polygon {
                rings: vec![PolygonRing { points }],
                mode: PaintMode::Fill,
                winding_order: WindingOrder::NonZero,
            },
        });
    }

    fn mark(&mut self, text: &str, size: f64, width: f64, centre: (f64, f64)) {
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let along = width / 2.0 * half;
        let across = size * 0.33 * half;
        let x = centre.0 - along + across;
        let y = self.height - centre.1 - along - across;
        let turn = half as f32;
        self.fill(Ink::MARK);
        self.show(
            text,
            Face::Bold,
            size,
            [turn, turn, -turn, turn, pt(x).0, pt(y).0],
        );
    }

    fn open(&mut self, role: &str, number: Option<usize>) {
        self.ops.push(match number {
            Some(number) => Op::BeginMarkedContentWithProperties {
                tag: role.to_string(),
                properties: DictItem::Dict {
                    map: BTreeMap::from([(
                        "MCID".to_string(),
                        DictItem::Int(i64::try_from(number).unwrap_or(0)),
                    )]),
                },
            },
            None => Op::BeginMarkedContent {
                tag: role.to_string(),
            },
        });
    }

    fn close(&mut self) {
        self.ops.push(Op::EndMarkedContent);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::shape::Shape;

    /// Each thing that is painted, with what holds then of what it is painted with.
    fn painted(ops: &[Op]) -> Vec<String> {
        let (mut fill, mut pen, mut font) =
            (String::new(), [const { String::new() }; 3], String::new());
        let mut all = Vec::new();
        for op in ops {
            let said = format!("{op:?}");
            match op {
                Op::SetFillColor { .. } => fill = said,
                Op::SetOutlineColor { .. } => pen[0] = said,
                Op::SetOutlineThickness { .. } => pen[1] = said,
                Op::SetLineDashPattern { .. } => pen[2] = said,
                Op::SetFont { .. } => font = said,
                Op::ShowText { .. } => all.push(format!("{said} {fill} {font}")),
                Op::DrawLine { .. } => all.push(format!("{said} {pen:?}")),
                Op::DrawPolygon { .. } => all.push(format!("{said} {fill}")),
                Op::DrawRectangle { rectangle } => all.push(match rectangle.mode {
                    Some(PaintMode::Fill) => format!("{said} {fill}"),
                    Some(PaintMode::Stroke) => format!("{said} {pen:?}"),
                    _ => format!("{said} {fill} {pen:?}"),
                }),
                _ => {}
            }
        }
        all
    }

    fn text(page: &mut PageOps, face: Face, size: f64) {
        let text = Shape::text(5.0, 20.0, size, Anchor::Start, face, "33.0 °C");
        if let Shape::Text(text) = &text {
            page.text(text, 30.0);
        }
    }

    #[test]
    fn whatever_is_drawn_before_each_thing_is_painted_as_if_it_stood_alone() {
        let draws: [fn(&mut PageOps); 12] = [
            |page| text(page, Face::Regular, 9.0),
            |page| text(page, Face::Bold, 9.0),
            |page| text(page, Face::Bold, 12.0),
            |page| page.line((0.0, 0.0), (9.0, 0.0), 0.5, Ink::BLACK, false),
            |page| page.line((0.0, 0.0), (9.0, 0.0), 0.5, Ink::BLACK, true),
            |page| page.line((0.0, 0.0), (9.0, 0.0), 0.5, Ink(60), false),
            |page| page.line((0.0, 0.0), (9.0, 0.0), 1.3, Ink::BLACK, false),
            |page| page.rect((0.0, 0.0), (9.0, 9.0), Some(Ink(82)), None),
            |page| page.rect((0.0, 0.0), (9.0, 9.0), None, Some(1.3)),
            |page| page.rect((0.0, 0.0), (9.0, 9.0), Some(Ink::BLACK), Some(0.5)),
            |page| page.polygon(&[(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)], Ink(90)),
            |page| page.mark("DRAFT", 60.0, 200.0, (50.0, 50.0)),
        ];
        for first in draws {
            for second in draws {
                let mut together = PageOps::new(100.0);
                let mut apart = Vec::new();
                for draw in [first, second, first] {
                    draw(&mut together);
                    let mut alone = PageOps::new(100.0);
                    draw(&mut alone);
                    apart.extend(painted(&alone.ops));
                }
                assert_eq!(painted(&together.ops), apart);
            }
        }
    }
}
