//! What can be typed after `shipment`.

use crate::as_it_was::AsItWas;
use crate::choice::{MODES, PURPOSES, one_of};
use crate::desk::{DeskArguments, Signing, Who};
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_custody::event::{Mode, Purpose};
use clap::{Args, Subcommand};
use jiff::civil::Date;
use std::path::PathBuf;

/// Options of `shipment`.
#[derive(Debug, Args)]
pub struct ShipmentArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What to do.
    #[command(subcommand)]
    pub action: ShipmentAction,
}

/// In which form a paper is printed.
#[derive(Clone, Debug, Default, Args)]
pub struct Form {
    /// As JSON.
    #[arg(long, conflicts_with = "html")]
    pub json: bool,
    /// As a page for the printer, with the words to be stuck on in large letters: `--html > papers.html`.
    #[arg(long)]
    pub html: bool,
    /// Write it as a PDF.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["html", "json"])]
    pub pdf: Option<PathBuf>,
}

/// What to do with shipments.
#[derive(Debug, Subcommand)]
pub enum ShipmentAction {
    /// Draft the papers for a container.
    Draft {
        /// Name of the shipment, never used before.
        name: String,
        /// The container that goes; several from one place and for one kind of cells go together: given again for each.
        #[arg(id = "containers", long = "container", value_name = "NAME", required = true)]
        containers: Vec<String>,
        /// By what it goes; by air there are no papers.
        #[arg(long, value_parser = one_of(&MODES))]
        mode: Mode,
        /// For what it goes.
        #[arg(long, value_parser = one_of(&PURPOSES), default_value = "recycling")]
        purpose: Purpose,
        /// To whom.
        #[arg(long, value_name = "TEXT")]
        receiver: String,
        /// Gross mass in kg of the heaviest package, as weighed.
        #[arg(long, value_name = "KG")]
        gross_kg: f64,
        /// Day on which it is to leave; by default today.
        #[arg(long, value_name = "DATE")]
        planned_on: Option<Date>,
        /// In which form.
        #[command(flatten)]
        form: Form,
        /// Who and when.
        #[command(flatten)]
        who: Who,
    },
    /// Write down that the receiver agreed.
    Agree {
        /// The shipment.
        name: String,
        /// Who agreed, and how: a name, a letter, a number.
        #[arg(long, value_name = "TEXT")]
        reference: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Give a draft up.
    Withdraw {
        /// The shipment.
        name: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down that it has left; nothing about its cells is changed after that before they are back.
    ///
    /// A name is a text that anybody can type: the book shows which names were given, not who typed them.
    HandOver {
        /// The shipment.
        name: String,
        /// Number of the document that went along.
        #[arg(long, value_name = "TEXT")]
        document: String,
        /// Who took it.
        #[arg(long, value_name = "NAME")]
        received_by: String,
        /// The trained person who checked papers and packages.
        #[arg(long, value_name = "NAME")]
        checked_by: String,
        /// That person's training, with its day.
        #[arg(long, value_name = "TEXT")]
        training: String,
        /// The waste code used; may be left out where the day has only one, or the place none.
        #[arg(long, value_name = "CODE")]
        waste_code: Option<String>,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down the receiver's receipt, with the mass as weighed there.
    Receipt {
        /// The shipment.
        name: String,
        /// Number or date of the receipt.
        #[arg(long, value_name = "TEXT")]
        reference: String,
        /// Mass of the cells in kg as the receiver weighed them.
        #[arg(long, value_name = "KG")]
        net_kg: Option<f64>,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down a certificate of what became of it.
    Certificate {
        /// The shipment.
        name: String,
        /// Number of the certificate.
        #[arg(long, value_name = "TEXT")]
        number: String,
        /// Who issued it.
        #[arg(long, value_name = "NAME")]
        issued_by: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down that it was refused, whole or in part; what comes back is written down with `celltriage return`.
    Refused {
        /// The shipment.
        name: String,
        /// A cell that is refused; may be given again; by default all that are still away.
        #[arg(long = "cell", value_name = "NAME", value_parser = known_cell)]
        cells: Vec<String>,
        /// Who refused it.
        #[arg(long, value_name = "NAME")]
        refused_by: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down that what was refused does not come back: it was taken after all, or went on to somebody else.
    Settled {
        /// The shipment.
        name: String,
        /// What became of it.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// One line for each shipment.
    List {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// The papers of a shipment.
    Show {
        /// The shipment.
        name: String,
        /// In which form.
        #[command(flatten)]
        form: Form,
    },
    /// Make the test record of a cell that is used, not waste.
    UsedRecord {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Name of the item.
        #[arg(long, value_name = "TEXT")]
        item: String,
        /// Year in which it was made, where it is known.
        #[arg(long, value_name = "YEAR")]
        production_year: Option<i16>,
        /// Company that answers for the evidence.
        #[arg(long, value_name = "NAME")]
        company: String,
        /// Its address.
        #[arg(long, value_name = "TEXT")]
        address: String,
        /// Day on which the recall lists were looked up; asked for where somebody is there to answer.
        #[arg(long, value_name = "DATE")]
        recall_checked_on: Option<Date>,
        /// Which recall lists were looked up; asked for where somebody is there to answer.
        #[arg(long, value_name = "TEXT")]
        recall_looked_in: Option<String>,
        /// It is on a recall list.
        #[arg(long)]
        recall_listed: bool,
        /// Invoice or contract, where there is one already.
        #[arg(long, value_name = "TEXT")]
        contract: Option<String>,
        /// In which form.
        #[command(flatten)]
        form: Form,
        /// Who and when.
        #[command(flatten)]
        who: Who,
    },
}
