//! The SVG: whole, escaped, nothing cut off.

use crate::figure::laid_out::TITLE_LINE;
use crate::figure::{Axis, Figure, Mark, Panel};
use crate::text::Text;

fn panel(heading: &str, out: bool) -> Panel {
    Panel {
        heading: heading.into(),
        axis: Axis { low: 0.0, high: 1.0 },
        marks: vec![Mark { value: 0.4, figure: "0.4 V".to_owned(), out, ..Mark::default() }],
        drawn_legend: vec![Text::from("dot: value")],
        ..Panel::default()
    }
}

#[test]
fn names_cannot_break_the_drawing_and_a_file_is_well_formed() {
    let figure =
        Figure { title: "<b>&\u{202e}PE".into(), panels: vec![panel("<R&1>", true); 3], ..Figure::default() };
    let svg = figure.svg();
    assert!(svg.contains("&lt;b&gt;&amp;\\u202ePE") && svg.contains("&lt;R&amp;1&gt;"), "{svg}");
    for tag in ["svg", "rect", "g", "text", "line", "title", "path", "pattern"] {
        let opened = svg.matches(&format!("<{tag} ")).count() + svg.matches(&format!("<{tag}>")).count();
        assert_eq!(opened, svg.matches(&format!("</{tag}>")).count(), "{tag}: {svg}");
    }
    assert_eq!(svg.matches("dot: value").count(), 1, "one legend for all panels");
    assert_eq!(svg.matches("class=\"mark out\"").count(), 3);
}

#[test]
fn a_title_longer_than_the_picture_goes_on_below_and_moves_what_follows() {
    let long = "PE-0412 ".repeat(20);
    let height = |title: &str| {
        let svg = Figure::of(panel("R1", false)).titled(title).svg();
        let (_, rest) = svg.split_once("viewBox=\"0 0 760 ").expect("a size");
        rest.split_once('"').and_then(|(height, _)| height.parse::<f64>().ok()).expect("a height")
    };
    assert!((height(&long) - height("PE-0412") - 2.0 * TITLE_LINE).abs() < 0.1);
    let svg = Figure::of(panel("R1", false)).titled(&long).svg();
    let lines = svg.split("font-size=\"15\">").skip(1).filter_map(|part| part.split('<').next());
    assert_eq!(lines.collect::<Vec<_>>().join(" "), long.trim_end());
}

#[test]
fn two_drawings_in_one_page_have_marks_of_their_own() {
    let figure = Figure::of(panel("R1", false));
    let (first, second) = (figure.inside(0).into_string(), figure.inside(1).into_string());
    assert!(first.contains("id=\"fails-0\"") && second.contains("id=\"fails-1\""));
    assert!(!first.contains("http"), "a page loads nothing: {first}");
}
