//! Papers in the United States: 49 CFR 173.185 and, as waste, 40 CFR 273.

use super::{frame, mark, need};
use crate::custody::event::Mode;
use crate::custody::papers::{Consignment, Papers};
use crate::custody::units::MilliwattHours;

/// Largest nominal energy of a smaller cell: 49 CFR 173.185(c)(1)(i).
const SMALL_CELL_ENERGY: MilliwattHours = MilliwattHours::watt_hours(20);
/// Largest nominal energy of a cell with the mark of 49 CFR 173.185(c)(1)(iv), by highway or rail.
const HIGHWAY_CELL_ENERGY: MilliwattHours = MilliwattHours::watt_hours(60);

pub(super) fn intact(consignment: &Consignment<'_>) -> Papers {
    let road = consignment.mode == Mode::Road;
    let provision = if road {
        need(
            "Relief for undamaged cells by motor vehicle to storage, disposal or recycling.",
            "49 CFR 173.185(d)",
            true,
        )
    } else {
        need(
            "The relief for disposal and recycling is for motor vehicles only: the full rules apply.",
            "49 CFR 173.185",
            true,
        )
    };
    let mut papers = frame(
        provision,
        need(
            "Strong outer packing; each cell kept from short circuit, damage and movement.",
            "49 CFR 173.185(d)",
            true,
        ),
    );
    papers.marks.push(mark("Universal Waste—Battery(ies)", None, "40 CFR 273.14(a)", false));
    papers.marks.push(mark("UN3480", None, "49 CFR 172.101, part 172", true));
    papers.labels.push(need("Class 9 lithium battery label.", "49 CFR part 172", true));
    if consignment.mode != Mode::Sea
        && consignment.largest > SMALL_CELL_ENERGY
        && consignment.largest <= HIGHWAY_CELL_ENERGY
    {
        papers.marks.push(mark(
            "LITHIUM BATTERIES—FORBIDDEN FOR TRANSPORT ABOARD AIRCRAFT AND VESSEL.",
            None,
            "49 CFR 173.185(c)(1)(iv), only where that relief is used",
            true,
        ));
    }
    papers.documents.push(need(
        "Shipping paper, unless the package meets 173.185(c)(1)-(3): 20 Wh a cell, 100 Wh a battery, 30 kg gross.",
        "49 CFR 173.185(c)-(d), part 172",
        true,
    ));
    papers.documents.push(need(
        "No hazardous-waste manifest for universal waste; keep your own record.",
        "40 CFR 273.18, 273.19",
        true,
    ));
    papers.training.push(need(
        "Hazardous-materials training of whoever packs, marks or signs, every 3 years.",
        "49 CFR 172.704",
        true,
    ));
    papers.approval.push(need(
        "The receiver must be a universal-waste handler or destination facility that has agreed.",
        "40 CFR 273.18",
        true,
    ));
    papers
        .doubts
        .push("The wording of 173.185(d) itself has not been seen, only interpretations of it.".to_owned());
    papers.doubts.push("The state may ask for more.".to_owned());
    papers
}

pub(super) fn damaged(consignment: &Consignment<'_>) -> Papers {
    let mut papers = frame(
        need(
            "Damaged or defective: road, rail or sea only; the relief for recycling is not open to it.",
            "49 CFR 173.185(f); PHMSA 24-0050",
            false,
        ),
        need(
            "Each cell in a non-metallic inner packing that encloses it, cushioning that neither burns nor conducts and \
             absorbs, each inner packing singly in a packing-group-I box or drum of metal, wood or solid plastic.",
            "49 CFR 173.185(f)(1)-(3)",
            false,
        ),
    );
    papers.packages = consignment.cells;
    papers.marks.push(mark("Damaged/defective lithium ion battery", Some(12), "49 CFR 173.185(f)(4)", true));
    papers.marks.push(mark(
        "Universal Waste—Battery(ies)",
        None,
        "40 CFR 273.14(a), where the casing is whole",
        false,
    ));
    papers.marks.push(mark("UN3480", None, "49 CFR 172.101, part 172", true));
    papers.labels.push(need("Class 9 lithium battery label.", "49 CFR part 172", true));
    papers.documents.push(need(
        "Full shipping paper with an emergency telephone number.",
        "49 CFR part 172",
        true,
    ));
    papers.training.push(need(
        "Hazardous-materials training of whoever packs, marks or signs, every 3 years.",
        "49 CFR 172.704",
        true,
    ));
    papers.approval.push(need(
        "The carrier may refuse; other packings need a special permit of DOT.",
        "49 CFR part 107",
        false,
    ));
    papers.doubts.push(
        "The letter height of 12 mm and \"one inner packing to one outer\" are from memory.".to_owned(),
    );
    papers.doubts.push("The state may ask for more.".to_owned());
    papers
}
