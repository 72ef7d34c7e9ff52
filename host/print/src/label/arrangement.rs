//! Code and words put into their places, for one size of each after another until all fits.

use super::{Label, Layout, PlacedCode, PlacedLine, printed};
use crate::code::Code;
use crate::fitted_text::lines;
use crate::font::{ABOVE, CAPITAL, Face, LINE, Weight, lowest_letter};
use crate::paper::Paper;

/// Free edge in mm: what printers of labels may be off (our choice).
const EDGE_MM: f64 = 1.5;
/// Between code and words in mm, beside the code's own quiet zone.
const GAP_MM: f64 = 1.0;
/// Height of capital letters in mm: the least that can be read at arm's length (6 point, from memory), what is easy to read, and
/// the most that a label needs (both our choice).
const LEAST_MM: f64 = 1.5;
const EASY_MM: f64 = 2.0;
const MOST_MM: f64 = 9.0;
/// Side of a module in mm: the least that a hand scanner and a telephone read on thermal paper, and the most that is of use (our
/// choice; common practice is 0.25 mm and more).
const LEAST_MODULE_MM: f64 = 0.375;
const MOST_MODULE_MM: f64 = 1.5;
/// How much of the shorter side a code takes at most, but for one of the least modules.
const SHARE: f64 = 0.6;
/// From one size of words to the next.
const STEP: f64 = 0.95;
/// A line drawn across, and what is left free around it, in mm.
const BAR_MM: f64 = 0.25;
const AROUND_BAR_MM: f64 = 0.8;

/// The font in both weights.
pub(super) struct Faces {
    regular: Face,
    bold: Face,
}

/// A text with its place in the order of sizes.
struct Item {
    words: String,
    weight: Weight,
    /// How much larger than the plain lines it is where there is room.
    larger: f64,
}

/// A part of the paper in dots.
#[derive(Clone, Copy)]
struct Area {
    x: u32,
    y: u32,
    width: u32,
    height: u32,
}

impl Faces {
    pub(super) fn open() -> Option<Self> {
        Some(Self { regular: Weight::Regular.face()?, bold: Weight::Bold.face()? })
    }

    const fn of(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    /// Returns the letters of a label that the font has not.
    pub(super) fn missing(&self, label: &Label) -> Vec<char> {
        let all: String = items(label, true).iter().map(|item| item.words.as_str()).collect();
        let marks: String = label.marks.iter().map(|mark| printed(&mark.words)).collect();
        self.bold.missing(&(all + &marks))
    }
}

fn items(label: &Label, marks: bool) -> Vec<Item> {
    let item = |text, weight, larger| Item { words: printed(text), weight, larger };
    let mut items: Vec<Item> = label.notices.iter().map(|text| item(text, Weight::Bold, 1.2)).collect();
    items.push(item(&label.name, Weight::Bold, 2.4));
    items.push(item(&label.result, Weight::Bold, 1.8));
    items.extend(label.lines.iter().map(|text| item(text, Weight::Regular, 1.0)));
    if !marks {
        items.push(item(&label.marks_elsewhere, Weight::Bold, 1.0));
    }
    items.retain(|item| !item.words.trim().is_empty());
    items
}

/// Puts a label together; `None` where it does not fit. `marks` says whether the words of rules are on it.
pub(super) fn arranged(
    label: &Label,
    paper: Paper,
    code: Option<&Code>,
    faces: &Faces,
    marks: bool,
) -> Option<Layout> {
    let dots = paper.dots();
    let fine = paper.fineness;
    let edge = fine.at_least(EDGE_MM);
    let [width, height] = dots.map(|side| side.saturating_sub(2 * edge));
    let mut whole = Area { x: edge, y: edge, width, height };
    let mut layout =
        Layout { paper, dots, code: None, lines: Vec::new(), bars: Vec::new(), marks_elsewhere: !marks };
    let mut foot = Vec::new();
    if marks && !label.marks.is_empty() {
        let block = marked(label, paper, whole.width, faces)?;
        let taken = block.height + fine.at_least(BAR_MM) + 2 * fine.at_least(AROUND_BAR_MM);
        whole.height = whole.height.checked_sub(taken)?;
        let top = whole.y + whole.height + fine.at_least(AROUND_BAR_MM);
        layout.bars.push([whole.x, top, whole.width, fine.at_least(BAR_MM)]);
        foot = block.placed(Area { y: dots[1] - edge - block.height, ..whole });
    }
    let items = items(label, marks);
    let size = |mm: f64| fine.at_least(mm / CAPITAL);
    let (least, easy, most) = (size(LEAST_MM), size(EASY_MM), size(MOST_MM));
    let modules = modules(code, paper, whole);
    for [smallest, largest] in [[easy, most], [least, easy]] {
        for module in &modules {
            let tried = arrangements(whole, code, *module, paper);
            for size in sizes(smallest, largest) {
                let found = tried
                    .iter()
                    .find_map(|(area, placed)| Some((block(&items, *area, size, faces)?, area, placed)));
                let Some((block, area, placed)) = found else { continue };
                layout.lines = block.placed(*area);
                layout.lines.extend(foot);
                layout.code.clone_from(placed);
                return Some(layout);
            }
        }
    }
    None
}

/// Sizes of words from the largest down.
fn sizes(smallest: u32, largest: u32) -> impl Iterator<Item = u32> {
    let mut next = Some(largest);
    std::iter::from_fn(move || {
        let size = next?;
        let smaller = (f64::from(size) * STEP).floor() as u32;
        next = (size > smallest).then(|| smaller.min(size - 1).max(smallest));
        Some(size)
    })
}

/// Sides of modules from the largest down; one of no use where there is no code.
fn modules(code: Option<&Code>, paper: Paper, whole: Area) -> Vec<u32> {
    let Some(code) = code else { return vec![0] };
    let room = SHARE * f64::from(whole.width.min(whole.height));
    let most = ((room / code.whole_side() as f64).floor() as u32).min(paper.fineness.at_most(MOST_MODULE_MM));
    let least = paper.fineness.at_least(LEAST_MODULE_MM);
    let fits = |module: &u32| *module as usize * code.whole_side() <= whole.width.min(whole.height) as usize;
    (least..=most.max(least)).rev().filter(fits).collect()
}

/// Where the words can stand for a size of module: beside the code or under it.
fn arrangements(
    whole: Area,
    code: Option<&Code>,
    module: u32,
    paper: Paper,
) -> Vec<(Area, Option<PlacedCode>)> {
    let Some(code) = code else { return vec![(whole, None)] };
    let quiet = module * code.kind.quiet_zone() as u32;
    let taken = module * code.whole_side() as u32 + paper.fineness.at_least(GAP_MM);
    let placed = PlacedCode { code: code.clone(), x: whole.x + quiet, y: whole.y + quiet, module };
    let width = whole.width.saturating_sub(taken);
    let height = whole.height.saturating_sub(taken);
    let beside = Area { x: whole.x + taken, width, ..whole };
    let below = Area { y: whole.y + taken, height, ..whole };
    let areas = if whole.width >= whole.height { [beside, below] } else { [below, beside] };
    areas.map(|area| (area, Some(placed.clone()))).to_vec()
}

/// Words broken into lines, each with its size.
struct Block {
    lines: Vec<(String, Weight, u32, u32, bool)>,
    height: u32,
}

/// Breaks all items into lines of one area; `None` where they do not fit.
fn block(items: &[Item], area: Area, size: u32, faces: &Faces) -> Option<Block> {
    let mut block = Block { lines: Vec::new(), height: 0 };
    for (number, item) in items.iter().enumerate() {
        if number > 0 {
            block.height += size / 4;
        }
        let (size, lines) = sized(item, size, area.width, faces)?;
        block.add(lines, item.weight, size);
        if block.height > area.height {
            return None;
        }
    }
    Some(block)
}

/// Breaks an item into lines: as much larger as it goes on one line, else in as many lines as it takes.
fn sized(item: &Item, size: u32, room: u32, faces: &Faces) -> Option<(u32, Vec<String>)> {
    let face = faces.of(item.weight);
    let width = face.width(&item.words);
    let largest = (item.larger * f64::from(size)).round() as u32;
    let one_line = (f64::from(room) / width.max(1e-9)).floor() as u32;
    if one_line >= size {
        return Some((one_line.min(largest), vec![item.words.clone()]));
    }
    let lines = lines(&item.words, f64::from(room), |text| face.width(text) * f64::from(size))?;
    Some((size, lines))
}

/// Words that rules ask for, each letter at least as high as asked.
fn marked(label: &Label, paper: Paper, room: u32, faces: &Faces) -> Option<Block> {
    let mut block = Block { lines: Vec::new(), height: 0 };
    for (number, mark) in label.marks.iter().enumerate() {
        let words = printed(&mark.words);
        let letter = mark.letter_mm.map_or(EASY_MM, f64::from);
        let size = paper.fineness.at_least(letter / lowest_letter(&words)) + 1;
        let face = faces.of(Weight::Bold);
        if number > 0 {
            block.height += size / 4;
        }
        let lines = lines(&words, f64::from(room), |text| face.width(text) * f64::from(size))?;
        block.add(lines, Weight::Bold, size);
    }
    Some(block)
}

impl Block {
    fn add(&mut self, lines: Vec<String>, weight: Weight, size: u32) {
        for (number, line) in lines.into_iter().enumerate() {
            let baseline = self.height + (f64::from(size) * ABOVE).round() as u32;
            self.lines.push((line, weight, size, baseline, number > 0));
            self.height += (f64::from(size) * LINE).ceil() as u32;
        }
    }

    fn placed(&self, area: Area) -> Vec<PlacedLine> {
        let line = |(words, weight, size, baseline, goes_on): &(String, Weight, u32, u32, bool)| PlacedLine {
            words: words.clone(),
            weight: *weight,
            size: *size,
            x: area.x,
            baseline: area.y + baseline,
            goes_on: *goes_on,
        };
        self.lines.iter().map(line).collect()
    }
}
