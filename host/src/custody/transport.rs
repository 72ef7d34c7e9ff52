//! What a consignment of lithium-ion cells needs by the transport rules: number, provision, packing, marks, papers.
//!
//! Takes a [`Consignment`]; gives [`Papers`] from a built-in table, each part with its source. Where only the pattern of
//! the UN Model Regulations is known for a place, everything is marked to be verified. Nothing here says that a
//! consignment may go: a trained person does.

mod un;
mod us;

use crate::custody::local_rules::Region;
use crate::custody::papers::{Consignment, Mark, Need, Papers};

fn need(text: &str, citation: &str, verify: bool) -> Need {
    Need { text: text.to_owned(), citation: citation.to_owned(), verify }
}

fn mark(words: &str, letter_height_mm: Option<u32>, citation: &str, verify: bool) -> Mark {
    Mark { words: words.to_owned(), letter_height_mm, citation: citation.to_owned(), verify }
}

/// Returns what the built-in table says of a consignment.
pub fn built_in(region: Region, consignment: &Consignment<'_>) -> Papers {
    let mut papers = match (region, consignment.damaged) {
        (Region::UnitedStates, true) => us::damaged(consignment),
        (Region::UnitedStates, false) => us::intact(consignment),
        (_, true) => un::damaged(region, consignment),
        (_, false) => un::intact(region, consignment),
    };
    if matches!(region, Region::Canada | Region::Elsewhere) {
        for need in std::iter::once(&mut papers.provision)
            .chain([&mut papers.packing])
            .chain(&mut papers.labels)
            .chain(&mut papers.documents)
            .chain(&mut papers.training)
            .chain(&mut papers.approval)
        {
            need.verify = true;
        }
        papers.doubts.push(format!(
            "The national transport and waste rules of {} are not in this program; this is the pattern of the UN Model \
             Regulations. Ask the authority.",
            consignment.place
        ));
    }
    papers
}

fn frame(provision: Need, packing: Need) -> Papers {
    Papers {
        un_number: "UN 3480".to_owned(),
        shipping_name: "LITHIUM ION BATTERIES".to_owned(),
        class: "9".to_owned(),
        provision,
        packing,
        packages: 1,
        marks: Vec::new(),
        labels: Vec::new(),
        documents: Vec::new(),
        training: Vec::new(),
        approval: Vec::new(),
        doubts: Vec::new(),
    }
}
