//! A paper as one self-contained HTML page for the printer of the shop; it loads nothing from anywhere.

use super::{List, Part, Sheet, Words};
use std::fmt::Write as _;

/// Height of small letters without strokes up or down, as a part of the font's size, rounded down: the fonts named below
/// have 0.52 or more (measured in their files: Liberation Sans 0.519, DejaVu Sans 0.547).
const SMALL_LETTER: f64 = 0.5;
/// Font size in mm where no letter height is known.
const USUAL_MM: f64 = 20.0;

const HEAD: &str = "\
<style>
@page { size: A4; margin: 14mm 15mm; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.35 'Liberation Sans', 'DejaVu Sans', Arial, sans-serif; color: #000; background: #fff; margin: 0 auto; max-width: 180mm; }
.notice { border: 0.8mm solid #000; padding: 2mm 3mm; font-weight: bold; text-transform: uppercase; margin: 3mm 0; }
h1 { font-size: 15pt; margin: 3mm 0; }
h2 { font-size: 11pt; margin: 5mm 0 1mm; border-bottom: 0.2mm solid #000; break-after: avoid; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 0.7mm 2mm 0.7mm 0; }
.list th, .list td { border-bottom: 0.1mm solid #888; }
.head th { width: 42mm; font-weight: normal; color: #333; }
ul { margin: 1mm 0; padding: 0; list-style: none; }
li { margin: 1.4mm 0; padding-left: 6mm; position: relative; break-inside: avoid; }
li::before { content: ''; position: absolute; left: 0; top: 0.8mm; width: 3mm; height: 3mm; border: 0.3mm solid #000; }
.from { color: #333; font-size: 9pt; }
.verify { font-weight: bold; color: #000; }
.fill { margin: 7mm 0 0; border-top: 0.2mm solid #000; width: 100mm; padding-top: 1mm; font-size: 9pt; break-inside: avoid; }
.words { break-before: page; }
.frame { border: 1mm solid #000; padding: 8mm; text-align: center; line-height: 1.15; font-weight: bold; overflow-wrap: anywhere; }
.below { font-size: 16pt; margin-top: 5mm; }
.how { font-size: 9pt; margin-top: 3mm; }
</style>
";

impl Sheet {
    /// Writes it as a page for the printer: the paper first, then each of its words in large letters on a page of its own.
    pub fn html(&self) -> String {
        let title = escaped(&self.title);
        let notice = format!("<p class=\"notice\">{}</p>\n", escaped(&self.notice));
        let mut out = format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{title}</title>\n{HEAD}</head>\n<body>\n"
        );
        if !self.head.is_empty() || !self.parts.is_empty() {
            let _infallible = write!(out, "{notice}<h1>{title}</h1>\n<table class=\"head\">\n");
            for (name, value) in &self.head {
                let (name, value) = (escaped(name), escaped(value));
                let _infallible = writeln!(out, "<tr><th>{name}</th><td>{value}</td></tr>");
            }
            out.push_str("</table>\n");
            self.list.iter().for_each(|list| out.push_str(&rows(list)));
            self.parts
                .iter()
                .filter(|part| !part.points.is_empty())
                .for_each(|found| out.push_str(&part(found)));
            for line in &self.to_fill_in {
                let _infallible = writeln!(out, "<p class=\"fill\">{}</p>", escaped(line));
            }
            out.push_str(&notice);
        }
        for words in &self.words {
            out.push_str(&large(words));
        }
        out + "</body>\n</html>\n"
    }
}

fn rows(list: &List) -> String {
    let cells = |row: &[String], tag: &str| -> String {
        row.iter().map(|cell| format!("<{tag}>{}</{tag}>", escaped(cell))).collect()
    };
    let columns: Vec<String> = list.columns.iter().map(|column| (*column).to_owned()).collect();
    let body: String = list.rows.iter().map(|row| format!("<tr>{}</tr>\n", cells(row, "td"))).collect();
    format!(
        "<h2>{}</h2>\n<table class=\"list\">\n<tr>{}</tr>\n{body}</table>\n",
        escaped(&list.heading),
        cells(&columns, "th")
    )
}

fn part(part: &Part) -> String {
    let mut out = format!("<h2>{}</h2>\n<ul>\n", escaped(&part.heading));
    for point in &part.points {
        let verify = point.verify_with.as_ref().map_or(String::new(), |whom| {
            format!(" <span class=\"verify\">verify with {}</span>", escaped(whom))
        });
        let doubt = point.doubt.as_ref().map_or(String::new(), |doubt| {
            format!("<br><span class=\"from\">In doubt: {}.</span>", escaped(doubt))
        });
        let _infallible = writeln!(
            out,
            "<li>{}<br><span class=\"from\">[{}]{verify}</span>{doubt}</li>",
            escaped(&point.text),
            escaped(&point.source)
        );
    }
    out + "</ul>\n"
}

fn large(words: &Words) -> String {
    let size = words.letter_mm.map_or(USUAL_MM, |height| f64::from(height) / SMALL_LETTER);
    let height = match words.letter_mm {
        Some(height) => format!(
            "letters at least {height} mm high: print without scaling and measure the smallest letter with a ruler"
        ),
        None => "no text was found that fixes a letter height".to_owned(),
    };
    let below: String =
        words.below.iter().map(|line| format!("<div class=\"below\">{}</div>\n", escaped(line))).collect();
    format!(
        "<section class=\"words\">\n<div class=\"frame\"><div style=\"font-size:{size:.1}mm\">{}</div>\n{below}</div>\n<p class=\"how\">{}; {height}</p>\n</section>\n",
        escaped(&words.words),
        escaped(&words.on)
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
