//! Draws the coverages and the decisions as one picture (SVG): shapes carry the meaning, colour only helps.

use crate::risk::Risk;
use crate::tally::{Tally, WANTED};
use crate::trial::Kind;
use celltriage_measure::estimate::Quantity;
use std::fmt::Write as _;

const WIDTH: f64 = 970.0;
const ROW: f64 = 22.0;
const TOP: f64 = 64.0;
const LEFT: f64 = 240.0;
const PANEL: f64 = 300.0;
const SECOND: f64 = 630.0;
const SECOND_WIDTH: f64 = 310.0;
/// Coverages shown, from left to right.
const SHOWN: [f64; 2] = [0.86, 1.0];
/// Capacity fractions shown.
const FRACTIONS: [f64; 2] = [0.70, 0.90];
const LIMIT: f64 = 0.80;

/// Returns the picture.
pub fn draw(tally: &Tally) -> String {
    let rows = Quantity::ALL.len() as f64;
    let bottom = TOP + rows * ROW + 10.0;
    let height = bottom + 60.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" font-family=\"sans-serif\" \
         font-size=\"12\">\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"white\"/>\n"
    );
    coverages(&mut svg, tally, bottom);
    decisions(&mut svg, tally, bottom);
    svg.push_str("</svg>\n");
    svg
}

fn text(svg: &mut String, x: f64, y: f64, anchor: &str, words: &str) {
    let _infallible =
        writeln!(svg, "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{words}</text>");
}

fn line(svg: &mut String, [x1, y1, x2, y2]: [f64; 4], style: &str) {
    let _infallible =
        writeln!(svg, "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" {style}/>");
}

fn coverages(svg: &mut String, tally: &Tally, bottom: f64) {
    let place = |share: f64| LEFT + (share - SHOWN[0]) / (SHOWN[1] - SHOWN[0]) * PANEL;
    text(svg, LEFT, 22.0, "start", "Share of nominal 95 % intervals that hold the truth");
    text(svg, LEFT, 38.0, "start", "band: wanted; bar: twice the sampling deviation");
    let (from, to) = (place(WANTED[0]), place(WANTED[1]));
    let _infallible = writeln!(
        svg,
        "<rect x=\"{from:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"#e4e8ec\"/>",
        TOP - 12.0,
        to - from,
        bottom - TOP + 12.0
    );
    line(svg, [place(0.95), TOP - 12.0, place(0.95), bottom], "stroke=\"#777\" stroke-dasharray=\"4 3\"");
    for percent in [86, 88, 90, 92, 94, 96, 98, 100] {
        let x = place(f64::from(percent) / 100.0);
        line(svg, [x, bottom, x, bottom + 5.0], "stroke=\"black\"");
        text(svg, x, bottom + 19.0, "middle", &format!("{percent}"));
    }
    line(svg, [LEFT, bottom, LEFT + PANEL, bottom], "stroke=\"black\"");
    text(svg, LEFT + PANEL / 2.0, bottom + 38.0, "middle", "per cent");
    for (index, quantity) in Quantity::ALL.into_iter().enumerate() {
        let coverage = tally.coverage(quantity);
        let y = TOP + index as f64 * ROW + 4.0;
        text(svg, LEFT - 10.0, y + 4.0, "end", quantity.key());
        let (share, spread) = (coverage.share(), 2.0 * coverage.share_deviation());
        let clamp = |share: f64| place(share.clamp(SHOWN[0], SHOWN[1]));
        line(
            svg,
            [clamp(share - spread), y, clamp(share + spread), y],
            "stroke=\"black\" stroke-width=\"1.5\"",
        );
        let fill = if (WANTED[0]..=WANTED[1]).contains(&share) { "black" } else { "white" };
        let _infallible = writeln!(
            svg,
            "<circle cx=\"{:.1}\" cy=\"{y:.1}\" r=\"4\" fill=\"{fill}\" stroke=\"black\" stroke-width=\"1.5\"/>",
            clamp(share)
        );
    }
}

fn decisions(svg: &mut String, tally: &Tally, bottom: f64) {
    let x = |fraction: f64| SECOND + (fraction - FRACTIONS[0]) / (FRACTIONS[1] - FRACTIONS[0]) * SECOND_WIDTH;
    let y = |share: f64| bottom - share * (bottom - TOP);
    text(svg, SECOND, 22.0, "start", "Share of cells to be used again, by their true capacity");
    text(svg, SECOND, 38.0, "start", "square: one visit, circle: two; dashed: stated risk, 5 %");
    for percent in [0, 20, 40, 60, 80, 100] {
        let at = y(f64::from(percent) / 100.0);
        line(svg, [SECOND, at, SECOND + SECOND_WIDTH, at], "stroke=\"#ddd\"");
        text(svg, SECOND - 6.0, at + 4.0, "end", &format!("{percent} %"));
    }
    for percent in [70, 75, 80, 85, 90] {
        let at = x(f64::from(percent) / 100.0);
        line(svg, [at, bottom, at, bottom + 5.0], "stroke=\"black\"");
        text(svg, at, bottom + 19.0, "middle", &format!("{percent}"));
    }
    text(svg, SECOND + SECOND_WIDTH / 2.0, bottom + 38.0, "middle", "capacity, per cent of rated");
    line(svg, [SECOND, bottom, SECOND + SECOND_WIDTH, bottom], "stroke=\"black\"");
    line(svg, [x(LIMIT), TOP, x(LIMIT), bottom], "stroke=\"black\"");
    line(svg, [SECOND, y(0.05), SECOND + SECOND_WIDTH, y(0.05)], "stroke=\"#777\" stroke-dasharray=\"4 3\"");
    for (kind, risk) in &tally.risk {
        for (bin, share) in &risk.bins {
            let middle = Risk::middle(*bin);
            if share.all == 0 || !(FRACTIONS[0]..=FRACTIONS[1]).contains(&middle) {
                continue;
            }
            let (x, y) = (x(middle), y(share.percent() / 100.0));
            let _infallible = match kind {
                Kind::StoredFull => writeln!(
                    svg,
                    "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\" fill=\"none\" stroke=\"black\" stroke-width=\"1.5\"/>"
                ),
                _ => writeln!(
                    svg,
                    "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"8\" height=\"8\" fill=\"black\"/>",
                    x - 4.0,
                    y - 4.0
                ),
            };
        }
    }
}
