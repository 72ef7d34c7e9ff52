//! The numbers of a decision as a drawing (SVG), to be kept with papers or shown to a customer.
//!
//! Black, grey and white only: where it passes is white, where nothing is decided is grey, where it fails is hatched.

use crate::output::number_line::{NumberLine, Zone};
use celltriage_assessment::explain::Explanation;
use celltriage_instrument::simulated::SIMULATED;
use celltriage_verdict::{Finding, limit_figure};
use std::fmt::Write as _;

/// Size of the drawing, in units of the picture.
const WIDTH: f64 = 720.0;
const LEFT: f64 = 24.0;
const ROW: f64 = 100.0;
const HEAD: f64 = 76.0;
const BAR: f64 = 18.0;
/// A letter of the labels is about this wide.
const LETTER: f64 = 6.4;

/// Draws every number of the decision on its own scale.
pub fn number_lines_svg(explanation: &Explanation) -> String {
    let rows: Vec<_> = explanation
        .criteria
        .iter()
        .filter_map(|one| NumberLine::of(&one.reason).map(|line| (one, line)))
        .collect();
    let height = HEAD + ROW * rows.len() as f64 + 16.0;
    let id = explanation.cell.as_deref().unwrap_or("without a number");
    let mark = if explanation.simulated { format!("{SIMULATED} · ") } else { String::new() };
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" font-family=\"sans-serif\" \
         font-size=\"12\">\n<title>{}</title>\n<defs><pattern id=\"fails\" width=\"6\" height=\"6\" \
         patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path d=\"M0 0V6\" stroke=\"#000\" \
         stroke-width=\"1.6\"/></pattern></defs>\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#fff\"/>\n",
        escaped(&format!("{mark}cell {id}: {}", explanation.fate)),
    );
    text(
        &mut svg,
        LEFT,
        24.0,
        "start",
        &format!("{mark}cell {id} · {} · {}", explanation.date, explanation.fate),
        15.0,
    );
    text(
        &mut svg,
        LEFT,
        42.0,
        "start",
        "black dot and bar: value and its 95 % interval · thick line: limit",
        11.0,
    );
    text(&mut svg, LEFT, 57.0, "start", "white: passes · grey: too close to tell · hatched: fails", 11.0);
    for (index, (one, line)) in rows.iter().enumerate() {
        let top = HEAD + ROW * index as f64;
        let finding = match one.reason.finding {
            Finding::Pass => "passes",
            Finding::Fail => "fails",
            Finding::Inconclusive => "not clear",
            Finding::Missing => "missing",
        };
        text(&mut svg, LEFT, top + 14.0, "start", &one.reason.title, 13.0);
        text(&mut svg, WIDTH - LEFT, top + 14.0, "end", finding, 13.0);
        scale(&mut svg, line, top + 26.0);
    }
    svg.push_str("</svg>\n");
    svg
}

/// Draws one scale: zones, bounds, value, numbers.
fn scale(svg: &mut String, line: &NumberLine<'_>, top: f64) {
    let x = |at: f64| LEFT + line.place(at) * (WIDTH - 2.0 * LEFT);
    let mut edges = vec![line.range[0]];
    edges.extend(line.marks());
    edges.push(line.range[1]);
    for two in edges.windows(2) {
        let [from, to] = two else { continue };
        let fill = match line.zone(0.5 * (from + to)) {
            Zone::Fails => "url(#fails)",
            Zone::Open => "#ccc",
            Zone::Passes => "#fff",
        };
        let _infallible = writeln!(
            svg,
            "<rect x=\"{:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{BAR}\" fill=\"{fill}\" stroke=\"#000\" \
             stroke-width=\"0.7\"/>",
            x(*from),
            x(*to) - x(*from)
        );
    }
    let mut taken = Vec::new();
    if let Some(limit) = line.limit {
        stroke(svg, x(limit), top - 4.0, x(limit), top + BAR + 4.0, 2.4);
    }
    let marks = line.marks();
    for mark in line.limit.iter().chain(&marks) {
        label(svg, &mut taken, x(*mark), top + BAR + 15.0, &limit_figure(*mark, line.unit));
    }
    let [low, high] = line.conformity.interval.map(x);
    let middle = top + BAR + 26.0;
    stroke(svg, low, middle, high, middle, 1.6);
    stroke(svg, low, middle - 4.0, low, middle + 4.0, 1.6);
    stroke(svg, high, middle - 4.0, high, middle + 4.0, 1.6);
    let _infallible = writeln!(svg, "<circle cx=\"{:.1}\" cy=\"{middle:.1}\" r=\"4\"/>", x(line.value));
    label(svg, &mut Vec::new(), x(line.value), top + BAR + 43.0, &line.figure(line.value));
}

/// Writes a number under the scale, unless it would lie over another.
fn label(svg: &mut String, taken: &mut Vec<(f64, f64)>, at: f64, y: f64, words: &str) {
    let half = 0.5 * LETTER * words.chars().count() as f64 + 3.0;
    let at = at.clamp(LEFT + half - 3.0, WIDTH - LEFT - half + 3.0);
    if taken.iter().all(|(from, to)| at + half < *from || at - half > *to) {
        taken.push((at - half, at + half));
        text(svg, at, y, "middle", words, 11.0);
    }
}

fn stroke(svg: &mut String, x1: f64, y1: f64, x2: f64, y2: f64, width: f64) {
    let _infallible = writeln!(
        svg,
        "<path d=\"M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}\" stroke=\"#000\" stroke-width=\"{width}\"/>"
    );
}

fn text(svg: &mut String, x: f64, y: f64, anchor: &str, words: &str, size: f64) {
    let words = escaped(words);
    let _infallible = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" font-size=\"{size}\">{words}</text>"
    );
}

/// Returns words as they may stand in an SVG.
pub(crate) fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;

    #[test]
    fn every_number_is_drawn_and_names_are_made_harmless() {
        let assessment = example(|subject| subject.cell_id = Some("<b>&PE".to_owned()));
        let explanation = Explanation::of(&assessment);
        let svg = number_lines_svg(&explanation);
        let numbers = explanation.criteria.iter().filter(|one| one.reason.conformity.is_some()).count();
        assert_eq!(svg.matches("<circle").count(), numbers);
        assert!(svg.contains("&lt;b&gt;&amp;PE") && !svg.contains("<b>"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
