//! Pages hold all words of their document, are the same twice, and go on where one page has no room.

use super::*;
use celltriage_document::document::{
    Block, Bullets, Facts, Heading, Large, Paragraph, Picture, Point, Points, Table,
};
use celltriage_document::figure::{Figure, NumberLine, Reading, Zones, curve_panel};

/// The smallest picture there is: one white dot.
fn dot() -> Picture {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 1, 1);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.write_header().unwrap().write_image_data(&[255]).unwrap();
    Picture::of(bytes, "photograph 1: front").unwrap()
}

fn every_block() -> Document {
    let mut paper = Document::paper("Report on cell PE-0412");
    paper.notice("simulated").push(Facts::of([("cell", "PE-0412 · セル"), ("tested", "2026-11-30")]));
    paper.section("LIMITS", [Paragraph::of("It rests at 4.2 V.").into()]);
    let mut table = Table::under(["criterion", "found"]);
    table.row(["capacity of rated", "69.4 ± 0.8 %"]).row([
        "a very long title of a criterion that takes more than its share of the page and some more",
        "x",
    ]);
    paper.push(table).push(Bullets::of(["Rest it 1 h.", "Tape its poles."]));
    paper.push(Paragraph::of("hold it apart").after(2, "WARNING", 11));
    let zones = Zones { passes: [Some(0.81), None], fails: [Some(0.79), None] };
    let line = NumberLine { value: 0.694, interval: [0.687, 0.702], limit: Some(0.8), zones };
    paper.push(Figure::of(line.panel(|at| format!("{at} %"), |at| format!("{at} %"))));
    let reading = Reading { at: 1.0, value: 3.87, label: "1 s".to_owned(), figure: "40 mOhm".to_owned() };
    paper.push(Figure::of(curve_panel(
        vec![[-1.0, 4.1], [0.0, 3.9], [10.0, 3.8]],
        vec![reading],
        "s".to_owned(),
        "V",
    )));
    let point = Point { text: "packing P908".into(), source: "ADR".into(), ..Point::default() };
    paper
        .push(Points { points: vec![point] })
        .push(Block::FillIn(vec!["checked by".into()]))
        .push(Block::Rule);
    paper.push(Large {
        words: "DAMAGED LITHIUM ION BATTERIES".into(),
        letter_mm: Some(12),
        on: "on the container".into(),
        ..Large::default()
    });
    for _ in 0..4 {
        paper.push(dot());
    }
    paper
}

fn about() -> About {
    About { title: "Report on cell PE-0412".to_owned(), language: "en".to_owned(), day: (2026, 11, 30) }
}

/// The words of pieces, in order.
fn said(document: &Document, size: f64) -> String {
    let pieces = Maker::new(size, WIDTH - 2.0 * SIDE).unwrap().pieces(document).unwrap();
    let contents = pieces.iter().flat_map(|piece| &piece.parts).flat_map(|part| &part.content);
    contents
        .filter_map(|content| match content {
            piece::Content::Line { runs, .. } => {
                Some(runs.iter().map(|run| run.words.as_str()).collect::<String>())
            }
            _ => None,
        })
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn every_block_is_there_with_all_its_words_and_letters_the_font_has_not_are_spelt_out() {
    for size in SIZES {
        let said = said(&every_block(), size);
        let squeezed = said.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "SIMULATED",
            "Report on cell PE-0412",
            "PE-0412 · \\u30bb\\u30eb",
            "LIMITS",
            "69.4 ± 0.8 %",
            "Rest it 1 h.",
            "WARNING",
            "packing P908 [ADR]",
            "checked by",
            "DAMAGED LITHIUM ION BATTERIES",
            "photograph 1: front",
            "takes more than its share of the page and some more",
        ] {
            assert!(squeezed.contains(words), "{words} is missing at {size}: {squeezed}");
        }
    }
}

#[test]
fn the_same_document_is_the_same_bytes_twice() {
    let made = || pdf(&every_block(), &about()).unwrap();
    let bytes = made();
    assert!(bytes.starts_with(b"%PDF-1.7"));
    assert_eq!(bytes, made());
}

#[test]
fn no_line_is_wider_than_its_page_and_no_piece_lies_over_the_next() {
    for size in SIZES {
        let width = WIDTH - 2.0 * SIDE;
        let letters = styled::Letters::of(size).unwrap();
        for piece in Maker::new(size, width).unwrap().pieces(&every_block()).unwrap() {
            for content in piece.parts.iter().flat_map(|part| &part.content) {
                let piece::Content::Line { runs, at, size } = content else { continue };
                for run in runs {
                    let end = at[0] + run.x + letters.width(run.words.trim_end(), run.weight, *size);
                    assert!(end <= width + 0.1, "{run:?} ends at {end}");
                }
                let figure = matches!(piece.role, piece::Role::Figure(_));
                assert!(figure || at[1] <= piece.height, "{content:?} is below its piece");
            }
        }
    }
}

#[test]
fn what_has_no_room_on_a_page_goes_on_and_a_heading_goes_with_what_follows() {
    let mut long = Document::paper("shipment S-1");
    for part in 0..60 {
        long.push(Heading::section(format!("PART {part}")));
        long.push(Paragraph::of("words ".repeat(60)));
    }
    let room = HEIGHT - ABOVE - BELOW;
    let pages = split(Maker::new(USUAL, WIDTH - 2.0 * SIDE).unwrap().pieces(&long).unwrap(), room);
    assert!(pages.len() > 2, "{} pages", pages.len());
    for page in &pages {
        assert!(heights(page) <= room);
        assert!(
            page.last().is_some_and(|piece| !piece.with_next),
            "a heading stands alone at the end of a page"
        );
    }
    let pieces: usize = pages.iter().map(Vec::len).sum();
    assert_eq!(
        pieces,
        Maker::new(USUAL, WIDTH - 2.0 * SIDE).unwrap().pieces(&long).unwrap().len(),
        "nothing is lost"
    );
    assert!(pdf(&long, &about()).is_ok());
}

#[test]
fn a_damaged_photograph_is_told_by_its_name() {
    let mut paper = Document::paper("x");
    paper.push(Picture::of(vec![0xff, 0xd8, 0xff, 0xe0], "photograph 1: front.jpg").unwrap());
    let told = pdf(&paper, &about()).unwrap_err().to_string();
    assert!(told.contains("photograph 1: front.jpg: it cannot be read"), "{told}");
}
