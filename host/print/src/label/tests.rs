//! What is printed is the same twice, reads as it was asked, and is never cut; what does not fit is told with what would do.

mod read_back;

use super::*;
use crate::pdf_file::{self, About};
use crate::png_file::png;
use celltriage_document::document::Large;
use proptest::prelude::*;

fn cell() -> Label {
    Label {
        title: "label of cell PE-0412".into(),
        code: Some("PE-0412+K".to_owned()),
        name: "PE-0412+K".into(),
        result: "RECYCLE".into(),
        lines: [
            "at the end of its life, by measurement",
            "no sign of damage",
            "decided 2026-11-30, entry 12",
        ]
        .map(Into::into)
        .to_vec(),
        ..Label::default()
    }
}

fn container(letter_mm: Option<u32>) -> Label {
    let words = "DAMAGED/DEFECTIVE LITHIUM ION BATTERIES";
    Label {
        title: "label of container DD-1".into(),
        code: Some("DD-1".to_owned()),
        name: "DD-1".into(),
        result: "damaged or defective cells".into(),
        lines: vec!["earliest date 2026-11-02".into()],
        marks: vec![Large { words: words.into(), letter_mm, ..Large::default() }],
        marks_elsewhere: "words of the law: on the container's sheet".into(),
        ..Label::default()
    }
}

const fn paper(width_mm: f64, height_mm: f64) -> Paper {
    Paper { width_mm, height_mm, fineness: Fineness::Dpi203 }
}

fn about() -> About {
    About { title: "label".to_owned(), language: "en".to_owned(), day: (2026, 11, 30) }
}

fn words(layout: &Layout) -> Vec<&str> {
    layout.lines.iter().map(|line| line.words.as_str()).collect()
}

#[test]
fn the_same_label_is_the_same_bytes_twice() {
    for fineness in [Fineness::Dpi203, Fineness::Dpi300, Fineness::Dpi600] {
        let made = || {
            let layout = laid_out(&cell(), Paper { fineness, ..paper(50.0, 30.0) }, CodeKind::Qr).unwrap();
            (png(&layout).unwrap(), pdf_file::label(&layout, &about()).unwrap())
        };
        assert_eq!(made(), made());
    }
}

#[test]
fn a_picture_has_the_dots_of_its_paper_and_says_how_large_they_are() {
    let layout = laid_out(&cell(), paper(62.0, 100.0), CodeKind::DataMatrix).unwrap();
    let picture = png(&layout).unwrap();
    let reader = png::Decoder::new(std::io::Cursor::new(picture)).read_info().unwrap();
    let info = reader.info();
    assert_eq!((info.width, info.height), (496, 800));
    assert_eq!(info.pixel_dims.unwrap().xppu, 8000);
    assert_eq!(info.bit_depth, png::BitDepth::One);
}

#[test]
fn what_does_not_fit_is_told_with_sizes_that_do() {
    let Err(LabelFault::NoRoom { instead, .. }) = laid_out(&cell(), paper(20.0, 10.0), CodeKind::DataMatrix)
    else {
        panic!("it cannot fit");
    };
    assert!(!instead.is_empty());
    for [width, height] in instead {
        assert!(laid_out(&cell(), paper(width, height), CodeKind::DataMatrix).is_ok(), "{width} x {height}");
        assert!(
            laid_out(&cell(), paper(width, height - 1.0), CodeKind::DataMatrix).is_err(),
            "{width} x {height}"
        );
    }
    let told = laid_out(&cell(), paper(20.0, 10.0), CodeKind::DataMatrix).unwrap_err().to_string();
    assert!(told.starts_with("what the label must say does not fit on 20 x 10 mm; it would on "), "{told}");
}

#[test]
fn what_is_no_label_or_has_no_letters_is_refused() {
    for [width, height] in [[5.0, 30.0], [50.0, 1000.0], [f64::NAN, 30.0]] {
        let refused = laid_out(&cell(), paper(width, height), CodeKind::DataMatrix);
        assert!(matches!(refused, Err(LabelFault::Size { .. })), "{refused:?}");
    }
    let foreign = Label { name: "セル".into(), ..cell() };
    let refused = laid_out(&foreign, paper(50.0, 30.0), CodeKind::DataMatrix);
    assert_eq!(refused, Err(LabelFault::Letters("セル".to_owned())));
}

#[test]
fn words_of_a_rule_have_their_height_or_stand_elsewhere() {
    let large = laid_out(&container(Some(5)), paper(100.0, 62.0), CodeKind::DataMatrix).unwrap();
    assert!(!large.marks_elsewhere);
    let said: Vec<&PlacedLine> = large
        .lines
        .iter()
        .filter(|line| "DAMAGED/DEFECTIVE LITHIUM ION BATTERIES".contains(&line.words))
        .collect();
    assert!(!said.is_empty(), "{large:?}");
    for line in said {
        let capitals_mm = f64::from(line.size) * crate::font::CAPITAL / 8.0;
        assert!((5.0..5.3).contains(&capitals_mm), "{capitals_mm}");
    }
    let small = laid_out(&container(Some(12)), paper(50.0, 30.0), CodeKind::DataMatrix).unwrap();
    assert!(small.marks_elsewhere);
    let told = words(&small).join(" ");
    assert!(told.contains("on the container's sheet") && !told.contains("LITHIUM"), "{told}");
}

/// How high a letter really is in the picture: a word of small letters without strokes.
#[test]
fn small_letters_reach_the_height_too() {
    let mut label = container(Some(5));
    label.marks[0].words = "xzxz".into();
    let layout = laid_out(&label, paper(100.0, 62.0), CodeKind::DataMatrix).unwrap();
    let line = layout.lines.iter().find(|line| line.words == "xzxz").unwrap();
    let only = Layout { lines: vec![line.clone()], code: None, bars: Vec::new(), ..layout.clone() };
    let rows = crate::png_file::drawn(&only);
    let height = rows.rows().filter(|row| row.contains(&true)).count();
    assert!((40..=43).contains(&height), "{height} dots are not 5 mm");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Every word is there, nothing lies outside the free edge or over anything else.
    #[test]
    fn nothing_is_cut_and_nothing_overlaps(
        width in 20.0f64..110.0, height in 12.0f64..110.0, letter in proptest::option::of(2u32..8),
        fineness in prop_oneof![Just(Fineness::Dpi203), Just(Fineness::Dpi300)],
        kind in prop_oneof![Just(CodeKind::DataMatrix), Just(CodeKind::Qr)],
        result in "[A-Za-z]{1,12}( [a-z]{1,12}){0,3}",
    ) {
        let label = Label { result: result.clone().into(), ..container(letter) };
        let Ok(layout) = laid_out(&label, Paper { width_mm: width, height_mm: height, fineness }, kind) else {
            return Ok(());
        };
        let squeezed = |text: &str| text.replace(' ', "");
        let told = squeezed(&words(&layout).concat());
        let marks = if layout.marks_elsewhere { &label.marks_elsewhere } else { &label.marks[0].words };
        for text in [&label.name, &label.result, &label.lines[0], marks] {
            prop_assert!(told.contains(&squeezed(&text.said())), "{} is not in {told}", text.said());
        }
        let face = |line: &PlacedLine| line.weight.face().unwrap().width(&line.words) * f64::from(line.size);
        let mut boxes: Vec<[f64; 4]> = layout.lines.iter().map(|line| {
            let (x, size, baseline) = (f64::from(line.x), f64::from(line.size), f64::from(line.baseline));
            [x, baseline - crate::font::CAPITAL * size, x + face(line), baseline + 0.2 * size]
        }).collect();
        let placed = layout.code.as_ref().unwrap();
        let quiet = f64::from(placed.module) * kind.quiet_zone() as f64;
        let side = f64::from(placed.module) * placed.code.side as f64;
        let [x, y] = [placed.x, placed.y].map(f64::from);
        boxes.push([x - quiet, y - quiet, x + side + quiet, y + side + quiet]);
        let [right, bottom] = layout.dots.map(f64::from);
        for (number, one) in boxes.iter().enumerate() {
            prop_assert!(one[0] >= 8.0 && one[1] >= 8.0 && one[2] <= right - 8.0 && one[3] <= bottom - 8.0, "{one:?} of {:?}", layout.dots);
            for other in boxes.iter().skip(number + 1) {
                let apart = one[2] <= other[0] || other[2] <= one[0] || one[3] <= other[1] || other[3] <= one[1];
                prop_assert!(apart, "{one:?} lies over {other:?}: {layout:?}");
            }
        }
    }
}
