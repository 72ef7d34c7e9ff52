//! Papers by the UN Model Regulations: ADR in Europe and Great Britain, TDG in Canada, the bare pattern elsewhere.

use super::{frame, mark, need};
use crate::custody::event::{Mode, Purpose};
use crate::custody::local_rules::Region;
use crate::custody::papers::{Consignment, Papers};
use crate::custody::units::{Milligrams, MilliwattHours};

/// Largest mass of a cell under ADR SP 636.
const SMALL_CELL_MASS: Milligrams = Milligrams::grams(500);
/// Largest nominal energy of a small cell: ADR SP 636.
const SMALL_CELL_ENERGY: MilliwattHours = MilliwattHours::watt_hours(20);
/// Largest gross mass of a package that is not of approved type: ADR P909.
const PACKAGE_GROSS: Milligrams = Milligrams::kilograms(30);
/// Most lithium cells and batteries on one transport unit: ADR SP 636.
const TRANSPORT_UNIT: Milligrams = Milligrams::kilograms(333);

const NO_HEIGHT: &str = "No text was found that fixes the letter height of this mark.";

/// Returns whether the easy road rule of ADR fits by its counted limits.
fn fits_636(consignment: &Consignment<'_>) -> bool {
    consignment.mode == Mode::Road
        && consignment.heaviest <= SMALL_CELL_MASS
        && consignment.largest <= SMALL_CELL_ENERGY
        && consignment.gross <= PACKAGE_GROSS
        && consignment.net <= TRANSPORT_UNIT
}

pub(super) fn intact(region: Region, consignment: &Consignment<'_>) -> Papers {
    let adr = matches!(region, Region::EuropeanUnion | Region::GreatBritain);
    let easy = adr && fits_636(consignment);
    let provision = if easy {
        need(
            "SP 636 by road to the intermediate processing facility: 500 g and 20 Wh a cell, 30 kg gross a package, at \
             most 333 kg of lithium cells and batteries on the vehicle, under a quality system.",
            "ADR 2025 SP 636",
            false,
        )
    } else {
        need("SP 377: carried for disposal or recycling, not damaged or defective.", "ADR 2025 SP 377", !adr)
    };
    let mut papers = frame(
        provision,
        need(
            "P909: each cell kept from short circuit; cushioning that neither burns nor conducts; metal lined with \
             something that does not conduct. Packings that are not of approved type: at most 30 kg gross.",
            "ADR 2025 P909",
            false,
        ),
    );
    let words = match consignment.purpose {
        Purpose::Recycling => "LITHIUM BATTERIES FOR RECYCLING",
        Purpose::Disposal => "LITHIUM BATTERIES FOR DISPOSAL",
    };
    papers.marks.push(mark(words, None, "ADR 2025 SP 377, SP 636", !adr));
    if easy {
        papers.documents.push(need("No transport document under SP 636.", "ADR 2025 SP 636", false));
    } else {
        papers.marks.push(mark("UN 3480", None, "ADR 2025 chapter 5.2", true));
        papers.labels.push(need("Label 9A.", "ADR 2025 chapter 5.2", true));
        papers.documents.push(need(
            "Transport document for UN 3480, as waste.",
            "ADR 2025 chapter 5.4",
            true,
        ));
    }
    shared_with_waste_law(&mut papers);
    papers.doubts.push(NO_HEIGHT.to_owned());
    if consignment.mode != Mode::Road {
        papers.doubts.push("Rules for rail and sea (RID, IMDG) were not checked.".to_owned());
    }
    papers
}

pub(super) fn damaged(region: Region, consignment: &Consignment<'_>) -> Papers {
    let adr = matches!(region, Region::EuropeanUnion | Region::GreatBritain);
    let mut papers = frame(
        need(
            "SP 376: damaged or defective, not critical. Never under SP 636 here.",
            "ADR 2025 SP 376",
            false,
        ),
        need(
            "P908 or LP904: each cell singly in an inner packing, surrounded by enough insulation against heat that \
             neither burns nor conducts; inner or outer packing leak-proof; absorbent for a leaking cell; above 30 kg \
             one to an outer packing.",
            "ADR 2025 P908 / LP904",
            false,
        ),
    );
    if region == Region::Canada {
        papers.provision =
            need("Special provision 137: damaged or defective.", "TDG Regulations SP 137", true);
        papers.marks.push(mark(
            "Damaged/Defective Lithium Ion Batteries",
            None,
            "TDG Regulations SP 137",
            true,
        ));
        papers.marks.push(mark(
            "piles au lithium ionique endommagées/défectueuses",
            None,
            "TDG Regulations SP 137, the French words, either language",
            true,
        ));
    } else {
        papers.marks.push(mark("DAMAGED/DEFECTIVE LITHIUM-ION BATTERIES", None, "ADR 2025 SP 376", !adr));
    }
    if consignment.place.country() == "DE" {
        papers.marks.push(mark(
            "Beschädigte/Defekte Lithium-Ionen-Batterien zum Recycling",
            None,
            "German trade practice for damaged cells that are waste",
            true,
        ));
    }
    papers.marks.push(mark("UN 3480", None, "ADR 2025 chapter 5.2", true));
    papers.labels.push(need("Label 9A.", "ADR 2025 chapter 5.2", true));
    papers.documents.push(need(
        "Transport document with the line for SP 376, as waste.",
        "ADR 2025 SP 376, chapter 5.4",
        true,
    ));
    shared_with_waste_law(&mut papers);
    papers.doubts.push(NO_HEIGHT.to_owned());
    papers.doubts.push("Packing group II for the outer packing of P908 is from memory.".to_owned());
    if consignment.mode != Mode::Road {
        papers.doubts.push("Rules for rail and sea (RID, IMDG) were not checked.".to_owned());
    }
    papers
}

fn shared_with_waste_law(papers: &mut Papers) {
    papers.documents.push(need(
        "Waste papers by national law; with a hazardous waste code the register and consignment papers of hazardous waste.",
        "national waste law",
        true,
    ));
    papers.training.push(need(
        "Dangerous-goods training of whoever packs or hands over.",
        "ADR chapter 1.3",
        true,
    ));
    papers.approval.push(need(
        "Ask a dangerous-goods safety adviser; for critical cells only the competent authority.",
        "ADR chapter 1.8.3, SP 376",
        true,
    ));
}
