//! What a consignment needs by the rules of its place: number, provision, packing, marks, documents, people.
//!
//! Takes the rule packs and a [`Consignment`]; gives [`Papers`], each part with its source and its doubt, stored with
//! each draft. A relief (such as the easy road rule) is used only where every limit counted for it is kept. Nothing here
//! says that a consignment may go: a trained person does.

use crate::limits::{CounterLimit, Measured};
use crate::mode::Mode;
use crate::need::Need;
use crate::units::{Milligrams, MilliwattHours};
use celltriage_rules::{
    Confidence, Fact, FromRule, Goods, LegalState, Packs, Paper, PlaceCode, Purpose, Section,
};
use jiff::civil::Date;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeSet;

/// What is to be sent.
#[derive(Clone, Copy, Debug)]
pub struct Consignment<'a> {
    /// From where.
    pub place: &'a PlaceCode,
    /// On what day.
    pub date: Date,
    /// By what.
    pub mode: Mode,
    /// For what.
    pub purpose: Purpose,
    /// The worst legal state among its cells.
    pub state: LegalState,
    /// In what forms, in the order of [`Goods::ALL`].
    pub goods: [bool; 3],
    /// Number of containers, each a package at least.
    pub containers: usize,
    /// Number of cells.
    pub cells: usize,
    /// Heaviest cell.
    pub heaviest: Milligrams,
    /// Largest cell.
    pub largest: MilliwattHours,
    /// All cells.
    pub net: Milligrams,
    /// Gross mass of the heaviest package.
    pub gross: Milligrams,
}

/// Words on a package, or on each cell or its container.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// The exact words.
    pub words: String,
    /// Other words that the same text accepts in their place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub or: Vec<String>,
    /// Whether they stand on each cell or its container, and not on the package.
    #[serde(default)]
    pub on_cell_or_container: bool,
    /// Least letter height in mm; `None` if no text was found that fixes one.
    pub letter_height_mm: Option<u32>,
    /// Where they come from.
    pub citation: String,
    /// Whether words or height must be verified.
    pub verify: bool,
    /// Whom to verify them with.
    #[serde(default)]
    pub verify_with: String,
    /// What is doubtful about them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<String>,
    /// Name of the rule in its pack.
    #[serde(default)]
    pub rule: String,
}

impl Mark {
    /// Returns its words in quotation marks, with those that may stand in their place.
    pub fn quoted(&self) -> String {
        let others: String = self.or.iter().map(|words| format!(" or \"{words}\"")).collect();
        format!("\"{}\"{others}", self.words)
    }
}

/// A limit with what this consignment has of it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Count {
    /// What is counted, how much it is, and the limit.
    pub text: String,
    /// The relief that ends at this limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under: Option<String>,
    /// Whether the limit is passed.
    pub passed: bool,
    /// The rule in words, with its source.
    pub rule: Need,
}

/// A number with its name and class.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Substance {
    /// UN number.
    pub un_number: String,
    /// Proper shipping name.
    pub shipping_name: String,
    /// Class.
    pub class: String,
}

/// What a consignment needs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Papers {
    /// UN number.
    pub un_number: String,
    /// Proper shipping name.
    pub shipping_name: String,
    /// Class.
    pub class: String,
    /// What else is in it under another number or name: batteries in or with equipment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub besides: Vec<Substance>,
    /// Whether number, provisions and packing are a pattern that nobody has checked for the place.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unchecked: bool,
    /// Names of the provisions that apply.
    #[serde(default)]
    pub under: Vec<String>,
    /// Names of the packing instructions, one of which is used.
    #[serde(default)]
    pub packed_after: Vec<String>,
    /// Special provision.
    #[serde(deserialize_with = "one_or_more")]
    pub provision: Vec<Need>,
    /// Packing instruction.
    #[serde(deserialize_with = "one_or_more")]
    pub packing: Vec<Need>,
    /// How many packages, at least.
    pub packages: usize,
    /// Words on each package, cell or container.
    pub marks: Vec<Mark>,
    /// Hazard labels on each package.
    pub labels: Vec<Need>,
    /// What is counted.
    #[serde(default)]
    pub counted: Vec<Count>,
    /// Documents.
    pub documents: Vec<Need>,
    /// Training.
    pub training: Vec<Need>,
    /// Who must approve or be asked.
    pub approval: Vec<Need>,
    /// What is not certain.
    pub doubts: Vec<String>,
}

impl Consignment<'_> {
    /// Returns what it has of something that is counted.
    fn measured(&self) -> Measured {
        Measured {
            cell: Some(self.heaviest),
            energy: Some(self.largest),
            net: Some(self.net),
            gross: Some(self.gross),
        }
    }

    fn carries(&self, fact: &Fact) -> bool {
        fact.holds_by(self.mode.carriage()) && fact.holds_for(&self.forms())
    }

    fn forms(&self) -> Vec<Goods> {
        Goods::ALL.into_iter().zip(self.goods).filter(|(_, there)| *there).map(|(goods, _)| goods).collect()
    }
}

/// Returns what the packs say of a consignment.
pub fn papers(packs: &Packs, consignment: &Consignment<'_>) -> Papers {
    let place = Some(consignment.place);
    let counted = counted(packs, consignment);
    let kept = kept_reliefs(packs, consignment, &counted);
    let holds = |fact: &Fact| {
        consignment.carries(fact)
            && fact.under.as_ref().is_none_or(|relief| kept.contains(relief))
            && fact.unless.as_ref().is_none_or(|relief| !kept.contains(relief))
    };
    let mut substances = Vec::new();
    let mut papers = Papers { packages: packages(packs, consignment), counted, ..Papers::default() };
    for told in packs.in_papers(place, consignment.date, consignment.state) {
        let Some(section) = told.fact.in_papers.filter(|_| holds(&told.fact)) else { continue };
        let paper = told.what;
        let needs = match section {
            Section::Substance => {
                papers.unchecked = told.fact.confidence == Confidence::Low;
                substances.push((told.fact.goods, paper));
                continue;
            }
            Section::UsedRecord => continue,
            Section::Provision => &mut papers.provision,
            Section::Packing => &mut papers.packing,
            Section::HazardLabel => &mut papers.labels,
            Section::Document => &mut papers.documents,
            Section::Training => &mut papers.training,
            Section::Approval => &mut papers.approval,
        };
        needs.push(Need::of(&told.fact));
        add_new(&mut papers.under, paper.provision);
        if section == Section::Packing {
            add_new(&mut papers.packed_after, paper.packing);
        }
    }
    papers.are(substances, consignment);
    for told in packs.labels(place, consignment.date, consignment.state) {
        let for_this = told.what.purpose.is_none_or(|purpose| purpose == consignment.purpose);
        if holds(&told.fact) && for_this {
            papers.marks.extend(Mark::of(told, Some(consignment.gross)));
        }
    }
    papers.doubts = doubts(&papers);
    papers
}

impl Papers {
    /// Takes in what is carried, form by form: of each form the last that the packs say, which is the nearest law.
    fn are(&mut self, told: Vec<(Vec<Goods>, Paper)>, consignment: &Consignment<'_>) {
        let mut all: Vec<Substance> = Vec::new();
        for form in consignment.forms() {
            let mut one = Substance::default();
            let of_form = told.iter().filter(|(goods, _)| goods.is_empty() || goods.contains(&form));
            for (_, paper) in of_form {
                one.un_number = paper.un.first().cloned().unwrap_or(one.un_number);
                one.shipping_name = paper.name.clone().unwrap_or(one.shipping_name);
                one.class = paper.class.clone().unwrap_or(one.class);
            }
            if !one.un_number.is_empty() && !all.contains(&one) {
                all.push(one);
            }
        }
        let mut all = all.into_iter();
        if let Some(first) = all.next() {
            (self.un_number, self.shipping_name, self.class) =
                (first.un_number, first.shipping_name, first.class);
        }
        self.besides = all.collect();
    }

    /// Returns all that is carried, each number with its name.
    pub fn substances(&self) -> Vec<Substance> {
        let (un_number, shipping_name, class) =
            (self.un_number.clone(), self.shipping_name.clone(), self.class.clone());
        let first = Substance { un_number, shipping_name, class };
        std::iter::once(first).filter(|one| !one.un_number.is_empty()).chain(self.besides.clone()).collect()
    }
}

impl Mark {
    /// Makes it from words of the packs, on a package of some gross mass where they are for one; `None` if there are no
    /// words. What a text allows up to a net mass holds for all that weigh no more with their packing.
    pub fn of(told: FromRule<celltriage_rules::Label>, package: Option<Milligrams>) -> Option<Self> {
        let FromRule { fact, what: label } = told;
        let letter_mm = label.letter_mm_on(package.map(|mass| mass.0 as f64 / 1e6));
        let mut phrases = label.phrases.into_iter();
        Some(Self {
            words: phrases.next()?,
            or: phrases.collect(),
            on_cell_or_container: label.on == celltriage_rules::MarkOn::CellOrContainer,
            // A height is rounded up: letters must not come out too small.
            letter_height_mm: letter_mm.map(|height| height.ceil() as u32),
            citation: fact.source,
            verify: fact.verify,
            verify_with: fact.verify_with,
            doubt: fact.doubt,
            rule: fact.rule,
        })
    }
}

/// Returns each limit that this consignment can be held against.
fn counted(packs: &Packs, consignment: &Consignment<'_>) -> Vec<Count> {
    let told = packs.counters(Some(consignment.place), consignment.date, consignment.state);
    let told = told.into_iter().filter(|told| consignment.carries(&told.fact));
    told.filter_map(|told| {
        let rule = Need::of(&told.fact);
        let under = told.fact.under.clone();
        let limit = CounterLimit::of(told)?;
        let (amount, passed) = consignment.measured().against(&limit)?;
        let text =
            format!("{}: {amount}; {} {}", limit.what.words(), limit.bound.words(), limit.limit.words());
        Some(Count { text, under, passed, rule })
    })
    .collect()
}

/// Returns the reliefs whose limits are all kept. A relief without any limit is kept by whatever it is for. Limits of
/// batteries do not count against a consignment of single cells.
fn kept_reliefs(packs: &Packs, consignment: &Consignment<'_>, counted: &[Count]) -> BTreeSet<String> {
    let told = packs.facts(Some(consignment.place), consignment.date, consignment.state);
    let named: BTreeSet<String> =
        told.into_iter().filter(|fact| consignment.carries(fact)).filter_map(|fact| fact.under).collect();
    named
        .into_iter()
        .filter(|name| !counted.iter().any(|count| count.under.as_ref() == Some(name) && count.passed))
        .collect()
}

/// Returns how many packages there are at least, by the rules on cells in one package.
fn packages(packs: &Packs, consignment: &Consignment<'_>) -> usize {
    let told = packs.counters(Some(consignment.place), consignment.date, consignment.state);
    let most = told
        .into_iter()
        .filter(|told| {
            told.what.of == celltriage_rules::Counted::CellsInPackage && consignment.carries(&told.fact)
        })
        .map(|told| (told.what.limit as usize).max(1))
        .min();
    most.map_or(1, |most| consignment.cells.div_ceil(most)).max(consignment.containers)
}

fn doubts(papers: &Papers) -> Vec<String> {
    let needs = [
        &papers.provision,
        &papers.packing,
        &papers.labels,
        &papers.documents,
        &papers.training,
        &papers.approval,
    ];
    let of_needs = needs.into_iter().flatten().map(|need| &need.doubt);
    let of_marks = papers.marks.iter().map(|mark| &mark.doubt);
    let of_counts = papers.counted.iter().map(|count| &count.rule.doubt);
    let mut all = Vec::new();
    add_new(&mut all, of_needs.chain(of_marks).chain(of_counts).flatten().cloned());
    all
}

fn add_new(list: &mut Vec<String>, more: impl IntoIterator<Item = String>) {
    for one in more {
        if !list.contains(&one) {
            list.push(one);
        }
    }
}

/// Earlier drafts hold one provision and one packing, later ones a list.
fn one_or_more<'de, D: Deserializer<'de>>(reader: D) -> Result<Vec<Need>, D::Error> {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Stored {
        One(Box<Need>),
        More(Vec<Need>),
    }
    Ok(match Stored::deserialize(reader)? {
        Stored::One(need) => vec![*need],
        Stored::More(needs) => needs,
    })
}
