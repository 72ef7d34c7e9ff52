//! A drawing as an SVG, shape by shape.

use super::Zone;
use super::shape::{Anchor, Drawing, Shape};
use maud::{Markup, html};

/// Writes a drawing; `standalone` as a file, else inside a page that has `before` drawings already.
pub(super) fn written(drawing: &Drawing, standalone: bool, before: usize) -> Markup {
    let hatch = format!("fails-{before}");
    let (width, height) = (drawing.width, number(drawing.height));
    html! {
        svg xmlns=[standalone.then_some("http://www.w3.org/2000/svg")] viewBox={ "0 0 " (width) " " (height) }
            role="img" font-family="sans-serif" font-size="12" {
            title { (drawing.title) }
            defs {
                pattern id=(hatch) width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    path d="M0 0V6" stroke="#000" stroke-width="1.6" {}
                }
            }
            rect class="ground" width=(width) height=(height) fill="#fff" {}
            @for shape in &drawing.shapes { (one(shape, &hatch)) }
        }
    }
}

fn one(shape: &Shape, hatch: &str) -> Markup {
    match shape {
        Shape::Words { at: [x, y], anchor, size, words } => html! {
            text x=(number(*x)) y=(number(*y)) text-anchor=(word(*anchor)) font-size=(size) { (words) }
        },
        Shape::Zone { at: [x, y], size: [width, height], zone } => {
            let fill = match zone {
                Zone::Fails => format!("url(#{hatch})"),
                Zone::Open => "#ccc".to_owned(),
                Zone::Passes => "#fff".to_owned(),
            };
            html! {
                rect class="zone" x=(number(*x)) y=(number(*y)) width=(number(*width)) height=(height) fill=(fill)
                    stroke="#000" stroke-width="0.7" {}
            }
        }
        Shape::Line { from: [x1, y1], to: [x2, y2], width, dashes } => {
            let dashes = dashes.map_or_else(|| "none".to_owned(), |[dash, gap]| format!("{dash} {gap}"));
            html! {
                line x1=(number(*x1)) y1=(number(*y1)) x2=(number(*x2)) y2=(number(*y2)) stroke="#000"
                    stroke-width=(width) stroke-dasharray=(dashes) {}
            }
        }
        Shape::Course { points, width, dark } => {
            let points: Vec<String> =
                points.iter().map(|[x, y]| format!("{},{}", number(*x), number(*y))).collect();
            html! {
                polyline points=(points.join(" ")) fill="none" stroke="#000" stroke-width=(width) opacity=(dark) {}
            }
        }
        Shape::Value { at: [x, y], out, filled, told } => html! {
            @if *out {
                g class="mark out" {
                    title { (told) }
                    rect x=(number(x - 5.0)) y=(number(y - 5.0)) width="10" height="10" {}
                }
            } @else {
                g class="mark" {
                    title { (told) }
                    circle cx=(number(*x)) cy=(number(*y)) r="4" fill=(if *filled { "#000" } else { "#fff" }) stroke="#000" {}
                }
            }
        },
    }
}

const fn word(anchor: Anchor) -> &'static str {
    match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    }
}

fn number(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests;
